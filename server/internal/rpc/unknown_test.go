package rpc_test

import (
	"context"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/rpc"
)

// later is a field that a contract of later days has added.
func later(text string) protoreflect.RawFields {
	return protowire.AppendString(protowire.AppendTag(nil, 15_000, protowire.BytesType), text)
}

// A caller or a server of later days speaks to this one: what it knows more is neither refused nor lost on the way.
func TestUnknownFields_AreKept(t *testing.T) {
	t.Parallel()
	kept := memory{}
	var arrived protoreflect.RawFields
	handler := &planHandler{cancel: func(ctx context.Context, request *vernationv1.CancelPlanRunRequest) (*vernationv1.PlanRun, error) {
		return rpc.Once(ctx, kept, request, func() (*vernationv1.PlanRun, error) {
			arrived = request.ProtoReflect().GetUnknown()
			run := &vernationv1.PlanRun{Name: request.GetName()}
			run.ProtoReflect().SetUnknown(later("answered"))
			return run, nil
		})
	}}
	b := setup(t, func(r grpc.ServiceRegistrar) { vernationv1.RegisterPlanServiceServer(r, handler) })
	call := func(said string) (*vernationv1.PlanRun, error) {
		request := &vernationv1.CancelPlanRunRequest{Name: "businesses/demo/planRuns/r1", RequestId: requestID}
		request.ProtoReflect().SetUnknown(later(said))
		return vernationv1.NewPlanServiceClient(b.conn).CancelPlanRun(b.as(t, office), request)
	}
	first, err := call("asked")
	if err != nil || string(arrived) != string(later("asked")) || string(first.ProtoReflect().GetUnknown()) != string(later("answered")) {
		t.Fatalf("%v, %v; the handler saw %q", first, err, arrived)
	}
	if again, err := call("asked"); err != nil || !proto.Equal(first, again) {
		t.Errorf("the answer that was remembered is %v, %v; want %v", again, err, first)
	}
	if _, err := call("asked something else"); err == nil {
		t.Error("another request under the same id was taken for the same: what it said more did not count")
	}
}
