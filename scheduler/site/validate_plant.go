package site

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

var (
	planters     = []Planter{Drained, Liner, SubIrrigated, Hydroculture, Bed}
	owners       = []Owner{OwnedByClient, OwnedByBusiness, Leased}
	serviceKinds = []ServiceKind{WateringService, GroomingService, FertilisingService}
	verdicts     = []catalogue.Verdict{catalogue.Stands, catalogue.PatchTest, catalogue.MustNot}
	standings    = []catalogue.Standing{catalogue.Published, catalogue.Secondary, catalogue.OwnRecords,
		catalogue.CommonPractice, catalogue.Assumption, catalogue.FromMemory}
	maxPotVolume = quantity.NewVolume(MaxPotVolumeML, 1, quantity.Millilitre)

	maxSoilSurface = quantity.NewSurface(MaxSoilSquareMetres, 1, quantity.SquareMetre)
)

// Validate says what is wrong with the plant record, field by field; empty when nothing is. Whether its
// site, area and the plants it touches exist is for whoever holds them all.
func (p Plant) Validate(c *catalogue.Catalogue) []catalogue.FieldError {
	var l catalogue.FieldErrors
	l.AddMissing("id", string(p.ID))
	l.AddMissing("name", p.Name)
	l.AddMissing("site", string(p.Site))
	l.AddMissing("area", string(p.Area))
	_, err := c.SpeciesByID(p.Species)
	l.AddUnknown("species", catalogue.ReasonUnknownSpecies, err)
	addOutside(&l, "count", p.Count, 1, MaxPlantCount)
	// What stands in a bed has no pot of its own.
	if sign := p.PotVolume.Sign(); sign < 0 || sign == 0 && p.Planter != Bed || p.PotVolume.Cmp(maxPotVolume) > 0 {
		l.Add("pot_volume", catalogue.ReasonOutOfRange, "%v: want more than 0 and at most %v for each plant", p.PotVolume, maxPotVolume)
	}
	if p.SoilSurface.Sign() < 0 || p.SoilSurface.Cmp(maxSoilSurface) > 0 {
		l.Add("soil_surface", catalogue.ReasonOutOfRange, "%v: want 0 (not known) to %v for each plant", p.SoilSurface, maxSoilSurface)
	}
	addOutside(&l, "height_cm", p.HeightCM, 1, MaxHeightCM)
	catalogue.AddStrange(&l, "planter", catalogue.ReasonUnknownPlanter, p.Planter, planters)
	catalogue.AddStrange(&l, "owner", catalogue.ReasonUnknownOwner, p.Owner, owners)
	if r := p.Replacement; r != nil && (*r < 0 || *r > MaxReplacement) {
		l.Add("replacement", catalogue.ReasonOutOfRange, "%v: want 0 to %v", *r, MaxReplacement)
	}
	for i, other := range p.Touches {
		path := fmt.Sprintf("touches[%d]", i)
		l.AddMissing(path, string(other))
		if other == p.ID && other != "" {
			l.Add(path, catalogue.ReasonContradiction, "plant %q touches itself: want another plant", other)
		}
		if slices.Contains(p.Touches[:i], other) {
			l.Add(path, catalogue.ReasonDuplicate, "plant %q is there twice", other)
		}
	}
	p.validateTolerance(&l, c)
	p.validateConsents(&l)
	l.AddUnder("watering", p.Watering.validate())
	return l
}

func (p Plant) validateTolerance(l *catalogue.FieldErrors, c *catalogue.Catalogue) {
	seen := map[catalogue.MaterialID]bool{}
	for i, tolerance := range p.Tolerance {
		path := fmt.Sprintf("tolerance[%d]", i)
		_, err := c.MaterialByID(tolerance.Material)
		l.AddUnknown(path+".material", catalogue.ReasonUnknownMaterial, err)
		catalogue.AddStrange(l, path+".verdict", catalogue.ReasonUnknownVerdict, tolerance.Verdict, verdicts)
		catalogue.AddStrange(l, path+".standing", catalogue.ReasonUnknownStanding, tolerance.Standing, standings)
		if seen[tolerance.Material] {
			l.Add(path+".material", catalogue.ReasonDuplicate, "material %q is there twice", tolerance.Material)
		}
		seen[tolerance.Material] = true
	}
}

func (w Watering) validate() []catalogue.FieldError {
	var l catalogue.FieldErrors
	if w.Rhythmless() {
		return nil
	}
	validateRhythm(&l, w.Earliest, w.Ideal, w.Latest)
	return l
}

// validateRhythm asks for 0 <= earliest <= ideal <= latest and latest at least 1, in days.
func validateRhythm(l *catalogue.FieldErrors, earliest, ideal, latest int) {
	addOutside(l, "earliest", earliest, 0, MaxDays)
	addOutside(l, "latest", latest, 1, MaxDays)
	if ideal < earliest || ideal > latest {
		l.Add("ideal", catalogue.ReasonContradiction, "%d days: want it between earliest (%d) and latest (%d)", ideal, earliest, latest)
	}
}

// Validate says what is wrong with the service, field by field; empty when nothing is. Whether its site and
// plants exist is for whoever holds them all.
func (s Service) Validate() []catalogue.FieldError {
	var l catalogue.FieldErrors
	l.AddMissing("id", s.ID)
	l.AddMissing("site", string(s.Site))
	catalogue.AddStrange(&l, "kind", catalogue.ReasonUnknownService, s.Kind, serviceKinds)
	if len(s.Groups) == 0 {
		l.Add("groups", catalogue.ReasonMissing, "missing: want at least one plant group with its minutes")
	}
	seen := map[PlantID]bool{}
	for i, group := range s.Groups {
		path := fmt.Sprintf("groups[%d]", i)
		l.AddMissing(path+".plant", string(group.Plant))
		if seen[group.Plant] && group.Plant != "" {
			l.Add(path+".plant", catalogue.ReasonDuplicate, "plant %q is there twice", group.Plant)
		}
		seen[group.Plant] = true
		addOutside(&l, path+".minutes", group.Minutes, 1, MaxGroupMinutes)
	}
	validateRhythm(&l, s.Earliest, s.Ideal, s.Latest)
	return l
}
