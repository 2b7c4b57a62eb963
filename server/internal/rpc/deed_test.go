package rpc_test

import (
	"context"
	"testing"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/rpc"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// deeds serves CancelPlanRun as a deed on a real store that makes a client, so that doing it twice would show.
func deeds(t *testing.T, db *storetest.Database, after func() error) func() (*vernationv1.PlanRun, error) {
	t.Helper()
	handler := &planHandler{cancel: func(ctx context.Context, request *vernationv1.CancelPlanRunRequest) (*vernationv1.PlanRun, error) {
		return rpc.Deed(ctx, db.Store, request, func(tx *store.Tx) (*vernationv1.PlanRun, error) {
			if err := tx.InsertClients([]firm.Client{{ID: "client-1", Name: "Client"}}); err != nil {
				return nil, err
			}
			return &vernationv1.PlanRun{Name: request.GetName()}, after()
		})
	}}
	b := setup(t, func(r grpc.ServiceRegistrar) { vernationv1.RegisterPlanServiceServer(r, handler) })
	ctx := b.as(t, db.Office)
	return func() (*vernationv1.PlanRun, error) {
		name := "businesses/" + string(db.Business.ID) + "/planRuns/r1"
		return vernationv1.NewPlanServiceClient(b.conn).CancelPlanRun(ctx, &vernationv1.CancelPlanRunRequest{Name: name, RequestId: requestID})
	}
}

// clients counts the clients that stand in the store.
func clients(t *testing.T, db *storetest.Database) (count int) {
	t.Helper()
	return db.Count(t, "client")
}

func TestDeed_TwinsAtTheSameMomentGetOneAnswer(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	call := deeds(t, db, nothing)
	const twins = 8
	answers := make([]*vernationv1.PlanRun, twins)
	var group errgroup.Group
	for i := range twins {
		group.Go(func() (err error) {
			answers[i], err = call()
			return err
		})
	}
	if err := group.Wait(); err != nil {
		t.Fatal(err)
	}
	for _, answer := range answers {
		if !proto.Equal(answer, answers[0]) {
			t.Errorf("one twin is answered %v, another %v", answer, answers[0])
		}
	}
	if count := clients(t, db); count != 1 {
		t.Errorf("%d clients stand there, want 1", count)
	}
}

func TestDeed_OneThatFailsLeavesNoTrace(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	failure := error(fault.New(fault.Refused, "NOT_NOW", "it is not the time"))
	call := deeds(t, db, func() error { return failure })
	_, err := call()
	expect(t, err, codes.FailedPrecondition, "NOT_NOW")
	if count := clients(t, db); count != 0 {
		t.Errorf("%d clients of a failed deed stand there", count)
	}
	failure = nil
	if _, err := call(); err != nil || clients(t, db) != 1 {
		t.Errorf("the second try = %v with %d clients, want one", err, clients(t, db))
	}
}
