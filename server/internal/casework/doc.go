// Package casework turns what is found and reported into histories, and histories into courses.
//
// Each deed is one function that runs in its caller's transaction: it locks the case rows first, reads whole
// histories, appends to them and writes the courses that follow. Plans are refused, facts are not: what a
// report tells is stored as told; what broke a rule is kept beside it as a deviation and counted as what it was.
package casework
