package catalogue

import (
	"maps"
	"math"
	"slices"
)

// Ranges in which a figure of a species is possible at all.
const (
	largestPotML = 10_000_000
	mostMinor    = 100_000_000
	mostPercent  = 10_000
)

// wholeMinor is what a replacement value worked out from the base prices is rounded to: whole units of most
// currencies.
const wholeMinor = 100

func (c *checker) checkSpecies(data speciesData, known *Catalogue) map[SpeciesID]Species {
	c.checkSizes(trail{"replacement_base"}, data.ReplacementBase)
	species := slices.Clone(data.Species)
	for i, s := range species {
		t := trail{"species", i}
		c.text(t.at("botanical"), s.Botanical)
		c.text(t.at("common"), s.Common)
		c.text(t.at("family"), s.Family)
		if s.SapIrritates != (s.SapStanding != "") {
			c.fail(t.at("sap_irritates"), "a sap that irritates and its standing stand together")
		}
		if s.SapIrritates {
			c.standing(t.at("sap_irritates"), s.SapStanding, s.SapSource)
		}
		c.checkTolerances(t, s, known)
		c.figure(t.at("replacement_percent"), s.ReplacementPercent, within(1, mostPercent, UnitPercent))
		if len(s.ReplacementBySize) == 0 {
			species[i].ReplacementBySize = scaled(data.ReplacementBase, s.ReplacementPercent)
			continue
		}
		c.checkSizes(t.at("replacement_by_size"), s.ReplacementBySize)
	}
	return byID(c, trail{"species"}, "id", species, func(s Species) SpeciesID { return s.ID })
}

func (c *checker) checkTolerances(t trail, s Species, known *Catalogue) {
	seen := map[MaterialID]bool{}
	for j, tolerance := range s.Tolerance {
		t := t.at("tolerance", j)
		if _, ok := known.Materials[tolerance.Material]; !ok {
			c.fail(t.at("material"), "unknown material %q: want one of %s", tolerance.Material, oneOf(slices.Sorted(maps.Keys(known.Materials))))
		}
		if seen[tolerance.Material] {
			c.fail(t.at("material"), "material %q is there twice", tolerance.Material)
		}
		seen[tolerance.Material] = true
		one(c, t.at("verdict"), "verdict", tolerance.Verdict, verdicts)
		c.standing(t, tolerance.Standing, tolerance.Source)
	}
}

// checkSizes judges replacement values by pot volume.
func (c *checker) checkSizes(t trail, sizes []ReplacementBySize) {
	if len(sizes) == 0 {
		c.fail(t, "no replacement values: want at least one pot size")
	}
	for i, size := range sizes {
		t := t.at(i)
		c.value(t.at("up_to_pot_ml"), float64(size.UpToPotML), within(1, largestPotML))
		if i > 0 && size.UpToPotML <= sizes[i-1].UpToPotML {
			c.fail(t.at("up_to_pot_ml"), "%d mL: want the pots to grow", size.UpToPotML)
		}
		c.figure(t.at("minor"), size.Minor, within(0, mostMinor, UnitMinor))
	}
}

// scaled returns the base prices times a percentage, each to the nearest whole unit of currency, halves to even.
// They are assumptions, whatever the two are: nobody published the product.
func scaled(base []ReplacementBySize, percent Figure) []ReplacementBySize {
	sizes := make([]ReplacementBySize, len(base))
	for i, size := range base {
		minor := math.RoundToEven(size.Minor.Value*percent.Value/100/wholeMinor) * wholeMinor
		sizes[i] = ReplacementBySize{UpToPotML: size.UpToPotML, Minor: Figure{Value: minor, Unit: UnitMinor, Standing: Assumption}}
	}
	return sizes
}
