package convert_test

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"
	"google.golang.org/protobuf/types/known/durationpb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

func TestReport_EveryFieldThatComesInComesBack(t *testing.T) {
	t.Parallel()
	filler := &filler{t: t}
	for range 17 { // so that each outcome stands in each field once
		told := &vernationv1.Report{}
		filler.fill(told.ProtoReflect())
		for _, finding := range told.Findings {
			finding.SeenTime = nil // the arrival counts
		}
		for _, item := range told.Items {
			item.Area = told.Site + "/areas/a"
		}
		for _, dry := range told.DryConfirmations {
			dry.Area = told.Site + "/areas/b"
		}
		report, err := convert.ReportFrom("r", told)
		if err != nil {
			t.Fatal(err)
		}
		again := convert.Report(names, firm.Told{Report: report})
		again.Name = "" // the server's
		if diff := cmp.Diff(told, again, protocmp.Transform()); diff != "" {
			t.Fatalf("what comes back differs (-told +again):\n%s", diff)
		}
	}
}

func TestReport_NoneLeftIsNotNotTold(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, left string }{{"none left", "0 mL"}, {"not told", ""}} {
		told := &vernationv1.Report{Items: []*vernationv1.ReportedItem{{Application: &vernationv1.ApplicationMade{Applied: "1 L", Left: c.left}}}}
		report, err := convert.ReportFrom("r", told)
		if err != nil {
			t.Fatal(err)
		}
		if again := convert.Report(names, firm.Told{Report: report}).GetItems()[0].GetApplication().GetLeft(); again != c.left {
			t.Errorf("%s: %q comes back as %q", c.name, c.left, again)
		}
	}
}

func TestReport_EverythingThatCannotBeReadIsToldAtOnce(t *testing.T) {
	t.Parallel()
	_, err := convert.ReportFrom("r", &vernationv1.Report{
		Site: "businesses/alpha/sites/s",
		Items: []*vernationv1.ReportedItem{{
			Area:        "businesses/alpha/sites/another/areas/a",
			Application: &vernationv1.ApplicationMade{Concentrate: "1 fl oz", Volume: "1 gal", Applied: "much", Left: "little"},
		}},
		DryConfirmations: []*vernationv1.DryConfirmation{{Area: "businesses/alpha/sites/another/areas/a"}},
	})
	var wrong *fault.Fault
	if !errors.As(err, &wrong) {
		t.Fatalf("ReportFrom = %v, want wrong fields", err)
	}
	want := []string{
		"report.items[0].area UNKNOWN_AREA", "report.items[0].application.concentrate VOLUME_FORM", "report.items[0].application.volume VOLUME_FORM",
		"report.items[0].application.applied VOLUME_FORM", "report.items[0].application.left VOLUME_FORM", "report.dry_confirmations[0].area UNKNOWN_AREA",
	}
	var got []string
	for _, field := range wrong.Fields {
		got = append(got, field.Path+" "+field.Reason)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("wrong fields (-want +got):\n%s", diff)
	}
}

func TestPlanRequest_EveryFieldIsRead(t *testing.T) {
	t.Parallel()
	filler := &filler{t: t}
	told := &vernationv1.CreatePlanRequest{FirstOn: "2026-03-02", Days: 14, MaxIterations: 30, Seed: 4, TimeLimit: convert.Duration(5_000_000_000)}
	run, err := convert.PlanRunFrom("id", told)
	if err != nil {
		t.Fatal(err)
	}
	written := convert.PlanRun(names, run)
	want := &vernationv1.PlanRun{
		Name: "businesses/alpha/planRuns/id", FirstOn: told.FirstOn, Days: told.Days, MaxIterations: told.MaxIterations, Seed: told.Seed, TimeLimit: told.TimeLimit,
	}
	if !proto.Equal(written, want) {
		t.Errorf("run %v, want %v", written, want)
	}
	booked := &vernationv1.BookFollowUpRequest{}
	booked.Rate = &vernationv1.Rate{}
	filler.fill(booked.Rate.ProtoReflect())
	booking, err := convert.BookingFrom("v", booked)
	if err != nil {
		t.Fatal(err)
	}
	if !proto.Equal(convert.Rate(booking.Rate), booked.Rate) {
		t.Errorf("rate %v, want %v", booking.Rate, booked.Rate)
	}
	if unset, err := convert.PlanRunFrom("id", &vernationv1.CreatePlanRequest{Days: 1}); err != nil || unset.Iterations != 2000 || !unset.FirstDay.IsZero() {
		t.Errorf("unset fields are %+v, %v: want 2000 iterations and no first day", unset, err)
	}
	timed := &vernationv1.CreatePlanRequest{Days: 1, TimeLimit: durationpb.New(time.Minute)}
	if unset, err := convert.PlanRunFrom("id", timed); err != nil || unset.Iterations != 0 {
		t.Errorf("with a time limit unset iterations are %d, %v: want 0, the time alone", unset.Iterations, err)
	}
}

func TestHead_AnEtagOfAnythingElseIsNoVersion(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]int64{`W/"7"`: 7, `W/"0"`: 0, `"7"`: -1, "7": -1, `W/"seven"`: -1, "": -1} {
		if got := convert.HeadFrom(text); got != want {
			t.Errorf("HeadFrom(%q) = %d, want %d", text, got, want)
		}
	}
}
