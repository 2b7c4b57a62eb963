// Package gateway answers: how does somebody without gRPC call the same API?
//
// It offers every method of the contract that has a google.api.http binding as JSON over plain HTTP, on one port
// with the OpenAPI document of it, readiness for probes and metrics. It decides nothing: each call goes on to the
// gRPC server through one connection, with the caller's own credential, so that the frame of package rpc holds for
// both. The bindings are read from the contract when the server starts; nothing is generated for it and no method
// can be forgotten.
//
// JSON is the mapping of protobuf (https://protobuf.dev/programming-guides/json/): what is unset is left out, 64-bit
// numbers are text. A failure is a google.rpc.Status with its details, a stream a line of JSON for each message.
package gateway
