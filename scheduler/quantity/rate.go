package quantity

import (
	"errors"
	"fmt"
	"math/big"
)

// Convention says what a dilution's second number counts. There is no default.
type Convention string

// The two conventions. "2.5 US fl oz per US gallon" on a label is MadeUpTo as a rule.
const (
	// MadeUpTo counts the finished mix: concentrate, then water up to the volume.
	MadeUpTo Convention = "made up to"
	// AddedTo counts the water (or carrier) that the concentrate is added to.
	AddedTo Convention = "added to"
)

// Rate is an amount of concentrate for an amount of mix, kept as it was written.
type Rate struct {
	Concentrate Volume     `json:"concentrate"`
	Per         Volume     `json:"per"`
	Convention  Convention `json:"convention"`
}

// NewRatio returns "1:n" under a convention: one part in n+1 when AddedTo, one part in n when MadeUpTo.
func NewRatio(n int64, convention Convention) Rate {
	return Rate{NewVolume(1, 1, Millilitre), NewVolume(n, 1, Millilitre), convention}
}

// Validate says what is wrong with the rate, or nil.
func (r Rate) Validate() error {
	switch {
	case r.Convention != MadeUpTo && r.Convention != AddedTo:
		return fmt.Errorf("convention %q: want %q or %q: a ratio alone does not say which", r.Convention, MadeUpTo, AddedTo)
	case r.Concentrate.Sign() <= 0:
		return fmt.Errorf("concentrate %v: want more than nothing", r.Concentrate)
	case r.Per.Sign() <= 0:
		return fmt.Errorf("per %v: want more than nothing", r.Per)
	case r.Convention == MadeUpTo && r.Concentrate.Cmp(r.Per) > 0:
		return fmt.Errorf("concentrate %v made up to %v: more concentrate than mix", r.Concentrate, r.Per)
	case r.Concentrate.System() != r.Per.System():
		return errors.New("concentrate and mix are in units of two systems: write both in one")
	}
	return nil
}

// Share returns the exact part of the finished mix that is concentrate, between 0 and 1:
// C/P made up to P, C/(C+P) added to P.
func (r Rate) Share() *big.Rat {
	whole := r.Per
	if r.Convention == AddedTo {
		whole = r.Per.Add(r.Concentrate)
	}
	if whole.IsZero() {
		return new(big.Rat)
	}
	return new(big.Rat).Quo(r.Concentrate.Millilitres(), whole.Millilitres())
}

// Cmp compares by Share: -1 when weaker than the other, 0 when equal, +1 when stronger.
func (r Rate) Cmp(other Rate) int { return r.Share().Cmp(other.Share()) }

// ConcentrateFor returns the concentrate in so much finished mix.
func (r Rate) ConcentrateFor(finished Volume) Volume { return finished.Times(r.Share()) }

// String writes the rate as a person would: "2.5 US fl oz made up to 1 US gal".
func (r Rate) String() string {
	return fmt.Sprintf("%v %s %v", r.Concentrate, r.Convention, r.Per)
}

// Percent writes a share as a percentage with at most so many decimals: "1.953".
func Percent(share *big.Rat, decimals int) string {
	return Decimal(new(big.Rat).Mul(share, big.NewRat(100, 1)), decimals)
}
