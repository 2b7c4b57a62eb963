// Package rpc answers: what does the contract say to a caller, and what does a caller's word mean inside?
//
// Each service of the contract is one file, <noun>_service.go: convert, call one deed, convert. Around them
// stands one frame, the same for every method: log, recover, translate failures (status.go), authenticate,
// authorise by the roles that the contract gives each method, hold the caller to its own business, validate.
// A handler runs only for a caller who may make the call, with a request that satisfies the contract; it
// returns *fault.Fault or an error that wraps one, never a status.
//
// Invariants, held at start: every method of every service of ours names its roles and takes one message;
// it answers with one or with a stream, around which the same frame stands (streams.go). Held at every call: no cause, panic or other business's name leaves the server.
package rpc
