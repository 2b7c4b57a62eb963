package rpc

import (
	"context"
	"fmt"
	"runtime/debug"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"vernation/server/internal/fault"
)

// The frame around streams of answers: as around calls of one answer, but that the request comes to the handler's
// generated code and not to us, so that it is held to the contract where it is read.

// within is a stream with a context of the frame's.
type within struct {
	grpc.ServerStream
	ctx context.Context
}

// Context is the call's.
func (w *within) Context() context.Context { return w.ctx }

// loggedStream writes one line for each stream when it is over.
func (f *frame) loggedStream(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	began := time.Now()
	ctx, c := f.withCall(stream.Context())
	err := next(server, &within{stream, ctx})
	f.logCall(ctx, c, info.FullMethod, began, err)
	return err
}

// recoveredStream is recovered for a stream; health and reflection stream too.
func (f *frame) recoveredStream(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) (err error) {
	ctx := stream.Context()
	defer func() {
		if broken := recover(); broken != nil {
			err = callOf(ctx).refuse(ctx, f.log, info.FullMethod, fault.Of(fmt.Errorf("panic: %v", broken)), debug.Stack())
		}
	}()
	return next(server, stream)
}

// translatedStream is translated for a stream of ours; what health and reflection say stays as they say it.
func (f *frame) translatedStream(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	err := next(server, stream)
	if _, ours := f.rights[info.FullMethod]; err == nil || !ours {
		return err
	}
	return f.translate(stream.Context(), info.FullMethod, err)
}

// admittedStream is admitted for a stream: who may not make the call is refused before its request is read.
func (f *frame) admittedStream(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	rights, ours := f.rights[info.FullMethod]
	if !ours {
		return next(server, stream)
	}
	ctx := stream.Context()
	c := callOf(ctx)
	admit := func() error {
		caller, err := f.authenticate(ctx)
		if err != nil {
			return err
		}
		c.caller = caller
		return rights.allow(caller)
	}
	if err := admit(); err != nil {
		return err
	}
	if err := f.pace.allow(c.caller, time.Now()); err != nil {
		return err
	}
	c.still = admit
	return next(server, &heldStream{stream, f})
}

// heldStream holds the request of a stream to the contract.
type heldStream struct {
	grpc.ServerStream
	frame *frame
}

// RecvMsg reads the request; one that the contract does not allow does not reach the handler.
func (h *heldStream) RecvMsg(message any) error {
	if err := h.ServerStream.RecvMsg(message); err != nil {
		return err
	}
	return h.frame.held(message.(proto.Message), CallerOf(h.Context()))
}

// stillAdmitted says whether the caller of a stream would be admitted now: a credential may end, or be withdrawn, while
// a stream goes on.
func stillAdmitted(ctx context.Context) error { return callOf(ctx).still() }
