package dilution

import (
	"fmt"
	"math/big"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// Account is where a mix went, as reported. What is not said is nothing.
type Account struct {
	Concentrate quantity.Volume `json:"concentrate"` // in the mix
	Made        quantity.Volume `json:"made"`        // finished mix
	Applied     quantity.Volume `json:"applied"`     // on the plants that it was made for
	Elsewhere   quantity.Volume `json:"elsewhere"`   // on other plants that the label allows
	Home        quantity.Volume `json:"home"`        // in the labelled vessel
	Spilt       quantity.Volume `json:"spilt"`       // and wiped up: an incident
	UseBy       civil.Instant   `json:"use_by"`
}

// Balanced is an account after arithmetic.
type Balanced struct {
	// Unaccounted is what was made and is not told of; less than nothing when more went out than was made.
	Unaccounted quantity.Volume `json:"unaccounted"`
	// Closed says that Unaccounted is within a mark of the vessel, which nobody can read closer.
	Closed bool `json:"closed"`
	// ConcentrateApplied is the concentrate that went onto plants, those of Elsewhere included; ConcentrateHome what is in the
	// vessel brought home.
	ConcentrateApplied quantity.Volume `json:"concentrate_applied"`
	ConcentrateHome    quantity.Volume `json:"concentrate_home"`
	// Next says what is to be done, each in a sentence; empty when the account is closed and nothing came home.
	Next []string `json:"next,omitempty"`
}

// Balance closes the account of a mix. Errors: an amount below nothing, nothing made, or more concentrate than mix.
func (a Account) Balance(vessel Vessel) (Balanced, error) {
	for _, amount := range []struct {
		name   string
		volume quantity.Volume
	}{{"concentrate", a.Concentrate}, {"applied", a.Applied}, {"elsewhere", a.Elsewhere}, {"home", a.Home}, {"spilt", a.Spilt}} {
		if amount.volume.Sign() < 0 {
			return Balanced{}, fmt.Errorf("%s: %v: want 0 or more", amount.name, amount.volume)
		}
	}
	switch {
	case a.Made.Sign() <= 0:
		return Balanced{}, fmt.Errorf("made: %v: want more than nothing", a.Made)
	case a.Concentrate.Cmp(a.Made) > 0:
		return Balanced{}, fmt.Errorf("concentrate: %v in %v: more concentrate than mix", a.Concentrate, a.Made)
	}
	share := Strength(a.Concentrate, a.Made)
	inConcentrate := func(mix quantity.Volume) quantity.Volume { return mix.Times(share).As(a.Concentrate.Unit()) }
	rest := a.Made
	for _, gone := range []quantity.Volume{a.Applied, a.Elsewhere, a.Home, a.Spilt} {
		rest = rest.Sub(gone)
	}
	b := Balanced{
		Unaccounted: rest, ConcentrateApplied: inConcentrate(a.Applied.Add(a.Elsewhere)), ConcentrateHome: inConcentrate(a.Home),
		Closed: rest.Cmp(vessel.Marks) <= 0 && rest.Cmp(vessel.Marks.Times(big.NewRat(-1, 1))) >= 0,
	}
	b.Next = a.next(b)
	return b, nil
}

func (a Account) next(b Balanced) []string {
	var next []string
	if !b.Closed && b.Unaccounted.Sign() > 0 {
		next = append(next, fmt.Sprintf("%v are not accounted for: say where they went. Nothing goes into a sink, a toilet or a drain.", b.Unaccounted))
	}
	if !b.Closed && b.Unaccounted.Sign() < 0 {
		next = append(next, fmt.Sprintf("%v more went out than was made: correct the report.", b.Unaccounted.Times(big.NewRat(-1, 1))))
	}
	if a.Home.Sign() > 0 {
		next = append(next, fmt.Sprintf("%v came home in the labelled vessel: it is used until its use-by time and on plants that the label allows, else kept for lawful disposal; never back into the product's own container.", a.Home))
	}
	if a.Spilt.Sign() > 0 {
		next = append(next, fmt.Sprintf("%v were spilt: an incident. The product stops there until the responsible applicator allows it again.", a.Spilt))
	}
	return next
}
