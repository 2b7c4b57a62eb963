package records

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

func on(day int) civil.Date { return civil.NewDate(2026, time.March, day) }

// at is an instant of March 2026, UTC, which is the zone of this firm and of its sites.
func at(day, hour, minute int) civil.Instant {
	return civil.InstantOf(time.Date(2026, time.March, day, hour, minute, 0, 0, time.UTC))
}

func dates(id scheduler.ItemID, earliest, latest int) firm.FollowUpWindow {
	return firm.FollowUpWindow{ID: id, Site: "hall", Due: course.Due{EarliestOn: on(earliest), LatestOn: on(latest)}}
}

// A week worked by hand, Monday 2 to Sunday 8 March 2026, looked at on Tuesday the 10th:
//
//	plan of the 1st: a 2..3, b 3..4, c 3..5, d 4..6, g 5..7 (no longer asked for by the plan of the 4th), e 5 to 9 days after a
//	plan of the 4th: b 3..4, d 4..6, e
//	done: a on the 3rd (on time), b on the 5th (after the 4th: late), c on the 2nd (before the 3rd: early), x on the 6th, for
//	which no plan was made; d not, and the plan of the 4th asked for it; e's latest day is the 12th: not of this week
//
// The service #1 was done at a's visit, so that one of four follow-ups rode.
func byHand() *facts {
	visit := scheduler.Visit{ID: "v", Work: []scheduler.WorkItem{
		{Item: "case/application/1/1", Kind: course.KindApplication, Begins: at(3, 9, 0), Ends: at(3, 9, 20)},
		{Item: "water#1", Service: site.WateringService, Begins: at(3, 9, 20), Ends: at(3, 9, 50)},
	}}
	done := func(id scheduler.ItemID, day, hour, minutes int) firm.ReportItem {
		return firm.ReportItem{Item: id, Outcome: course.OutcomeDone, Began: at(day, hour, 0), Ended: at(day, hour, minutes)}
	}
	report := func(id string, day int, items ...firm.ReportItem) firm.Report {
		return firm.Report{ID: id, Technician: "ann", Site: "hall", Arrived: at(day, 8, 50), Left: at(day, 11, 0), Items: items}
	}
	first := report("r1", 3, done("case/application/1/1", 3, 9, 25), done("water#1", 3, 10, 24))
	var all []work
	all = append(all, workOf(report("r0", 2, done("case/inspect-infested/1/1", 2, 9, 10)), scheduler.Visit{}, civil.Zone{})...) // c
	all = append(all, workOf(first, visit, civil.Zone{})...)                                                                    // a
	all = append(all, workOf(report("r2", 5, done("case/application/2/1", 5, 9, 30)), scheduler.Visit{}, civil.Zone{})...)      // b
	all = append(all, workOf(report("r3", 6, done("case/leaf-washing/1/1", 6, 9, 15)), scheduler.Visit{}, civil.Zone{})...)     // x
	litre := quantity.NewVolume(1, 2, quantity.Litre)
	f := &facts{
		wish: firm.MeasureWish{First: on(2), Last: on(8)}, now: at(10, 12, 0), span: civil.Interval{From: at(2, 0, 0), To: at(9, 0, 0)},
		zones: map[site.ID]civil.Zone{"hall": {}}, ours: map[site.ID]bool{"hall": true}, pay: map[scheduler.TechnicianID]int64{"ann": 60},
		done: all, lives: all,
		planned: []firm.PlannedWindows{
			{MadeAt: at(1, 12, 0), Windows: []firm.FollowUpWindow{
				dates("case/application/1/1", 2, 3), dates("case/application/2/1", 3, 4), dates("case/inspect-infested/1/1", 3, 5), dates("case/isolation/1/1", 4, 6),
				dates("case/trap-change/1/1", 5, 7),
				{ID: "case/application/1/2", Site: "hall", Due: course.Due{After: "case/application/1/1", EarliestLag: 5, LatestLag: 9}},
			}},
			{MadeAt: at(4, 12, 0), Windows: []firm.FollowUpWindow{
				dates("case/application/2/1", 3, 4), dates("case/isolation/1/1", 4, 6),
				{ID: "case/application/1/2", Site: "hall", Due: course.Due{After: "case/application/1/1", EarliestLag: 5, LatestLag: 9}},
			}},
		},
		// 8:00 to 16:00 with a break of 30 minutes is 450 minutes of paid time; visits take 120 and 180, so that 150 are outside.
		routes: []firm.Route{{Technician: "ann", Day: on(3), Departs: at(3, 8, 0), Returns: at(3, 16, 0), Break: civil.Interval{From: at(3, 12, 0), To: at(3, 12, 30)}}},
		visits: []scheduler.Visit{
			{Technician: "ann", Arrives: at(3, 8, 50), Leaves: at(3, 10, 50)}, {Technician: "ann", Arrives: at(3, 13, 0), Leaves: at(3, 16, 0)},
			{Technician: "bob", Arrives: at(3, 9, 0), Leaves: at(3, 10, 0)}, // of another route
		},
		records: []firm.Record{
			{Site: "hall", Product: "soap", ProductName: "Soap", Concentrate: quantity.NewVolume(10, 1, quantity.Millilitre), Applied: litre, Technician: "ann"},
			{Site: "hall", Product: "soap", ProductName: "Soap", Concentrate: quantity.NewVolume(15, 1, quantity.Millilitre), Applied: litre, Technician: "ann"},
		},
		// Found on 1 February, clear on 6 March: 33 days. Another one ended because the plants are gone.
		ended: []firm.Case{
			{ID: "case", Site: "hall", OpenedAt: civil.InstantOf(time.Date(2026, 2, 1, 9, 0, 0, 0, time.UTC)), EndedAt: at(6, 12, 0), Ending: &course.Ending{Kind: course.Clear}},
			{ID: "gone", Site: "hall", OpenedAt: at(1, 9, 0), EndedAt: at(7, 12, 0), Ending: &course.Ending{Kind: course.PlantsGone}},
		},
		applied: []firm.Record{{Case: "case", Applied: litre}, {Case: "case", Applied: litre}, {Case: "case", Organisms: 1000}},
	}
	f.business.Policy.VisitCost, f.business.Policy.ShareOfVisitPercent, f.business.Policy.MaterialPerLitre = 3000, 50, 200
	return f
}

func TestMeasures_AreThoseOfAWeekWorkedByHand(t *testing.T) {
	t.Parallel()
	f := byHand()
	want := firm.Measures{
		Wish: f.wish, OnTime: 1, Early: 1, Late: 1, NotDone: 1, NoWindow: 1,
		DoneFollowUps: 4, RodeOnServices: 1,
		EndedCases: 2, ClearedCases: 1, DaysToClearance: 33, MostDaysToClearance: 33,
		Paid: 450 * time.Minute, OutsideVisits: 150 * time.Minute,
		Materials: []firm.MaterialUse{{Product: "soap", Name: "Soap", Applications: 2, Concentrate: quantity.NewVolume(25, 1, quantity.Millilitre), Applied: quantity.NewVolume(1, 1, quantity.Litre)}},
		// 10 + 25 + 30 + 15 = 80 minutes at 60; two halves of a litre at 200; half a visit of 3000 for each of three applications.
		CaseCost: firm.CaseCost{Cases: 2, Labour: 4800, Material: 200, Visits: 4500, NotByVolume: 1},
		Minutes: []firm.WorkMinutes{
			{Kind: "application", Items: 1, Taken: 25 * time.Minute, Planned: 20 * time.Minute, Shortest: 25 * time.Minute, Middle: 25 * time.Minute, Longest: 25 * time.Minute},
			{Kind: "watering", Items: 1, Taken: 24 * time.Minute, Planned: 30 * time.Minute, Shortest: 24 * time.Minute, Middle: 24 * time.Minute, Longest: 24 * time.Minute},
		},
	}
	if diff := cmp.Diff(want, f.measures()); diff != "" {
		t.Errorf("measures (-want +got):\n%s", diff)
	}
}

func TestMeasures_BySomebodyElseHoldNothing(t *testing.T) {
	t.Parallel()
	f := byHand()
	f.wish.Technician, f.routes, f.ended = "bob", nil, nil // as they are read for bob
	if diff := cmp.Diff(firm.Measures{Wish: f.wish}, f.measures()); diff != "" {
		t.Errorf("measures of bob (-want +got):\n%s", diff)
	}
	f = byHand()
	f.ours["hall"], f.routes, f.ended = false, nil, nil
	if diff := cmp.Diff(firm.Measures{Wish: f.wish}, f.measures()); diff != "" {
		t.Errorf("measures of another site (-want +got):\n%s", diff)
	}
}

// Spans that lie side by side add up: no follow-up is counted twice or falls between them.
func TestMeasures_OfSpansSideBySideAddUp(t *testing.T) {
	t.Parallel()
	whole := byHand().measures()
	for cut := 3; cut <= 8; cut++ {
		before, after := byHand(), byHand()
		before.wish.Last, before.span.To = on(cut-1), at(cut, 0, 0)
		after.wish.First, after.span.From = on(cut), at(cut, 0, 0)
		a, b := before.measures(), after.measures()
		sum := []int{a.OnTime + b.OnTime, a.Early + b.Early, a.Late + b.Late, a.NotDone + b.NotDone, a.NoWindow + b.NoWindow, a.DoneFollowUps + b.DoneFollowUps, a.RodeOnServices + b.RodeOnServices}
		if diff := cmp.Diff([]int{whole.OnTime, whole.Early, whole.Late, whole.NotDone, whole.NoWindow, whole.DoneFollowUps, whole.RodeOnServices}, sum); diff != "" {
			t.Errorf("cut on the %d (-want +got):\n%s", cut, diff)
		}
	}
}
