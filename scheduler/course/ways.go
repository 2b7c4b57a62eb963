package course

import (
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// drying is what the policy settled for reentry; a factor that would shorten a time counts as none.
func drying(policy Policy) reentry.Policy {
	return reentry.Policy{UntilDry: policy.UntilDry, UnventilatedFactorPercent: max(100, policy.UnventilatedFactorPercent)}
}

// keepOutIn is how long an application of a candidate shuts an area after its end: in ventilation hours, and when any of it
// lies outside them. ok is false where that is unknown: no number is assumed for it.
func (s *story) keepOutIn(p *candidate, area site.AreaID) (ventilated, unventilated time.Duration, ok bool) {
	term, err := reentry.Needed(s.in.Catalogue, drying(s.in.Policy), s.site, area, p.product)
	return term.KeepOut, term.Unventilated, err == nil
}

// entryKnown says whether it is known how long an application of a candidate keeps people out.
func (s *story) entryKnown(p *candidate) bool {
	_, _, known := s.keepOutIn(p, "")
	return known
}

// shuts says whether an application of a candidate shuts one of the areas at all.
func (s *story) shuts(p *candidate, areas ...site.Area) bool {
	if p.product.ID == "" {
		return false
	}
	return slices.ContainsFunc(areas, func(area site.Area) bool {
		ventilated, _, ok := s.keepOutIn(p, area.ID)
		return !ok || ventilated > 0
	})
}

// airOf are an area and those that a treatment of it shuts too: open to it, or reached only through any of these.
func airOf(s site.Site, area site.Area) []site.Area {
	var all []site.Area
	for _, id := range reentry.ShutWith(s, area.ID) {
		if near, ok := areaOf(s, id); ok {
			all = append(all, near)
		}
	}
	return all
}

// alwaysPeople names the area of the air of another in which there are always people, unless the client agreed to
// shut it from now on.
func (s *story) alwaysPeople(area site.Area) (site.Area, bool) {
	for _, near := range airOf(s.site, area) {
		if !near.People.Always {
			continue
		}
		agreed := slices.ContainsFunc(s.site.Agreement.ShutAreas, func(shut site.ShutArea) bool {
			return shut.Area == near.ID && (s.in.Now.IsZero() || shut.To > s.in.Now)
		})
		if !agreed {
			return near, true
		}
	}
	return site.Area{}, false
}

// areaKind is the kind of place of an area: its own, else the site's.
func (s *story) areaKind(area site.Area) catalogue.PlaceKind {
	if area.Kind != "" {
		return area.Kind
	}
	return s.site.Kind
}

// placeReasons say why the label keeps a product out of an area, and conditions what makes it lawful there.
func (s *story) placeReasons(p *candidate, area site.Area) (reasons, conditions []string) {
	label := p.product.Label
	if !p.isPhysical() && !slices.Contains(label.Places, s.areaKind(area)) {
		reasons = append(reasons, fmt.Sprintf("the label does not list %s (%s)", words(string(s.areaKind(area))), area.Name))
	}
	for _, near := range airOf(s.site, area) {
		if near.ID != area.ID && !slices.Contains(area.OpenTo, near.ID) && !slices.Contains(near.OpenTo, area.ID) {
			continue // reached only through it, but the air is not shared
		}
		for _, away := range label.KeepAway {
			if !slices.Contains(near.Sensitive, away.Thing) {
				continue
			}
			if away.Condition == "" {
				reasons = append(reasons, fmt.Sprintf("the label keeps it away from %s, which is in %s", words(string(away.Thing)), near.Name))
			} else {
				conditions = append(conditions, fmt.Sprintf("%s in %s: %s", words(string(away.Thing)), near.Name, away.Condition))
			}
		}
	}
	tooHot, tooCold := s.temperatureReasons(p, area)
	for _, limit := range []limitText{tooHot, tooCold, tooHumid(p, area), tooDry(p, area)} {
		if limit.reason != "" {
			reasons = append(reasons, limit.reason)
		}
		if limit.condition != "" {
			conditions = append(conditions, limit.condition)
		}
	}
	return reasons, conditions
}

// limitText is what a limit of temperature or humidity says of an area: why it can never be kept, or how it is kept.
type limitText struct{ reason, condition string }

// temperatureReasons hold the label's limits, or where it states none the material's usual ones, against an area's season.
func (s *story) temperatureReasons(p *candidate, area site.Area) (tooHot, tooCold limitText) {
	season, ok := area.Climate.On(s.today())
	if !ok {
		return limitText{}, limitText{}
	}
	// Only the label's own limit refuses; the usual one is told, since a room has its cooler and warmer hours.
	label := p.product.Label
	if high, by := limitOf(label.MaxCelsius, p.material.MaxCelsius); high != nil && label.MaxCelsius != nil && season.Coldest > *high {
		tooHot.reason = fmt.Sprintf("%s ends at %s and %s is never below %s", by, celsiusText(*high), area.Name, celsiusText(season.Coldest))
	} else if high != nil && season.Warmest > *high {
		tooHot.condition = fmt.Sprintf("%s: not above %s, which it may pass (warmest %s)", area.Name, celsiusText(*high), celsiusText(season.Warmest))
	}
	if low, by := limitOf(label.MinCelsius, p.material.MinCelsius); low != nil && label.MinCelsius != nil && season.Warmest < *low {
		tooCold.reason = fmt.Sprintf("%s begins at %s and %s is never above %s", by, celsiusText(*low), area.Name, celsiusText(season.Warmest))
	} else if low != nil && season.Coldest < *low {
		tooCold.condition = fmt.Sprintf("%s: not below %s, which it may pass (coldest %s)", area.Name, celsiusText(*low), celsiusText(season.Coldest))
	}
	return tooHot, tooCold
}

// limitOf is the label's limit, else the material's usual one, and whose it is; nil without any.
func limitOf(label *float64, usual *catalogue.Figure) (limit *float64, by string) {
	switch {
	case label != nil:
		return label, "the label"
	case usual != nil:
		return &usual.Value, "its usual range"
	}
	return nil, ""
}

// listWays fills the candidate's lawful ways and says why others are not.
func (s *story) listWays(p *candidate) {
	var barred []string
	people := false
	for _, area := range s.areas(p.plants) {
		reasons, conditions := s.placeReasons(p, area)
		barred = append(barred, reasons...)
		p.conditions = append(p.conditions, conditions...)
		if near, always := s.alwaysPeople(area); always && s.shuts(p, area) {
			people = true
			p.wayNotes = append(p.wayNotes, fmt.Sprintf("not in place in %s: it would shut %s, where there are always people, and the client has not agreed to shut it", area.Name, near.Name))
		}
	}
	if len(barred) == 0 && !people {
		p.ways = append(p.ways, s.inPlace(p))
	}
	if s.shuts(p, s.areas(p.plants)...) {
		for _, place := range s.site.Areas {
			if place.Treatment == nil {
				continue
			}
			if reason := s.noTreatment(p, place); reason != "" {
				p.wayNotes = append(p.wayNotes, fmt.Sprintf("not at %s: %s", place.Name, reason))
				continue
			}
			_, conditions := s.placeReasons(p, place)
			p.conditions = append(p.conditions, conditions...)
			p.ways = append(p.ways, s.atTreatmentPlace(p, place))
		}
	}
	switch {
	case len(p.ways) > 0 && len(barred) > 0:
		for _, reason := range barred {
			p.wayNotes = append(p.wayNotes, "not in place: "+reason)
		}
	case len(p.ways) == 0 && len(barred) > 0:
		p.reasons = append(p.reasons, barred...)
	case len(p.ways) == 0:
		// The need stays though no day can hold it: the way is shown, and the plan says why it is left out.
		p.ways, p.noWay = append(p.ways, s.inPlace(p)), true
		p.wayNotes = append(p.wayNotes, "no lawful way is known: name a treatment place, agree to shut the area, or choose a method that shuts nothing")
	}
}

// noTreatment says why plants cannot be treated at a place, or "".
func (s *story) noTreatment(p *candidate, place site.Area) string {
	if reasons, _ := s.placeReasons(p, place); len(reasons) > 0 {
		return listText(reasons)
	}
	if near, always := s.alwaysPeople(place); always {
		return fmt.Sprintf("there are always people in %s", near.Name)
	}
	if n := count(p.plants); n > place.Treatment.Capacity {
		return fmt.Sprintf("%s, room for %d", plural(n, "plant"), place.Treatment.Capacity)
	}
	if p.material.Method == catalogue.Drench && !place.Treatment.Drain {
		return "a drench wants a drain and it has none"
	}
	for _, plant := range p.plants {
		if plant.Planter == site.Bed {
			return plantName(plant) + " stands in a bed and cannot be carried"
		}
		if plant.Area == place.ID {
			return plantName(plant) + " stands there already"
		}
	}
	return ""
}

func (s *story) inPlace(p *candidate) Way {
	way := Way{ID: WayID(InPlace), Kind: InPlace}
	if p.product.ID == "" || !s.shuts(p, s.areas(p.plants)...) {
		way.ID, way.Kind = WayID(ShutsNothing), ShutsNothing
	}
	for _, area := range s.areas(p.plants) {
		way.Parts = append(way.Parts, s.applicationPart(p, area.ID, inArea(p.plants, area.ID)))
	}
	return way
}

func inArea(plants []site.Plant, area site.AreaID) []site.Plant {
	var in []site.Plant
	for _, plant := range plants {
		if plant.Area == area {
			in = append(in, plant)
		}
	}
	return in
}

func (s *story) atTreatmentPlace(p *candidate, place site.Area) Way {
	carry := minutes(float64(s.in.Policy.CarryMinutesPerPlant * count(p.plants)))
	way := Way{ID: WayID(string(AtTreatmentPlace) + "/" + string(place.ID)), Kind: AtTreatmentPlace, MostAway: s.in.Policy.MostAway}
	for _, area := range s.areas(p.plants) {
		takes := minutes(float64(s.in.Policy.CarryMinutesPerPlant * count(inArea(p.plants, area.ID))))
		way.Parts = append(way.Parts, Part{Kind: CarryOutPart, Area: area.ID, Takes: takes, Persons: 1})
	}
	application := s.applicationPart(p, place.ID, p.plants)
	way.Parts = append(way.Parts, application,
		Part{Kind: WaitPart, Area: place.ID, Takes: application.Use.KeepOut, Persons: 1},
		Part{Kind: CarryBackPart, Area: place.ID, Takes: carry, Persons: 1})
	return way
}

func (s *story) applicationPart(p *candidate, area site.AreaID, plants []site.Plant) Part {
	part := Part{Kind: ApplicationPart, Area: area, Persons: 1, Takes: minutes(p.material.MinutesPerPlant.Value * float64(count(plants))), Windows: p.product.Label.Hours}
	if p.product.ID == "" {
		part.Kind = WorkPart
		return part
	}
	use := &Use{Product: p.product.ID, Method: p.material.Method, ReservePercent: s.in.Policy.ReservePercent, Entry: p.product.Label.Entry.Kind}
	use.KeepOut, use.KeepOutUnventilated, _ = s.keepOutIn(p, area)
	if use.Entry == catalogue.EntryNone && use.KeepOut > 0 {
		use.Entry = catalogue.EntryHours // the law of the place asks for what the label does not
	}
	use.Doses = s.doses(p, plants)
	part.Use = use
	return part
}

// doses are the amounts for the plants of one use, with what the label's greatest rate gives each of what is weighed or counted.
// One mix goes on all of them. Where the label's rate is for the pot or the soil it must be right for each, so that all get the
// same share of that: the least that any of their planters holds. Granules whose rate is for the pot or the soil are strewn dry.
func (s *story) doses(p *candidate, plants []site.Plant) []Dose {
	rate := p.product.Label.MaxPortion
	doses := make([]Dose, len(plants))
	poured := make([]dilution.Poured, len(plants))
	var share *big.Rat
	for i, plant := range plants {
		poured[i] = dilution.PouredOn(plant, s.amountFor(p.material, plant))
		if rate == nil || rate.Basis() == quantity.ForMix {
			continue
		}
		if of := new(big.Rat).Quo(poured[i].Mix.Millilitres(), poured[i].Portion(*rate)); share == nil || of.Cmp(share) < 0 {
			share = of
		}
	}
	for i, on := range poured {
		switch {
		case rate != nil && !p.product.Diluted():
			on.Mix = quantity.Volume{}
		case share != nil:
			on.Mix = quantity.NewVolume(1, 1, quantity.Millilitre).Times(new(big.Rat).Mul(on.Portion(*rate), share)).As(on.Mix.Unit())
		}
		doses[i] = Dose{Plant: plants[i].ID, Amount: on.Mix}
		switch {
		case rate == nil:
		case rate.Counted():
			portion := on.Portion(*rate)
			doses[i].Organisms = new(big.Int).Quo(portion.Num(), portion.Denom()).Int64()
		default:
			doses[i].Mass = quantity.NewMass(1, 1, quantity.Gram).Times(on.Portion(*rate))
		}
	}
	return doses
}

// amountFor is the amount for a plant (group): of a spray the middle of its height class, of a drench the share of
// the pot volume, which is never more than the planter holds: of what is poured into a liner without drain nothing runs off.
func (s *story) amountFor(material catalogue.Material, plant site.Plant) quantity.Volume {
	plants := new(big.Rat).SetInt64(int64(plant.Count))
	if material.DrenchShare != nil {
		share := decimal(min(material.DrenchShare.Value, 1))
		if held := big.NewRat(int64(s.in.Policy.LinerDrenchPercent), 100); plant.Planter == site.Liner && held.Sign() > 0 && share.Cmp(held) > 0 {
			share = held
		}
		return plant.PotVolume.Times(share.Mul(share, plants))
	}
	sizes := material.AmountBySize
	if len(sizes) == 0 {
		return quantity.Volume{}
	}
	size := sizes[len(sizes)-1]
	for _, class := range sizes {
		if plant.HeightCM <= class.UpToHeightCM {
			size = class
			break
		}
	}
	return quantity.NewVolume(1, 1, quantity.Millilitre).Times(plants.Mul(plants, decimal(size.Millilitres.Middle())))
}

// decimal is the number as it is written in the data, not its binary neighbour.
func decimal(value float64) *big.Rat {
	r, ok := new(big.Rat).SetString(strconv.FormatFloat(value, 'f', -1, 64))
	if !ok {
		panic(fmt.Sprintf("course: figure %v is no number", value))
	}
	return r
}
