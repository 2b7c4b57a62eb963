package rpc_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"

	vernationv1 "vernation/proto/vernation/v1"
)

func TestGetDayRoute_HoldsAllThatTheWorkNeedsAndOnlyForItsTechnician(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	name := w.name("technicians/tech-a/dayRoutes/2026-03-02")
	_, err := w.dayRoutes().GetDayRoute(w.techA, &vernationv1.GetDayRouteRequest{Name: name})
	expect(t, err, codes.NotFound, "NO_DAY_ROUTE") // nothing is published
	w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	route, err := w.dayRoutes().GetDayRoute(w.techA, &vernationv1.GetDayRouteRequest{Name: name})
	if err != nil {
		t.Fatal(err)
	}
	if route.GetName() != name || len(route.GetCautions()) == 0 || len(route.GetMixes()) == 0 {
		t.Fatalf("day route %v: want its name, cautions and a mix", route)
	}
	for _, mix := range route.GetMixes() {
		sheet := mix.GetSheet()
		if sheet.GetConcentrate() == "" || sheet.GetWater() == "" || len(sheet.GetSteps()) == 0 || len(sheet.GetEquipment()) == 0 ||
			len(sheet.GetCautions()) == 0 || !strings.Contains(sheet.GetWhere(), "Never in a kitchen") || !strings.Contains(sheet.GetLeftoverText(), "drain") {
			t.Errorf("sheet %v: want amounts, steps, equipment, cautions, where to mix and where the rest goes", sheet)
		}
	}
	for _, visit := range route.GetVisits() {
		if visit.GetBrief().GetDisplayName() == "" || visit.GetBrief().GetTimeZone() != "America/New_York" || visit.GetBrief().GetPosition() == nil {
			t.Errorf("brief %v: want the site's name, zone and position", visit.GetBrief())
		}
		for _, work := range visit.GetWorkItems() {
			if work.GetText() == "" {
				t.Errorf("%s says nothing", work.GetItem())
			}
			if work.GetUse() != nil && len(work.GetEquipment()) == 0 {
				t.Errorf("%s names no protective equipment", work.GetItem())
			}
		}
	}
	if len(route.GetKeepOuts()) == 0 || !strings.Contains(route.GetKeepOuts()[0].GetText(), "nobody in from") {
		t.Errorf("keep-outs %v: want those of its applications in words", route.GetKeepOuts())
	}
	_, err = w.dayRoutes().GetDayRoute(w.techB, &vernationv1.GetDayRouteRequest{Name: name})
	expect(t, err, codes.PermissionDenied, "NOT_YOUR_DAY_ROUTE")
	_, err = w.dayRoutes().GetDayRoute(w.office, &vernationv1.GetDayRouteRequest{Name: w.name("technicians/nobody/dayRoutes/2026-03-02")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.dayRoutes().GetDayRoute(w.office, &vernationv1.GetDayRouteRequest{Name: w.name("technicians/tech-a/dayRoutes/2026-02-30")})
	expectField(t, err, "name", "DATE_FORM")
}

func TestGetDayRoute_OnlyTheOfficeSeesWhatItCosts(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	published := w.publish(t, w.makePlan(t, 14))
	i := slices.IndexFunc(published.GetRoutes(), func(r *vernationv1.DayRoute) bool { return r.GetTechnician() == w.name("technicians/tech-a") })
	if i < 0 {
		t.Fatal("tech-a has no day in the plan")
	}
	day := published.GetRoutes()[i]
	for _, c := range []struct {
		name   string
		caller context.Context
		costs  bool
	}{{"office", w.office, true}, {"technician", w.techA, false}} {
		route, err := w.dayRoutes().GetDayRoute(c.caller, &vernationv1.GetDayRouteRequest{Name: day.GetName()})
		if err != nil {
			t.Fatal(err)
		}
		if got := route.GetCost() != nil; got != c.costs {
			t.Errorf("%s sees the cost of the day %v, want %v", c.name, got, c.costs)
		}
		if got := route.GetVisits()[0].GetCost() != nil; got != c.costs {
			t.Errorf("%s sees the cost of a visit %v, want %v", c.name, got, c.costs)
		}
	}
}
