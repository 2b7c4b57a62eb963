package course

import (
	"fmt"
	"math"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// neighbourLooks are at most the policy's days apart while the course runs.
func (b *builder) neighbourLooks(until civil.Date, ideal civil.Date) {
	s := b.s
	if len(s.neighbours) == 0 {
		return
	}
	every := max(1, s.in.Policy.NeighbourDays)
	var last civil.Date
	for _, look := range s.looks {
		if slices.ContainsFunc(s.neighbours, func(p site.Plant) bool { return slices.Contains(look.plants, p.ID) }) {
			last = max(last, look.on)
		}
	}
	again := s.dueAgain(KindInspectNeighbours)
	w := window{earliest: again, ideal: max(again, ideal)}
	w.latest = max(w.ideal, s.found.AddDays(every))
	if !last.IsZero() {
		w.earliest = max(again, last.AddDays(halfOf(every)))
		w.ideal = max(w.earliest, last.AddDays(every))
		w.latest = w.ideal
	}
	reason := fmt.Sprintf("look at the neighbours, %s in the same area or touching, at most %s apart", plural(count(s.neighbours), "plant"), plural(every, "day"))
	if fresh, apart := s.quarantined(s.neighbours); len(fresh) > 0 {
		reason += fmt.Sprintf("; %s stays in quarantine until %s", plantNames(fresh), apart.Short())
		until = max(until, apart)
	}
	if s.recurrence() != "" {
		reason += "; search for the source: new plants, plants not in our care, roots and pot rims, ants"
	}
	due := w.due()
	for on, n := w.ideal, 0; n < mostApplications && (n == 0 || on <= until); on, n = on.AddDays(every), n+1 {
		f := b.item(KindInspectNeighbours, s.neighbours, s.looking(s.neighbours), due, reason)
		f.Expected = on
		due = chain(b.add(f), halfOf(every), every, every)
	}
}

// traps hang cards beside the course and change them at the practice's rhythm.
func (b *builder) traps(until civil.Date, ideal civil.Date) {
	s := b.s
	material, every, ok := s.trap()
	if !ok {
		return
	}
	if b.p != nil {
		if why := conflict(b.p.material, material); why != "" {
			b.course.Advice = append(b.course.Advice, fmt.Sprintf("no %s beside %s: %s; take those that hang down first", material.Name, b.p.material.Name, why))
			return
		}
	}
	var last civil.Date
	for _, event := range s.history.Events {
		if event.Done != nil && kindOf(event.Done.FollowUp) == KindTrapChange {
			last = max(last, s.dateOf(event.At))
		}
	}
	again := s.dueAgain(KindTrapChange)
	w := window{earliest: again, ideal: max(again, ideal)}
	if !last.IsZero() {
		w.earliest = max(again, last.AddDays(halfOf(every)))
		w.ideal = max(w.earliest, last.AddDays(every))
	}
	w.latest = max(w.ideal, s.found.AddDays(every))
	ways := s.work(s.plants, func([]site.Plant) float64 { return float64(s.in.Policy.CardMinutes) })
	due := w.due()
	for on, n := w.ideal, 0; n < mostApplications && (n == 0 || on <= until); on, n = on.AddDays(every), n+1 {
		f := b.item(KindTrapChange, s.plants, ways, due, fmt.Sprintf("%s: hang or change every %s, and count what they caught; they show and thin out, they do not end an infestation", material.Name, plural(every, "day")))
		f.Expected = on
		due = chain(b.add(f), halfOf(every), every, every)
	}
}

// conflict says why two materials do not go together, or "".
func conflict(x, y catalogue.Material) string {
	for _, c := range x.Incompatible {
		if c.Material == y.ID {
			return c.Why
		}
	}
	for _, c := range y.Incompatible {
		if c.Material == x.ID {
			return c.Why
		}
	}
	return ""
}

// trap is the trap for the pest that the client does not refuse, and its rhythm.
func (s *story) trap() (material catalogue.Material, everyDays int, ok bool) {
	for _, p := range s.candidates() {
		if p.material.Method != catalogue.Trap {
			continue
		}
		s.judgeLaw(p)
		s.judgeAgreement(p)
		if len(p.reasons) > 0 {
			continue
		}
		every := s.in.Policy.LookEveryDays
		if ceiling, known := p.material.Ceilings[s.pest.ID]; known {
			every = int(math.Floor(ceiling.Near))
		}
		return p.material, max(1, every), true
	}
	return catalogue.Material{}, 0, false
}

// closingLooks lead to the ending after the last application.
func (b *builder) closingLooks(l Looks, lastApplication ItemID) {
	s := b.s
	every := max(1, s.in.Policy.LookEveryDays)
	on := max(s.dueAgain(KindInspectInfested), l.FirstOn)
	for _, look := range s.looks {
		if l.Made > 0 && s.looked(look) > 0 && look.on >= l.FirstOn {
			on = max(on, look.on.AddDays(every))
		}
	}
	due := window{earliest: on, ideal: on, latest: on.AddDays(every)}.due()
	if lastApplication != "" {
		whole, _ := b.p.whole()
		lag := max(1, l.FirstOn.DaysSince(whole.lastOn))
		due = chain(lastApplication, lag, lag, lag+every)
		on = l.FirstOn
	}
	needed := max(l.Needed, leastLooks)
	if !l.Reachable {
		needed = l.Made + leastLooks // more do not end it; these are the watch
	}
	for n := l.Made; n < needed; n++ {
		f := b.item(KindInspectInfested, s.plants, s.looking(s.plants), due, fmt.Sprintf(
			"inspection %d of %d after the last application, hoped to be without a find; the first not before %s, when what was spared has shown itself", n+1, needed, l.FirstOn.Short()))
		f.Expected = on
		on = on.AddDays(every)
		due = chain(b.add(f), every, every, 2*every)
	}
}

// isolation is asked for suspected and new plants below the policy's height, to the place that the agreement names.
func (b *builder) isolation() {
	s := b.s
	apart, place, due := s.toIsolate()
	switch {
	case len(apart) == 0:
		return
	case place.ID == "":
		b.course.Advice = append(b.course.Advice, fmt.Sprintf("no isolation: %s should stand apart, but the agreement names no area for it", plantNames(apart)))
		return
	}
	ways := s.work(apart, func(in []site.Plant) float64 { return float64(s.in.Policy.CarryMinutesPerPlant * count(in)) })
	b.add(b.item(KindIsolation, apart, ways, due, fmt.Sprintf("keep %s apart in %s until it is known to be clear; touch clean plants first", plantNames(apart), place.Name)))
}

// toIsolate are the plants that are to be kept apart and do not stand so yet, where, and when; the area is unset where the
// agreement names none.
func (s *story) toIsolate() (apart []site.Plant, place site.Area, due Due) {
	fresh, _ := s.quarantined(s.neighbours)
	for _, plant := range append(slices.Clone(s.plants), fresh...) {
		_, isNew := s.isNew(plant)
		if (s.certainty != Confirmed || isNew) && !plant.NotInCare && plant.HeightCM < s.in.Policy.IsolateBelowCM && plant.Planter != site.Bed && !s.isolated(plant.ID) {
			apart = append(apart, plant)
		}
	}
	place, ok := areaOf(s.site, s.site.Agreement.IsolationArea)
	if !ok {
		return apart, site.Area{}, Due{}
	}
	apart = slices.DeleteFunc(apart, func(p site.Plant) bool { return p.Area == place.ID })
	days := s.in.Policy.FirstDaysBySeverity[min(max(s.severity, 0), worstSeverity)]
	again := s.dueAgain(KindIsolation)
	return apart, place, window{earliest: again, ideal: again, latest: max(again, s.found.AddDays(days))}.due()
}

func (s *story) isolated(plant site.PlantID) bool {
	return slices.ContainsFunc(s.history.Events, func(e Event) bool {
		if e.Done == nil || kindOf(e.Done.FollowUp) != KindIsolation {
			return false
		}
		_, whole := s.met(plant, e.At, e.Done.Plants)
		return whole
	})
}

// suspicion asks for two looks a hatching apart, and no application.
func (b *builder) suspicion() {
	s := b.s
	apart := s.hatching()
	clean := s.cleanLooks()
	days := s.in.Policy.FirstDaysBySeverity[min(max(s.severity, 0), worstSeverity)]
	if response := s.site.Agreement.ResponseDays; response > 0 {
		days = min(days, response)
	}
	again := s.dueAgain(KindInspectInfested)
	w := window{earliest: again, ideal: again, latest: max(again, s.found.AddDays(days))}
	if len(clean) > 0 {
		w.earliest = max(again, clean[0].AddDays(apart))
		w.ideal, w.latest = w.earliest, w.earliest.AddDays(s.in.Policy.LookEveryDays)
	}
	question := fmt.Sprintf("is it %s?", s.pest.Name)
	if s.certainty == Confirmed && s.living {
		question = "is there more of it? Count what the cards caught."
	}
	due := w.due()
	on := w.ideal
	for n := min(len(clean), 1); n < leastLooks; n++ {
		f := b.item(KindInspectInfested, s.plants, s.looking(s.plants), due, fmt.Sprintf(
			"look %d of %d, a hatching (%s) apart: %s Look for %s", n+1, leastLooks, plural(apart, "day"), question, listText(s.pest.Signs)))
		f.Expected = on
		on = on.AddDays(apart)
		due = chain(b.add(f), apart, apart, apart+s.in.Policy.LookEveryDays)
	}
}

// hatching is the longest time to hatching of eggs of today, in whole days; without an end, the policy's look rhythm.
func (s *story) hatching() int {
	t := s.timingOf(catalogue.Material{}, 0, s.plants, s.today(), 0)
	egg := t.slow.leaves(0, float64(t.from)) - float64(t.from)
	if egg > lastTime {
		return max(1, s.in.Policy.LookEveryDays)
	}
	return int(math.Ceil(egg - shortestBirth))
}

// cleanLooks are the days of the looks in a row without a find since the last living one.
func (s *story) cleanLooks() []civil.Date {
	var days []civil.Date
	for _, look := range s.looks {
		switch {
		case s.looked(look) == 0 || look.on < s.found:
		case look.find:
			days = nil
		default:
			days = append(days, look.on)
		}
	}
	return days
}

// halfOf is the least number of days between two looks of a rhythm: on consecutive days the second tells nothing new.
func halfOf(every int) int { return max(1, (every+1)/2) }
