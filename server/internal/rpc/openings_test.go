package rpc_test

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/status"

	vernationv1 "vernation/proto/vernation/v1"
)

// openings asks for the openings of a follow-up.
func (w *works) openings(t *testing.T, change func(*vernationv1.FindOpeningsRequest)) *vernationv1.FindOpeningsResponse {
	t.Helper()
	wish := &vernationv1.FindOpeningsRequest{Parent: w.name(""), Item: "gnats/application/1/1"}
	if change != nil {
		change(wish)
	}
	found, err := w.plans().FindOpenings(w.office, wish)
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// forbids says whether a slot is forbidden by a rule, with a sentence.
func forbids(slot *vernationv1.SlotAnswer, rule vernationv1.Rule) bool {
	return slot.GetOpening() == nil && slices.ContainsFunc(slot.GetForbids(), func(r *vernationv1.Reason) bool { return r.GetRule() == rule && r.GetText() != "" })
}

func TestFindOpenings_RanksSlotsAndSaysWhichRuleForbidsThoseAskedFor(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	found := w.openings(t, func(wish *vernationv1.FindOpeningsRequest) {
		for _, slot := range [][2]string{{"tech-a", "2026-03-02 12:00"}, {"tech-a", "2026-03-02 09:00"}, {"tech-b", "2026-03-02 12:00"}, {"tech-a", "2026-03-02 03:00"}} {
			wish.Slots = append(wish.Slots, &vernationv1.Slot{Technician: w.name("technicians/" + slot[0]), Begins: w.stamp(t, slot[1])})
		}
	})
	if len(found.GetOpenings()) == 0 || len(found.GetNone()) > 0 {
		t.Fatalf("no openings: %v", found)
	}
	for i, o := range found.GetOpenings() {
		if i > 0 && o.GetAdded().GetTotalMinor() < found.GetOpenings()[i-1].GetAdded().GetTotalMinor() {
			t.Errorf("opening %d is cheaper than the one before it", i)
		}
		if o.GetTechnician() != w.name("technicians/tech-a") || !strings.Contains(o.GetText(), " by ") {
			t.Errorf("opening %v: want it by tech-a, who alone is licensed, in words", o)
		}
	}
	slots := found.GetSlots()
	if slots[0].GetOpening() == nil || slots[0].GetOpening().GetBegins().AsTime() != w.stamp(t, "2026-03-02 12:00").AsTime() {
		t.Errorf("12:00 is no opening: %v", slots[0].GetForbids())
	}
	for i, rule := range []vernationv1.Rule{vernationv1.Rule_RULE_REENTRY, vernationv1.Rule_RULE_LICENCE, vernationv1.Rule_RULE_SHIFT} {
		if !forbids(slots[i+1], rule) {
			t.Errorf("slot %d: %v, want %v to forbid it", i+1, slots[i+1], rule)
		}
	}
}

// What is said to be bookable can be booked, on an empty calendar and beside what is published.
func TestFindOpenings_WhatIsBookableCanBeBooked(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	book := func() {
		t.Helper()
		found := w.openings(t, func(wish *vernationv1.FindOpeningsRequest) { wish.NothingMoves, wish.MaxOpenings = true, 50 })
		tried := 0
		for _, o := range found.GetOpenings() {
			if !o.GetBookable() {
				continue
			}
			tried++
			_, err := w.plans().BookFollowUp(w.office, &vernationv1.BookFollowUpRequest{
				Parent: w.name(""), Item: "gnats/application/1/1", Technician: o.GetTechnician(), Begins: o.GetBegins(), WayKind: o.GetWayKind(), RequestId: request(),
			})
			if err != nil {
				t.Errorf("%s is refused: %v", o.GetText(), err)
			}
			break
		}
		if tried == 0 {
			t.Errorf("nothing bookable: %v", found)
		}
	}
	w.publish(t, w.makePlan(t, 7))
	book()
}

func TestFindOpenings_OfAPinnedFollowUpSaysThatItDoesNotMove(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.book(t, "gnats/application/1/1", "2026-03-04 12:00")
	found := w.openings(t, nil)
	if len(found.GetOpenings()) != 0 || len(found.GetNone()) != 1 || found.GetNone()[0].GetRule() != vernationv1.Rule_RULE_PINNED {
		t.Errorf("%v: want no opening, for it is pinned", found)
	}
}

func TestExplainFollowUp_NamesRulesDaysAndWhatWouldLetItIn(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.publish(t, w.makePlan(t, 7))
	explained, err := w.plans().ExplainFollowUp(w.office, &vernationv1.ExplainFollowUpRequest{Parent: w.name(""), Item: "gnats/application/1/1", Days: 7})
	if err != nil {
		t.Fatal(err)
	}
	if len(explained.GetChanges()) == 0 || explained.GetChanges()[0].GetKind() != vernationv1.ChangeKind_CHANGE_KIND_OTHER_WAY || explained.GetChanges()[0].GetOpening() == nil {
		t.Errorf("%v: want its way named, for it is open", explained.GetChanges())
	}
	if !slices.ContainsFunc(explained.GetObstacles(), func(o *vernationv1.Obstacle) bool {
		return o.GetReason().GetRule() == vernationv1.Rule_RULE_LICENCE && o.GetWhereText() != ""
	}) {
		t.Errorf("%v: want the licence of the other technician named, and on which days", explained.GetObstacles())
	}
}

func TestBookFollowUp_RefusedForItsTimeIsToldWhatIsFree(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	_, err := w.plans().BookFollowUp(w.office, &vernationv1.BookFollowUpRequest{
		Parent: w.name(""), Item: "gnats/application/1/1", Technician: w.name("technicians/tech-a"), Begins: w.stamp(t, "2026-03-02 09:00"), RequestId: request(),
	})
	expectRule(t, err, "BOOKING_BREAKS_RULES", "RULE_REENTRY")
	if _, free, found := strings.Cut(status.Convert(err).Message(), "; free instead: "); !found || !strings.Contains(free, " by Technician A") {
		t.Errorf("%v: want the openings named", err)
	}
}
