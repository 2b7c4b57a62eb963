// Package records answers: what must the firm be able to show of its work, and to whom must it tell what?
//
// Application records with what the law asks of them, their export, notices and signs, billable work and measures. What
// happened is told elsewhere; this room reads it, and appends who was told.
package records
