package quantity

import (
	"fmt"
	"math/big"
	"strings"
)

// Unit is a unit of volume; it always says whose it is.
type Unit string

// The units of volume. Kitchen roundings (a fluid ounce of 30 mL) are not among them.
const (
	Millilitre         Unit = "mL"
	Litre              Unit = "L"
	USTeaspoon         Unit = "US tsp"
	USTablespoon       Unit = "US tbsp"
	USFluidOunce       Unit = "US fl oz"
	USPint             Unit = "US pt"
	USQuart            Unit = "US qt"
	USGallon           Unit = "US gal"
	ImperialFluidOunce Unit = "imp fl oz"
	ImperialPint       Unit = "imp pt"
	ImperialGallon     Unit = "imp gal"
)

// System is a family of units that may be added up without saying so.
type System string

// The systems of units.
const (
	Metric   System = "metric"
	US       System = "US"
	Imperial System = "imperial"
)

// usGallonML is exact: 231 cubic inches of 2.54 cm (NIST Handbook 44, Appendix C).
// imperialGallonML is exact by definition.
var (
	usGallonML       = rat("3785.411784")
	imperialGallonML = rat("4546.09")
	unitML           = map[Unit]*big.Rat{
		Millilitre: rat("1"), Litre: rat("1000"),
		USTeaspoon: share(usGallonML, 768), USTablespoon: share(usGallonML, 256), USFluidOunce: share(usGallonML, 128),
		USPint: share(usGallonML, 8), USQuart: share(usGallonML, 4), USGallon: usGallonML,
		ImperialFluidOunce: share(imperialGallonML, 160), ImperialPint: share(imperialGallonML, 8), ImperialGallon: imperialGallonML,
	}
)

func rat(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic("quantity: constant " + text + " is no number")
	}
	return r
}

func share(whole *big.Rat, parts int64) *big.Rat {
	return new(big.Rat).Quo(whole, big.NewRat(parts, 1))
}

// System returns the family of the unit, or "" for an unknown one.
func (u Unit) System() System {
	switch {
	case unitML[u] == nil:
		return ""
	case strings.HasPrefix(string(u), "US "):
		return US
	case strings.HasPrefix(string(u), "imp "):
		return Imperial
	}
	return Metric
}

// Volume is an exact volume that remembers the unit it was given in. The zero Volume is 0 mL.
// Volumes are values: no method changes its receiver.
type Volume struct {
	ml   *big.Rat // nil means 0
	unit Unit     // "" means Millilitre
}

// NewVolume returns num/den of a unit. It panics on an unknown unit or den 0: both are programmer's errors.
func NewVolume(num, den int64, unit Unit) Volume {
	if unitML[unit] == nil || den == 0 {
		panic(fmt.Sprintf("quantity: %d/%d %q is no volume", num, den, unit))
	}
	return Volume{new(big.Rat).Mul(big.NewRat(num, den), unitML[unit]), unit}
}

// ParseVolume reads "2.5 US fl oz", "5/8 US fl oz" or "600 mL". A bare "fl oz" or "gal" is
// refused, since US and imperial ones differ.
func ParseVolume(text string) (Volume, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(text), " ")
	amount, ok := parseNumber(number)
	if !ok {
		return Volume{}, fmt.Errorf("volume %q: want a number and a unit such as 2.5 US fl oz", text)
	}
	factor := unitML[Unit(unit)]
	if factor == nil {
		return Volume{}, fmt.Errorf("volume %q: unit %q is not known: want mL, L, or one that says whose it is, such as US fl oz or imp fl oz", text, unit)
	}
	return Volume{amount.Mul(amount, factor), Unit(unit)}, nil
}

// maxDigits bounds the text of one number; exact fractions of ounces take some forty.
const maxDigits = 200

// parseNumber reads "2", "2.5" or "5/8", all in decimal digits; ok is false for anything else.
func parseNumber(text string) (number *big.Rat, ok bool) {
	digits := strings.TrimPrefix(text, "-")
	above, below, fraction := strings.Cut(digits, "/")
	if len(text) > maxDigits || !onlyDigits(strings.Replace(above, ".", "", 1)) {
		return nil, false
	}
	number, ok = new(big.Rat).SetString(above)
	if !ok {
		return nil, false
	}
	if fraction {
		den, ok := new(big.Int).SetString(below, 10)
		if !ok || !onlyDigits(below) || den.Sign() == 0 || strings.Contains(above, ".") {
			return nil, false
		}
		number.Quo(number, new(big.Rat).SetInt(den))
	}
	if digits != text {
		number.Neg(number)
	}
	return number, true
}

func onlyDigits(text string) bool {
	return text != "" && strings.Trim(text, "0123456789") == ""
}

// VolumeML returns so many millilitres given as exact decimal text, such as a database gives.
func VolumeML(decimal string) (Volume, error) { return ParseVolume(decimal + " mL") }

// Unit returns the unit in which the volume was given.
func (v Volume) Unit() Unit {
	if v.unit == "" {
		return Millilitre
	}
	return v.unit
}

// System returns the system of the unit in which the volume was given.
func (v Volume) System() System { return v.Unit().System() }

// As returns the same volume, shown in another unit.
func (v Volume) As(unit Unit) Volume {
	if unitML[unit] == nil {
		panic(fmt.Sprintf("quantity: unit %q is not known", unit))
	}
	return Volume{v.ml, unit}
}

// Millilitres returns the exact number of millilitres, as a fresh number.
func (v Volume) Millilitres() *big.Rat {
	if v.ml == nil {
		return new(big.Rat)
	}
	return new(big.Rat).Set(v.ml)
}

// In returns the exact number of a unit, as a fresh number.
func (v Volume) In(unit Unit) *big.Rat { return new(big.Rat).Quo(v.Millilitres(), unitML[unit]) }

// Add returns the sum, in the unit of the receiver (of the argument when the receiver is the zero Volume).
func (v Volume) Add(other Volume) Volume {
	unit := v.Unit()
	if v.ml == nil {
		unit = other.Unit()
	}
	return Volume{new(big.Rat).Add(v.Millilitres(), other.Millilitres()), unit}
}

// Sub returns the difference, in the unit of the receiver.
func (v Volume) Sub(other Volume) Volume {
	return Volume{new(big.Rat).Sub(v.Millilitres(), other.Millilitres()), v.Unit()}
}

// Times returns the volume multiplied by an exact factor.
func (v Volume) Times(factor *big.Rat) Volume {
	return Volume{new(big.Rat).Mul(v.Millilitres(), factor), v.Unit()}
}

// Cmp compares: -1 when smaller than the other, 0 when equal, +1 when larger. Units do not matter.
func (v Volume) Cmp(other Volume) int { return v.Millilitres().Cmp(other.Millilitres()) }

// Equal says whether both are the same amount; units do not matter.
func (v Volume) Equal(other Volume) bool { return v.Cmp(other) == 0 }

// Sign returns -1, 0 or +1.
func (v Volume) Sign() int { return v.Millilitres().Sign() }

// IsZero says whether the volume is nothing.
func (v Volume) IsZero() bool { return v.Sign() == 0 }

// Exact writes the volume without rounding in its unit: a decimal where it ends, else a fraction.
func (v Volume) Exact() string { return exactText(v.In(v.Unit())) + " " + string(v.Unit()) }

// String writes the volume for people in its unit, rounded to three decimals; "about" is the caller's to say.
func (v Volume) String() string { return Decimal(v.In(v.Unit()), 3) + " " + string(v.Unit()) }

// MarshalText writes the volume as Exact does.
func (v Volume) MarshalText() ([]byte, error) { return []byte(v.Exact()), nil }

// UnmarshalText reads what ParseVolume reads.
func (v *Volume) UnmarshalText(text []byte) error {
	parsed, err := ParseVolume(string(text))
	if err != nil {
		return err
	}
	*v = parsed
	return nil
}

// Decimal writes a number with at most so many decimals, without trailing zeros.
func Decimal(r *big.Rat, decimals int) string {
	text := r.FloatString(decimals)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" {
		return "0"
	}
	return text
}

func exactText(r *big.Rat) string {
	if digits, exact := r.FloatPrec(); exact {
		return Decimal(r, digits)
	}
	return r.RatString()
}

// Money is an amount in minor units (cents, pence) of the business's currency.
type Money int64

// String writes the amount with two decimals and no currency: "1234.50".
func (m Money) String() string {
	sign, amount := "", uint64(m)
	if m < 0 {
		sign, amount = "-", -amount // also right for the least int64, which has no positive twin
	}
	return fmt.Sprintf("%s%d.%02d", sign, amount/100, amount%100)
}

// UnmarshalYAML reads what ParseVolume reads; it spares YAML libraries the detour over bytes.
func (v *Volume) UnmarshalYAML(read func(any) error) error {
	var text string
	if err := read(&text); err != nil {
		return err
	}
	return v.UnmarshalText([]byte(text))
}
