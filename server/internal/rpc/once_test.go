package rpc_test

import (
	"bytes"
	"context"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/fault"
	"vernation/server/internal/rpc"
)

// memory keeps answers as the store does, for one caller.
type memory map[string]struct{ hash, answer []byte }

func (m memory) Remembered(method, requestID string, hash []byte) ([]byte, bool, error) {
	kept, found := m[method+" "+requestID]
	if found && !bytes.Equal(kept.hash, hash) {
		return nil, false, fault.New(fault.Invalid, "REQUEST_ID_REUSED", "the request id was used with another body")
	}
	return kept.answer, found, nil
}

func (m memory) Remember(method, requestID string, hash, answer []byte) error {
	m[method+" "+requestID] = struct{ hash, answer []byte }{hash, answer}
	return nil
}

// planHandler answers CancelPlanRun by a function of the test.
type planHandler struct {
	vernationv1.UnimplementedPlanServiceServer
	cancel func(context.Context, *vernationv1.CancelPlanRunRequest) (*vernationv1.PlanRun, error)
}

func (h *planHandler) CancelPlanRun(ctx context.Context, request *vernationv1.CancelPlanRunRequest) (*vernationv1.PlanRun, error) {
	return h.cancel(ctx, request)
}

// calls runs requests through Once inside real calls, always with the same request id, and counts the deeds.
func calls(t *testing.T, deed func() error) (call func(run string) (*vernationv1.PlanRun, error), done *int) {
	t.Helper()
	kept := memory{}
	done = new(int)
	handler := &planHandler{cancel: func(ctx context.Context, request *vernationv1.CancelPlanRunRequest) (*vernationv1.PlanRun, error) {
		return rpc.Once(ctx, kept, request, func() (*vernationv1.PlanRun, error) {
			*done++
			return &vernationv1.PlanRun{Name: request.GetName()}, deed()
		})
	}}
	b := setup(t, func(r grpc.ServiceRegistrar) { vernationv1.RegisterPlanServiceServer(r, handler) })
	ctx := b.as(t, office)
	return func(run string) (*vernationv1.PlanRun, error) {
		return vernationv1.NewPlanServiceClient(b.conn).CancelPlanRun(ctx,
			&vernationv1.CancelPlanRunRequest{Name: "businesses/demo/planRuns/" + run, RequestId: requestID})
	}, done
}

func nothing() error { return nil }

func TestOnce_RepeatedRequestGetsTheFirstAnswerAndChangesNothing(t *testing.T) {
	t.Parallel()
	call, done := calls(t, nothing)
	first, err := call("r1")
	if err != nil {
		t.Fatal(err)
	}
	again, err := call("r1")
	if err != nil || !proto.Equal(first, again) {
		t.Errorf("the repeated call = %v, %v; want %v", again, err, first)
	}
	if *done != 1 {
		t.Errorf("the deed was done %d times, want once", *done)
	}
}

func TestOnce_SameIDWithAnotherBodyIsRefused(t *testing.T) {
	t.Parallel()
	call, done := calls(t, nothing)
	if _, err := call("r1"); err != nil {
		t.Fatal(err)
	}
	_, err := call("r2")
	expect(t, err, codes.InvalidArgument, "REQUEST_ID_REUSED")
	if *done != 1 {
		t.Errorf("the deed was done %d times, want once", *done)
	}
}

func TestOnce_AFailedDeedIsNotRemembered(t *testing.T) {
	t.Parallel()
	failure := error(fault.New(fault.Conflict, "CONFLICT", "somebody was faster"))
	call, done := calls(t, func() error {
		defer func() { failure = nil }()
		return failure
	})
	_, err := call("r1")
	expect(t, err, codes.Aborted, "CONFLICT")
	if run, err := call("r1"); err != nil || run.GetName() != "businesses/demo/planRuns/r1" {
		t.Errorf("the second try = %v, %v", run, err)
	}
	if *done != 2 {
		t.Errorf("the deed was tried %d times, want 2", *done)
	}
}
