// Package pgtemp answers: where does a server without a database get one?
//
// It starts a private PostgreSQL from the binaries on the machine: on a unix socket in a folder that only its
// owner may enter, with the roles that the store asks for, as another user when the caller is root. Nothing
// listens on a network. The database ends with the process that started it, however that ends: a small watchdog
// shell holds the reading end of a pipe whose writing end only that process has, and a parent's death closes it.
// Folders whose owner is gone without having cleaned up are removed at the next start.
//
// It knows no schema; the store migrates what it starts.
package pgtemp
