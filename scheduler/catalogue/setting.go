package catalogue

import (
	"fmt"
	"math"
	"strings"
	"time"

	"vernation/scheduler/quantity"
)

// Bound narrows how far a business may move a setting; an end that is nil is that of the setting's unit.
type Bound struct {
	Least    *float64 `yaml:"least,omitempty" json:"least,omitempty"`
	Greatest *float64 `yaml:"greatest,omitempty" json:"greatest,omitempty"`
	Note     string   `yaml:"note,omitempty" json:"note,omitempty"`
}

// Defaults gives the figure of every setting by name: those of policy, rates and rules. A name that policy and rules share is
// one setting.
func (c *Catalogue) Defaults() map[string]Figure {
	all := map[string]Figure{}
	for _, group := range []map[string]Figure{c.PolicyDefaults, c.RateDefaults, c.RuleDefaults} {
		for name, figure := range group {
			all[name] = figure
		}
	}
	return all
}

// Within gives the least and the greatest value that a business may set, in the unit of the default; both 0 for a name that is no
// setting.
func (c *Catalogue) Within(name string) (least, greatest float64) {
	figure, ok := c.Defaults()[name]
	if !ok {
		return 0, 0
	}
	b, _ := unitBounds(figure.Unit)
	field, _, _ := strings.Cut(name, ".")
	if own, narrowed := c.SettingBounds[field]; narrowed {
		b = b.narrowed(own)
	}
	return b.min, b.max
}

// unitBounds are the bounds of a setting's unit; ok is false for one in which no setting is given.
func unitBounds(unit string) (b bounds, ok bool) {
	if strings.HasPrefix(unit, UnitMinorEach) && len(unit) > len(UnitMinorEach) {
		return within(0, mostMinor), true
	}
	b, ok = settingUnits[unit]
	return b, ok
}

func (b bounds) narrowed(by Bound) bounds {
	if by.Least != nil {
		b.min = max(b.min, *by.Least)
	}
	if by.Greatest != nil {
		b.max = min(b.max, *by.Greatest)
	}
	return b
}

// Number is where the value of a setting stands, read and written in the unit of its default.
type Number struct {
	read  func(unit time.Duration) float64
	write func(value float64, unit time.Duration)
	whole bool
}

// Count is a setting that is a whole number.
func Count(at *int) Number {
	return Number{
		func(time.Duration) float64 { return float64(*at) },
		func(value float64, _ time.Duration) { *at = int(math.Round(value)) }, true,
	}
}

// Real is a setting that is any number.
func Real(at *float64) Number {
	return Number{
		func(time.Duration) float64 { return *at },
		func(value float64, _ time.Duration) { *at = value }, false,
	}
}

// Price is a setting in minor units.
func Price(at *quantity.Money) Number {
	return Number{
		func(time.Duration) float64 { return float64(*at) },
		func(value float64, _ time.Duration) { *at = quantity.Money(math.Round(value)) }, true,
	}
}

// Length is a setting that is a length of time.
func Length(at *time.Duration) Number {
	return Number{
		func(unit time.Duration) float64 { return float64(*at) / float64(unit) },
		func(value float64, unit time.Duration) { *at = time.Duration(math.Round(value * float64(unit))) }, false,
	}
}

// LengthUnder is a setting that is a length of time under a key of a map, which is made when it is not there.
func LengthUnder[K comparable](at *map[K]time.Duration, key K) Number {
	return Number{
		func(unit time.Duration) float64 { return float64((*at)[key]) / float64(unit) },
		func(value float64, unit time.Duration) {
			if *at == nil {
				*at = map[K]time.Duration{}
			}
			(*at)[key] = time.Duration(math.Round(value * float64(unit)))
		}, false,
	}
}

// In reads the value in a unit of a figure. It panics on a length of time in a unit that is none of time, which the
// catalogue's tests exclude.
func (n Number) In(unit string) float64 { return n.read(durationUnits[unit]) }

// Set writes a value that is given in a unit of a figure.
func (n Number) Set(value float64, unit string) { n.write(value, durationUnits[unit]) }

// Fits says what is wrong with a value for a setting of a name, or nil: it lies between the bounds, and is whole where the
// setting is.
func (c *Catalogue) Fits(name string, n Number, value float64) error {
	least, greatest := c.Within(name)
	switch {
	case math.IsNaN(value) || value < least || value > greatest:
		return fmt.Errorf("%v for %s: want %v to %v %s", value, name, least, greatest, c.Defaults()[name].Unit)
	case n.whole && value != math.Trunc(value):
		return fmt.Errorf("%v for %s: want a whole number of %s", value, name, c.Defaults()[name].Unit)
	}
	return nil
}
