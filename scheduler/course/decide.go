package course

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// toReplace are the plants of the case that people decided to replace.
func (s *story) toReplace() []site.Plant {
	var plants []site.Plant
	for _, plant := range s.plants {
		if slices.Contains(s.replace, plant.ID) {
			plants = append(plants, plant)
		}
	}
	return plants
}

// replacement is the follow-up that takes plants away and puts new ones in their place.
func (b *builder) replacement(plants []site.Plant, decided bool) FollowUp {
	s := b.s
	days := s.in.Policy.FirstDaysBySeverity[min(max(s.severity, 0), worstSeverity)]
	again := s.dueAgain(KindReplacement)
	due := window{earliest: again, ideal: again, latest: again.AddDays(days)}.due()
	ways := s.work(plants, func(in []site.Plant) float64 {
		return float64((s.in.Policy.FittingMinutes + s.in.Policy.CarryMinutesPerPlant) * count(in))
	})
	reason := fmt.Sprintf("replace %s: about %v with fitting, waste and a visit; bag the old plants where they stand, clean the planter, keep the new ones apart until they are known to be clear",
		plantNames(plants), s.costOfReplacing(plants))
	if decided {
		reason += "; " + s.whoReplaces()
	}
	return b.item(KindReplacement, plants, ways, due, reason)
}

// whoReplaces says who wants plants replaced: people, or the business's policy as long as nobody decides otherwise.
func (s *story) whoReplaces() string {
	if s.removal {
		return fmt.Sprintf("by the business's policy for severity %d, unless people decide to treat them", s.severity)
	}
	return "decided by people"
}

// costOfReplacing is what it costs to replace some plants of the case.
func (s *story) costOfReplacing(plants []site.Plant) quantity.Money {
	part := *s
	part.plants = plants
	return part.replacementCost()
}

// propose puts the follow-up that would replace the plants beside the course's cost.
func (b *builder) propose() {
	if len(b.s.plants) == 0 || len(b.s.toReplace()) > 0 {
		return
	}
	f := b.replacement(b.s.plants, false)
	b.course.Replacement.Proposed = &f
}

// replaceAll is the course of plants that are all to be replaced: the replacement, and the looks at what stood beside them.
func (s *story) replaceAll(c *Course) {
	c.Proof.Text = "no application is planned: the plants are to be replaced, " + s.whoReplaces()
	b := newBuilder(s, nil, c)
	b.add(b.replacement(s.plants, true))
	until := s.today().AddDays(s.hatching())
	b.neighbourLooks(until, s.today())
	b.traps(until, s.today())
	c.Replacement = s.compareDecided()
	q := s.untreated()
	c.Looks, _ = planLooks(s, q, 0, 0)
	c.Looks.Text = "the case ends when the plants are gone; the neighbours are looked at until a hatching later"
	s.assume(c)
}

// compareDecided puts the cost of the course that is not taken against that of replacing.
func (s *story) compareDecided() Comparison {
	undecided, instead := *s, Course{Case: s.history.Case, Run: 1 + s.mistaken}
	undecided.replace = nil
	if s.certainty == Confirmed && s.living {
		undecided.treat(&instead)
	} else {
		undecided.compare(&instead, expected{})
	}
	instead.Replacement.Text += "; here the plants are replaced, " + s.whoReplaces()
	instead.Replacement.Proposed = nil
	return instead.Replacement
}

// watch is what a case that is kept low still needs: a look now and then.
func (s *story) watch(c *Course) {
	every := s.in.Policy.WatchEveryDays
	if every <= 0 {
		every = max(1, s.in.Policy.LookEveryDays)
	}
	on := s.today()
	for _, look := range s.looks {
		if s.looked(look) > 0 {
			on = max(on, look.on.AddDays(every))
		}
	}
	again := max(on, s.dueAgain(KindInspectInfested))
	b := newBuilder(s, nil, c)
	due := window{earliest: s.dueAgain(KindInspectInfested), ideal: again, latest: again.AddDays(s.in.Policy.LookEveryDays)}.due()
	b.add(b.item(KindInspectInfested, s.plants, s.looking(s.plants), due, fmt.Sprintf(
		"kept low under watch: a look every %s; more than %s begins a course again", plural(every, "day"), s.pest.Severity[mostKeptLow])))
}

// isNew says whether a plant was received lately, or stands where another is gone, and until when it is kept apart.
func (s *story) isNew(plant site.Plant) (until civil.Date, isNew bool) {
	received := s.found
	successor := false
	for _, p := range s.passages {
		if p.gone != nil && slices.Contains(p.gone.Successors, plant.ID) {
			received, successor = s.dateOf(p.at), true
		}
	}
	return received.AddDays(s.in.Policy.QuarantineDays), plant.New || successor
}

// quarantined are the new plants among some, and the day until which the last of them is kept apart; unset without any.
func (s *story) quarantined(plants []site.Plant) (fresh []site.Plant, until civil.Date) {
	for _, plant := range plants {
		if end, isNew := s.isNew(plant); isNew && end >= s.today() {
			fresh, until = append(fresh, plant), max(until, end)
		}
	}
	return fresh, until
}

// quarantine asks for weekly looks at new plants of a suspicion until their time apart is over.
func (b *builder) quarantine() {
	s := b.s
	fresh, until := s.quarantined(s.plants)
	if len(fresh) == 0 {
		return
	}
	every := max(1, s.in.Policy.LookEveryDays)
	on := s.today()
	for _, look := range s.looks {
		if meetsAny(look.plants, fresh) {
			on = max(on, look.on.AddDays(every))
		}
	}
	on = max(on, s.dueAgain(KindInspectInfested))
	due := window{earliest: s.dueAgain(KindInspectInfested), ideal: on, latest: on}.due()
	for n := 0; n < mostApplications && on <= until; n++ {
		f := b.item(KindInspectInfested, fresh, s.looking(fresh), due, fmt.Sprintf("quarantine: %s stays apart until %s and is looked at every %s with a lens",
			plantNames(fresh), until.Short(), plural(every, "day")))
		f.Expected = on
		on = on.AddDays(every)
		due = chain(b.add(f), halfOf(every), every, every)
	}
}

func meetsAny(all []site.PlantID, plants []site.Plant) bool {
	return slices.ContainsFunc(plants, func(p site.Plant) bool { return slices.Contains(all, p.ID) })
}

// learn lists what patch tests showed of the case's plants.
func (s *story) learn(c *Course) {
	for _, plant := range s.plants {
		var seen []catalogue.MaterialID
		for _, event := range slices.Backward(s.patches) {
			material := event.Patch.Material
			if result := s.reading(plant.ID, material); result == nil || slices.Contains(seen, material) {
				continue
			}
			seen = append(seen, material)
			c.Learned = append(c.Learned, Learned{plant.ID, s.tolerance(plant, material)})
		}
	}
}
