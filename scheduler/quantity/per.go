package quantity

import (
	"errors"
	"fmt"
	"math/big"
)

// WeightRate is a mass for a volume: of a powder in a finished mix (2 lb made up to 100 US gal), of granules in the soil
// of a pot, or the density of a liquid.
type WeightRate struct {
	Mass Mass   `json:"mass"`
	Per  Volume `json:"per"`
}

// Validate says what is wrong with the rate, or nil.
func (r WeightRate) Validate() error {
	switch {
	case r.Mass.Sign() <= 0:
		return fmt.Errorf("mass %v: want more than nothing", r.Mass)
	case r.Per.Sign() <= 0:
		return fmt.Errorf("per %v: want more than nothing", r.Per)
	}
	return nil
}

// GramsPerLitre returns the exact concentration; 0 per nothing is 0.
func (r WeightRate) GramsPerLitre() *big.Rat {
	if r.Per.IsZero() {
		return new(big.Rat)
	}
	return new(big.Rat).Quo(r.Mass.Grams(), r.Per.In(Litre))
}

// Cmp compares concentrations: -1 when weaker than the other, 0 when equal, +1 when stronger.
func (r WeightRate) Cmp(other WeightRate) int {
	return r.GramsPerLitre().Cmp(other.GramsPerLitre())
}

// MassFor returns the mass for so much mix or soil, in the unit of the rate.
func (r WeightRate) MassFor(v Volume) Mass {
	return Mass{new(big.Rat).Mul(r.GramsPerLitre(), v.In(Litre)), r.Mass.Unit()}
}

// VolumeFor returns the volume that so much mass is for, in the unit of the rate; nothing where the rate is nothing.
func (r WeightRate) VolumeFor(m Mass) Volume {
	perLitre := r.GramsPerLitre()
	if perLitre.Sign() == 0 {
		return Volume{unit: r.Per.unit}
	}
	return NewVolume(1, 1, Litre).Times(new(big.Rat).Quo(m.Grams(), perLitre)).As(r.Per.Unit())
}

// Times returns the rate multiplied by an exact factor: the density of an emulsion times its strength is the active
// ingredient in a volume of it.
func (r WeightRate) Times(factor *big.Rat) WeightRate {
	return WeightRate{r.Mass.Times(factor), r.Per}
}

// InWater returns the weight in water of a strength by weight, a part of the whole as ParseShare reads it: water is taken as
// 1 kg in a litre, as the trade does, so that 200 ppm are 200 mg in 1 L.
func InWater(share *big.Rat) WeightRate {
	return WeightRate{NewMass(1, 1, Kilogram).Times(share).As(Milligram), NewVolume(1, 1, Litre)}
}

// PartsPerMillion returns the strength by weight in water in parts per million: the reverse of InWater.
func (r WeightRate) PartsPerMillion() *big.Rat {
	return new(big.Rat).Mul(r.GramsPerLitre(), big.NewRat(1000, 1))
}

// String writes the rate as a person would: "2 lb in 100 US gal".
func (r WeightRate) String() string { return fmt.Sprintf("%v in %v", r.Mass, r.Per) }

// PotRate is an amount of finished mix for a volume of pot: 120 mL for each litre.
type PotRate struct {
	Amount Volume `json:"amount"`
	PerPot Volume `json:"per_pot"`
}

// Validate says what is wrong with the rate, or nil. More mix than pot is refused: it would run through.
func (r PotRate) Validate() error {
	switch {
	case r.Amount.Sign() <= 0:
		return fmt.Errorf("amount %v: want more than nothing", r.Amount)
	case r.PerPot.Sign() <= 0:
		return fmt.Errorf("per pot volume %v: want more than nothing", r.PerPot)
	case r.Amount.Cmp(r.PerPot) > 0:
		return fmt.Errorf("amount %v for %v of pot: more than the pot holds", r.Amount, r.PerPot)
	case r.Amount.System() != r.PerPot.System():
		return errors.New("amount and pot volume are in units of two systems: write both in one")
	}
	return nil
}

// For returns the amount for pots of so much volume together, in the unit of the rate.
func (r PotRate) For(pot Volume) Volume {
	if r.PerPot.IsZero() {
		return Volume{unit: r.Amount.unit}
	}
	return r.Amount.Times(new(big.Rat).Quo(pot.Millilitres(), r.PerPot.Millilitres()))
}

// String writes the rate as a person would: "120 mL for 1 L of pot".
func (r PotRate) String() string { return fmt.Sprintf("%v for %v of pot", r.Amount, r.PerPot) }

// OrganismRate is a number of living organisms for a volume of mix or soil: 1 000 000 nematodes for each litre.
type OrganismRate struct {
	Organisms int64  `json:"organisms"`
	Per       Volume `json:"per"`
}

// MaxOrganisms bounds a number of organisms: far more than a truck carries.
const MaxOrganisms = int64(1e15)

// Validate says what is wrong with the rate, or nil.
func (r OrganismRate) Validate() error {
	switch {
	case r.Organisms < 1 || r.Organisms > MaxOrganisms:
		return fmt.Errorf("%d organisms: want 1 to %d", r.Organisms, MaxOrganisms)
	case r.Per.Sign() <= 0:
		return fmt.Errorf("per %v: want more than nothing", r.Per)
	}
	return nil
}

// PerLitre returns the exact number in a litre; 0 per nothing is 0.
func (r OrganismRate) PerLitre() *big.Rat {
	if r.Per.IsZero() {
		return new(big.Rat)
	}
	return new(big.Rat).Quo(big.NewRat(r.Organisms, 1), r.Per.In(Litre))
}

// For returns the exact number for so much mix or soil; organisms are counted whole by whoever doses them.
func (r OrganismRate) For(v Volume) *big.Rat { return new(big.Rat).Mul(r.PerLitre(), v.In(Litre)) }

// VolumeFor returns the volume that so many organisms are for, in the unit of the rate; nothing where the rate is nothing.
func (r OrganismRate) VolumeFor(organisms int64) Volume {
	perLitre := r.PerLitre()
	if perLitre.Sign() == 0 {
		return Volume{unit: r.Per.unit}
	}
	return NewVolume(organisms, 1, Litre).Times(perLitre.Inv(perLitre)).As(r.Per.Unit())
}

// String writes the rate as a person would: "1 000 000 organisms in 1 L".
func (r OrganismRate) String() string {
	return fmt.Sprintf("%s organisms in %v", Thousands(r.Organisms), r.Per)
}

// SurfaceRate is an amount of finished mix for a surface: 1.5 US gal for 1000 ft2.
type SurfaceRate struct {
	Amount Volume  `json:"amount"`
	Per    Surface `json:"per"`
}

// Validate says what is wrong with the rate, or nil.
func (r SurfaceRate) Validate() error {
	switch {
	case r.Amount.Sign() <= 0:
		return fmt.Errorf("amount %v: want more than nothing", r.Amount)
	case r.Per.Sign() <= 0:
		return fmt.Errorf("per %v: want more than nothing", r.Per)
	}
	return nil
}

// For returns the amount for so much surface, in the unit of the rate.
func (r SurfaceRate) For(s Surface) Volume {
	if r.Per.Sign() == 0 {
		return Volume{unit: r.Amount.unit}
	}
	return r.Amount.Times(new(big.Rat).Quo(s.SquareMetres(), r.Per.SquareMetres()))
}

// String writes the rate as a person would: "1.5 US gal on 1000 ft2".
func (r SurfaceRate) String() string { return fmt.Sprintf("%v on %v", r.Amount, r.Per) }
