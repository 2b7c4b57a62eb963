package planning

import (
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/travel"
	"vernation/server/internal/firm"
)

func baseOf(id scheduler.TechnicianID) travel.PlaceID { return travel.PlaceID("base:" + string(id)) }

// readCrew takes the crew with the shifts that begin within the horizon, without absences and holidays. Who left the crew
// and still has visits is there without shifts and rights: the visits go to others, or are facts.
func (g *gathering) readCrew() error {
	crew, err := g.tx.Crew()
	if err != nil {
		return err
	}
	// The day before too: a shift of its night reaches into the first day, and what is absent then is not at work.
	absences, err := g.tx.Absences(g.problem.FirstDay.AddDays(-1), g.lastDay().AddDays(1))
	if err != nil {
		return err
	}
	holidays, err := g.tx.Holidays(g.problem.FirstDay, g.lastDay())
	if err != nil {
		return err
	}
	for _, member := range crew {
		t := technician(member)
		own := slices.DeleteFunc(slices.Clone(absences), func(a firm.Absence) bool { return a.Technician != member.ID })
		for day := g.problem.FirstDay; day <= g.lastDay(); day++ {
			if shift, ok := g.shiftOn(member, day, own, holidays); ok {
				t.Shifts = append(t.Shifts, shift)
			}
		}
		g.problem.Technicians = append(g.problem.Technicians, t)
	}
	left, err := g.tx.LeftCrew(g.problem.Now.Add(-scheduler.MaxShift))
	if err != nil {
		return err
	}
	for _, member := range left {
		t := technician(member)
		t.Licences, t.Keys = nil, nil
		g.problem.Technicians = append(g.problem.Technicians, t)
	}
	g.crew = slices.Concat(crew, left)
	return nil
}

// technician is a crew member without shifts.
func technician(m firm.CrewMember) scheduler.Technician {
	return scheduler.Technician{
		ID: m.ID, Name: m.Name, Base: baseOf(m.ID), Licences: m.Licences, Skills: m.Skills, Keys: m.Keys,
		Vessels: m.Vessels, Measures: m.Measures, Scales: m.Scales, SpeedPercent: m.SpeedPercent,
		PaidPerMinute: quantity.Money(m.PaidPerMinute),
	}
}

// shiftOn is the shift of a crew member that begins on a day: what the own calendar says, less the absences. Of what an absence
// in its middle leaves it is the longest stretch, since a day has one day route. On a holiday only a shift of that very date
// stands. ok is false where nobody works.
func (g *gathering) shiftOn(m firm.CrewMember, day civil.Date, absences []firm.Absence, holidays []firm.Holiday) (shift scheduler.Shift, ok bool) {
	dated := slices.ContainsFunc(m.Shifts.Exceptions, func(e civil.Exception) bool { return e.On == day })
	shut := slices.ContainsFunc(holidays, func(h firm.Holiday) bool { return h.From <= day && day <= h.To })
	absent := slices.ContainsFunc(absences, func(a firm.Absence) bool { return a.Window == nil && a.From <= day && day <= a.To })
	if absent || shut && !dated {
		return scheduler.Shift{}, false
	}
	var longest civil.Interval
	for _, window := range m.Shifts.WindowsOn(day) {
		runs := g.business.Zone.Runs(day, window)
		if len(runs) == 0 {
			continue
		}
		whole := civil.Interval{From: runs[0].From, To: runs[len(runs)-1].To}
		for _, during := range civil.Subtract([]civil.Interval{whole}, g.partlyAbsent(day, absences)) {
			// One that begins after midnight would belong to another day.
			if during.Length() > longest.Length() && g.business.Zone.DateOf(during.From) == day {
				longest = during
			}
		}
	}
	if longest.Empty() {
		return scheduler.Shift{}, false
	}
	return g.shift(m, day, longest), true
}

// partlyAbsent are the parts of days that are taken out of the shifts of a day: its own, and those of the days beside it
// that a shift or a window past midnight reaches.
func (g *gathering) partlyAbsent(day civil.Date, absences []firm.Absence) []civil.Interval {
	var taken []civil.Interval
	for _, a := range absences {
		if a.Window == nil {
			continue
		}
		for on := max(a.From, day.AddDays(-1)); on <= min(a.To, day.AddDays(1)); on++ {
			taken = append(taken, g.business.Zone.Runs(on, *a.Window)...)
		}
	}
	return civil.Merge(taken)
}

// shift is one unbroken stretch of work. Where an absence has taken the time of the break, the break may lie anywhere in it:
// whether one is due depends on the hours of work alone.
func (g *gathering) shift(m firm.CrewMember, day civil.Date, during civil.Interval) scheduler.Shift {
	shift := scheduler.Shift{Day: day, During: during}
	if m.BreakTakes == 0 || during.Length() < m.BreakTakes {
		return shift
	}
	shift.BreakTakes, shift.BreakWindow = m.BreakTakes, during
	usual := civil.Interval{From: max(g.business.Zone.At(day, m.BreakFrom), during.From), To: min(g.business.Zone.At(day, m.BreakTo), during.To)}
	if usual.Length() >= m.BreakTakes {
		shift.BreakWindow = usual
	}
	return shift
}
