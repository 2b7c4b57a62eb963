// Package convert answers: what does a message of the contract say in the domain's words, and the other way round?
//
// One file stands for each file of the contract that holds messages. X(names, value) writes the message X;
// XFrom(path, message) reads one. A message that comes in has passed the contract's validation, so that what it asks
// for is there; text that still cannot be read (a zone, a date, a volume) becomes a wrong field with its path in the
// request, all of them at once. Enums are tables in both directions (enum.go). Nothing is dropped: a field is carried
// over or, where only the server knows it, ignored because the contract says so.
//
// The package imports the contract, the scheduler, firm and fault only: it reads no store and makes no decision.
package convert
