package quantity

import (
	"fmt"
	"math/big"
	"strings"
)

// MassUnit is a unit of mass. A bare "oz" is none of them: labels write it for fluid ounces too.
type MassUnit string

// The units of mass. The avoirdupois ounce and pound are the same in the US and the UK.
const (
	Milligram        MassUnit = "mg"
	Gram             MassUnit = "g"
	Kilogram         MassUnit = "kg"
	AvoirdupoisOunce MassUnit = "av oz"
	Pound            MassUnit = "lb"
)

// poundGrams is exact: 0.453 592 37 kg (NIST Handbook 44, Appendix C), 16 ounces.
var (
	poundGrams = rat("453.59237")
	unitGrams  = map[MassUnit]*big.Rat{
		Milligram: rat("1/1000"), Gram: rat("1"), Kilogram: rat("1000"),
		AvoirdupoisOunce: share(poundGrams, 16), Pound: poundGrams,
	}
)

// Mass is an exact mass that remembers the unit it was given in. The zero Mass is 0 g.
// Masses are values: no method changes its receiver.
type Mass struct {
	grams *big.Rat // nil means 0
	unit  MassUnit // "" means Gram
}

// NewMass returns num/den of a unit. It panics on an unknown unit or den 0: both are programmer's errors.
func NewMass(num, den int64, unit MassUnit) Mass {
	if unitGrams[unit] == nil || den == 0 {
		panic(fmt.Sprintf("quantity: %d/%d %q is no mass", num, den, unit))
	}
	return Mass{new(big.Rat).Mul(big.NewRat(num, den), unitGrams[unit]), unit}
}

// ParseMass reads "2 lb", "1/2 av oz" or "4.5 g".
func ParseMass(text string) (Mass, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(text), " ")
	amount, ok := parseNumber(number)
	if !ok {
		return Mass{}, fmt.Errorf("mass %q: want a number and a unit such as 2 lb", text)
	}
	factor := unitGrams[MassUnit(unit)]
	if factor == nil {
		return Mass{}, fmt.Errorf("mass %q: unit %q is not known: want mg, g, kg, lb, or av oz for an ounce by weight", text, unit)
	}
	return Mass{amount.Mul(amount, factor), MassUnit(unit)}, nil
}

// Unit returns the unit in which the mass was given.
func (m Mass) Unit() MassUnit {
	if m.unit == "" {
		return Gram
	}
	return m.unit
}

// As returns the same mass, shown in another unit.
func (m Mass) As(unit MassUnit) Mass {
	if unitGrams[unit] == nil {
		panic(fmt.Sprintf("quantity: unit %q of mass is not known", unit))
	}
	return Mass{m.grams, unit}
}

// Grams returns the exact number of grams, as a fresh number.
func (m Mass) Grams() *big.Rat {
	if m.grams == nil {
		return new(big.Rat)
	}
	return new(big.Rat).Set(m.grams)
}

// In returns the exact number of a unit, as a fresh number.
func (m Mass) In(unit MassUnit) *big.Rat { return new(big.Rat).Quo(m.Grams(), unitGrams[unit]) }

// Add returns the sum, in the unit of the receiver (of the argument when the receiver is the zero Mass).
func (m Mass) Add(other Mass) Mass {
	unit := m.Unit()
	if m.grams == nil {
		unit = other.Unit()
	}
	return Mass{new(big.Rat).Add(m.Grams(), other.Grams()), unit}
}

// Sub returns the difference, in the unit of the receiver.
func (m Mass) Sub(other Mass) Mass {
	return Mass{new(big.Rat).Sub(m.Grams(), other.Grams()), m.Unit()}
}

// Times returns the mass multiplied by an exact factor.
func (m Mass) Times(factor *big.Rat) Mass {
	return Mass{new(big.Rat).Mul(m.Grams(), factor), m.Unit()}
}

// Cmp compares: -1 when lighter than the other, 0 when equal, +1 when heavier. Units do not matter.
func (m Mass) Cmp(other Mass) int { return m.Grams().Cmp(other.Grams()) }

// Equal says whether both are the same amount; units do not matter.
func (m Mass) Equal(other Mass) bool { return m.Cmp(other) == 0 }

// Sign returns -1, 0 or +1.
func (m Mass) Sign() int { return m.Grams().Sign() }

// IsZero says whether the mass is nothing.
func (m Mass) IsZero() bool { return m.Sign() == 0 }

// Exact writes the mass without rounding in its unit: a decimal where it ends, else a fraction.
func (m Mass) Exact() string { return exactText(m.In(m.Unit())) + " " + string(m.Unit()) }

// String writes the mass for people in its unit, rounded to three decimals.
func (m Mass) String() string { return Decimal(m.In(m.Unit()), 3) + " " + string(m.Unit()) }

// MarshalText writes the mass as Exact does.
func (m Mass) MarshalText() ([]byte, error) { return []byte(m.Exact()), nil }

// UnmarshalText reads what ParseMass reads.
func (m *Mass) UnmarshalText(text []byte) error {
	parsed, err := ParseMass(string(text))
	if err != nil {
		return err
	}
	*m = parsed
	return nil
}

// UnmarshalYAML reads what ParseMass reads; it spares YAML libraries the detour over bytes.
func (m *Mass) UnmarshalYAML(read func(any) error) error {
	var text string
	if err := read(&text); err != nil {
		return err
	}
	return m.UnmarshalText([]byte(text))
}
