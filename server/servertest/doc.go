// Package servertest gives a program that calls the server a real one to be tested against.
//
// Open starts a server over gRPC on a free port of the loopback, with a PostgreSQL of its own, that holds the demo's
// invented business and makes plans; Close ends both. Its firm's clock stands still, on Monday 2 March 2026 at noon in
// the business's zone, until SetClock moves it. It needs PostgreSQL's binaries on the machine.
package servertest
