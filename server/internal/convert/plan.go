package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

var planStates = tableOf(map[vernationv1.PlanState]firm.PlanState{
	vernationv1.PlanState_PLAN_STATE_DRAFT:      firm.PlanDraft,
	vernationv1.PlanState_PLAN_STATE_PUBLISHED:  firm.PlanPublished,
	vernationv1.PlanState_PLAN_STATE_SUPERSEDED: firm.PlanSuperseded,
})

// PlanList declares by what plans may be filtered and put in order.
var PlanList = listing.Declare(named(listing.NameField), listing.Field{Name: "first_on", Kind: listing.Day}, listing.Field{Name: "days", Kind: listing.Number},
	listing.Field{Name: "create_time", Kind: listing.Instant}, listing.Field{Name: "publish_time", Kind: listing.Instant, Unordered: true})

// PlanHeading writes a plan as lists show it: without routes, keep-outs and what it leaves out.
func PlanHeading(names Names, p firm.ShownPlan) *vernationv1.Plan {
	plan := p.Kept.Plan
	return &vernationv1.Plan{
		Name:        names.Plan(p.Kept.ID),
		State:       planStates.enum(p.State),
		FirstOn:     p.Kept.FirstDay.String(),
		Days:        int32(p.Kept.Days),
		TimeZone:    p.Zone.Name(),
		Currency:    p.Currency,
		Cost:        Cost(plan.Cost),
		BoundMinor:  int64(plan.Bound),
		GapMinor:    int64(plan.Gap),
		Iterations:  int32(plan.Iterations),
		Elapsed:     Duration(plan.Elapsed),
		Seed:        plan.Seed,
		PlanRun:     names.PlanRun(p.Kept.Run),
		CreateTime:  Timestamp(p.Kept.MadeAt),
		PublishTime: Timestamp(p.Kept.PublishedAt),
		Etag:        Etag(p.Head),
		Cautions:    p.Cautions,

		TravelSource: travelSource(p.Kept.Travel),
	}
}

// travelSource writes where travel times come from; nil where nobody wrote it down.
func travelSource(s firm.TravelSource) *vernationv1.TravelSource {
	if s == (firm.TravelSource{}) {
		return nil
	}
	return &vernationv1.TravelSource{
		Provider: s.Provider, Attribution: s.Attribution, AskTime: Timestamp(s.AskedAt), Failure: s.Failure,
		WayCount: int32(s.Ways), EstimatedWayCount: int32(s.Estimated), NoRoadWayCount: int32(s.NoRoad),
	}
}

// Plan writes a whole plan. Its day routes and visits bear names while it is the published one.
func Plan(names Names, p firm.ShownPlan) *vernationv1.Plan {
	written := PlanHeading(names, p)
	written.Routes = each(p.Kept.Plan.Routes, func(r scheduler.DayRoute) *vernationv1.DayRoute {
		route := dayRoute(names, r)
		if p.State == firm.PlanPublished {
			route.Name = names.DayRoute(r.Technician, r.Day)
			return route
		}
		for _, visit := range route.Visits {
			visit.Name = ""
		}
		return route
	})
	written.KeepOuts = KeepOuts(names, p.KeepOuts)
	written.Unplanned = each(p.Kept.Plan.Unplanned, func(u scheduler.Unplanned) *vernationv1.Unplanned {
		return &vernationv1.Unplanned{
			Item:      string(u.Item),
			Status:    unplannedStatuses.enum(u.Status),
			Reasons:   Reasons(u.Reasons),
			CostMinor: int64(u.Cost),
			Site:      names.Site(p.SiteOf[u.Item]),
		}
	})
	return written
}

// noHead is a version that the plan head never has.
const noHead = -1

// HeadFrom reads the version of the plan head that an etag of a plan names; a text that no plan gave as its etag names
// one that never is.
func HeadFrom(etag string) int64 {
	if version, ok := EtagFrom(etag); ok {
		return version
	}
	return noHead
}

// Comparison writes what differs between two plans.
func Comparison(names Names, c firm.Comparison) *vernationv1.ComparePlansResponse {
	written := &vernationv1.ComparePlansResponse{
		SameCount: int32(c.Same),
		Technicians: each(c.Technicians, func(a firm.Affected) *vernationv1.Affected {
			return affected(names.Technician(scheduler.TechnicianID(a.ID)), a)
		}),
		Sites: each(c.Sites, func(a firm.Affected) *vernationv1.Affected { return affected(names.Site(site.ID(a.ID)), a) }),
	}
	if c.Before != "" {
		written.CostDifference = Cost(c.Cost)
	}
	for _, d := range c.Differences {
		change := &vernationv1.PlanChange{Item: string(d.Item), Before: placement(names, d.Before), After: placement(names, d.After)}
		switch {
		case d.Before == nil:
			written.Added = append(written.Added, change)
		case d.After == nil:
			written.Removed = append(written.Removed, change)
		default:
			written.Moved = append(written.Moved, change)
		}
	}
	return written
}

func affected(name string, a firm.Affected) *vernationv1.Affected {
	return &vernationv1.Affected{Name: name, AddedCount: int32(a.Added), RemovedCount: int32(a.Removed), MovedCount: int32(a.Moved)}
}

func placement(names Names, p *firm.Placement) *vernationv1.Placement {
	if p == nil {
		return nil
	}
	return &vernationv1.Placement{
		Technician: names.Technician(p.Technician), Site: names.Site(p.Site), Begins: Timestamp(p.Begins), WayId: string(p.Way),
	}
}

// BookingFrom reads the wish to hold a follow-up; visit is the id of the visit that it makes.
//
// Fails with Invalid for a rate that cannot be read.
func BookingFrom(visit scheduler.VisitID, request *vernationv1.BookFollowUpRequest) (firm.Booking, error) {
	r := &reading{}
	booking := firm.Booking{
		Visit:      visit,
		Item:       scheduler.ItemID(request.GetItem()),
		Technician: ID[scheduler.TechnicianID](request.GetTechnician()),
		Begins:     InstantFrom(request.GetBegins()),
		Way:        wayKinds.word(request.GetWayKind()),
		Rate:       r.rate("rate", request.GetRate()),
	}
	return booking, fault.InvalidFields(r.wrong)
}
