package rpc

import (
	"context"

	"github.com/google/uuid"
	"google.golang.org/grpc"
)

// idSpace is the name space of the ids that we give (RFC 9562, section 5.5).
var idSpace = uuid.MustParse("6f0d3d5e-8a0b-4f4e-9d51-2c6b7b0f6a11")

// idOf returns the id of what a request makes, where the caller gives it none: a version 5 UUID of business, method
// and request id, so that the same request always makes the same thing, even after its answer was forgotten.
func idOf(ctx context.Context, request Repeatable) string {
	method, ok := grpc.Method(ctx)
	if !ok {
		panic("idOf outside of a call: there is no method to make an id of")
	}
	text := string(CallerOf(ctx).Business) + "\n" + method + "\n" + request.GetRequestId()
	return uuid.NewSHA1(idSpace, []byte(text)).String()
}
