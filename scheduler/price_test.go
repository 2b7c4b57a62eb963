package scheduler_test

import (
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// pricer recomputes what a plan costs from its Problem and rates alone, by the meaning of each part of the cost. It shares
// nothing with what made the plan.
type pricer struct {
	p     *scheduler.Problem
	rates *scheduler.Rates
}

// places says when an item begins, planned or really done; ok is false when neither.
type places func(scheduler.ItemID) (begins civil.Instant, ok bool)

// minutesUp rounds a length up to whole minutes.
func minutesUp(d time.Duration) quantity.Money {
	return quantity.Money((d + time.Minute - 1) / time.Minute)
}

func (c pricer) site(id site.ID) *scheduler.Site {
	return &c.p.Sites[slices.IndexFunc(c.p.Sites, func(s site.Site) bool { return s.ID == id })]
}

func (c pricer) technician(id scheduler.TechnicianID) *scheduler.Technician {
	return &c.p.Technicians[slices.IndexFunc(c.p.Technicians, func(t scheduler.Technician) bool { return t.ID == id })]
}

// drive is ceil(seconds * 100 / speed).
func (c pricer) drive(t *scheduler.Technician, from, to travel.PlaceID) time.Duration {
	seconds, _, _ := c.p.Travel.Between(from, to)
	speed := int64(t.SpeedPercent)
	return time.Duration((int64(seconds)*100+speed-1)/speed) * time.Second
}

// lastDay is the last day of the horizon.
func (c pricer) lastDay() civil.Date { return c.p.FirstDay.AddDays(c.p.Days - 1) }

// done says when what lies in the past or is fixed began; the parts of one item count as one.
func (c pricer) done(id scheduler.ItemID) (begins civil.Instant, ok bool) {
	for _, d := range c.p.Done {
		if d.ID == id {
			return d.Began, true
		}
	}
	for _, v := range c.p.Fixed {
		for _, w := range v.Work {
			if w.Item == id && (!ok || w.Begins < begins) {
				begins, ok = w.Begins, true
			}
		}
	}
	return begins, ok
}

// dueDates are the days of an item as dates.
type dueDates struct {
	earliest civil.Date
	latest   civil.Date // unset: never late
	until    civil.Date // unset: it always stands
}

// dueOf turns the days of a follow-up into dates; ok is false while what it follows has no beginning.
func (c pricer) dueOf(f *scheduler.FollowUp, at places) (dueDates, bool) {
	if f.Due.After == "" {
		return dueDates{f.Due.EarliestOn, f.Due.LatestOn, f.Due.StandsUntilOn}, true
	}
	begins, ok := at(f.Due.After)
	if !ok {
		return dueDates{}, false
	}
	from := c.site(f.Site).Zone.DateOf(begins)
	days := dueDates{earliest: from.AddDays(f.Due.EarliestLag), latest: from.AddDays(f.Due.LatestLag)}
	if f.Due.StandsUntilLag > 0 {
		days.until = from.AddDays(f.Due.StandsUntilLag)
	}
	return days, true
}

// priceOfDelay reads the price table: the last entry holds past its end.
func priceOfDelay(f *scheduler.FollowUp, days int) quantity.Money {
	if days < 0 || len(f.PricePerDay) == 0 {
		return 0
	}
	return f.PricePerDay[min(days, len(f.PricePerDay)-1)]
}

// daysPast is how many days a day lies past the latest; 0 where none is set.
func daysPast(day, latest civil.Date) quantity.Money {
	if latest.IsZero() {
		return 0
	}
	return quantity.Money(max(0, day.DaysSince(latest)))
}

// lateInspection is what an inspection costs past its latest day.
func (c pricer) lateInspection(f *scheduler.FollowUp, day civil.Date, due dueDates) quantity.Money {
	if f.Kind != scheduler.KindInspectInfested && f.Kind != scheduler.KindInspectNeighbours {
		return 0
	}
	return c.rates.LateInspectionDay.Amount * daysPast(day, due.latest)
}

// delay is what a planned follow-up costs by its day.
func (c pricer) delay(f *scheduler.FollowUp, begins civil.Instant, at places) quantity.Money {
	due, ok := c.dueOf(f, at)
	if !ok {
		return 0
	}
	day := c.site(f.Site).Zone.DateOf(begins)
	return priceOfDelay(f, day.DaysSince(due.earliest)) + c.lateInspection(f, day, due)
}

// lateService is what an occurrence of a service costs past its latest day, counted from the one before it.
func (c pricer) lateService(s *scheduler.Service, occurrence int, day civil.Date, at places) quantity.Money {
	return c.lateServiceDay(s) * daysPast(day, c.latestOf(s, occurrence, at))
}

func (c pricer) lateServiceDay(s *scheduler.Service) quantity.Money {
	return c.rates.LateServiceDay.Amount * quantity.Money(len(s.Groups))
}

// latestOf is the latest day of an occurrence: one of a service that was never done is due on the first day.
func (c pricer) latestOf(s *scheduler.Service, occurrence int, at places) civil.Date {
	last := s.Last
	if occurrence > 1 {
		begins, ok := at(scheduler.OccurrenceID(s.ID, occurrence-1))
		if !ok {
			return 0
		}
		last = c.site(s.Site).Zone.DateOf(begins)
	}
	if last.IsZero() {
		return c.p.FirstDay
	}
	return last.AddDays(s.Latest)
}

// leftOut is what not planning a follow-up costs: the price of leaving it out where its window ends inside the horizon
// or what it follows is left out; else the usual visit and its price on the first day on which it could be done.
func (c pricer) leftOut(f *scheduler.FollowUp, at places, later civil.Date) (quantity.Money, bool) {
	deferred := c.rates.DeferredVisit.Amount
	due, ok := c.dueOf(f, at)
	if !ok {
		before := c.p.FollowUps[slices.IndexFunc(c.p.FollowUps, func(g scheduler.FollowUp) bool { return g.ID == f.Due.After })]
		if _, out := c.leftOut(&before, at, later); out {
			return f.LeftOutPrice, true
		}
		return deferred + priceOfDelay(f, 0), false
	}
	if !due.until.IsZero() && due.until <= c.lastDay() {
		return f.LeftOutPrice, true
	}
	return deferred + priceOfDelay(f, max(later, due.earliest).DaysSince(due.earliest)) + c.lateInspection(f, later, due), false
}

// leftOutService is what not planning an occurrence costs: once its latest day lies in the horizon, or where the one before
// it is left out, a promise is not kept.
func (c pricer) leftOutService(s *scheduler.Service, occurrence int, at places, later civil.Date) (quantity.Money, bool) {
	latest := c.latestOf(s, occurrence, at)
	if latest.IsZero() { // the one before it is not planned either
		if _, out := c.leftOutService(s, occurrence-1, at, later); out {
			return c.rates.LeftOutService.Amount, true
		}
		return c.rates.DeferredVisit.Amount, false
	}
	if latest <= c.lastDay() {
		return c.rates.LeftOutService.Amount + c.lateServiceDay(s)*daysPast(c.lastDay()+1, latest), true
	}
	return c.rates.DeferredVisit.Amount + c.lateServiceDay(s)*daysPast(later, latest), false
}

// asked says whether an item's earliest day, with everything before it at its earliest, lies in the horizon.
func (c pricer) asked(f *scheduler.FollowUp) bool { return c.soonest(f) <= c.lastDay() }

func (c pricer) soonest(f *scheduler.FollowUp) civil.Date {
	if f.Due.After == "" {
		return max(f.Due.EarliestOn, c.p.FirstDay)
	}
	if begins, ok := c.done(f.Due.After); ok {
		return max(c.site(f.Site).Zone.DateOf(begins).AddDays(f.Due.EarliestLag), c.p.FirstDay)
	}
	for i := range c.p.FollowUps {
		if c.p.FollowUps[i].ID == f.Due.After {
			return c.soonest(&c.p.FollowUps[i]).AddDays(f.Due.EarliestLag)
		}
	}
	return c.p.FirstDay
}

// occurrenceOf reads "service#k".
func (c pricer) occurrenceOf(id scheduler.ItemID) (s *scheduler.Service, occurrence int) {
	name, number, _ := strings.Cut(string(id), "#")
	for i := range c.p.Services {
		if c.p.Services[i].ID == name {
			for _, digit := range number {
				occurrence = occurrence*10 + int(digit-'0')
			}
			return &c.p.Services[i], occurrence
		}
	}
	return nil, 0
}

func (c pricer) followUp(id scheduler.ItemID) *scheduler.FollowUp {
	for i := range c.p.FollowUps {
		if c.p.FollowUps[i].ID == id {
			return &c.p.FollowUps[i]
		}
	}
	return nil
}
