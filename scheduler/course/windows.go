package course

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// window is when the next item may begin, in dates of the site.
type window struct {
	earliest, ideal, latest civil.Date
	stands                  civil.Date // unset: it always stands
}

func (w window) due() Due {
	return Due{EarliestOn: w.earliest, IdealOn: w.ideal, LatestOn: w.latest, StandsUntilOn: w.stands}
}

// noticeDay is the first day on which an application's notice can have run out, when it is published now.
func (s *story) noticeDay(p *candidate) civil.Date {
	if p.product.ID == "" || s.in.Now.IsZero() {
		return s.today()
	}
	lead, _ := s.noticeLead()
	return s.dateOf(s.in.Now.Add(s.in.Policy.PublishingDelay + lead))
}

// window is that of the next application. The first of a run is earliest today, ideal when notice and patch test allow,
// latest by severity or the agreement's response time, and always stands. A later one counts from the round really made.
func (s *story) window(p *candidate) window {
	q := &p.sequence
	w := window{earliest: s.earliest(p)}
	w.ideal = w.earliest
	last, going := q.last()
	if !going {
		w.ideal = max(w.ideal, s.noticeDay(p))
	}
	if len(p.patch) > 0 {
		w.ideal = max(w.ideal, s.today().AddDays(s.in.Policy.PatchTestDays))
	}
	switch {
	case !going:
		from := s.found
		if q.expired {
			from = s.today()
		}
		days := s.in.Policy.FirstDaysBySeverity[min(max(s.severity, 0), worstSeverity)]
		if response := s.site.Agreement.ResponseDays; response > 0 {
			days = min(days, response)
		}
		w.latest = max(w.ideal, from.AddDays(days))
		if q.expired {
			w.latest = w.ideal
		}
	case len(q.missed) > 0:
		w.latest = max(w.ideal, last.AddDays(q.timing.latestLag))
		w.stands = max(w.latest, last.AddDays(q.stands()))
	default:
		w.stands = max(w.earliest, last.AddDays(q.stands()))
		w.ideal = min(max(w.ideal, last.AddDays(q.timing.lag)), w.stands)
		w.latest = min(max(w.ideal, last.AddDays(q.timing.latestLag)), w.stands)
	}
	return w
}

// earliest is the first day on which the label and what really happened allow the next application.
func (s *story) earliest(p *candidate) civil.Date {
	earliest := s.today()
	for _, m := range s.made {
		if len(p.sequence.missed) > 0 && !meetsPlants(m, p.sequence.missed) {
			continue
		}
		if m.material == p.material.ID {
			earliest = max(earliest, m.on.AddDays(p.leastDays()))
		}
		for _, bad := range p.product.Label.Incompatible {
			if bad.Material == m.material {
				earliest = max(earliest, m.on.AddDays(bad.Days))
			}
		}
	}
	return max(earliest, s.dueAgain(KindApplication))
}

// dueAgain is the first day on which an item of a kind may be tried again: today, or later by what came of it last.
func (s *story) dueAgain(kind FollowUpKind) civil.Date {
	again := s.today()
	for _, event := range s.history.Events {
		if event.NotDone == nil || kindOf(event.NotDone.FollowUp) != kind {
			continue
		}
		follows, _ := Consequences(event.NotDone.Outcome, kind)
		again = max(again, s.dateOf(event.At).AddDays(follows.AfterDays))
	}
	return again
}

func meetsPlants(m made, plants []site.Plant) bool {
	return slices.ContainsFunc(plants, func(p site.Plant) bool { return slices.Contains(m.plants, p.ID) })
}

// applications writes what the sequence still needs, each behind a look at the plants, and returns the ids.
func (b *builder) applications() []ItemID {
	s, p, q := b.s, b.p, &b.p.sequence
	if q.needed == 0 {
		return nil
	}
	w := s.window(p)
	approved, why := s.approval(p)
	due, idealOffset := w.due(), w.ideal.DaysSince(w.earliest)
	if len(p.patch) > 0 && len(q.rounds) == 0 {
		due, idealOffset = b.patchTest(w)
	}
	prices := newPricing(s, q, p)
	var all []ItemID
	for i := range q.needed {
		plants, ways := p.plants, p.ways
		if i == 0 && len(q.missed) > 0 {
			plants = q.missed
			part := *p
			part.plants, part.ways, part.wayNotes, part.conditions = plants, nil, nil, nil
			s.listWays(&part)
			ways = part.ways
			if len(ways) == 0 {
				ways = []Way{s.inPlace(&part)}
			}
		}
		look := b.lookBefore(i, due)
		f := b.item(KindApplication, plants, ways, due, b.applicationReason(i, w, why))
		f.Approved = approved
		f.Expected = w.ideal.AddDays(i * q.timing.lag)
		f.PricePerDay = prices.table(i, idealOffset, priceLength(due))
		f.LeftOutPrice = prices.leftOut(f.PricePerDay)
		all = append(all, b.add(f))
		b.link(Order, look, f.ID)
		b.instead(f, plants)
		t := q.timing
		due = Due{After: f.ID, EarliestLag: t.least, IdealLag: t.lag, LatestLag: t.latestLag, StandsUntilLag: t.standsLag}
		idealOffset = t.lag - t.least
	}
	return all
}

// pricedDays is how many days after the latest an item that always stands is priced on.
const pricedDays = 14

// priceLength is how many days from the earliest on a table prices: to the last that stands.
func priceLength(due Due) int {
	var days int
	switch {
	case due.After == "" && due.StandsUntilOn.IsZero():
		days = due.LatestOn.DaysSince(due.EarliestOn) + pricedDays
	case due.After == "":
		days = due.StandsUntilOn.DaysSince(due.EarliestOn)
	case due.StandsUntilLag >= alwaysStands:
		days = due.LatestLag - due.EarliestLag + pricedDays
	default:
		days = due.StandsUntilLag - due.EarliestLag
	}
	return max(1, days+1)
}

// patchTest puts a test before the first application and returns the application's window behind it.
func (b *builder) patchTest(w window) (Due, int) {
	s, p := b.s, b.p
	days := s.in.Policy.PatchTestDays
	due := window{earliest: s.today(), ideal: s.today(), latest: max(s.today(), w.latest.AddDays(-days))}.due()
	ways := s.work(p.patch, func(in []site.Plant) float64 { return p.material.MinutesPerPlant.Value * float64(len(in)) })
	f := b.item(KindPatchTest, p.patch, ways, due, fmt.Sprintf(
		"patch test of %s on one leaf of %s, read after %s: what it stands is not known; the label's own words on testing outrank this",
		p.material.Name, plantNames(p.patch), plural(days, "day")))
	id := b.add(f)
	ideal := max(days, w.ideal.DaysSince(s.today()))
	return chain(id, days, ideal, max(ideal, w.latest.DaysSince(s.today()))), ideal - days
}

// lookBefore is the look at the infested plants before an application: what is seen is taken off by hand.
func (b *builder) lookBefore(i int, due Due) ItemID {
	s := b.s
	if due.After == "" {
		for _, m := range s.made {
			if m.on == s.today() {
				// Soap kills within hours: a look shows what it did from the next day on.
				due.EarliestOn = max(due.EarliestOn, m.on.AddDays(1))
			}
		}
		due.IdealOn, due.LatestOn = max(due.IdealOn, due.EarliestOn), max(due.LatestOn, due.EarliestOn)
		if !due.StandsUntilOn.IsZero() {
			due.StandsUntilOn = max(due.StandsUntilOn, due.LatestOn)
		}
	}
	reason := fmt.Sprintf("look at the infested plants before application %d", len(b.p.sequence.rounds)+i+1)
	if b.p.hand != nil {
		reason += ", and take off by hand what is seen"
	}
	f := b.item(KindInspectInfested, s.plants, s.looking(s.plants), due, reason)
	f.Expected = s.window(b.p).ideal.AddDays(i * b.p.sequence.timing.lag)
	return b.add(f)
}

// instead takes the drenched plants out of their watering of that day.
func (b *builder) instead(f FollowUp, plants []site.Plant) {
	if b.p.material.Method != catalogue.Drench {
		return
	}
	for _, service := range b.s.in.Services {
		if service.Site != b.s.site.ID || service.Kind != site.WateringService {
			continue
		}
		in := slices.ContainsFunc(service.Groups, func(g site.Group) bool {
			return slices.ContainsFunc(plants, func(p site.Plant) bool { return p.ID == g.Plant })
		})
		if in {
			b.link(InsteadOf, f.ID, ItemID(service.ID))
		}
	}
}
