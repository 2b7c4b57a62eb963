package catalogue

import (
	"maps"
	"math"
	"slices"
	"strings"
)

// settingUnits are the units in which settings are given, with their least and greatest value.
var settingUnits = map[string]bounds{
	UnitShare: within(0, 1), UnitPercent: within(0, 1000), UnitMinutes: within(0, mostMinutes), UnitHours: within(0, mostHours),
	UnitDays: within(0, longestDays), UnitMonths: within(0, 12*mostYears), UnitCentimetres: within(0, tallestCM),
	UnitInsects: within(0, math.MaxInt32), UnitLooks: within(1, 100), UnitInsectDay: within(0, 1),
}

// checkSettings judges the defaults of a business's settings. A price says what it is for.
func (c *checker) checkSettings(data policyData) {
	c.checkExtents(data.Extents)
	for _, group := range []struct {
		name    string
		figures map[string]Figure
	}{{"policy", data.Policy}, {"rates", data.Rates}, {"rules", data.Rules}} {
		if len(group.figures) == 0 {
			c.fail(trail{group.name}, "empty: want the defaults of every setting")
		}
		for _, key := range slices.Sorted(maps.Keys(group.figures)) {
			figure, t := group.figures[key], trail{group.name, key}
			b, ok := unitBounds(figure.Unit)
			if !ok {
				c.fail(t.at("unit"), "unit %q: want one of %s, or a price such as %q", figure.Unit,
					oneOf(slices.Sorted(maps.Keys(settingUnits))), UnitMinorEach+"visit")
				continue
			}
			b.units = []string{figure.Unit}
			c.figure(t, figure, b)
		}
	}
}

// checkBounds judges how far settings may be moved: each is a setting's, in order, and the default lies within.
func (c *checker) checkBounds(own map[string]Bound, of *Catalogue) {
	for _, field := range slices.Sorted(maps.Keys(own)) {
		t := trail{"bounds", field}
		found := false
		for name, figure := range of.Defaults() {
			if called, _, _ := strings.Cut(name, "."); called != field {
				continue
			}
			found = true
			if least, greatest := of.Within(name); !(least <= figure.Value && figure.Value <= greatest) {
				c.fail(t, "%v to %v: want bounds that the default of %s, %v, lies between", least, greatest, name, figure.Value)
			}
		}
		if !found {
			c.fail(t, "no setting is called %q: want one that has a default", field)
		}
	}
}
