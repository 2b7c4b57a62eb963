package main_test

import (
	"bytes"
	"context"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/durationpb"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/pgtemp"
)

// takenOverWithin is how soon after the death of its worker a run goes on elsewhere.
const takenOverWithin = 30 * time.Second

// place is a database of two logins with a key: what several servers share.
type place struct{ ownerURL, serveURL, key string }

// sharedPlace starts a PostgreSQL with the demo's business and makes a key.
func sharedPlace(t *testing.T) place {
	t.Helper()
	database, err := pgtemp.Start(t.Context(), pgtemp.Options{InMemory: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := database.Stop(); err != nil {
			t.Error(err)
		}
	})
	p := place{database.OwnerURL(pgtemp.Database), database.ServeURL(pgtemp.Database), filepath.Join(t.TempDir(), "key.pem")}
	for _, args := range [][]string{
		{"migrate", "--owner-url", p.ownerURL},
		{"load", "--owner-url", p.ownerURL, "--database-url", p.serveURL, filepath.Join("..", "testdata", "demo.yaml")},
		{"key", p.key},
	} {
		if code, _, log := call(t, args...); code != 0 {
			t.Fatalf("server %s ended with %d: %s", args[0], code, log)
		}
	}
	return p
}

// serve starts a server of the place and returns it with a client of the demo's office.
func (p place) serve(t *testing.T, token string) (*exec.Cmd, *client.Client) {
	t.Helper()
	socket := filepath.Join(workplace(t), "s")
	cmd, _, log := command(t, "serve", "--database-url", p.serveURL, "--key-file", p.key, "--listen", "unix:"+socket, "--http-listen", "", "--firm-clock", "2026-03-02T17:00:00Z")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { end(t, cmd, log) })
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	caller, err := client.Dial(ctx, "unix:"+socket, client.WithToken(token))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = caller.Close() }) // the server may be gone
	return cmd, caller
}

// end kills a server and shows its log when the test failed.
func end(t *testing.T, cmd *exec.Cmd, log *bytes.Buffer) {
	_ = cmd.Process.Kill() // it may have ended
	_ = cmd.Wait()         // killed
	if t.Failed() {
		t.Logf("the log of a server:\n%s", log)
	}
}

// Two servers on one database: the one that works on a run is killed, and the other one finishes it.
func TestServe_ARunOfAKilledServerIsFinishedByAnother(t *testing.T) {
	t.Parallel()
	const parent = "businesses/demo-rounds"
	p := sharedPlace(t)
	code, token, log := call(t, "token", "--key-file", p.key, "--business", "demo-rounds", "--role", "office", "--subject", "office")
	if code != 0 {
		t.Fatalf("token ended with %d: %s", code, log)
	}
	token = strings.TrimSpace(token)
	first, caller := p.serve(t, token) // alone: it takes the run
	plans := caller.Plans()
	run, err := plans.CreatePlan(t.Context(), &vernationv1.CreatePlanRequest{
		Parent: parent, Days: 7, MaxIterations: 1_000_000, TimeLimit: durationpb.New(6 * time.Second), RequestId: uuid.NewString(),
	})
	if err != nil {
		t.Fatal(err)
	}
	look := func(plans vernationv1.PlanServiceClient) *vernationv1.PlanRun {
		now, err := plans.GetPlanRun(t.Context(), &vernationv1.GetPlanRunRequest{Name: run.GetName()})
		if err != nil {
			t.Fatal(err)
		}
		return now
	}
	wait(t, 20*time.Second, "the run does not begin", func() bool { return look(plans).GetState() == vernationv1.PlanRunState_PLAN_RUN_STATE_RUNNING })
	_, caller = p.serve(t, token)
	plans = caller.Plans()
	if now := look(plans); now.GetState() != vernationv1.PlanRunState_PLAN_RUN_STATE_RUNNING || now.GetAttempt() != 1 {
		t.Fatalf("when the second server serves, the run is %v of attempt %d: want it with its worker", now.GetState(), now.GetAttempt())
	}
	if err := first.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	killed := time.Now()
	wait(t, takenOverWithin, "the run is not taken over", func() bool { return look(plans).GetAttempt() == 2 })
	t.Logf("taken over after %v", time.Since(killed))
	if took := time.Since(killed); took > takenOverWithin {
		t.Errorf("it took %v until the run went on elsewhere: want at most %v", took, takenOverWithin)
	}
	wait(t, 20*time.Second, "the run does not end", func() bool { return look(plans).GetState() == vernationv1.PlanRunState_PLAN_RUN_STATE_DONE })
	plan, err := plans.GetPlan(t.Context(), &vernationv1.GetPlanRequest{Name: look(plans).GetPlan()})
	if err != nil || len(plan.GetRoutes()) == 0 {
		t.Errorf("the plan of the run that was taken over: %d routes, %v", len(plan.GetRoutes()), err)
	}
}
