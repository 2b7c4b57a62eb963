package casework_test

import (
	"math/big"
	"testing"

	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

// stocked is the firm with a lot of 32 US fl oz of soap.
func stocked(t *testing.T) *firmtest.Works {
	t.Helper()
	w := firmtest.Open(t)
	lot := firm.Lot{ID: "bottle", Product: "soap", Pack: dilution.Amount{Volume: firmtest.Volume(t, "32 US fl oz")}, Packs: 1}
	lot.ReceivedOn = w.Business.Zone.DateOf(w.At(t, "2026-01-05 12:00"))
	lot.ExpiresOn = lot.ReceivedOn.AddDays(700)
	w.In(t, w.Office, func(tx *store.Tx) error {
		_, err := premises.AddLot(tx, firm.Kept[firm.Lot]{Value: lot})
		return err
	})
	return w
}

// gone is what was taken out of the bottle, in US fl oz.
func gone(t *testing.T, w *firmtest.Works) *big.Rat {
	t.Helper()
	var kept firm.Kept[firm.Lot]
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		kept, err = tx.KeptLot("bottle")
		return err
	})
	return new(big.Rat).Sub(big.NewRat(32, 1), kept.Value.Left().Volume.In(quantity.USFluidOunce))
}

func wantGone(t *testing.T, w *firmtest.Works, what string, num, den int64) {
	t.Helper()
	// The store keeps 18 decimals of a millilitre.
	if got, want := gone(t, w), big.NewRat(num, den); quantity.Decimal(got, 9) != quantity.Decimal(want, 9) {
		t.Errorf("%s: %s US fl oz are gone, want %s", what, got.FloatString(6), want.FloatString(6))
	}
}

func TestStock_ACorrectionPutsBackWhatWasTaken(t *testing.T) {
	t.Parallel()
	w := stocked(t)
	w.MoveClock(t, "2026-03-03 22:00")
	w.Report(t, w.Spray(t, "spray-1", 1, "2026-03-03 19:30"))
	wantGone(t, w, "after the spray", 5, 8)
	w.Report(t, w.Spray(t, "spray-1", 1, "2026-03-03 19:30")) // the same report again
	wantGone(t, w, "told twice", 5, 8)
	doubled := w.Spray(t, "spray-2", 1, "2026-03-03 19:30")
	doubled.Corrects, doubled.Items[0].Application.Concentrate = "spray-1", firmtest.Volume(t, "5/4 US fl oz")
	w.Report(t, doubled)
	wantGone(t, w, "corrected to twice as much", 5, 4)
	never := w.Look(t, "look-1", 1, "2026-03-03 19:30")
	never.Corrects = "spray-2"
	w.Report(t, never)
	wantGone(t, w, "corrected to none made", 0, 1)
}

func TestStock_OneMixThatSeveralItemsDrawOnIsTakenOnce(t *testing.T) {
	t.Parallel()
	w := stocked(t)
	w.MoveClock(t, "2026-03-03 22:00")
	report := w.Spray(t, "spray-1", 1, "2026-03-03 19:30")
	first := report.Items[0]
	second := first
	made := *first.Application
	made.Applied = firmtest.Volume(t, "10 US fl oz")
	again := made
	first.Application, second.Application = &made, &again
	second.Item, second.Case, second.Area = "", firmtest.Mealybugs, first.Area
	second.Plants = nil
	second.Plants = append(second.Plants, "pothos-stairs")
	first.Plants = append(first.Plants, "pothos-printer")
	second.Began, second.Ended = first.Ended, first.Ended.Add(600e9)
	report.Items = []firm.ReportItem{first, second}
	w.Report(t, report)
	// Both tell one filling of 5/8 in 32 US fl oz, of which 20 went on plants: it was mixed once.
	wantGone(t, w, "two items of one mix", 5, 8)
}
