// Package schedule answers: how do all technician-days stand together, and what does the whole cost?
//
// It keeps the tours, what each of them takes from the others (keep-outs, people in areas, days that chains count
// from), puts items in and takes them out. Rules across days and technicians are asked by the walk of
// a tour, which sees everything else as Around; here is kept what it sees. A State is copied by value
// slices that are never changed in place, so a Snapshot is cheap.
package schedule
