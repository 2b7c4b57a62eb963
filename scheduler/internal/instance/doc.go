// Package instance answers: what is the problem, as numbers?
//
// It holds items, ways, technician-days, areas and rates as indices, seconds, days and cost
// units. Seconds count from the Instance's origin, days from the first day of the horizon (day
// 0; earlier days are negative). compile.go of package scheduler makes an Instance and assemble.go reads
// answers back; the kernel sees neither names nor calendars. An Instance is read only after it is made.
package instance
