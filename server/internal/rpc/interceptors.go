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
	ctx, c := withCall(ctx)
	response, err := next(ctx, request)
	code := status.Code(err)
	attributes := []slog.Attr{
		slog.String("method", info.FullMethod), slog.String("code", code.String()),
		slog.Float64("milliseconds", float64(time.Since(began).Microseconds())/1000),
		slog.String("business", string(c.caller.Business)), slog.String("role", string(c.caller.Role)),
	}
	if c.fault != nil {
		attributes = append(attributes, slog.String("reason", c.fault.Reason))
	}
	f.log.LogAttrs(ctx, levelOf(code), "call", attributes...)
	return response, err
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
	var known *fault.Fault
	if !errors.As(err, &known) || known.Kind == fault.Internal {
		if ended := ctx.Err(); ended != nil { // whatever broke, it broke because the caller left
			return nil, status.FromContextError(ended).Err()
		}
		if status.Code(err) == codes.Unimplemented { // from the generated code of a method without a handler
			return nil, status.Error(codes.Unimplemented, "this server does not offer the method yet")
		}
		known = &fault.Fault{Kind: fault.Internal, Reason: "INTERNAL", Message: "internal error", Err: err}
	}
	return nil, callOf(ctx).refuse(ctx, f.log, info.FullMethod, known, debug.Stack())
}

// recoveredStream keeps a panic of the reflection or health service, the only streams, inside.
func (f *frame) recoveredStream(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) (err error) {
	ctx, c := withCall(stream.Context())
	defer func() {
		if broken := recover(); broken != nil {
			err = c.refuse(ctx, f.log, info.FullMethod, fault.Of(fmt.Errorf("panic: %v", broken)), debug.Stack())
		}
	}()
	return next(server, stream)
}
