// Package client answers: how does a Go program call a server of this project?
//
// Dial connects for one caller, whose token goes with every call, and returns the contract's own clients, typed.
// It knows the contract only: requests, answers and errors are those of package vernationv1, errors with the
// google.rpc details that the contract names; FieldErrors, Refusals, Reason, IsStale and Sentence read them. Every
// request that changes something carries a request id, which the client makes where the caller made none, so a call may
// be repeated safely: the client does so by itself while the server cannot be reached. A call without a deadline ends
// after CallWithin.
//
// All goes over the pages of any list, WatchDayRoutes and FollowChanges over what happens, however often the connection
// breaks, and AwaitPlan waits for a plan while it is made.
//
// People may come to harm by pesticides: what the answers say of mixing, re-entry and protective equipment
// never stands above a product's label, local law or the judgement of a licensed applicator.
package client
