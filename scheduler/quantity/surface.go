package quantity

import (
	"fmt"
	"math/big"
	"strings"
)

// SurfaceUnit is a unit of surface.
type SurfaceUnit string

// The units of surface. Feet and acres are international ones, 1 ft = 0.3048 m.
const (
	SquareMetre SurfaceUnit = "m2"
	SquareFoot  SurfaceUnit = "ft2"
	Acre        SurfaceUnit = "acre"
)

// unitSquareMetres is exact: an acre is 43 560 square feet (NIST Handbook 44, Appendix C).
var unitSquareMetres = map[SurfaceUnit]*big.Rat{
	SquareMetre: rat("1"), SquareFoot: squareFoot, Acre: new(big.Rat).Mul(squareFoot, rat("43560")),
}

var squareFoot = rat("0.09290304")

// Surface is an exact surface: soil of a bed, or the ground of a label that speaks of acres. The zero Surface is 0 m2.
type Surface struct {
	squareMetres *big.Rat    // nil means 0
	unit         SurfaceUnit // "" means SquareMetre
}

// NewSurface returns num/den of a unit. It panics on an unknown unit or den 0: both are programmer's errors.
func NewSurface(num, den int64, unit SurfaceUnit) Surface {
	if unitSquareMetres[unit] == nil || den == 0 {
		panic(fmt.Sprintf("quantity: %d/%d %q is no surface", num, den, unit))
	}
	return Surface{new(big.Rat).Mul(big.NewRat(num, den), unitSquareMetres[unit]), unit}
}

// ParseSurface reads "2 m2", "1000 ft2" or "1/128 acre".
func ParseSurface(text string) (Surface, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(text), " ")
	amount, ok := parseNumber(number)
	factor := unitSquareMetres[SurfaceUnit(unit)]
	if !ok || factor == nil {
		return Surface{}, fmt.Errorf("surface %q: want a number and one of m2, ft2 and acre", text)
	}
	return Surface{amount.Mul(amount, factor), SurfaceUnit(unit)}, nil
}

// Unit returns the unit in which the surface was given.
func (s Surface) Unit() SurfaceUnit {
	if s.unit == "" {
		return SquareMetre
	}
	return s.unit
}

// SquareMetres returns the exact number of square metres, as a fresh number.
func (s Surface) SquareMetres() *big.Rat {
	if s.squareMetres == nil {
		return new(big.Rat)
	}
	return new(big.Rat).Set(s.squareMetres)
}

// In returns the exact number of a unit, as a fresh number.
func (s Surface) In(unit SurfaceUnit) *big.Rat {
	return new(big.Rat).Quo(s.SquareMetres(), unitSquareMetres[unit])
}

// Sign returns -1, 0 or +1.
func (s Surface) Sign() int { return s.SquareMetres().Sign() }

// Cmp compares: -1 when smaller than the other, 0 when equal, +1 when larger. Units do not matter.
func (s Surface) Cmp(other Surface) int { return s.SquareMetres().Cmp(other.SquareMetres()) }

// Equal says whether both are the same surface; units do not matter.
func (s Surface) Equal(other Surface) bool { return s.Cmp(other) == 0 }

// IsZero says whether the surface is nothing.
func (s Surface) IsZero() bool { return s.Sign() == 0 }

// Times returns the surface multiplied by an exact factor.
func (s Surface) Times(factor *big.Rat) Surface {
	return Surface{new(big.Rat).Mul(s.SquareMetres(), factor), s.Unit()}
}

// Exact writes the surface without rounding in its unit.
func (s Surface) Exact() string { return exactText(s.In(s.Unit())) + " " + string(s.Unit()) }

// String writes the surface for people, rounded to three decimals.
func (s Surface) String() string { return Decimal(s.In(s.Unit()), 3) + " " + string(s.Unit()) }

// MarshalText writes the surface as Exact does.
func (s Surface) MarshalText() ([]byte, error) { return []byte(s.Exact()), nil }

// UnmarshalText reads what ParseSurface reads.
func (s *Surface) UnmarshalText(text []byte) error {
	parsed, err := ParseSurface(string(text))
	if err != nil {
		return err
	}
	*s = parsed
	return nil
}

// UnmarshalYAML reads what ParseSurface reads; it spares YAML libraries the detour over bytes.
func (s *Surface) UnmarshalYAML(read func(any) error) error {
	var text string
	if err := read(&text); err != nil {
		return err
	}
	return s.UnmarshalText([]byte(text))
}
