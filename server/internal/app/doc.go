// Package app answers: what belongs together so that there is a server?
//
// It opens the parts in their order (database, schema, store, keys, handlers, address), runs them until it is
// told to end, and closes them in the opposite order. It is the only package that knows all others; what it
// serves and what it runs beside stands in services.go, a line each.
package app
