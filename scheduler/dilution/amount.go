package dilution

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// Amount is so much of a product as it stands in its containers: one of the three, by its supply form.
type Amount struct {
	Volume    quantity.Volume `json:"volume,omitzero"`    // concentrates, ready to use
	Mass      quantity.Mass   `json:"mass,omitzero"`      // solids
	Organisms int64           `json:"organisms,omitzero"` // living goods, and pieces of devices
}

// AmountKind says how a product is measured.
type AmountKind string

// The kinds of amount.
const (
	ByVolume AmountKind = "volume"
	ByMass   AmountKind = "mass"
	ByNumber AmountKind = "number"
	NoAmount AmountKind = "" // physical work has none
)

// MeasuredBy says how much of a product is told.
func MeasuredBy(form catalogue.Form) AmountKind {
	switch form {
	case catalogue.Concentrate, catalogue.ReadyToUse:
		return ByVolume
	case catalogue.Solid:
		return ByMass
	case catalogue.Living, catalogue.Device:
		return ByNumber
	}
	return NoAmount
}

// Kind is how the amount is told; NoAmount where it is nothing, or told twice.
func (a Amount) Kind() AmountKind {
	switch {
	case a.Mass.IsZero() && a.Organisms == 0 && !a.Volume.IsZero():
		return ByVolume
	case a.Volume.IsZero() && a.Organisms == 0 && !a.Mass.IsZero():
		return ByMass
	case a.Volume.IsZero() && a.Mass.IsZero() && a.Organisms != 0:
		return ByNumber
	}
	return NoAmount
}

// Base is the amount in millilitres, grams or organisms.
func (a Amount) Base() *big.Rat {
	base := new(big.Rat).SetInt64(a.Organisms)
	return base.Add(base, new(big.Rat).Add(a.Volume.Millilitres(), a.Mass.Grams()))
}

// Of returns an amount of so many millilitres, grams or organisms in the unit of this one; organisms are rounded down.
func (a Amount) Of(base *big.Rat) Amount {
	switch a.Kind() {
	case ByVolume:
		return Amount{Volume: quantity.NewVolume(1, 1, quantity.Millilitre).Times(base).As(a.Volume.Unit())}
	case ByMass:
		return Amount{Mass: quantity.NewMass(1, 1, quantity.Gram).Times(base).As(a.Mass.Unit())}
	case ByNumber:
		return Amount{Organisms: floor(base)}
	}
	return Amount{}
}

// Times returns the amount so many times.
func (a Amount) Times(factor *big.Rat) Amount { return a.Of(new(big.Rat).Mul(a.Base(), factor)) }

// Sign is -1, 0 or 1.
func (a Amount) Sign() int { return a.Base().Sign() }

// String writes the amount as people read it.
func (a Amount) String() string {
	switch a.Kind() {
	case ByVolume:
		return a.Volume.String()
	case ByMass:
		return Weight(a.Mass)
	case ByNumber:
		return quantity.Thousands(a.Organisms)
	}
	return "nothing"
}

// Held is what of a product stands in one lot, and until when it may be used.
type Held struct {
	Lot  string
	Left *big.Rat // millilitres, grams or organisms
	// From is the first day on which it was there; Last the last on which it may be used, unset where that is not known: then
	// nothing is drawn from it.
	From civil.Date
	Last civil.Date
}

// Taken is what was taken from a lot.
type Taken struct {
	Lot    string
	Amount *big.Rat
}

// Take takes a need from lots on a day as DrawFrom does from containers: first what expires first, then the one with least left, then by
// name; nothing that was not there yet, is past its day or has none. It lessens what the lots hold; missing is what they did not give.
func Take(need *big.Rat, on civil.Date, lots []Held) (taken []Taken, missing *big.Rat) {
	missing = new(big.Rat).Set(need)
	slices.SortStableFunc(lots, func(a, b Held) int {
		return cmp.Or(cmp.Compare(a.Last, b.Last), a.Left.Cmp(b.Left), cmp.Compare(a.Lot, b.Lot))
	})
	for i := range lots {
		l := &lots[i]
		if missing.Sign() <= 0 {
			break
		}
		if l.Left.Sign() <= 0 || l.Last.IsZero() || l.Last < on || on < l.From {
			continue
		}
		take := missing
		if take.Cmp(l.Left) > 0 {
			take = l.Left
		}
		taken = append(taken, Taken{l.Lot, new(big.Rat).Set(take)})
		l.Left, missing = new(big.Rat).Sub(l.Left, take), new(big.Rat).Sub(missing, take)
	}
	return taken, missing
}

// Check says what is wrong with an amount of a product of a form, or nil.
func (a Amount) Check(form catalogue.Form) error {
	want := MeasuredBy(form)
	switch {
	case want == NoAmount:
		return fmt.Errorf("a product of the form %s is not held in stock", form)
	case a.Kind() != want || a.Sign() <= 0:
		return fmt.Errorf("%v: a product of the form %s is told by %s, above nothing", a, form, want)
	}
	return nil
}
