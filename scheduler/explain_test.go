package scheduler_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler"
)

// Whatever is proposed was tried: applied to the Problem and prepared again, the follow-up has an opening, and the plan with
// it booked keeps every rule.
func TestExplain_EveryChangeThatItNamesLetsTheFollowUpIn(t *testing.T) {
	t.Parallel()
	kinds := map[scheduler.ChangeKind]int{}
	rapid.Check(t, func(t *rapid.T) {
		ready, plan, id := drawQuestion(t)
		explained, err := scheduler.Explain(t.Context(), ready, plan, id)
		if err != nil {
			t.Fatal(err)
		}
		for _, change := range explained.Changes {
			kinds[change.Kind]++
			letsIn(t, ready, plan, id, change)
		}
		if ranked, err := scheduler.Openings(t.Context(), ready, plan, id, scheduler.Asked{Most: 1}); err != nil {
			t.Error(err)
		} else if open := len(ranked.Openings) > 0; open != (len(explained.Changes) > 0 && explained.Changes[0].Kind == scheduler.OtherWay) {
			t.Errorf("open as things are: %v, and proposed is %+v", open, explained.Changes)
		} else if !open && len(explained.Obstacles) == 0 {
			t.Error("it has no opening, and no obstacle is named")
		}
		if t.Failed() {
			t.Log("\nnow " + newYork.Format(ready.Problem().Now) + " " + string(id) + "\n" + planText(plan) + fmt.Sprintf("%+v", explained))
		}
	})
	t.Logf("changes named: %v", kinds)
}

// asker is an errorer that has a context.
type asker interface {
	errorer
	Context() context.Context
}

// letsIn applies a change and holds that it lets the follow-up in, lawfully.
func letsIn(t asker, ready *scheduler.Prepared, plan scheduler.Plan, id scheduler.ItemID, change scheduler.Change) {
	t.Helper()
	applied, err := ready.WithForTest(change)
	if err != nil {
		t.Errorf("%s: %v", change.Text, err)
		return
	}
	ranked, err := scheduler.Openings(t.Context(), applied, plan, id, scheduler.Asked{})
	if err != nil || len(ranked.Openings) == 0 {
		t.Errorf("%s: %d openings, %v", change.Text, len(ranked.Openings), err)
		return
	}
	for _, o := range ranked.Openings {
		isLawful(t, applied, plan, id, o)
	}
	if change.Kind != scheduler.OtherWay && !slices.ContainsFunc(ranked.Openings, func(o scheduler.Opening) bool {
		return o.Technician == change.Opening.Technician && o.Begins == change.Opening.Begins && o.Added.Total == change.Opening.Added.Total
	}) {
		t.Errorf("%s: its opening %v is not one of %v", change.Text, change.Opening, ranked.Openings)
	}
}
