package course

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// adviseDone says what became of the case that a plan alone does not show: where it spread, what was done otherwise than
// planned, what was learned of the plants, where they went.
func (s *story) adviseDone(c *Course) {
	if !s.reopened.IsZero() {
		c.Advice = append(c.Advice, fmt.Sprintf("it was kept low under watch until %s, when more was found: a course again", s.reopened.Short()))
	}
	for _, spread := range s.spread {
		c.Advice = append(c.Advice, fmt.Sprintf("spread to %s on %s: joined with the case; what was applied to them before counts", plantNames(s.choosePlants(spread.plants)), spread.on.Short()))
	}
	s.adviseShared(c)
	s.adviseApplications(c)
	for _, learned := range c.Learned {
		at := slices.IndexFunc(s.plants, func(p site.Plant) bool { return p.ID == learned.Plant })
		verb := "stands"
		if learned.Tolerance.Verdict == catalogue.MustNot {
			verb = "does not stand"
		}
		c.Advice = append(c.Advice, fmt.Sprintf("%s %s %s (%s)", plantName(s.plants[at]), verb,
			s.in.Catalogue.Materials[learned.Tolerance.Material].Name, standingText(learned.Tolerance.Source, learned.Tolerance.Standing)))
	}
	s.adviseMoves(c)
	for _, plant := range s.plants {
		if told, other := s.movedElsewhere(plant); other {
			c.Advice = append(c.Advice, fmt.Sprintf("%s: its record says %s, the last move told went to %s: look where it stands", plantName(plant), plant.Area, told))
		}
	}
}

// shared are the other cases at the site that go on, with the plants that they share with this one.
func (s *story) shared() (cases []History, plants [][]site.Plant) {
	for _, history := range s.in.Histories {
		if history.Case == s.history.Case || history.Site != s.history.Site || slices.ContainsFunc(history.Events, func(e Event) bool { return e.Ending != nil }) {
			continue
		}
		var opened civil.Instant
		if len(history.Events) > 0 {
			opened = history.Events[0].At
		}
		both := slices.DeleteFunc(s.choosePlants(s.became(history.Plants, opened)), func(p site.Plant) bool { return !s.hasPlant(p.ID) })
		if len(both) > 0 {
			cases, plants = append(cases, history), append(plants, both)
		}
	}
	return cases, plants
}

// meetsOthers counts the pests of other cases on the same plants that a material reaches too.
func (s *story) meetsOthers(material catalogue.Material) int {
	n := 0
	for _, history := range s.others {
		if meets(material, history.Pest) {
			n++
		}
	}
	return n
}

// adviseShared names the other cases on the case's plants: what is applied for one counts for all.
func (s *story) adviseShared(c *Course) {
	cases, plants := s.shared()
	for i, history := range cases {
		c.Advice = append(c.Advice, fmt.Sprintf("case %s (%s) is on %s too: waiting times, caps and rotation are the plants', and what is applied for one case counts for the other",
			history.Case, s.in.Catalogue.Pests[history.Pest].Name, plantNames(plants[i])))
	}
}

// adviseMoves says where plants of the case stood before, since what lives on them grew at the temperatures of both places.
func (s *story) adviseMoves(c *Course) {
	for _, p := range s.passages {
		if p.moved == nil || p.last < s.found {
			continue
		}
		when := "on " + p.last.Short()
		if p.first < p.last {
			when = fmt.Sprintf("on a day from %s to %s", p.first.Short(), p.last.Short())
		}
		var names []site.Plant
		for _, plant := range s.plants {
			was := s.were(plant.ID, p.at)
			if slices.ContainsFunc(was, func(id site.PlantID) bool { return slices.Contains(p.moved.Plants, id) }) {
				names = append(names, plant)
			}
		}
		if len(names) == 0 {
			continue
		}
		from, _ := areaOf(s.site, p.moved.From)
		to, _ := areaOf(s.site, p.moved.To)
		c.Advice = append(c.Advice, fmt.Sprintf("%s went from %s to %s %s: the temperatures of both count", plantNames(names), from.Name, to.Name, when))
	}
}

// adviseApplications says which applications were not what they should have been, and how they count.
func (s *story) adviseApplications(c *Course) {
	var before catalogue.MaterialID
	for _, m := range s.made {
		if !meetsPlants(m, s.plants) {
			continue
		}
		name := s.madeName(m)
		_, covers := s.covered(m)
		material, known := s.in.Catalogue.Materials[m.material]
		reaches := known && meets(material, s.pest.ID)
		switch {
		case m.own && m.followUp != "" && !reaches:
			c.Advice = append(c.Advice, fmt.Sprintf("%s on %s does not reach the %s: it does not count for the sequence, only for what must be kept apart from it", name, m.on.Short(), s.pest.Name))
		case m.weak:
			c.Advice = append(c.Advice, fmt.Sprintf("the mix of %s on %s was below the label's least rate: the label's waiting time and caps count it, the proof does not", name, m.on.Short()))
		case m.aboveLabel:
			c.Advice = append(c.Advice, fmt.Sprintf("the mix of %s on %s was above the label's rate: it counts once, no more is put on top of it, and what is left of that mix goes on no plant", name, m.on.Short()))
		case m.own && before != "" && m.product != "" && m.material != before && !covers:
			c.Advice = append(c.Advice, fmt.Sprintf("on %s it was %s after %s: the proof counts each application by what it reaches", m.on.Short(), name, s.in.Catalogue.Materials[before].Name))
		}
		if reaches && m.product != "" && !covers {
			before = m.material
		}
	}
}

func (s *story) madeName(m made) string {
	if product, ok := s.productOf(m.product); ok && product.Name != "" {
		return product.Name
	}
	if m.product != "" {
		return string(m.product)
	}
	return s.in.Catalogue.Materials[m.material].Name
}

// waters are the watering services of some plants.
func (s *story) waters(plants []site.Plant) []site.Service {
	var all []site.Service
	for _, service := range s.in.Services {
		if service.Site != s.site.ID || service.Kind != site.WateringService {
			continue
		}
		if slices.ContainsFunc(service.Groups, func(g site.Group) bool {
			return slices.ContainsFunc(plants, func(p site.Plant) bool { return p.ID == g.Plant })
		}) {
			all = append(all, service)
		}
	}
	return all
}

// leachDays is for how many days nothing may run through the pot after a soil systemic: the days of the rule, or its number
// of waterings at their usual rhythm when that is longer.
func (s *story) leachDays(material catalogue.Material, plants []site.Plant) int {
	rule := material.NoLeaching
	if rule == nil {
		return 0
	}
	days := rule.Days
	for _, service := range s.waters(plants) {
		days = max(days, rule.Waterings*service.Ideal)
	}
	for _, plant := range plants {
		days = max(days, rule.Waterings*plant.Watering.Ideal)
	}
	return days
}

// adviseWater says what the treatment asks of the watering rounds.
func (s *story) adviseWater(c *Course, p *candidate) {
	add := func(format string, args ...any) { addOnce(&c.Advice, fmt.Sprintf(format, args...)) }
	switch dry := s.dryUntil(s.plants) > s.today() || isSlow(s.in.Catalogue.Materials[c.Material]); {
	case p.material.LeavesFilm && dry:
		add("%s leaves a film: wiped off with a damp cloth, not before it has dried, while no water may run through the pots", p.material.Name)
	case p.material.LeavesFilm:
		add("%s leaves a film: best on a day of watering, rinsed off at the watering that follows, not before it has dried", p.material.Name)
	}
	if p.material.DriesSlowly {
		add("%s works only while it is wet: early in the morning or late in the evening, fans off, so that it dries slowly; the time until dry is the longer one", p.material.Name)
	}
	for _, plant := range p.plants {
		if p.material.Method == catalogue.Drench && plant.Planter == site.Liner {
			add("%s stands in a liner without drain: no more than %d %% of the pot volume, and only in the place of a watering", plantName(plant), s.in.Policy.LinerDrenchPercent)
		}
	}
	if s.livesInSoil() && p.material.Method == catalogue.Drench {
		if !slices.ContainsFunc(p.material.Advice, func(text string) bool { return strings.Contains(text, "dry down") }) {
			add("first let the soil dry down as far as the plants stand it: larvae live in wet soil")
		}
		add("drench in the place of a watering")
	}
	days := s.leachDays(p.material, p.plants)
	for _, m := range s.made {
		used := s.in.Catalogue.Materials[m.material]
		if until := m.on.AddDays(s.leachDays(used, s.plants)); used.NoLeaching != nil && until > s.today() && meetsPlants(m, s.plants) {
			add("no water may run through the pots before %s: %s went into the soil on %s (%s or %d waterings, whichever is longer)",
				until.Short(), used.Name, m.on.Short(), plural(used.NoLeaching.Days, "day"), used.NoLeaching.Waterings)
		}
	}
	if days > 0 {
		add("after each application of %s no water may run through the pots for %s", p.material.Name, plural(days, "day"))
	}
	if isSlow(p.material) {
		cover := "the leaves are wiped or washed"
		if p.cover != nil {
			cover = p.cover.material.Name + " goes on the leaves"
		}
		add("%s takes effect after %s: until then %s (contact cover), beside what a look takes off by hand", p.material.Name, rangeText(*p.material.TakesEffectAfter), cover)
	}
}

// rangeText writes a range of days.
func rangeText(r catalogue.Range) string {
	if r.Near == r.Far {
		return daysText(r.Near)
	}
	return fmt.Sprintf("%s to %s", number(r.Near, 1), daysText(r.Far))
}

// livesInSoil says whether a stage of the pest that feeds lives in the soil.
func (s *story) livesInSoil() bool {
	return slices.ContainsFunc(s.pest.Stages, func(stage catalogue.Stage) bool { return stage.Feeds && stage.LivesIn(catalogue.Soil) })
}

// noLeaching marks the waterings of the plants while nothing may run through their pots.
func (b *builder) noLeaching(by *candidate, f FollowUp, plants []site.Plant) {
	days := b.s.leachDays(by.material, plants)
	if days == 0 {
		return
	}
	for _, service := range b.s.waters(plants) {
		b.course.Links = append(b.course.Links, Link{Kind: Not, From: f.ID, To: ItemID(service.ID), Days: days})
	}
}

// stillNoLeaching marks the waterings while nothing may run through the pots after what was really applied.
func (b *builder) stillNoLeaching() {
	s := b.s
	for _, m := range s.made {
		days := s.leachDays(s.in.Catalogue.Materials[m.material], s.plants)
		if days == 0 || !m.own || m.followUp == "" || m.on.AddDays(days) <= s.today() || !meetsPlants(m, s.plants) {
			continue
		}
		for _, service := range s.waters(s.plants) {
			b.course.Links = append(b.course.Links, Link{Kind: Not, From: m.followUp, To: ItemID(service.ID), Days: days})
		}
	}
}
