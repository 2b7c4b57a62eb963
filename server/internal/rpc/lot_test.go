package rpc_test

import (
	"slices"
	"testing"

	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
)

// receive records a lot of soap of one bottle.
func (w *works) receive(t *testing.T, id, received, expires, volume string) {
	t.Helper()
	_, err := w.lots().CreateLot(w.office, w.lot(id, func(l *vernationv1.Lot) {
		l.ReceivedOn, l.ExpiresOn, l.Packs, l.Pack = received, expires, 1, &vernationv1.StockAmount{Volume: volume}
	}))
	if err != nil {
		t.Fatal(err)
	}
}

// left is what a lot holds, as text.
func (w *works) left(t *testing.T, id string) string {
	t.Helper()
	lot, err := w.lots().GetLot(w.techB, &vernationv1.GetLotRequest{Name: w.name("lots/" + id)})
	if err != nil {
		t.Fatal(err)
	}
	return lot.GetLeft().GetVolume()
}

func TestLots_WhatIsAppliedIsTakenFromTheLotThatExpiresFirst(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.receive(t, "expired", "2026-01-01", "2026-03-01", "32 US fl oz") // the day before the spray
	w.receive(t, "unread", "2026-01-01", "", "32 US fl oz")            // nobody has read its date
	w.receive(t, "late", "2026-01-01", "2027-01-31", "32 US fl oz")
	w.receive(t, "soon", "2026-01-01", "2026-06-30", "0.5 US fl oz")
	// 5/8 US fl oz went into the mix: half an ounce from what expires first, the rest from the next.
	w.spray(t, "spray-1", "2026-03-02 19:00")
	for id, want := range map[string]string{"expired": "32 US fl oz", "unread": "32 US fl oz", "soon": "", "late": "31.875 US fl oz"} {
		if got := w.left(t, id); got != want {
			t.Errorf("lot %s holds %q, want %q", id, got, want)
		}
	}
	page, err := w.lots().ListStockMovements(w.office, &vernationv1.ListStockMovementsRequest{Parent: w.name("lots/late")})
	if err != nil || len(page.GetMovements()) != 2 {
		t.Fatalf("movements %v, %v: want what came in and what was used", page, err)
	}
	if used := page.GetMovements()[0]; !used.GetTakenOut() || used.GetAmount().GetVolume() != "0.125 US fl oz" || used.GetRecord() == "" {
		t.Errorf("the use is %v", used)
	}
}

func TestLots_ACountStandsWhateverIsToldLaterOfTheTimeBefore(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.receive(t, "bottle", "2026-01-01", "2027-01-31", "32 US fl oz")
	w.Clock.Set(w.at(t, "2026-03-02 21:00"))
	ask := &vernationv1.CountLotRequest{
		Name: w.name("lots/bottle"), Found: &vernationv1.StockAmount{Volume: "30 US fl oz"}, Note: "some was spilt", RequestId: request(),
	}
	counted, err := w.lots().CountLot(w.techB, ask)
	if err != nil || counted.GetLeft().GetVolume() != "30 US fl oz" {
		t.Fatalf("counted: %v, %v", counted, err)
	}
	if again, err := w.lots().CountLot(w.techB, ask); err != nil || !proto.Equal(again, counted) {
		t.Errorf("the same count again: %v, %v", again, err)
	}
	w.spray(t, "spray-1", "2026-03-02 19:00") // told after the count, done before it
	if got := w.left(t, "bottle"); got != "30 US fl oz" {
		t.Errorf("after a late report of an earlier use it holds %q, want what was counted", got)
	}
}

// levelOf is the stock level of a product.
func (w *works) levelOf(t *testing.T, product, plan string) *vernationv1.StockLevel {
	t.Helper()
	page, err := w.lots().ListStockLevels(w.office, &vernationv1.ListStockLevelsRequest{Parent: w.name(""), Plan: plan})
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(page.GetLevels(), func(l *vernationv1.StockLevel) bool { return l.GetProduct() == w.name("products/"+product) })
	if i < 0 {
		t.Fatalf("the levels %v do not tell %s", page.GetLevels(), product)
	}
	return page.GetLevels()[i]
}

func TestStockLevels_TellWhatThePlanNeedsAndWhatIsShort(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	plan := w.makePlan(t, 14)
	concentrate := 0.0
	for _, route := range plan.GetRoutes() {
		for _, mix := range route.GetMixes() {
			if mix.GetProduct() == w.name("products/soap") {
				concentrate++
			}
		}
	}
	if concentrate == 0 {
		t.Fatal("the plan mixes no soap, so that this test shows nothing")
	}
	none := w.levelOf(t, "soap", plan.GetName())
	if none.GetNeeded().GetVolume() == "" || none.GetShort().GetVolume() != none.GetNeeded().GetVolume() || !none.GetRunsLow() || none.GetFirstUseOn() == "" ||
		none.GetDeliverOn() != none.GetFirstUseOn() || none.GetRequestOn() >= none.GetDeliverOn() {
		t.Errorf("with nothing on the shelf: %v, want all that is needed to be short, and asked for before the first use", none)
	}
	w.receive(t, "expired", "2026-01-01", "2026-03-01", "32 US fl oz")
	if level := w.levelOf(t, "soap", plan.GetName()); level.GetShort().GetVolume() == "" || level.GetUnusable().GetVolume() != "32 US fl oz" || level.GetUsable().GetVolume() != "" {
		t.Errorf("a lot past its day serves the plan: %v", level)
	}
	w.receive(t, "bottle", "2026-01-01", "2027-01-31", "32 US fl oz")
	level := w.levelOf(t, "soap", plan.GetName())
	if level.GetShort().GetVolume() != "" || level.GetRunsLow() || level.GetRequestOn() != "" || level.GetNextExpiryOn() != "2027-01-31" {
		t.Errorf("with a full bottle: %v, want nothing short", level)
	}
	if published := w.levelOf(t, "soap", ""); published.GetNeeded().GetVolume() != "" {
		t.Errorf("nothing is published, and it needs %v", published.GetNeeded())
	}
	w.publish(t, plan)
	if published := w.levelOf(t, "soap", ""); published.GetNeeded().GetVolume() != level.GetNeeded().GetVolume() {
		t.Errorf("the published visits need %v, the plan %v", published.GetNeeded(), level.GetNeeded())
	}
}
