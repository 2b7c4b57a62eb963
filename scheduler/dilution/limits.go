package dilution

import (
	"fmt"
	"math/big"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

// Limits are the least and the greatest strength that a mix may have. Both are set by LabelLimits.
type Limits struct {
	Min *quantity.Rate `json:"min"`
	Max *quantity.Rate `json:"max"`
	// LeastIsOurs says that the label has one rate: Max is it, and Min a share of it by the business's policy.
	LeastIsOurs bool `json:"least_is_ours,omitempty"`
}

// LabelLimits reads the limits off a product's label. A label with one rate means the greatest; the least is
// leastRatePercent of it (1 to 100). Errors name the field: the product is not diluted, the label states no
// rate, a rate is not valid, or the least is above the greatest.
func LabelLimits(p catalogue.Product, leastRatePercent int) (Limits, error) {
	label := p.Label
	switch {
	case !p.Diluted():
		return Limits{}, fmt.Errorf("product %q is %s: it is never diluted", p.Name, p.Form)
	case label.MaxRate == nil:
		return Limits{}, fmt.Errorf("product %q: label.max_rate is missing: want the greatest rate of the label, or its only one", p.Name)
	}
	if err := label.MaxRate.Validate(); err != nil {
		return Limits{}, fmt.Errorf("product %q: label.max_rate: %w", p.Name, err)
	}
	greatest := *label.MaxRate
	if label.MinRate == nil {
		return oneRate(p.Name, greatest, leastRatePercent)
	}
	least := *label.MinRate
	if err := least.Validate(); err != nil {
		return Limits{}, fmt.Errorf("product %q: label.min_rate: %w", p.Name, err)
	}
	if least.Cmp(greatest) > 0 {
		return Limits{}, fmt.Errorf("product %q: label.min_rate %v is stronger than label.max_rate %v: want them the other way round", p.Name, least, greatest)
	}
	return Limits{Min: &least, Max: &greatest}, nil
}

// oneRate scales the strength and not the amount beside the water, so that a policy of 90 percent means nine
// tenths of the label's share whichever convention the label is written in.
func oneRate(name string, greatest quantity.Rate, leastRatePercent int) (Limits, error) {
	if leastRatePercent < 1 || leastRatePercent > 100 {
		return Limits{}, fmt.Errorf("product %q has one rate and the policy's least is %d percent of it: want 1 to 100", name, leastRatePercent)
	}
	share := new(big.Rat).Mul(greatest.Share(), big.NewRat(int64(leastRatePercent), 100))
	least := quantity.Rate{Concentrate: greatest.Per.Times(share).As(greatest.Concentrate.Unit()), Per: greatest.Per, Convention: quantity.MadeUpTo}
	return Limits{Min: &least, Max: &greatest, LeastIsOurs: true}, nil
}

// Allow says whether a share of concentrate lies between the limits, both included.
func (l Limits) Allow(share *big.Rat) bool {
	return share.Cmp(l.Min.Share()) >= 0 && share.Cmp(l.Max.Share()) <= 0
}

// Strength returns the part of a mix that is concentrate, between 0 and 1; 0 for an empty mix.
func Strength(concentrate, volume quantity.Volume) *big.Rat {
	if volume.IsZero() {
		return new(big.Rat)
	}
	return new(big.Rat).Quo(concentrate.Millilitres(), volume.Millilitres())
}

// AboveLabel returns how many times the label's greatest strength a share is, and whether that is above it.
func AboveLabel(share *big.Rat, limits Limits) (times *big.Rat, above bool) {
	times = new(big.Rat).Quo(share, limits.Max.Share())
	return times, times.Cmp(big.NewRat(1, 1)) > 0
}
