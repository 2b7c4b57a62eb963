package quantity

import (
	"fmt"
	"math/big"
	"strings"
)

// ParseShare reads a strength as a part of the whole, 0 to 1, exactly: "0.5 %", "2 ppm" (parts per million) or "1/64".
// It does not say of what: by volume for liquids, by weight for powders, as the label does.
func ParseShare(text string) (*big.Rat, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(text), " ")
	strength, ok := parseNumber(number)
	parts, known := shareUnits[unit]
	switch {
	case !ok || !known:
		return nil, fmt.Errorf("strength %q: want a number and %% or ppm, such as 0.5 %%, or a fraction", text)
	case strength.Sign() < 0:
		return nil, fmt.Errorf("strength %q: want 0 or more", text)
	}
	strength.Quo(strength, big.NewRat(parts, 1))
	if strength.Cmp(big.NewRat(1, 1)) > 0 {
		return nil, fmt.Errorf("strength %q is more than the whole", text)
	}
	return strength, nil
}

// shareUnits are the parts in one whole: 1 % is 10 000 ppm.
var shareUnits = map[string]int64{"": 1, "%": 100, "ppm": 1_000_000}

// PercentByVolume returns so many percent of the finished mix, by volume: 0.5 is 0.5 mL made up to 100 mL.
// Errors: not above 0, or above 100.
func PercentByVolume(percent *big.Rat) (Rate, error) {
	r := Rate{NewVolume(1, 1, Millilitre).Times(percent), NewVolume(100, 1, Millilitre), MadeUpTo}
	if err := r.Validate(); err != nil {
		return Rate{}, fmt.Errorf("%s %% by volume: %w", Decimal(percent, 6), err)
	}
	return r, nil
}

// Dilute returns the rate at which a stock of one strength makes a mix of another, both parts of the whole as
// ParseShare reads them: C1 V1 = C2 V2, so V1/V2 = C2/C1. Errors: nothing wanted, or more than the stock has.
func Dilute(stock, wanted *big.Rat) (Rate, error) {
	if stock.Sign() <= 0 || wanted.Sign() <= 0 || wanted.Cmp(stock) > 0 {
		return Rate{}, fmt.Errorf("a mix of %s %% from a stock of %s %%: want more than nothing and no more than the stock", Percent(wanted, 6), Percent(stock, 6))
	}
	return Rate{NewVolume(1, 1, Litre).Times(new(big.Rat).Quo(wanted, stock)).As(Millilitre), NewVolume(1, 1, Litre), MadeUpTo}, nil
}

// InSteps returns the share of the first concentrate in the last mix when each rate is applied to the mix that the one
// before made: the product of their shares. Without steps it is 1, the undiluted concentrate.
func InSteps(steps ...Rate) *big.Rat {
	whole := big.NewRat(1, 1)
	for _, step := range steps {
		whole.Mul(whole, step.Share())
	}
	return whole
}

// FinishedFrom returns how much finished mix so much concentrate makes: the reverse of ConcentrateFor. A rate that is
// not valid and has no share makes none.
func (r Rate) FinishedFrom(concentrate Volume) Volume {
	share := r.Share()
	if share.Sign() == 0 {
		return Volume{unit: concentrate.unit}
	}
	return concentrate.Times(share.Inv(share))
}

// WaterFor returns the water in so much finished mix.
func (r Rate) WaterFor(finished Volume) Volume { return finished.Sub(r.ConcentrateFor(finished)) }

// WholeFor returns how much of a product holds so much of its active ingredient, by weight: 10 lb in a dust of 5 %
// are 200 lb. A strength of nothing gives nothing.
func WholeFor(active Mass, strength *big.Rat) Mass {
	if strength.Sign() == 0 {
		return Mass{unit: active.unit}
	}
	return active.Times(new(big.Rat).Inv(strength))
}
