// Package schedule answers: how do all technician-days stand together, and what does the whole cost?
//
// It keeps the tours and what each of them takes from the others (keep-outs, people in areas, days that chains count from), puts
// items in and takes them out with all that cannot stand without them. Rules across days and technicians are asked by the walk
// of a tour, which sees everything else as Around; here is kept what it sees. A Sieve says which places are worth a walk: it
// bounds in constant time what a place adds and drops those that cannot be in time.
//
// A change is taken back by Undo from a journal of the tours that it touched; a Snapshot is any earlier state. Both cost what was
// touched, for what a tour holds (stops and walk) is never changed in place.
package schedule
