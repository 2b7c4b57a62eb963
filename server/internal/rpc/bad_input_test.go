package rpc_test

import (
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
)

func TestBadInput_IsRefusedWithPathAndReasonAndChangesNothing(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for _, c := range []struct {
		name, path, reason string
		call               func(*desk) error
	}{
		{"an unknown species", "plant.species", "UNKNOWN_SPECIES", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) { r.Plant.Species = "triffid" })},
		{"no plants", "plant.count", "INT32_GTE_LTE", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) { r.Plant.Count = 0 })},
		{"a million plants", "plant.count", "INT32_GTE_LTE", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) { r.Plant.Count = 1_000_000 })},
		{"a negative pot", "plant.pot_volume", "VOLUME_FORM", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) { r.Plant.PotVolume = "-4 L" })},
		{"a gallon that is nobody's", "plant.pot_volume", "VOLUME_FORM", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) { r.Plant.PotVolume = "1 gal" })},
		{"a zone that does not exist", "site.time_zone", "UNKNOWN_TIME_ZONE", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.TimeZone = "Europe/Atlantis" })},
		{"a window that ends as it begins", "site.access.weekly[0].window", "WINDOW_EMPTY", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) {
			r.Site.Access = &vernationv1.Calendar{Weekly: []*vernationv1.WeeklyWindow{{
				Days: []vernationv1.Weekday{vernationv1.Weekday_WEEKDAY_MON}, Window: &vernationv1.Window{Opens: "08:00", Closes: "08:00"},
			}}}
		})},
		{"30 February", "site.access.exceptions[0].on", "DATE_FORM", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) {
			r.Site.Access = &vernationv1.Calendar{Exceptions: []*vernationv1.DatedException{{On: "2026-02-30"}}}
		})},
		{"a finding 301 seconds ahead", "finding.seen_time", "IN_THE_FUTURE", newFinding("ahead", func(d *desk, f *vernationv1.Finding) {
			f.SeenTime = timestamppb.New(d.Clock.Now().Add(301 * time.Second).Time())
		})},
		{"a severity of 4", "finding.severity", "INT32_GTE_LTE", newFinding("worst", func(_ *desk, f *vernationv1.Finding) { f.Severity = 4 })},
	} {
		err := c.call(d)
		if status.Code(err) != codes.InvalidArgument {
			t.Errorf("%s: %v, want it invalid", c.name, err)
			continue
		}
		told := detail[*errdetails.BadRequest](t, err).GetFieldViolations()
		if len(told) != 1 || told[0].GetField() != c.path || told[0].GetReason() != c.reason || told[0].GetDescription() == "" {
			t.Errorf("%s: wrong fields %v, want %s %s", c.name, told, c.path, c.reason)
		}
	}
	sites, err := d.sites().ListSites(d.office, &vernationv1.ListSitesRequest{Parent: d.name("")})
	if err != nil || len(sites.GetSites()) != 3 {
		t.Errorf("after all that: %d sites, %v; want the 3 of before", len(sites.GetSites()), err)
	}
	plants, err := d.plants().ListPlants(d.office, &vernationv1.ListPlantsRequest{Parent: d.name("")})
	if err != nil || len(plants.GetPlants()) != 5 {
		t.Errorf("after all that: %d plants, %v; want the 5 of before", len(plants.GetPlants()), err)
	}
	cases, err := d.cases().ListCases(d.office, &vernationv1.ListCasesRequest{Parent: d.name("")})
	if err != nil || len(cases.GetCases()) != 0 {
		t.Errorf("after all that: %d cases, %v; want none", len(cases.GetCases()), err)
	}
}

func TestFindings_AClockFiveMinutesFastIsNoError(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	fast := timestamppb.New(d.Clock.Now().Add(5 * time.Minute).Time())
	told, err := d.findings().CreateFinding(d.techB, d.finding("", func(f *vernationv1.Finding) { f.SeenTime = fast }))
	if err != nil || told.GetSeenTime().GetSeconds() != fast.GetSeconds() || told.GetCreateTime().GetSeconds() != fast.GetSeconds()-300 {
		t.Errorf("seen %v, stored %v, %v: want both times kept", told.GetSeenTime(), told.GetCreateTime(), err)
	}
}
