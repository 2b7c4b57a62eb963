package scheduler_test

import (
	"strings"
	"testing"

	"vernation/scheduler"
)

// Cleaners are on the office's floor until 22:00, the licensed technician's evening ends at 22:30, and the spray stands until
// Wednesday. What is said is what a person at the desk needs to hear.
func TestExplain_ReadsAloud(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.FollowUps[0].Due.LatestOn, p.FollowUps[0].Due.StandsUntilOn = march(4), march(4)
	p.Sites[0].Areas[0].People.Weekly[1].Closes = 22 * 3600
	ready, plan, explained := asksOf(t, p, sprayID(1))
	var text strings.Builder
	for _, o := range explained.Obstacles {
		text.WriteString(string(o.Rule) + ": " + o.Text + " [" + o.Where + "]\n")
	}
	for _, ch := range explained.Changes {
		text.WriteString(ch.Text + "\n")
	}
	ranked, err := scheduler.Openings(t.Context(), ready, plan, sprayID(1), scheduler.Asked{Slots: []scheduler.Slot{{Technician: "T1", Begins: at(4, "10:00")}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, reason := range ranked.Asked[0].Forbids {
		text.WriteString("asked for: " + string(reason.Rule) + ": " + reason.Text + "\n")
	}
	for _, want := range []string{
		"reentry: people are in open floor or what is open to it, which a treatment there shuts for 5 h 2 min [Technician 1 on Tue 3 Mar, Wed 4 Mar",
		"if people left open floor by ",
		"if the client agreed to shut open floor from ",
		"asked for: reentry: a treatment in open floor begun Wed 4 Mar 10:00 would shut open floor until Wed 4 Mar 13:32, and people are there from Wed 4 Mar 10:00 to ",
	} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("want %q in:\n%s", want, text.String())
		}
	}
}
