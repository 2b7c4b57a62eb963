package course

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// Within one sequence the product changes where its label's caps or the rotation of its group ask for it.

// isSlow says whether a material takes days to work in the plant, so that something else holds the pest until then.
func isSlow(material catalogue.Material) bool {
	return material.Systemic && material.TakesEffectAfter != nil
}

// mayTurn says whether a candidate may take the turn of another in a sequence of a third: it is of another group and material,
// has a lawful way, works at once, suits the severity and ends the pest no less than the sequence's own.
func (s *story) mayTurn(of, from, to *candidate) bool {
	sameGroup := from.group() != "" && to.group() == from.group()
	switch {
	case to == from || sameGroup || to.material.ID == from.material.ID || to.noWay || isSlow(to.material):
		return false
	case s.fits(to.material.Method) > s.fits(of.material.Method):
		return false
	}
	return (to.timing.clears || !of.timing.clears) && (to.able() || !of.able())
}

// follow is the application after a planned one: by the same candidate where nothing bars it, else by the first of the ring that may
// take its turn on all plants of the sequence. Where only rotation asks for another and there is none, the same goes
// on; where the label's caps bar it, capped says why the row ends.
func (q *sequence) follow(s *story, ring []*candidate, uses []made, broods []*brood, before planned) (next planned, capped string) {
	by := before.by
	stay := planned{by: by, timing: before.timing, lags: s.lagsFrom(q, uses, before.on, by.material.ID, by)}
	stay.on = before.on.AddDays(stay.lags.ideal)
	if len(ring) == 0 {
		return stay, ""
	}
	cap, turn := s.barred(by, uses, q.plants, stay.on)
	if cap == "" && turn == "" {
		return stay, ""
	}
	for _, to := range ring {
		if !s.mayTurn(ring[0], by, to) || !to.coversAll(q.plants) {
			continue
		}
		next = planned{by: to, timing: s.timingFor(q, to), lags: s.lagsFrom(q, uses, before.on, by.material.ID, to), why: cap}
		if cap == "" {
			next.why = turn
		}
		next.on = before.on.AddDays(next.lags.ideal)
		if cap, turn := s.barred(to, uses, q.plants, next.on); cap == "" && turn == "" {
			next.lags.stands = max(next.lags.latest, q.stands(next.timing, to.material.ID, before.on, broods))
			return next, ""
		}
	}
	return stay, cap
}

// barred says why a candidate is not to go on some plants on a day after some uses: by its label's caps, or since its group
// was used in the generation before; "" each where it may.
func (s *story) barred(p *candidate, uses []made, plants []site.Plant, on civil.Date) (cap, turn string) {
	label := p.product.Label
	for _, plant := range plants {
		switch {
		case p.product.ID == "":
		case label.MostInRow > 0 && s.inRow(uses, p, plant.ID) >= label.MostInRow:
			return fmt.Sprintf("the label of %s allows %d in a row", p.name(), label.MostInRow), ""
		case label.MostAYear > 0 && inYear(uses, p, plant.ID, on) >= label.MostAYear:
			return fmt.Sprintf("the label of %s allows %d a year", p.name(), label.MostAYear), ""
		}
	}
	if t, ok := s.turnOf(uses, p, plants); ok && t.ends <= on && on < t.until {
		return "", fmt.Sprintf("group %s, to which %s belongs, was used in the generation from %s (%s at the usual temperature), and groups alternate between generations",
			p.group(), p.material.Name, t.began.Short(), plural(s.generation(), "day"))
	}
	return "", ""
}

// name is that of the candidate's product, else of its material.
func (p *candidate) name() string {
	if p.product.Name != "" {
		return p.product.Name
	}
	return p.material.Name
}

// coversAll says whether the candidate may go on each of some plants.
func (p *candidate) coversAll(plants []site.Plant) bool {
	return !slices.ContainsFunc(plants, func(x site.Plant) bool {
		return !slices.ContainsFunc(p.plants, func(y site.Plant) bool { return y.ID == x.ID })
	})
}

// lagsFrom are the lags to a candidate's next application from one of a material on a day, after some uses on the plants of a
// sequence; how long it stands is not asked. Between two materials the least is what either label and the catalogue ask for
// between them and since any earlier use, and practice of the one before bounds the ideal and the latest.
func (s *story) lagsFrom(q *sequence, uses []made, from civil.Date, before catalogue.MaterialID, to *candidate) lags {
	t := s.timingFor(q, to)
	l := lags{least: t.least, ideal: t.lagAfter(from), latest: t.latestAfter(from)}
	if before == to.material.ID || before == "" {
		return l
	}
	if ceiling, ok := s.in.Catalogue.Materials[before].Ceilings[s.pest.ID]; ok {
		l.ideal, l.latest = min(l.ideal, wholeDays(ceiling.Near)), min(l.latest, wholeDays(ceiling.Far))
	}
	l.least = max(1, s.allowedOn(to, uses, q.plants).DaysSince(from))
	l.ideal = max(l.ideal, l.least)
	l.latest = max(l.ideal, l.latest)
	return l
}

// timingFor is the timing of a candidate on the plants of a sequence from its first application on, over as much of the time
// line as the sequence's own looks at.
func (s *story) timingFor(q *sequence, p *candidate) *timing {
	least := p.product.Label.LeastDays
	if p.material.ID == q.material && least == q.least {
		return &q.timing
	}
	t := s.timingOf(p.material, least, q.plants, q.timing.from, q.covers(s))
	return &t
}

// covers is the last day of the time line that the timing of a sequence looks at.
func (q *sequence) covers(s *story) civil.Date {
	if q.timing.covers.IsZero() {
		return s.today().AddDays(daysOfLine)
	}
	return q.timing.covers
}

// allowedOn is the first day on which a candidate may go on some plants after some uses, by what labels and the catalogue keep apart.
func (s *story) allowedOn(p *candidate, uses []made, plants []site.Plant) civil.Date {
	var on civil.Date
	for _, m := range uses {
		if meetsPlants(m, plants) {
			days, _ := s.apart(p, m)
			on = max(on, m.on.AddDays(days))
		}
	}
	for _, plant := range plants {
		if !s.isUnknown(p, plant) {
			continue
		}
		tested, ok := s.testedOn(plant.ID, p.material.ID)
		if !ok {
			tested = s.today()
		}
		on = max(on, tested.AddDays(s.in.Policy.PatchTestDays))
	}
	return max(on, s.delivered(p))
}

// follows says whether an application still followed on the last round of a sequence, or came when its run stood no longer: by
// the timing of what was used in that round, which was to be repeated, or by its own where that lets it come later, as after a
// turn that was planned. It is the same whatever the sequence goes on with.
func (s *story) follows(q *sequence, m made) bool {
	last := q.rounds[len(q.rounds)-1]
	lag, of := m.on.DaysSince(last.on), q
	if used, ok := s.in.Catalogue.Materials[last.used]; ok && (last.used != q.material || len(s.usedIn(q)) > 0) {
		of = s.seenBy(q, used, last.product)
	}
	if of.within(lag) {
		return true
	}
	now, ok := s.in.Catalogue.Materials[m.material]
	if !ok || m.material == last.used {
		return false
	}
	product, _ := s.productOf(m.product)
	by, view := &candidate{product: product, material: now}, s.seenBy(q, now, m.product)
	earlier := slices.DeleteFunc(slices.Clone(s.made), func(x made) bool { return x.on >= m.on })
	latest := s.lagsFrom(view, earlier, last.on, last.used, by).latest
	return lag <= latest || view.within(lag)
}

// seenBy is a sequence with the same rounds, of another material that was used on it, by the label of its product.
func (s *story) seenBy(q *sequence, material catalogue.Material, product catalogue.ProductID) *sequence {
	used, _ := s.productOf(product)
	other := *q
	other.material, other.least, other.counted = material.ID, used.Label.LeastDays, nil
	other.time(s, q.timing.from, q.covers(s))
	other.countBy(s.usedIn(&other))
	return &other
}

// usedIn are the materials of the rounds made and planned that the proof counts beside the sequence's own, each once, by id.
func (s *story) usedIn(q *sequence) []catalogue.MaterialID {
	var all []catalogue.MaterialID
	add := func(id catalogue.MaterialID) {
		if id != q.material && q.meeting(id) != nil && !slices.Contains(all, id) {
			all = append(all, id)
		}
	}
	for _, r := range q.rounds {
		add(r.material)
	}
	for _, one := range q.planned {
		add(one.by.material.ID)
	}
	slices.Sort(all)
	return all
}

// products says which products the sequence uses in order, "" where it is one alone: "3 of soap every 7 days, then 2 of oil".
func (q *sequence) products() string {
	type stretch struct {
		material catalogue.MaterialID
		days     []civil.Date
	}
	var all []stretch
	add := func(material catalogue.MaterialID, on civil.Date) {
		if n := len(all); n == 0 || all[n-1].material != material {
			all = append(all, stretch{material: material})
		}
		all[len(all)-1].days = append(all[len(all)-1].days, on)
	}
	for _, r := range q.rounds {
		add(r.used, r.on)
	}
	for _, one := range q.planned {
		add(one.by.material.ID, one.on)
	}
	if len(all) < 2 {
		return ""
	}
	text := ""
	for i, part := range all {
		if i > 0 {
			text += ", then "
		}
		text += fmt.Sprintf("%d of %s", len(part.days), q.c.Materials[part.material].Name)
		if n := len(part.days); n > 1 && part.days[n-1].DaysSince(part.days[0]) == (n-1)*part.days[1].DaysSince(part.days[0]) {
			text += " every " + plural(part.days[1].DaysSince(part.days[0]), "day")
		}
		if i > 0 {
			text += " from " + part.days[0].Short()
		}
	}
	return text
}

// products are those of the first sequence that uses several.
func (p *candidate) products() string {
	for _, q := range p.sequences {
		if text := q.products(); text != "" {
			return text
		}
	}
	return ""
}

// users are the candidates that the follow-ups use: itself, what covers it, and those to which it turns.
func (p *candidate) users() []*candidate {
	all := []*candidate{p}
	if p.cover != nil {
		all = append(all, p.cover)
	}
	for _, q := range p.sequences {
		for _, one := range q.planned {
			if !slices.Contains(all, one.by) {
				all = append(all, one.by)
			}
		}
	}
	return all
}

// cappedText says what ends a row that does not clear, what escapes it and what would help.
func (s *story) cappedText(q sequence, total string) string {
	text := fmt.Sprintf("the label's caps end the sequence after %s: %s, and no product of another group that suits and may follow is lawful here", total, q.capped)
	var alive []catalogue.StageID
	for i, stage := range s.pest.Stages {
		if q.alive[i] {
			alive = append(alive, stage.ID)
		}
	}
	switch {
	case len(alive) > 0:
		text += fmt.Sprintf(". It does not clear: right after the last there live on by the ages %s", stageNames(s.pest, alive))
	case q.timing.holds:
		text += ". It does not clear: even without the cap it only holds down"
	default:
		text += fmt.Sprintf(". It is not enough: by the ages nothing is left where all is covered, but eggs laid before the last living find hatch until %s, after the last application", q.owed(s).Short())
	}
	return text + ". What would help: a recorded product of another group that the plants stand; until then removal by hand of what a look shows; or replacing the plants"
}

// living are the stages, by index, in which insects of some broods live, one brood of each model after the other.
func (q *sequence) living(broods []*brood) map[int]bool {
	lives := map[int]bool{}
	for i, b := range broods {
		for j, stretch := range q.stretches(i % len(q.models)) {
			from, to := b.life.laid(j+1, b.at), b.life.laid(j, b.at)
			for _, born := range b.born {
				if min(born.to, to)-max(born.from, from) > shortestBirth {
					for stage := stretch.first; stage <= stretch.last; stage++ {
						lives[stage] = true
					}
				}
			}
		}
	}
	return lives
}
