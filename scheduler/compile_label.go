package scheduler

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/site"
)

// labelRefuses lists why the label, the law or the agreement rules an application out wherever and whenever it were
// made. The label in hand, local codes and licensed practice outrank every plan.
func (c *compiled) labelRefuses(f *FollowUp, part *Part) []Reason {
	use := part.Use
	s := &c.p.Sites[c.siteIndex[f.Site]]
	product := c.products[use.Product]
	if product == nil {
		return []Reason{{RuleLabel, fmt.Sprintf("product %s is not in the Problem: nothing is known of its label", use.Product)}}
	}
	reasons := c.lawRefuses(s, product)
	label := &product.Label
	refuse := func(rule Rule, format string, args ...any) {
		reasons = append(reasons, Reason{rule, fmt.Sprintf(format, args...)})
	}
	if by, barred := s.Bars(product.ID); barred {
		refuse(RuleLabel, "%s is barred from %s since incident %s, until the responsible applicator allows it again", product.Name, s.Name, by.Incident)
	}
	if label.Entry.Kind == catalogue.EntryUnknown || label.Entry.Kind == "" {
		refuse(RuleLabel, "the interval before entry of %s is unknown: read it from the label; no number is assumed", product.Name)
	} else if use.Entry != label.Entry.Kind || use.Entry == catalogue.EntryHours && use.KeepOut < label.Entry.Hours {
		refuse(RuleLabel, "the interval before entry of %s was planned otherwise than its label says", product.Name)
	}
	if at, known := c.areaIndex[part.Area]; known && product.Form != catalogue.NoSupply {
		kind := s.Kind
		if c.areas[at].Kind != "" {
			kind = c.areas[at].Kind
		}
		if !slices.Contains(label.Places, kind) {
			refuse(RuleLabel, "the label of %s does not list a %s place", product.Name, kind)
		}
		if !slices.Contains(label.Pests, f.Pest) {
			refuse(RuleLabel, "the label of %s does not list %s", product.Name, f.Pest)
		}
	}
	if thing, near, found := c.tooNear(s, part.Area, label); found {
		refuse(RuleLabel, "the label of %s keeps away from %s, which is in %s", product.Name, thing, near)
	}
	if text, hard := tooHard(s, product); hard {
		refuse(RuleLabel, "%s", text)
	}
	if slices.Contains(s.Agreement.RefusedMaterials, product.Material) || slices.Contains(s.Agreement.RefusedMethods, use.Method) {
		refuse(RuleAccess, "the client of %s refused %s by %s", s.Name, product.Name, use.Method)
	}
	for _, id := range f.Plants {
		if at, known := c.plantIndex[id]; known {
			reasons = append(reasons, c.plantRefuses(f, product, &c.p.Plants[at])...)
		}
	}
	return reasons
}

// lawRefuses says what the law of the place has against a product.
func (c *compiled) lawRefuses(s *site.Site, product *catalogue.Product) []Reason {
	k := slices.IndexFunc(c.p.Materials, func(m MaterialFacts) bool { return m.ID == product.Material })
	if k < 0 {
		return []Reason{{RuleLabel, fmt.Sprintf("the standing in law of %s is not known, and none is assumed", product.Material)}}
	}
	switch material := c.p.Materials[k]; material.Law {
	case catalogue.HouseholdRemedy:
		if product.LawfulBecause[s.Jurisdiction] == "" {
			return []Reason{{RuleLabel, fmt.Sprintf("%s is a household remedy: refused unless the responsible applicator recorded why it is lawful in %s", product.Name, s.Jurisdiction)}}
		}
	case catalogue.RegisteredProduct:
		if product.Registration == "" || !slices.Contains(product.Jurisdictions, s.Jurisdiction) {
			return []Reason{{RuleLabel, fmt.Sprintf("%s is used as a product registered in %s only: %s is not", material.Name, s.Jurisdiction, product.Name)}}
		}
	}
	return nil
}

// tooHard says whether the label states a greatest hardness of the water that the site's own water is not known to keep.
// A site that has water is mixed with it; one without has none to be too hard. That a mix made elsewhere might be drawn
// on is not looked for: most are used where they are made.
func tooHard(s *site.Site, product *catalogue.Product) (text string, hard bool) {
	limit, hardness := product.Label.MaxHardness, s.Water.HardnessMgL
	switch {
	case limit == nil || !product.Diluted() || s.Water.Area == "":
		return "", false
	case hardness == nil:
		return fmt.Sprintf("the label of %s allows water up to %g mg/L CaCO3, and the hardness of that of %s is not known and counts as hard: measure it", product.Name, *limit, s.Name), true
	case !(*hardness <= *limit):
		return fmt.Sprintf("the label of %s allows water up to %g mg/L CaCO3: that of %s has %g", product.Name, *limit, s.Name, *hardness), true
	}
	return "", false
}

// tooNear finds a thing in the area, or in one open to it, from which the label keeps away without a condition.
func (c *compiled) tooNear(s *site.Site, id site.AreaID, label *catalogue.Label) (thing catalogue.Sensitive, near string, found bool) {
	at, known := c.areaIndex[id]
	if !known {
		return "", "", false
	}
	area := c.areas[at]
	for i := range s.Areas {
		other := &s.Areas[i]
		if other.ID != id && !slices.Contains(other.OpenTo, id) && !slices.Contains(area.OpenTo, other.ID) {
			continue
		}
		for _, keep := range label.KeepAway {
			if keep.Condition == "" && slices.Contains(other.Sensitive, keep.Thing) {
				return keep.Thing, other.Name, true
			}
		}
	}
	return "", "", false
}

// wets says whether a product goes onto plants or into their soil.
func wets(p *catalogue.Product) bool {
	return p.Form == catalogue.Concentrate || p.Form == catalogue.ReadyToUse || p.Form == catalogue.Solid
}

// verdictOf is what a plant stands of a material; what is not known is a patch test.
func verdictOf(plant *PlantState, material catalogue.MaterialID) catalogue.Verdict {
	verdict := catalogue.PatchTest
	for _, t := range plant.Tolerance {
		if t.Material == material {
			verdict = t.Verdict
		}
	}
	return verdict
}

// plantRefuses says why a product may not go on one plant.
func (c *compiled) plantRefuses(f *FollowUp, product *catalogue.Product, plant *PlantState) []Reason {
	var reasons []Reason
	refuse := func(rule Rule, format string, args ...any) {
		reasons = append(reasons, Reason{rule, fmt.Sprintf(format, args...)})
	}
	name := plant.Plant.Name
	if name == "" {
		name = string(plant.Plant.ID)
	}
	verdict := verdictOf(plant, product.Material)
	if verdict == catalogue.MustNot || slices.Contains(product.Label.MustNot, plant.Plant.Species) {
		refuse(RuleLabel, "%s must not get %s", name, product.Name)
	}
	if !wets(product) {
		return reasons
	}
	if plant.Plant.InFlower && !product.Label.OpenFlowers {
		refuse(RuleLabel, "%s is in flower, and the label of %s does not allow open flowers", name, product.Name)
	}
	if plant.Plant.Edible && !product.Label.EdiblePlants {
		refuse(RuleLabel, "%s is edible, and the label of %s does not allow edible plants", name, product.Name)
	}
	if verdict == catalogue.PatchTest && f.Kind != KindPatchTest && !slices.Contains(plant.PatchTested, product.Material) && len(c.patchTests(product.Material, plant.Plant.ID)) == 0 {
		refuse(RuleLabel, "a patch test of %s on %s comes first", product.Name, name)
	}
	return reasons
}

// patchTests lists the follow-ups that try a material on a plant.
func (c *compiled) patchTests(material catalogue.MaterialID, plant site.PlantID) []ItemID {
	var tests []ItemID
	for i := range c.p.FollowUps {
		f := &c.p.FollowUps[i]
		if f.Kind != KindPatchTest || !slices.Contains(f.Plants, plant) {
			continue
		}
		tries := slices.ContainsFunc(f.Ways, func(w Way) bool {
			return slices.ContainsFunc(w.Parts, func(part Part) bool {
				return part.Use != nil && c.products[part.Use.Product] != nil && c.products[part.Use.Product].Material == material
			})
		})
		if tries {
			tests = append(tests, f.ID)
		}
	}
	return tests
}

// overTime notes what the label asks of a way in view of what was applied before, and of what else is planned.
func (c *compiled) overTime(f *FollowUp, use *Use, out *instance.Way) {
	product := c.products[use.Product]
	if product == nil {
		return
	}
	for _, id := range f.Plants {
		at, known := c.plantIndex[id]
		if !known {
			continue
		}
		if use.Method.Sprays() && !product.Label.DryPlants && c.in.Plants[at].DryLag < instance.FarDay {
			out.Wet = append(out.Wet, at)
		}
		if c.capsMatter() && wets(product) {
			out.Caps = append(out.Caps, c.capsOf(product, at)...)
		}
	}
}

// appliedTo lists what was applied to a plant, and what fixed visits apply to it.
func (c *compiled) appliedTo(plant site.PlantID) []Applied {
	all := slices.Clone(c.p.Plants[c.plantIndex[plant]].Applied)
	for i := range c.p.Fixed {
		for _, w := range c.p.Fixed[i].Work {
			if w.Use == nil || c.products[w.Use.Product] == nil || !slices.Contains(w.Plants, plant) {
				continue
			}
			product := c.products[w.Use.Product]
			told := slices.ContainsFunc(all, func(a Applied) bool { return a.Product == product.ID && a.Began == w.Begins })
			if !told {
				all = append(all, Applied{product.ID, product.Material, product.Label.ModeOfAction, w.Begins, w.Ends})
			}
		}
	}
	return all
}

// tooCloseToApplied returns the days on which a product may not be applied, by what was applied to the plants of a
// follow-up or is fixed: fewer days lie between than either label asks for.
func (c *compiled) tooCloseToApplied(f *FollowUp, product *catalogue.Product) []civil.Interval {
	zone := c.zoneOf(f.Site)
	var close []civil.Interval
	for _, id := range f.Plants {
		if _, known := c.plantIndex[id]; !known {
			continue
		}
		for _, a := range c.appliedTo(id) {
			apart := int(c.daysApart(product, c.products[a.Product], a.Material))
			on := zone.DateOf(a.Began)
			if apart > 0 {
				close = append(close, civil.Interval{From: zone.At(on.AddDays(1-apart), 0), To: zone.At(on.AddDays(apart), 0)})
			}
		}
	}
	return civil.Merge(close)
}

// daysApart is the least number of days between an application of one product and one of another material; other may
// be nil when only its material is known.
func (c *compiled) daysApart(product, other *catalogue.Product, material catalogue.MaterialID) instance.Day {
	days := 0
	if product.Material == material {
		days = product.Label.LeastDays
		if other != nil {
			days = max(days, other.Label.LeastDays)
		}
	}
	for _, incompatible := range product.Label.Incompatible {
		if incompatible.Material == material {
			days = max(days, incompatible.Days)
		}
	}
	if other != nil {
		for _, incompatible := range other.Label.Incompatible {
			if incompatible.Material == product.Material {
				days = max(days, incompatible.Days)
			}
		}
	}
	return instance.Day(days)
}

func (c *compiled) capsMatter() bool {
	return slices.ContainsFunc(c.p.Products, func(p catalogue.Product) bool { return p.Label.MostInRow > 0 || p.Label.MostAYear > 0 })
}

// capsOf are the bounds on one product on one plant: in a row by mode-of-action group, or by material where it has none,
// a year by material; never by product.
func (c *compiled) capsOf(product *catalogue.Product, plant int32) []instance.Cap {
	state := &c.p.Plants[plant]
	zone := c.zoneOf(state.Plant.Site)
	group := product.Label.ModeOfAction
	row := instance.Cap{Key: c.substance("row", group, product.Material, plant), Plant: plant, InRow: int32(product.Label.MostInRow)}
	year := instance.Cap{Key: c.substance("year", "", product.Material, plant), Plant: plant, AYear: int32(product.Label.MostAYear)}
	for _, a := range c.appliedTo(state.Plant.ID) {
		on := c.day(zone.DateOf(a.Began))
		if other := c.products[a.Product]; other != nil && !wets(other) {
			continue
		}
		if a.Material == product.Material || group != "" && a.Group == group {
			row.History = append(row.History, on)
		} else {
			row.Other = append(row.Other, on)
		}
		if a.Material == product.Material {
			year.History = append(year.History, on)
		}
	}
	return []instance.Cap{row, year}
}

// substance numbers what caps count: a group, else a material, on one plant.
func (c *compiled) substance(kind, group string, material catalogue.MaterialID, plant int32) int32 {
	name := fmt.Sprintf("%s/%s", kind, material)
	if group != "" {
		name = fmt.Sprintf("%s/group/%s", kind, group)
	}
	at := slices.Index(c.substances, name)
	if at < 0 {
		at = len(c.substances)
		c.substances = append(c.substances, name)
	}
	return int32(at)*int32(len(c.p.Plants)) + plant
}
