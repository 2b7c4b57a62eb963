package store_test

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"log/slog"
	"os"
	"os/exec"
	"sync"
	"testing"
	"time"

	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// quick are the options of a worker for tests: everything within a second or two.
func quick(name string) store.WorkOptions {
	return store.WorkOptions{Name: name, Lease: 600 * time.Millisecond, Renew: 150 * time.Millisecond, Poll: 50 * time.Millisecond, Concurrency: 4}
}

// working starts a server's worker on a store of its own and returns how to end it; it ends with the test at the latest.
func working(t *testing.T, d *storetest.Database, options store.WorkOptions, worker store.Worker) (end func()) {
	t.Helper()
	opened, err := store.Open(context.Background(), d.ServeURL, d.Clock, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- opened.Work(ctx, worker, options) }()
	end = sync.OnceFunc(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("worker %s: %v", options.Name, err)
		}
		opened.Close()
	})
	t.Cleanup(end)
	return end
}

func enqueue(t *testing.T, d *storetest.Database, caller firm.Caller, id string) {
	t.Helper()
	err := d.Store.In(t.Context(), caller, func(tx *store.Tx) error {
		if err := tx.InsertPlanRun(planRun(id)); err != nil {
			return err
		}
		return tx.EnqueueRun(id)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// awaitRun waits until a run is in a state.
func awaitRun(t *testing.T, d *storetest.Database, id string, want firm.RunState) firm.PlanRun {
	t.Helper()
	var run firm.PlanRun
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		in(t, d, func(tx *store.Tx) (err error) { run, err = tx.PlanRun(id); return err })
		if run.State == want {
			return run
		}
	}
	t.Fatalf("after 20 s run %s is %s (%s), want %s", id, run.State, run.Failure, want)
	return run
}

// finish keeps a plan for a run as a worker does.
func finish(d *storetest.Database, business firm.BusinessID, id string, attempt int) error {
	return d.Store.In(context.Background(), firm.Caller{Business: business, Subject: "planning"}, func(tx *store.Tx) error {
		if err := tx.InsertPlan(keptPlan("plan-of-"+id, id)); err != nil {
			return err
		}
		return tx.FinishRun(id, attempt, firm.RunDone, "plan-of-"+id, "")
	})
}

func TestWork_ARunIsDoneOnce(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	var mutex sync.Mutex
	seen := map[string]int{}
	for _, name := range []string{"one", "two"} {
		working(t, d, quick(name), func(_ context.Context, business firm.BusinessID, id string, attempt int) error {
			mutex.Lock()
			seen[id]++
			mutex.Unlock()
			return finish(d, business, id, attempt)
		})
	}
	for _, id := range []string{"run-1", "run-2", "run-3"} {
		enqueue(t, d, d.Office, id)
	}
	for _, id := range []string{"run-1", "run-2", "run-3"} {
		run := awaitRun(t, d, id, firm.RunDone)
		if run.Plan != "plan-of-"+id || run.Attempt != 1 {
			t.Errorf("run %s made plan %q at attempt %d, want plan-of-%s at 1", id, run.Plan, run.Attempt, id)
		}
	}
	mutex.Lock()
	defer mutex.Unlock()
	for id, times := range seen {
		if times != 1 {
			t.Errorf("run %s was worked on %d times", id, times)
		}
	}
	if left := names(t, d.OwnerURL, `SELECT plan_run_id FROM queue.plan_run_lease`); len(left) > 0 {
		t.Errorf("leases are left of %v", left)
	}
}

func TestWork_OneRunOfABusinessAtATime(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	beta := d.Add(t, storetest.Business("beta"))
	var mutex sync.Mutex
	now, most, together := map[firm.BusinessID]int{}, 0, false
	worker := func(_ context.Context, business firm.BusinessID, id string, attempt int) error {
		mutex.Lock()
		now[business]++
		most = max(most, now[business])
		together = together || (now["alpha"] > 0 && now["beta"] > 0)
		mutex.Unlock()
		time.Sleep(300 * time.Millisecond)
		mutex.Lock()
		now[business]--
		mutex.Unlock()
		return finish(d, business, id, attempt)
	}
	for _, id := range []string{"run-1", "run-2", "run-3"} {
		enqueue(t, d, d.Office, id)
		enqueue(t, d, beta, id)
	}
	working(t, d, quick("one"), worker)
	working(t, d, quick("two"), worker)
	for _, id := range []string{"run-1", "run-2", "run-3"} {
		awaitRun(t, d, id, firm.RunDone)
	}
	mutex.Lock()
	defer mutex.Unlock()
	if most != 1 {
		t.Errorf("%d runs of one business were worked on at a time, want 1", most)
	}
	if !together {
		t.Error("the two businesses waited for each other")
	}
}

func TestWork_AnotherTakesUpWhatADeadWorkerLeft(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	enqueue(t, d, d.Office, "run-1")
	began := make(chan int, 1)
	release := make(chan struct{})
	var late error
	lateDone := make(chan struct{})
	// The first worker falls silent: its lease is not renewed (as when its machine is cut off), yet it goes on.
	silent := quick("silent")
	silent.Renew = time.Hour
	silent.Concurrency = 1 // being busy for ever, it cannot take its own run up a second time
	end := working(t, d, silent, func(_ context.Context, business firm.BusinessID, id string, attempt int) error {
		began <- attempt
		<-release
		late = finish(d, business, id, attempt)
		close(lateDone)
		return late
	})
	if attempt := <-began; attempt != 1 {
		t.Fatalf("the first attempt is %d", attempt)
	}
	working(t, d, quick("heir"), func(_ context.Context, business firm.BusinessID, id string, attempt int) error {
		return finish(d, business, id, attempt)
	})
	run := awaitRun(t, d, "run-1", firm.RunDone)
	if run.Attempt < 2 {
		t.Errorf("the run was done at attempt %d, want a later one than the dead worker's", run.Attempt)
	}
	close(release)
	<-lateDone
	// The plan of the run is there already, or the attempt is over: either way the late one keeps nothing.
	if kind := fault.Of(late).Kind; late == nil || (kind != fault.Stale && kind != fault.Exists) {
		t.Errorf("the worker that lost its lease kept its plan: %v", late)
	}
	end()
	if kept := awaitRun(t, d, "run-1", firm.RunDone); kept.Attempt != run.Attempt {
		t.Errorf("the late worker moved the run from attempt %d to %d", run.Attempt, kept.Attempt)
	}
}

func TestWork_AKilledProcessLosesItsRunToAnother(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	enqueue(t, d, d.Office, "run-1")
	victim := exec.Command(os.Args[0])
	victim.Env = append(os.Environ(), workerMode+"="+d.ServeURL)
	out, err := victim.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := victim.Start(); err != nil {
		t.Fatal(err)
	}
	said, err := bufio.NewReader(out).ReadString('\n')
	if err != nil || said != "1\n" {
		t.Fatalf("the victim said %q (%v), want that it has attempt 1", said, err)
	}
	working(t, d, quick("heir"), func(_ context.Context, business firm.BusinessID, id string, attempt int) error {
		return finish(d, business, id, attempt)
	})
	// While the victim lives and renews its lease, nobody takes its run.
	time.Sleep(3 * quick("").Lease)
	in(t, d, func(tx *store.Tx) error {
		run, err := tx.PlanRun("run-1")
		if run.State != firm.RunRunning || run.Attempt != 1 {
			t.Errorf("while its worker lives the run is %s at attempt %d, want running at 1", run.State, run.Attempt)
		}
		return err
	})
	if err := victim.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = victim.Wait()
	if run := awaitRun(t, d, "run-1", firm.RunDone); run.Attempt != 2 {
		t.Errorf("the run was done at attempt %d, want 2", run.Attempt)
	}
}

func TestWork_AWorkerThatLostItsLeaseIsTold(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	enqueue(t, d, d.Office, "run-1")
	told := make(chan error, 8)
	began := make(chan struct{}, 8)
	working(t, d, quick("one"), func(ctx context.Context, business firm.BusinessID, id string, attempt int) error {
		if attempt > 1 {
			return finish(d, business, id, attempt)
		}
		began <- struct{}{}
		<-ctx.Done()
		told <- context.Cause(ctx)
		return ctx.Err()
	})
	<-began
	if _, err := raw(t, d.OwnerURL).Exec(`UPDATE queue.plan_run_lease SET holder = 'somebody else', lease_until = $1`, time.Now().Add(-time.Second)); err != nil {
		t.Fatal(err)
	}
	select {
	case <-told:
	case <-time.After(10 * time.Second):
		t.Fatal("10 s after its lease was taken the worker still works")
	}
	awaitRun(t, d, "run-1", firm.RunDone)
}

func TestWork_AServerThatStopsHandsItsRunOn(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	enqueue(t, d, d.Office, "run-1")
	began := make(chan struct{}, 1)
	end := working(t, d, quick("leaving"), func(ctx context.Context, _ firm.BusinessID, _ string, _ int) error {
		began <- struct{}{}
		<-ctx.Done()
		return ctx.Err()
	})
	<-began
	end()
	in(t, d, func(tx *store.Tx) error {
		run, err := tx.PlanRun("run-1")
		if run.State != firm.RunRunning {
			t.Errorf("a run that was handed on is %s (%s), want running", run.State, run.Failure)
		}
		return err
	})
	working(t, d, quick("staying"), func(_ context.Context, business firm.BusinessID, id string, attempt int) error {
		return finish(d, business, id, attempt)
	})
	if run := awaitRun(t, d, "run-1", firm.RunDone); run.Attempt != 2 {
		t.Errorf("the run was done at attempt %d, want 2", run.Attempt)
	}
}

func TestWork_WhatGoesWrongFailsTheRunAndTellsNoMoreThanItMay(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	working(t, d, quick("one"), func(_ context.Context, _ firm.BusinessID, id string, _ int) error {
		switch id {
		case "run-refused":
			return fault.New(fault.Refused, "NO_CREW", "nobody of the crew has a shift in the horizon; add one")
		case "run-broken":
			return errors.New("secret cause")
		case "run-panics":
			panic("secret cause")
		}
		return nil // without having ended it
	})
	for id, want := range map[string]string{
		"run-refused": "nobody of the crew has a shift in the horizon; add one",
		"run-broken":  "internal error",
		"run-panics":  "internal error",
		"run-empty":   "the run ended without a plan",
	} {
		enqueue(t, d, d.Office, id)
		if run := awaitRun(t, d, id, firm.RunFailed); run.Failure != want {
			t.Errorf("%s failed with %q, want %q", id, run.Failure, want)
		}
	}
}

func TestWork_ARunThatKillsItsWorkersIsGivenUp(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	enqueue(t, d, d.Office, "run-1")
	// Five attempts were lost before.
	if _, err := raw(t, d.OwnerURL).Exec(`UPDATE queue.plan_run_lease SET attempt = 5`); err != nil {
		t.Fatal(err)
	}
	as(t, d.OwnerURL, "alpha", func(tx *sql.Tx) {
		if _, err := tx.Exec(`UPDATE plan_run SET attempt = 5, state = 'running'`); err != nil {
			t.Fatal(err)
		}
		if err := tx.Commit(); err != nil {
			t.Fatal(err)
		}
	})
	working(t, d, quick("one"), func(context.Context, firm.BusinessID, string, int) error {
		t.Error("a sixth attempt was made")
		return nil
	})
	run := awaitRun(t, d, "run-1", firm.RunFailed)
	if want := "given up after 5 attempts: each worker that took the run up was lost before it had a plan"; run.Failure != want {
		t.Errorf("it failed with %q, want %q", run.Failure, want)
	}
}

func TestUpdateRunProgress_TellsTheWorkerThatItsEndIsAskedFor(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	enqueue(t, d, d.Office, "run-1")
	began := make(chan struct{}, 1)
	working(t, d, quick("one"), func(ctx context.Context, business firm.BusinessID, id string, attempt int) error {
		caller := firm.Caller{Business: business, Subject: "planning"}
		for ctx.Err() == nil {
			cancelAsked := false
			err := d.Store.In(ctx, caller, func(tx *store.Tx) (err error) {
				cancelAsked, err = tx.UpdateRunProgress(id, attempt, store.RunProgress{IterationsDone: 10, Bound: 700})
				if err != nil || !cancelAsked {
					return err
				}
				return tx.FinishRun(id, attempt, firm.RunCancelled, "", "")
			})
			if err != nil || cancelAsked {
				return err
			}
			select {
			case began <- struct{}{}:
			default:
			}
			time.Sleep(20 * time.Millisecond)
		}
		return ctx.Err()
	})
	<-began
	in(t, d, func(tx *store.Tx) error { return tx.AskCancel("run-1") })
	run := awaitRun(t, d, "run-1", firm.RunCancelled)
	if run.IterationsDone != 10 || run.Bound != 700 || !run.CancelAsked {
		t.Errorf("the cancelled run is %+v, want its progress kept", run)
	}
}
