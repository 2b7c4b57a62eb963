package main_test

import (
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	vernationv1 "vernation/proto/vernation/v1"
)

// What a run had to plan and what it made go to somebody who has the plan command and no database.
func TestProblem_TheFilesOfARunAreJudgedByThePlanCommand(t *testing.T) {
	t.Parallel()
	p := sharedPlace(t)
	code, token, log := call(t, "token", "--key-file", p.key, "--business", "demo-rounds", "--role", "office", "--subject", "office")
	if code != 0 {
		t.Fatalf("token ended with %d: %s", code, log)
	}
	_, caller := p.serve(t, strings.TrimSpace(token))
	plans := caller.Plans()
	run, err := plans.CreatePlan(t.Context(), &vernationv1.CreatePlanRequest{Parent: "businesses/demo-rounds", Days: 7, MaxIterations: 20, RequestId: uuid.NewString()})
	if err != nil {
		t.Fatal(err)
	}
	wait(t, 20*time.Second, "the run does not end", func() bool {
		now, err := plans.GetPlanRun(t.Context(), &vernationv1.GetPlanRunRequest{Name: run.GetName()})
		return err == nil && now.GetState() == vernationv1.PlanRunState_PLAN_RUN_STATE_DONE
	})
	folder := t.TempDir()
	for name, flag := range map[string][]string{"problem.json": nil, "plan.json": {"--plan"}} {
		args := append([]string{"problem", "--database-url", p.serveURL, "--business", "demo-rounds"}, flag...)
		code, file, log := call(t, append(args, path.Base(run.GetName()))...)
		if code != 0 || log != "" {
			t.Fatalf("server problem for %s ended with %d: %s", name, code, log)
		}
		if err := os.WriteFile(filepath.Join(folder, name), []byte(file), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	judge := filepath.Join(folder, "plan")
	if out, err := exec.Command("go", "build", "-o", judge, "../scheduler/cmd/plan").CombinedOutput(); err != nil {
		t.Fatalf("build the plan command: %v: %s", err, out)
	}
	if out, err := exec.Command(judge, "--check", filepath.Join(folder, "problem.json"), filepath.Join(folder, "plan.json")).CombinedOutput(); err != nil {
		t.Errorf("plan --check: %v: %s", err, out)
	}
	code, out, log := call(t, "problem", "--database-url", p.serveURL, "--business", "demo-rounds", "nowhere")
	if code != 1 || out != "" || !strings.Contains(log, "nowhere") {
		t.Errorf("the problem of no run ended with %d and wrote %q, %q; want 1 and its name", code, out, log)
	}
}
