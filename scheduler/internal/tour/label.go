package tour

import (
	"slices"

	"vernation/scheduler/internal/instance"
)

// The rule "label" as far as it depends on what else is planned: days between applications, caps, dry plants.
// All else of a label is filtered in compile.

// labelRule is the rule "label" on a walk.
type labelRule struct{ *Walker }

// allows says whether the item's application may lie on a day.
func (r labelRule) allows(item int32, day Day) bool {
	t := r.times(item)
	way := &r.in.Items[item].Ways[t.Way]
	for _, plant := range way.Wet {
		// Plants carried out before midnight may be treated after it: the later day is the stricter one.
		treated := max(day, r.siteOf(item).DayOf(t.Ends-1))
		if r.dry(item, plant, treated) {
			return r.reason(PlantDry, item, t.Begins)
		}
	}
	for c := range way.Caps {
		if !r.capHolds(item, &way.Caps[c], day) {
			return r.reason(CapReached, item, t.Begins)
		}
	}
	return true
}

// reason notes what the rule says against the walk and returns false.
func (r labelRule) reason(text Text, item int32, at Seconds) bool {
	return r.refuse(RuleLabel, text, item, at)
}

// dry says whether a plant is dry when an item begins: from its watering's latest day on, counted from the last watering.
func (w *Walker) dry(item, plant int32, day Day) bool {
	if day < w.in.Plants[plant].DryFrom {
		return false
	}
	begins := w.times(item).Begins
	for _, bond := range w.in.Items[item].Bonds {
		if bond.Kind != instance.WetsFor || bond.To != item || bond.Plant != plant {
			continue
		}
		watering := w.times(bond.From)
		if !watering.Placed || watering.Ends > begins || !w.waters(bond.From, plant) {
			continue
		}
		if day < watering.Day+w.in.Plants[plant].DryLag {
			return false
		}
	}
	return true
}

// waters says whether a placed watering really reaches a plant, or a drench of that day replaces it.
func (w *Walker) waters(item, plant int32) bool {
	it := &w.in.Items[item]
	day := w.times(item).Day
	for _, block := range it.Ways[0].Legs[0].Blocks {
		for g := range block.Pieces[0].Groups {
			if group := &block.Pieces[0].Groups[g]; group.Plant == plant {
				return !w.Replaced(group, day)
			}
		}
	}
	return false
}

// Replaced says whether a follow-up of a day takes a group out of its service.
func (w *Walker) Replaced(group *instance.Group, day Day) bool {
	for _, by := range group.ReplacedBy {
		t := w.times(by)
		if t.Placed && t.Day == day {
			return true
		}
	}
	return false
}

// capHolds counts the applications of one substance to one plant with those planned.
func (w *Walker) capHolds(item int32, limit *instance.Cap, day Day) bool {
	w.days, w.others = append(append(w.days[:0], limit.History...), day), append(w.others[:0], limit.Other...)
	for _, bond := range w.in.Items[item].Bonds {
		if bond.Kind != instance.Together {
			continue
		}
		other := bond.From + bond.To - item
		t := w.times(other)
		if !t.Placed {
			continue
		}
		for _, c := range w.in.Items[other].Ways[t.Way].Caps {
			if c.Key == limit.Key {
				w.days = append(w.days, t.Day)
			} else if c.Plant == limit.Plant {
				w.others = append(w.others, t.Day)
			}
		}
	}
	slices.Sort(w.days)
	return (limit.AYear == 0 || mostWithin(w.days, 365) <= limit.AYear) &&
		(limit.InRow == 0 || longestRun(w.days, w.others) <= limit.InRow)
}

// mostWithin returns the most days that lie in one stretch of so many days.
func mostWithin(days []Day, length Day) int32 {
	most, first := 0, 0
	for last := range days {
		for days[last]-days[first] >= length {
			first++
		}
		most = max(most, last-first+1)
	}
	return int32(most)
}

// longestRun returns the most days in a row that no other day parts.
func longestRun(days, others []Day) int32 {
	longest, run := int32(0), int32(0)
	for i, day := range days {
		parted := i > 0 && slices.ContainsFunc(others, func(o Day) bool { return o > days[i-1] && o < day })
		if parted {
			run = 0
		}
		run++
		longest = max(longest, run)
	}
	return longest
}
