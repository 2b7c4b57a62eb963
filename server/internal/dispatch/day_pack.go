package dispatch

import (
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// DayPack gathers what a technician carries where there is no signal: the published day routes of today and of the next two
// working days, and for each of their sites what the answer depends on whether something may be applied there.
//
// Fails with NotFound for the technician and Forbidden (NOT_YOUR_DAY_ROUTE).
func DayPack(tx *store.Tx, technician scheduler.TechnicianID) (firm.DayPack, error) {
	d := explaining{tx: tx}
	if err := d.readCrew(technician); err != nil {
		return firm.DayPack{}, err
	}
	today := d.business.Zone.DateOf(tx.Now())
	days := append([]civil.Date{today}, workingDays(d.member, today, workingDaysAhead)...)
	last := days[len(days)-1]
	p, err := readPacking(tx, technician, civil.Interval{From: tx.Now(), To: d.business.Zone.At(last.AddDays(2), 0)}) // a shift may end after midnight
	if err != nil {
		return firm.DayPack{}, err
	}
	made := firm.DayPack{Technician: technician, MadeAt: tx.Now(), Shared: p.shared(), Outcomes: outcomesOfApplications(), Cautions: packCautions()}
	if made.Tolerances, err = tx.SpeciesTolerances(); err != nil {
		return firm.DayPack{}, err
	}
	var at []site.ID
	for _, day := range days {
		route, err := DayRoute(tx, technician, day)
		if fault.Is(err, fault.NotFound) {
			continue // nothing is published for that day
		}
		if err != nil {
			return firm.DayPack{}, err
		}
		made.Routes = append(made.Routes, route)
		for _, v := range route.Visits {
			if !slices.Contains(at, v.Visit.Site) {
				at = append(at, v.Visit.Site)
			}
		}
	}
	for _, id := range at {
		pack, err := p.pack(id)
		if err != nil {
			return firm.DayPack{}, err
		}
		made.Sites = append(made.Sites, pack)
	}
	return made, nil
}

// outcomesOfApplications is the table of what follows from each outcome, as it is for an application.
func outcomesOfApplications() []firm.Follows {
	var all []firm.Follows
	for _, outcome := range course.Outcomes() {
		follows, _ := course.Consequences(outcome, course.KindApplication)
		all = append(all, firm.Follows{Outcome: outcome, Consequence: follows})
	}
	return all
}

func packCautions() []string {
	return []string{
		"A day pack is what was known when it was made. What others did since is not in it: look, ask, and pull it again as soon as there is signal.",
		"The label in hand, local codes and the responsible applicator outrank every answer that is given from it.",
		"It may hold what opens sites: keep it on a device that locks, and delete it at the end of the day.",
	}
}
