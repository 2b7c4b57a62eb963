package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// DayRoute writes a published day route with all that the work needs.
func DayRoute(names Names, d firm.DayRoute) *vernationv1.DayRoute {
	written := dayRoute(names, scheduler.DayRoute{
		Technician: d.Route.Technician, Day: d.Route.Day, Departs: d.Route.Departs, Returns: d.Route.Returns, Break: d.Route.Break,
		Cost: d.Cost,
	})
	written.Name = names.DayRoute(d.Route.Technician, d.Route.Day)
	written.Visits = each(d.Visits, func(v firm.DayVisit) *vernationv1.Visit { return dayVisit(names, v) })
	written.Mixes = each(d.Sheets, func(s firm.DaySheet) *vernationv1.Mix {
		mix := Mix(names, s.Mix)
		mix.Sheet = mixSheet(s.Sheet)
		return mix
	})
	written.KeepOuts = KeepOuts(names, d.KeepOuts)
	written.Load = loadList(names, d.Load)
	written.Cautions = d.Cautions
	return written
}

// dayRoute writes a day route of a plan.
func dayRoute(names Names, r scheduler.DayRoute) *vernationv1.DayRoute {
	return &vernationv1.DayRoute{
		Technician:  names.Technician(r.Technician),
		On:          r.Day.String(),
		Departs:     Timestamp(r.Departs),
		Returns:     Timestamp(r.Returns),
		BreakBegins: Timestamp(r.Break.From),
		BreakEnds:   Timestamp(r.Break.To),
		Visits:      each(r.Visits, func(v scheduler.Visit) *vernationv1.Visit { return Visit(names, v) }),
		Mixes:       each(r.Mixes, func(m scheduler.Mix) *vernationv1.Mix { return Mix(names, m) }),
		Cost:        costUnlessFree(r.Cost),
	}
}

// DayOf reads whose day route of which day is asked for.
//
// Fails with Invalid (DATE_FORM) for a day that no calendar has.
func DayOf(request *vernationv1.GetDayRouteRequest) (scheduler.TechnicianID, civil.Date, error) {
	r := &reading{}
	day := r.date("name", ID[string](request.GetName()))
	return TechnicianOfDayRoute(request.GetName()), day, fault.InvalidFields(r.wrong)
}
