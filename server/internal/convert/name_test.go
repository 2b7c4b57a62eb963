package convert_test

import (
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/convert"
)

func TestNames_AreReadAsTheyAreWritten(t *testing.T) {
	t.Parallel()
	day := civil.NewDate(2026, 3, 2)
	for _, c := range []struct{ name, got, want string }{
		{"business", names.Business(), "businesses/alpha"},
		{"site", names.Site("s"), "businesses/alpha/sites/s"},
		{"area", names.Area("s", "a"), "businesses/alpha/sites/s/areas/a"},
		{"course", names.Course("c"), "businesses/alpha/cases/c/course"},
		{"day route", names.DayRoute("t", day), "businesses/alpha/technicians/t/dayRoutes/2026-03-02"},
		{"record", names.Record("r"), "businesses/alpha/applicationRecords/r"},
		{"run", names.PlanRun("r"), "businesses/alpha/planRuns/r"},
		{"unset site", names.Site(""), ""},
		{"area without site", names.Area("", "a"), ""},
		{"site without area", names.Area("s", ""), ""},
		{"site read", string(convert.ID[site.ID](names.Site("s"))), "s"},
		{"plant read", string(convert.ID[site.PlantID](names.Plant("p"))), "p"},
		{"product read", string(convert.ID[catalogue.ProductID](names.Product("p"))), "p"},
		{"visit read", string(convert.ID[scheduler.VisitID](names.Visit("v"))), "v"},
		{"case read", string(convert.ID[course.CaseID](names.Case("c"))), "c"},
		{"case of course", string(convert.CaseOfCourse(names.Course("c"))), "c"},
		{"technician of day route", string(convert.TechnicianOfDayRoute(names.DayRoute("t", day))), "t"},
		{"day of day route", convert.ID[string](names.DayRoute("t", day)), "2026-03-02"},
		{"unset read", convert.ID[string](""), ""},
	} {
		if c.got != c.want {
			t.Errorf("%s = %q, want %q", c.name, c.got, c.want)
		}
	}
	if at, area := convert.AreaID(names.Area("s", "a")); at != "s" || area != "a" {
		t.Errorf("area read as %q of %q, want a of s", area, at)
	}
}

func TestEtag_ReadsWhatItWritesAndNothingElse(t *testing.T) {
	t.Parallel()
	if version, ok := convert.EtagFrom(convert.Etag(17)); version != 17 || !ok {
		t.Errorf("17 comes back as %d, %t", version, ok)
	}
	for _, strange := range []string{"", "17", `W/"17`, `W/"x"`, `W/"+17"`, `W/"017"`, `"17"`} {
		if _, ok := convert.EtagFrom(strange); ok {
			t.Errorf("%s is read as an etag of ours", strange)
		}
	}
}
