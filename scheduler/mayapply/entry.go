package mayapply

import (
	"errors"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// lookAhead bounds the search for a later beginning.
const lookAhead = 14 * 24 * time.Hour

// askEntry: the interval before entry is known, nobody is in what it shuts, and nothing else shuts it.
func (a *asking) askEntry() {
	ahead := civil.Interval{From: a.Begins, To: a.Begins.Add(lookAhead)}
	next := []civil.Interval{ahead}
	for _, area := range a.areas() {
		term, err := reentry.Needed(a.Catalogue, a.Policy.Policy, a.Site, area.ID, a.Product)
		if err != nil {
			text := err.Error()
			if errors.Is(err, reentry.ErrUnknown) {
				text = "the interval before entry is unknown: read it off the label; no number is assumed"
			}
			a.refuse(RuleEntry, "%s", text)
			return
		}
		if term.Law != "" {
			a.say(RuleEntry, Notes, a.plantsIn(area.ID), "the law keeps people out for %s whatever the label says: %s", span(term.Least), term.Law)
		}
		t := reentry.Treatment{Area: area.ID, Begins: a.Begins, Ends: a.during().To, KeepOut: term.KeepOut, Unventilated: term.Unventilated}
		a.askPeople(area, t)
		a.askShut(area, t)
		next = civil.Intersect(next, reentry.Beginnings(a.Site, area.ID, a.Takes, term.KeepOut, term.Unventilated, ahead))
		next = civil.Subtract(next, a.beginningsInto(area, t))
		a.treatments = append(a.treatments, t)
	}
	for _, runs := range a.openRuns(civil.Interval{From: ahead.From, To: ahead.To.Add(a.Takes)}) {
		next = civil.Intersect(next, reentry.Fitting(runs, 0, a.Takes))
	}
	of := []Rule{RulePeople, RuleShut, RuleAccess, RuleHours}
	refused := slices.ContainsFunc(a.answer.Words, func(w Word) bool { return w.Verdict == Refuses && slices.Contains(of, w.Rule) })
	if refused && len(next) > 0 {
		a.answer.Next = next[0].From
	}
}

// openRuns are the runs of the site's access and of the label's times of day, where it states any: an application lies in one
// run of each.
func (a *asking) openRuns(span civil.Interval) [][]civil.Interval {
	all := [][]civil.Interval{a.Site.Access.Open(a.Site.Zone, span)}
	if hours := a.Product.Label.Hours; len(hours) > 0 {
		daily := civil.Calendar{}
		for _, w := range hours {
			daily.Weekly = append(daily.Weekly, civil.Weekly{Days: []civil.Weekday{0, 1, 2, 3, 4, 5, 6}, Window: w})
		}
		all = append(all, daily.Open(a.Site.Zone, span))
	}
	return all
}

// askPeople: no hour with people in any area that is shut, unless the client agreed to shut it.
func (a *asking) askPeople(area site.Area, t reentry.Treatment) {
	for _, o := range reentry.Occupied(a.Site, t) {
		a.say(RulePeople, Refuses, a.plantsIn(area.ID), "people are in %s %s; %s would be shut %s: want the client to shut it, another time, or a method that shuts nothing",
			a.nameOf(o.Area), a.stretch(o.During), a.nameOf(o.Area), a.stretch(reentry.Interval(a.Site, t)))
	}
}

// askShut: nobody enters an area that another application shuts; a surface that nobody has confirmed dry blocks a new
// application that shuts anything, and is looked at first by whoever comes for another.
func (a *asking) askShut(area site.Area, t reentry.Treatment) {
	for _, r := range a.Running {
		if r.Area != area.ID {
			continue
		}
		switch {
		case r.During.Overlaps(civil.Interval{From: t.Begins, To: t.Ends}):
			a.say(RuleShut, Refuses, a.plantsIn(area.ID), "%s is shut %s by another application", area.Name, a.stretch(r.During))
		case !r.UntilDry || r.Confirmed || r.During.To > t.Begins:
		case t.KeepOut > 0:
			a.say(RuleShut, Refuses, a.plantsIn(area.ID), "nobody has confirmed that %s is dry after the application that ended its keep-out at %s: look first", area.Name, a.Site.Zone.Format(r.During.To))
		default:
			a.say(RuleShut, Asks, a.plantsIn(area.ID), "nobody has confirmed that %s is dry after the application that ended its keep-out at %s: look first, and work there only once it is dry", area.Name, a.Site.Zone.Format(r.During.To))
		}
	}
}

// beginningsInto are the beginnings at which the application would reach into another keep-out of its area, or come after one
// that waits for somebody to look.
func (a *asking) beginningsInto(area site.Area, t reentry.Treatment) []civil.Interval {
	var into []civil.Interval
	for _, r := range a.Running {
		if r.Area != area.ID || r.During.Empty() {
			continue
		}
		into = append(into, civil.Interval{From: r.During.From.Add(-t.Ends.Sub(t.Begins)) + 1, To: r.During.To})
		if r.UntilDry && !r.Confirmed && t.KeepOut > 0 { // nobody knows until when
			into = append(into, civil.Interval{From: r.During.To, To: max(r.During.To, a.Begins.Add(lookAhead))})
		}
	}
	return civil.Merge(into)
}

// shut adds what a treatment shuts to the answer; an area that two treatments shut is shut by both.
func (a *asking) shut(t reentry.Treatment) {
	dry := a.Product.Label.Entry.Kind == catalogue.EntryUntilDry
	for _, k := range reentry.KeepOuts(a.Site, t) {
		s := Shut{Area: k.Area, Name: a.nameOf(k.Area), During: k.During, UntilDry: dry}
		if k.Area != t.Area {
			s.Because = a.nameOf(t.Area)
		}
		i := slices.IndexFunc(a.answer.Shut, func(other Shut) bool { return other.Area == k.Area })
		if i < 0 {
			a.answer.Shut = append(a.answer.Shut, s)
			continue
		}
		known := &a.answer.Shut[i].During
		known.From, known.To = min(known.From, k.During.From), max(known.To, k.During.To)
		if k.Area == t.Area {
			a.answer.Shut[i].Because = ""
		}
	}
}

func (a *asking) nameOf(id site.AreaID) string {
	for _, area := range a.Site.Areas {
		if area.ID == id {
			return area.Name
		}
	}
	return string(id)
}
