package quantity

import (
	"errors"
	"fmt"
	"math/big"
)

// Basis says what a rate by weight or by number is counted for.
type Basis string

// The bases.
const (
	ForMix     Basis = "mix"     // a volume of finished mix
	ForPot     Basis = "pot"     // a volume of pot or medium
	ForSurface Basis = "surface" // a surface of soil
)

// PortionRate is a label's rate of what is weighed or counted, kept as it was written: one of Mass and Organisms, for one of
// PerMix, PerPot and PerSurface. 2 lb in 100 US gal of mix, 10 000 nematodes for 1 L of pot, 50 million for 100 m2.
type PortionRate struct {
	Mass       Mass    `json:"mass,omitzero"`
	Organisms  int64   `json:"organisms,omitempty"`
	PerMix     Volume  `json:"per_mix,omitzero"`
	PerPot     Volume  `json:"per_pot,omitzero"`
	PerSurface Surface `json:"per_surface,omitzero"`
}

// Basis says what the rate is counted for; "" where it names none or several.
func (r PortionRate) Basis() Basis {
	switch mix, pot, surface := !r.PerMix.IsZero(), !r.PerPot.IsZero(), !r.PerSurface.IsZero(); {
	case mix && !pot && !surface:
		return ForMix
	case pot && !mix && !surface:
		return ForPot
	case surface && !mix && !pot:
		return ForSurface
	}
	return ""
}

// Counted says whether the rate counts organisms; otherwise it weighs.
func (r PortionRate) Counted() bool { return r.Organisms != 0 }

// Validate says what is wrong with the rate, or nil.
func (r PortionRate) Validate() error {
	switch {
	case r.Counted() != r.Mass.IsZero():
		return errors.New("want a mass or a number of organisms, one of them")
	case r.Mass.Sign() < 0 || r.Organisms < 0 || r.Organisms > MaxOrganisms:
		return fmt.Errorf("%v: want more than nothing and at most %d organisms", r, MaxOrganisms)
	case r.Basis() == "":
		return errors.New("want a volume of mix, a volume of pot or a surface that the amount is for, one of them")
	case r.PerMix.Sign() < 0 || r.PerPot.Sign() < 0 || r.PerSurface.Sign() < 0:
		return fmt.Errorf("%v: want it for more than nothing", r)
	}
	return nil
}

// Like says whether two rates are of one kind: both weigh or both count, for the same basis. Only then they compare.
func (r PortionRate) Like(other PortionRate) bool {
	return r.Counted() == other.Counted() && r.Basis() == other.Basis()
}

// Each returns the exact amount for one unit of the basis: grams or organisms for a litre of mix or pot or for a square metre.
// A rate that is not valid gives 0.
func (r PortionRate) Each() *big.Rat {
	per := new(big.Rat)
	switch r.Basis() {
	case ForMix:
		per = r.PerMix.In(Litre)
	case ForPot:
		per = r.PerPot.In(Litre)
	case ForSurface:
		per = r.PerSurface.SquareMetres()
	}
	if per.Sign() == 0 {
		return per
	}
	amount := r.Mass.Grams()
	if r.Counted() {
		amount.SetInt64(r.Organisms)
	}
	return amount.Quo(amount, per)
}

// Cmp compares two rates that are Like each other: -1 when weaker than the other, 0 when equal, +1 when stronger.
func (r PortionRate) Cmp(other PortionRate) int { return r.Each().Cmp(other.Each()) }

// String writes the rate as a person would: "2 lb in 100 US gal of mix", "10 000 organisms for 1 L of pot".
func (r PortionRate) String() string {
	amount := r.Mass.String()
	if r.Counted() {
		amount = Thousands(r.Organisms) + " organisms"
	}
	switch r.Basis() {
	case ForMix:
		return fmt.Sprintf("%s in %v of mix", amount, r.PerMix)
	case ForPot:
		return fmt.Sprintf("%s for %v of pot", amount, r.PerPot)
	case ForSurface:
		return fmt.Sprintf("%s for %v of soil", amount, r.PerSurface)
	}
	return amount + " for nothing that is named"
}

// Thousands writes a whole number in groups of three digits: "5 000 000".
func Thousands(n int64) string {
	digits, sign := fmt.Sprint(n), ""
	if n < 0 {
		digits, sign = digits[1:], "-"
	}
	for at := len(digits) - 3; at > 0; at -= 3 {
		digits = digits[:at] + " " + digits[at:]
	}
	return sign + digits
}
