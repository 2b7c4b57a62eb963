package course

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// delivered is the first day on which living goods for a candidate can be at hand: ordered when the pest was found or the
// use of them approved, delivered the policy's days later or on the next day of delivery after that. Unset for everything else.
func (s *story) delivered(p *candidate) civil.Date {
	if !p.isLiving() {
		return 0
	}
	ordered := s.found
	for _, event := range s.history.Events {
		if a := event.Approval; a != nil && !a.Withdrawn && a.Product == p.product.ID {
			ordered = max(ordered, s.dateOf(event.At))
		}
	}
	on := ordered.AddDays(s.in.Policy.OrderDays)
	for range daysOfWeek {
		if len(p.product.DeliveryDays) == 0 || slices.Contains(p.product.DeliveryDays, on.Weekday()) {
			break
		}
		on = on.AddDays(1)
	}
	return on
}

const daysOfWeek = 7

// keptUntil is the last day on which living goods of a delivery are used; unset where they keep.
func (p *candidate) keptUntil(delivered civil.Date) civil.Date {
	if p.material.Living == nil || p.material.Living.KeepDays.Value <= 0 {
		return 0
	}
	return delivered.AddDays(int(p.material.Living.KeepDays.Value))
}

// keepWithin narrows the window of living goods to the days on which those of one delivery are fit. Goods that were not
// used in time are ordered again: the need stays.
func (s *story) keepWithin(p *candidate, w window) window {
	if !p.isLiving() {
		return w
	}
	until := p.keptUntil(s.delivered(p))
	if until.IsZero() || until < w.earliest {
		return w
	}
	w.ideal = min(w.ideal, until)
	w.latest = max(w.ideal, min(w.latest, until))
	return w
}

// adviseLiving says when living goods are to be ordered and how long they are fit.
func (s *story) adviseLiving(c *Course, p *candidate) {
	if !p.isLiving() {
		return
	}
	delivered := s.delivered(p)
	until := p.keptUntil(delivered)
	text := fmt.Sprintf("living goods: ordered %s before, at the latest on %s, they come on %s",
		plural(s.in.Policy.OrderDays, "day"), delivered.AddDays(-s.in.Policy.OrderDays).Short(), delivered.Short())
	if living := p.material.Living; living != nil {
		text += fmt.Sprintf("; they keep %s (%s) and are used by %s; order each further delivery so that it comes no more than that before its day",
			plural(int(living.KeepDays.Value), "day"), living.Storage, until.Short())
		if !until.IsZero() && until < s.today() {
			text += fmt.Sprintf("; those of that delivery are past use: order again, %s before", plural(s.in.Policy.OrderDays, "day"))
		}
	}
	if organisms := s.organisms(p); organisms > 0 {
		text += fmt.Sprintf("; about %s of them for each use", grouped(organisms))
	}
	c.Advice = append(c.Advice, text)
}

// organisms is how many living animals one use on the plants takes: what the label's rate gives, else so many a litre of the
// pots, or so many a plant (the middle of what is usual); 0 where nothing is known of it.
func (s *story) organisms(p *candidate) int {
	if p.product.Label.MaxPortion != nil {
		sum := 0
		for _, dose := range s.doses(p, p.plants) {
			sum += int(dose.Organisms)
		}
		return sum
	}
	living := p.material.Living
	if living == nil {
		return 0
	}
	n := 0.0
	for _, plant := range p.plants {
		switch {
		case living.PerLitre != nil:
			litres, _ := plant.PotVolume.In(quantity.Litre).Float64()
			n += living.PerLitre.Value * litres * float64(plant.Count)
		case living.PerPlant != nil:
			n += living.PerPlant.Middle() * float64(plant.Count)
		}
	}
	return int(math.Ceil(n))
}

// grouped writes a number in groups of three digits: "240,000".
func grouped(n int) string {
	text := strconv.Itoa(n)
	for at := len(text) - 3; at > 0; at -= 3 {
		text = text[:at] + "," + text[at:]
	}
	return text
}
