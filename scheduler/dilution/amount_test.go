package dilution_test

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
)

func TestTake_DrawsAsDrawFromDoes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		on := civil.NewDate(2026, 3, 2)
		var lots []dilution.Held
		var containers []dilution.Container
		for i := range rapid.IntRange(0, 6).Draw(t, "lots") {
			id := string(rune('a' + i))
			ml := rapid.Int64Range(0, 40).Draw(t, "left")
			last := civil.Date(0)
			if rapid.IntRange(0, 4).Draw(t, "known") > 0 {
				last = on.AddDays(rapid.IntRange(-3, 9).Draw(t, "last"))
			}
			lots = append(lots, dilution.Held{Lot: id, Left: big.NewRat(ml, 1), Last: last})
			containers = append(containers, dilution.Container{ID: id, Product: "soap", Left: quantity.NewVolume(ml, 1, quantity.Millilitre), ExpiresOn: last})
		}
		need := rapid.Int64Range(1, 120).Draw(t, "need")
		taken, missing := dilution.Take(big.NewRat(need, 1), on, lots)
		draws, _, err := dilution.DrawFrom([]quantity.Volume{quantity.NewVolume(need, 1, quantity.Millilitre)}, "soap", on, containers)
		if (err != nil) != (missing.Sign() > 0) {
			t.Fatalf("missing %v, while DrawFrom says %v", missing, err)
		}
		sum := new(big.Rat).Set(missing)
		for _, part := range taken {
			sum.Add(sum, part.Amount)
		}
		if sum.Cmp(big.NewRat(need, 1)) != 0 {
			t.Fatalf("taken and missing add up to %v of %d", sum, need)
		}
		if err != nil {
			return
		}
		for i, draw := range draws[0] {
			if draw.Container != taken[i].Lot || draw.Amount.Millilitres().Cmp(taken[i].Amount) != 0 {
				t.Fatalf("draw %d is %v, taken was %v", i, draw, taken[i])
			}
		}
	})
}

func TestTake_NothingIsDrawnBeforeItCameIn(t *testing.T) {
	t.Parallel()
	on := civil.NewDate(2026, 3, 2)
	lots := []dilution.Held{{Lot: "tomorrow", Left: big.NewRat(10, 1), From: on.AddDays(1), Last: on.AddDays(90)}}
	if taken, missing := dilution.Take(big.NewRat(4, 1), on, lots); len(taken) != 0 || missing.Cmp(big.NewRat(4, 1)) != 0 {
		t.Errorf("taken %v, missing %v: want nothing of what comes in tomorrow", taken, missing)
	}
}

func TestAmount_IsToldByTheFormOfTheProduct(t *testing.T) {
	t.Parallel()
	volume := dilution.Amount{Volume: quantity.NewVolume(32, 1, quantity.USFluidOunce)}
	mass := dilution.Amount{Mass: quantity.NewMass(500, 1, quantity.Gram)}
	number := dilution.Amount{Organisms: 5_000_000}
	for form, want := range map[catalogue.Form]dilution.Amount{
		catalogue.Concentrate: volume, catalogue.ReadyToUse: volume, catalogue.Solid: mass, catalogue.Living: number, catalogue.Device: number,
	} {
		for _, amount := range []dilution.Amount{volume, mass, number, {}, {Volume: volume.Volume, Organisms: 1}} {
			if err := amount.Check(form); (err == nil) != (amount.Kind() == want.Kind()) {
				t.Errorf("%v of %s: %v", amount, form, err)
			}
		}
	}
	if err := volume.Check(catalogue.NoSupply); err == nil {
		t.Error("physical work is held in stock")
	}
	if got := volume.Times(big.NewRat(1, 4)).String(); got != "8 US fl oz" {
		t.Errorf("a quarter of 32 US fl oz is %s", got)
	}
}
