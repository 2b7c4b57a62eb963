package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// usualIterations is what an unset bound of the search means where no time bounds it either, as the contract says.
const usualIterations = 2000

// PlanRunList declares by what runs may be filtered and put in order.
var PlanRunList = listing.Declare(named(listing.NameField), word("state", planRunStates), listing.Field{Name: "first_on", Kind: listing.Day},
	listing.Field{Name: "days", Kind: listing.Number}, listing.Field{Name: "create_time", Kind: listing.Instant})

// PlanRun writes the making of a plan.
func PlanRun(names Names, run firm.PlanRun) *vernationv1.PlanRun {
	return &vernationv1.PlanRun{
		Name:            names.PlanRun(run.ID),
		State:           planRunStates.enum(run.State),
		FirstOn:         run.FirstDay.String(),
		Days:            int32(run.Days),
		MaxIterations:   int32(run.Iterations),
		TimeLimit:       Duration(run.Limit),
		Seed:            run.Seed,
		Iteration:       int32(run.IterationsDone),
		Best:            costUnlessFree(run.Best),
		BoundMinor:      int64(run.Bound),
		Attempt:         int32(run.Attempt),
		CancelRequested: run.CancelAsked,
		Plan:            names.Plan(run.Plan),
		Failure:         run.Failure,
		CreateTime:      Timestamp(run.CreatedAt),
		AbsentTechnicians: each(run.Events.Absent, func(a firm.Absent) *vernationv1.AbsentTechnician {
			return &vernationv1.AbsentTechnician{Technician: names.Technician(a.Technician), From: Timestamp(a.During.From), Until: Timestamp(a.During.To)}
		}),
		ShutSites: each(run.Events.Shut, func(s firm.Shut) *vernationv1.ShutSite {
			return &vernationv1.ShutSite{Site: names.Site(s.Site), From: Timestamp(s.During.From), Until: Timestamp(s.During.To)}
		}),
		Overruns: each(run.Events.Overruns, func(o firm.Overrun) *vernationv1.Overrun {
			return &vernationv1.Overrun{Visit: names.Visit(o.Visit), Leaves: Timestamp(o.Leaves)}
		}),
	}
}

// PlanRunFrom reads what is asked of a new run; an unset first day stays unset.
//
// Fails with Invalid (DATE_FORM) for a day that no calendar has.
func PlanRunFrom(id string, request *vernationv1.CreatePlanRequest) (firm.PlanRun, error) {
	r := &reading{}
	run := firm.PlanRun{
		ID:         id,
		FirstDay:   r.date("first_on", request.GetFirstOn()),
		Days:       int(request.GetDays()),
		Iterations: int(request.GetMaxIterations()),
		Seed:       request.GetSeed(),
		Limit:      DurationFrom(request.GetTimeLimit()),
	}
	return searched(run), fault.InvalidFields(r.wrong)
}

// searched bounds the search of a run that nothing bounds, as the contract says.
func searched(run firm.PlanRun) firm.PlanRun {
	if run.Iterations == 0 && run.Limit == 0 {
		run.Iterations = usualIterations
	}
	return run
}

// ReplanFrom reads what is asked of a run that plans again around what has happened.
func ReplanFrom(id string, request *vernationv1.ReplanRequest) firm.PlanRun {
	return searched(firm.PlanRun{
		ID: id, Days: int(request.GetDays()), Iterations: int(request.GetMaxIterations()), Seed: request.GetSeed(), Limit: DurationFrom(request.GetTimeLimit()),
		Events: firm.Events{
			Absent: each(request.GetAbsentTechnicians(), func(a *vernationv1.AbsentTechnician) firm.Absent {
				return firm.Absent{Technician: ID[scheduler.TechnicianID](a.GetTechnician()), During: civil.Interval{From: InstantFrom(a.GetFrom()), To: InstantFrom(a.GetUntil())}}
			}),
			Shut: each(request.GetShutSites(), func(s *vernationv1.ShutSite) firm.Shut {
				return firm.Shut{Site: ID[site.ID](s.GetSite()), During: civil.Interval{From: InstantFrom(s.GetFrom()), To: InstantFrom(s.GetUntil())}}
			}),
			Overruns: each(request.GetOverruns(), func(o *vernationv1.Overrun) firm.Overrun {
				return firm.Overrun{Visit: ID[scheduler.VisitID](o.GetVisit()), Leaves: InstantFrom(o.GetLeaves())}
			}),
		},
	})
}
