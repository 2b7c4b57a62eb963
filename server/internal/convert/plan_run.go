package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// usualIterations is what an unset bound of the search means where no time bounds it either, as the contract says.
const usualIterations = 2000

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
	if run.Iterations == 0 && run.Limit == 0 {
		run.Iterations = usualIterations
	}
	return run, fault.InvalidFields(r.wrong)
}
