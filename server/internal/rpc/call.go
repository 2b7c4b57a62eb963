package rpc

import (
	"context"
	"crypto/rand"
	"log/slog"

	statuspb "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"vernation/server/internal/convert"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// call is what the frame knows of one call in flight; the log reads it when the call is over.
type call struct {
	frame    *frame      // that stands around it
	caller   firm.Caller // zero until authenticated
	fault    *fault.Fault
	incident string       // of an Internal fault
	still    func() error // of a stream: whether its caller would be admitted again
	// validate holds a message to the contract, for what a handler makes of a request: a resource with its changes.
	validate func(proto.Message) error
}

type callKey struct{}

// withCall puts a fresh call into a context.
func (f *frame) withCall(ctx context.Context) (context.Context, *call) {
	c := &call{frame: f, validate: f.validate}
	return context.WithValue(ctx, callKey{}, c), c
}

// callOf returns the call of a context that went through the frame.
func callOf(ctx context.Context) *call {
	c, ok := ctx.Value(callKey{}).(*call)
	if !ok {
		panic("a call outside of the frame: the handler was not reached through NewServer")
	}
	return c
}

// CallerOf returns who makes the call; inside a handler it is always an authenticated one.
func CallerOf(ctx context.Context) firm.Caller {
	caller := callOf(ctx).caller
	if caller.Business == "" {
		panic("a handler without a caller: its service is exempt from authentication")
	}
	return caller
}

// refuse notes a failure for the log and turns it into what the caller is told.
func (c *call) refuse(ctx context.Context, log *slog.Logger, method string, f *fault.Fault, stack []byte) error {
	c.fault = f
	if _, known := answers[f.Kind]; !known || f.Kind == fault.Internal {
		c.incident = rand.Text()
		log.ErrorContext(ctx, "internal error", "incident", c.incident, "method", method, "cause", f.Error(), "stack", string(stack))
	}
	return Status(f, c.incident).Err()
}

// refusalOf writes why a part of a call was refused, as the whole call would have been. The call goes on.
func refusalOf(ctx context.Context, err error) *statuspb.Status {
	c := callOf(ctx)
	method, _ := grpc.Method(ctx)
	refused := status.Convert(c.frame.translate(ctx, method, err)).Proto()
	c.fault = nil
	return refused
}

// namesOf writes resource names of the caller's business.
func namesOf(ctx context.Context) convert.Names { return convert.NamesOf(CallerOf(ctx).Business) }
