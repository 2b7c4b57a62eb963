package planning

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// usualDays is the horizon of a plan that is made again where nothing published says one.
const usualDays = 14

// Replan stores a run that plans the days that are left around events, from what is published, and puts it on the queue. Days of
// 0 are those to the end of the published plan.
//
// Fails as StartRun does, and with Invalid (OUT_OF_RANGE, UNKNOWN_TECHNICIAN, UNKNOWN_SITE, NOT_UNDER_WAY) and Refused
// (VISITS_PINNED naming the pinned visits that need who is absent or what is shut).
func Replan(tx *store.Tx, run firm.PlanRun) (firm.PlanRun, error) {
	business, err := tx.Business()
	if err != nil {
		return firm.PlanRun{}, err
	}
	run.FirstDay = business.Zone.DateOf(tx.Now())
	if run.Days == 0 {
		if run.Days, err = daysLeft(tx, run.FirstDay); err != nil {
			return firm.PlanRun{}, err
		}
	}
	gathered, err := Gather(tx, run.FirstDay, run.Days)
	if err != nil {
		return firm.PlanRun{}, err
	}
	if err := fault.InvalidFields(wrongEvents(gathered.Problem, run.Events)); err != nil {
		return firm.PlanRun{}, err
	}
	if err := pinnedAgainst(gathered.Problem, run.Events); err != nil {
		return firm.PlanRun{}, err
	}
	return StartRun(tx, run)
}

// daysLeft is how many days the published plan reaches from a day on.
func daysLeft(tx *store.Tx, today civil.Date) (int, error) {
	head, err := tx.Head()
	if err != nil || head.Plan == "" {
		return usualDays, err
	}
	kept, err := tx.Plan(head.Plan)
	if err != nil {
		return 0, err
	}
	if left := kept.Days - int(today-kept.FirstDay); left > 0 {
		return min(left, scheduler.MaxHorizonDays), nil
	}
	return usualDays, nil
}

// wrongEvents says what is wrong with events, all at once.
func wrongEvents(p scheduler.Problem, events firm.Events) []catalogue.FieldError {
	var fields []catalogue.FieldError
	wrong := func(path, reason, text string, args ...any) {
		fields = append(fields, catalogue.FieldError{Path: path, Reason: reason, Text: fmt.Sprintf(text, args...)})
	}
	lasts := func(path string, during civil.Interval) {
		if during.Empty() {
			wrong(path+".until", "OUT_OF_RANGE", "from %v until %v: want it to end after it begins", during.From, during.To)
		}
	}
	for i, a := range events.Absent {
		path := fmt.Sprintf("absent_technicians[%d]", i)
		if !slices.ContainsFunc(p.Technicians, func(t scheduler.Technician) bool { return t.ID == a.Technician }) {
			wrong(path+".technician", "UNKNOWN_TECHNICIAN", "technician %q is not of this business", a.Technician)
		}
		lasts(path, a.During)
	}
	for i, s := range events.Shut {
		path := fmt.Sprintf("shut_sites[%d]", i)
		if !slices.ContainsFunc(p.Sites, func(known site.Site) bool { return known.ID == s.Site }) {
			wrong(path+".site", "UNKNOWN_SITE", "site %q is not of this business", s.Site)
		}
		lasts(path, s.During)
	}
	for i, o := range events.Overruns {
		path := fmt.Sprintf("overruns[%d]", i)
		at := slices.IndexFunc(p.Fixed, func(v scheduler.Visit) bool {
			return v.ID == o.Visit && v.Arrives <= p.Now && v.State != scheduler.Done
		})
		switch {
		case at < 0:
			wrong(path+".visit", "NOT_UNDER_WAY", "visit %q is not under way: want one that has begun and is not reported", o.Visit)
		case o.Leaves < max(p.Now, p.Fixed[at].Leaves) || o.Leaves > p.Fixed[at].Arrives.Add(scheduler.MaxShift):
			wrong(path+".leaves", "OUT_OF_RANGE", "leaving at %v: want it after now and after %v, as was planned, and within %v of its arrival", o.Leaves, p.Fixed[at].Leaves, scheduler.MaxShift)
		}
	}
	return fields
}

// pinnedAgainst refuses events that take away what pinned visits need: they do not move, and nobody would come.
func pinnedAgainst(p scheduler.Problem, events firm.Events) error {
	var held []string
	for _, v := range p.Fixed {
		during := civil.Interval{From: v.Arrives, To: v.Leaves}
		if v.State != scheduler.Pinned || v.Arrives <= p.Now {
			continue
		}
		absent := slices.ContainsFunc(events.Absent, func(a firm.Absent) bool { return a.Technician == v.Technician && a.During.Overlaps(during) })
		shut := slices.ContainsFunc(events.Shut, func(s firm.Shut) bool { return s.Site == v.Site && s.During.Overlaps(during) })
		if absent || shut {
			held = append(held, fmt.Sprintf("%s of %s at %s on %s", v.ID, v.Technician, v.Site, zoneIn(p, v.Site).Format(v.Arrives)))
		}
	}
	if len(held) == 0 {
		return nil
	}
	return fault.New(fault.Refused, "VISITS_PINNED", "pinned visits need who is absent or what is shut: %s; unpin them first", strings.Join(held, "; "))
}

// with is what was gathered, as it is after some events.
func (g Gathered) with(events firm.Events) Gathered {
	p := &g.Problem
	if len(events.Absent) > 0 {
		p.Technicians = slices.Clone(p.Technicians)
		for t := range p.Technicians {
			for _, a := range events.Absent {
				if a.Technician == p.Technicians[t].ID {
					p.Technicians[t].Shifts = around(p, p.Technicians[t], a.During)
				}
			}
		}
	}
	p.Sites = slices.Clone(p.Sites)
	for s := range p.Sites {
		for _, shut := range events.Shut {
			if shut.Site == p.Sites[s].ID {
				p.Sites[s].Access = without(p.Sites[s].Access, p.Sites[s].Zone, shut.During)
			}
		}
	}
	p.Fixed = slices.Clone(p.Fixed)
	for _, o := range events.Overruns {
		for i := range p.Fixed {
			if v := &p.Fixed[i]; v.ID == o.Visit && v.Leaves < o.Leaves {
				v.Work = slices.Clone(v.Work)
				if last := len(v.Work) - 1; last >= 0 { // what keeps people out then does so from its late end on
					v.Work[last].Ends = v.Work[last].Ends.Add(o.Leaves.Sub(v.Leaves))
				}
				v.Leaves = o.Leaves
			}
		}
	}
	return g
}

// around is what is left of a technician's shifts beside an absence: of each the longer of the stretches before and after it. A
// visit under way is brought to its end, and then the technician goes home.
func around(p *scheduler.Problem, t scheduler.Technician, absent civil.Interval) []scheduler.Shift {
	var left []scheduler.Shift
	for _, shift := range t.Shifts {
		if !shift.During.Overlaps(absent) {
			left = append(left, shift)
			continue
		}
		ends := max(shift.During.From, absent.From)
		underWay := false
		for _, v := range p.Fixed {
			if v.Technician == t.ID && shift.During.From <= v.Arrives && v.Arrives <= p.Now && p.Now < shift.During.To {
				underWay = true
				seconds, _, _ := p.Travel.Between(placeOf(v.Site), t.Base)
				ends = max(ends, v.Leaves.Add(2*time.Duration(seconds)*time.Second))
			}
		}
		before := civil.Interval{From: shift.During.From, To: min(ends, shift.During.To)}
		after := civil.Interval{From: min(max(absent.To, shift.During.From), shift.During.To), To: shift.During.To}
		if !underWay && after.Length() > before.Length() {
			before = after
		}
		if before.Empty() {
			continue
		}
		shift.During = before
		shift.Day = p.Zone.DateOf(before.From)
		pause := civil.Interval{From: max(shift.BreakWindow.From, before.From), To: min(shift.BreakWindow.To, before.To)}
		if shift.BreakWindow = pause; pause.Length() < shift.BreakTakes || pause.Empty() {
			shift.BreakWindow, shift.BreakTakes = civil.Interval{}, 0
		}
		left = append(left, shift)
	}
	return left
}

// without is a calendar of access without a stretch of time, by dated exceptions.
func without(access civil.Calendar, zone civil.Zone, shut civil.Interval) civil.Calendar {
	cut := civil.Calendar{Always: access.Always, Weekly: access.Weekly, Exceptions: slices.Clone(access.Exceptions)}
	for day := zone.DateOf(shut.From) - 1; day <= zone.DateOf(shut.To); day++ {
		windows := access.WindowsOn(day)
		var left []civil.Window
		for _, w := range windows {
			left = append(left, beside(day, w, zone, shut)...)
		}
		if slices.Equal(windows, left) {
			continue
		}
		cut.Exceptions = slices.DeleteFunc(cut.Exceptions, func(e civil.Exception) bool { return e.On == day })
		cut.Exceptions = append(cut.Exceptions, civil.Exception{On: day, Windows: left})
	}
	if cut.Always && len(cut.Exceptions) > 0 {
		cut.Always, cut.Weekly = false, []civil.Weekly{{Days: everyDay(), Window: civil.Window{Opens: 0, Closes: civil.NewClock(24, 0)}}}
	}
	return cut
}

// beside is what is left of a window of a day beside a stretch of time.
func beside(day civil.Date, w civil.Window, zone civil.Zone, shut civil.Interval) []civil.Window {
	opens, closes := zone.At(day, w.Opens), zone.At(day, w.Closes)
	if !shut.Overlaps(civil.Interval{From: opens, To: closes}) {
		return []civil.Window{w}
	}
	var left []civil.Window
	if opens < shut.From {
		left = append(left, civil.Window{Opens: w.Opens, Closes: w.Opens + civil.Clock(shut.From.Sub(opens).Seconds())})
	}
	if shut.To < closes && shut.To >= opens {
		late := w.Opens + civil.Clock(shut.To.Sub(opens).Seconds())
		if late < civil.NewClock(24, 0) {
			left = append(left, civil.Window{Opens: late, Closes: w.Closes})
		}
	}
	return left
}

// everyDay lists the days of the week.
func everyDay() []civil.Weekday {
	days := make([]civil.Weekday, 7)
	for i := range days {
		days[i] = civil.Weekday(i)
	}
	return days
}
