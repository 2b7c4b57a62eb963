package scheduler

import (
	"fmt"
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/search"
	"vernation/scheduler/internal/tour"
	"vernation/scheduler/quantity"
)

// mostReasons bounds how many reasons one unplanned item lists.
const mostReasons = 6

// unplanned lists what the plan does not hold, in the order of the items, with what stands in the way.
func (c *compiled) unplanned(answer search.Answer) []Unplanned {
	list := []Unplanned{}
	for item := range c.items {
		i := int32(item)
		cost, status := answer.State.Unplanned(i)
		if status == schedule.Planned || status == schedule.Outside {
			continue
		}
		u := Unplanned{Item: c.items[item].id, Status: Deferred, Cost: quantity.Money(cost), Reasons: c.reasons(answer, i, cost)}
		if status == schedule.LeftOut {
			u.Status = LeftOut
		}
		list = append(list, u)
	}
	return list
}

// reasons says what keeps an item out: what it waits for, what compile refused, what the walks of the days ran into,
// or else its price.
func (c *compiled) reasons(answer search.Answer, item int32, cost instance.Cost) []Reason {
	for _, before := range c.in.Items[item].Before {
		if before.Hard && !answer.State.Placed(before.Item).Placed {
			return []Reason{c.waitsFor(before.Item)}
		}
	}
	why := &answer.Why[item]
	var reasons []Reason
	if why.Unasked && len(c.refused[item]) == 0 {
		reasons = append(reasons, Reason{Text: "the search was ended before it had asked why: search longer, or ask about it alone"})
	}
	if why.Possible {
		reasons = append(reasons, Reason{Text: fmt.Sprintf("doing it in these days would add %v, more than the %v that not doing it costs", quantity.Money(why.Added), quantity.Money(cost))})
	}
	reasons = append(reasons, c.refused[item]...)
	if !why.Possible {
		for _, cause := range why.Causes {
			reasons = append(reasons, Reason{Rule: Rules[cause.Rule], Text: c.causeText(item, cause)})
		}
	}
	var once []Reason
	for _, reason := range reasons {
		if len(once) < mostReasons && !slices.Contains(once, reason) {
			once = append(once, reason)
		}
	}
	if len(once) == 0 {
		return []Reason{{RuleTiming, "its days, counted from where the item before it is planned, fall behind the horizon, or nobody who may do it has a shift then"}}
	}
	return once
}

// causeText puts a cause of the kernel into a sentence.
func (c *compiled) causeText(item int32, cause tour.Cause) string {
	about := "this"
	if cause.Item != instance.None && cause.Item != item {
		about = string(c.items[cause.Item].id)
	}
	name := c.p.Sites[c.in.Items[item].Site].Name
	switch cause.Text {
	case tour.ShiftTooShort:
		return "the shifts of those who may do it are too short for it beside what stands in them"
	case tour.TooMuchWork:
		return "the longest work time of a day leaves no room for it"
	case tour.NoBreak:
		return "the break finds no place in its window beside it"
	case tour.AccessShut:
		return fmt.Sprintf("%s is not open long enough when somebody who may do it could be there", name)
	case tour.WaitsForItem:
		return fmt.Sprintf("%s counts from an item that is not planned", about)
	case tour.PastItsDays:
		return "its days, from the earliest to the last on which it stands, leave no room for it or fall behind the horizon"
	case tour.LinkBroken:
		return fmt.Sprintf("an order or a lag between %s and other work would not be kept", about)
	case tour.TooCloseTogether:
		return "the label asks for more days between two applications"
	case tour.CapReached:
		return "the label's greatest number of applications in a row or a year is reached"
	case tour.PlantDry:
		return "its plants would be dry: they are watered first"
	case tour.AreaShutByOther, tour.PeopleThere:
		return "somebody would be in an area that it shuts"
	case tour.WorkAfterApplication:
		return "an application of that visit shuts the area before other work there, which the order by health puts later"
	case tour.NoBeginning:
		return fmt.Sprintf("at no time of a shift of those who may do it does %s allow it to begin", name)
	case tour.NoVesselFree:
		return "no vessel that holds enough is free"
	case tour.MixTooOld:
		return "the mix would be older than its life"
	case tour.NowhereToMix:
		return "every place to mix or rinse is shut then"
	case tour.PlaceFull:
		return "the treatment place is full"
	case tour.FixedVisitInTheWay:
		return "a visit that does not move stands in the way"
	}
	return "a rule stands in the way"
}
