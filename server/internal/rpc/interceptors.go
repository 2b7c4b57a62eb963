package rpc

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"vernation/server/internal/fault"
)

// logged writes one line for each call: never a payload, a subject or a name, for these may be people's.
func (f *frame) logged(ctx context.Context, request any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	began := time.Now()
	ctx, c := f.withCall(ctx)
	response, err := next(ctx, request)
	f.logCall(ctx, c, info.FullMethod, began, err)
	return response, err
}

// logCall writes the line of a call that is over.
func (f *frame) logCall(ctx context.Context, c *call, method string, began time.Time, err error) {
	code := status.Code(err)
	attributes := []slog.Attr{
		slog.String("method", method), slog.String("code", code.String()),
		slog.Float64("milliseconds", float64(time.Since(began).Microseconds())/1000),
		slog.String("business", string(c.caller.Business)), slog.String("role", string(c.caller.Role)),
	}
	if c.fault != nil {
		attributes = append(attributes, slog.String("reason", c.fault.Reason))
	}
	f.log.LogAttrs(ctx, levelOf(code), "call", attributes...)
}

// levelOf sorts codes by who must look: the operator at errors, nobody at a caller's mistakes.
func levelOf(code codes.Code) slog.Level {
	switch code {
	case codes.Internal, codes.Unknown, codes.DataLoss:
		return slog.LevelError
	case codes.Unavailable, codes.ResourceExhausted:
		return slog.LevelWarn
	default:
		return slog.LevelInfo
	}
}

// recovered turns a broken invariant into an Internal failure: the panic's text and stack stay in the log.
func (f *frame) recovered(ctx context.Context, request any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (response any, err error) {
	defer func() {
		if broken := recover(); broken != nil {
			cause := fault.Of(fmt.Errorf("panic: %v", broken))
			response, err = nil, callOf(ctx).refuse(ctx, f.log, info.FullMethod, cause, debug.Stack())
		}
	}()
	return next(ctx, request)
}

// translated turns whatever fails inside into a status by the table of status.go.
func (f *frame) translated(ctx context.Context, request any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	response, err := next(ctx, request)
	if err == nil {
		return response, nil
	}
	return nil, f.translate(ctx, info.FullMethod, err)
}

// translate is the status of a failure.
func (f *frame) translate(ctx context.Context, method string, err error) error {
	var known *fault.Fault
	if !errors.As(err, &known) || known.Kind == fault.Internal {
		if ended := ctx.Err(); ended != nil { // whatever broke, it broke because the caller left
			return status.FromContextError(ended).Err()
		}
		if status.Code(err) == codes.Unimplemented { // from the generated code of a method without a handler
			return status.Error(codes.Unimplemented, "this server does not offer the method yet")
		}
		known = &fault.Fault{Kind: fault.Internal, Reason: "INTERNAL", Message: "internal error", Err: err}
	}
	return callOf(ctx).refuse(ctx, f.log, method, known, debug.Stack())
}
