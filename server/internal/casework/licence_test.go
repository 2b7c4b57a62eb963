package casework_test

import (
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firmtest"
)

// Pennsylvania knows registered technicians under a certified applicator (Penn State Extension, "Registered Pesticide
// Technician"); for Great Britain the catalogue knows of no such thing, and then nobody may. In Pennsylvania category 06
// (ornamental and shade trees) covers plants outdoors, which is the catalogue's assumption.
func TestAppendReport_ALicenceCountsWhereItCoversThePlace(t *testing.T) {
	t.Parallel()
	licence := func(in catalogue.JurisdictionCode, category string, under scheduler.TechnicianID) scheduler.Licence {
		return scheduler.Licence{Jurisdiction: in, Category: category, Number: "B2", From: civil.NewDate(2025, 1, 1), To: civil.NewDate(2027, 12, 31), Under: under}
	}
	own := licence("US-PA", "22", "")
	for _, c := range []struct {
		name       string
		held       scheduler.Licence
		categories []string // that the label asks for
		supervisor []scheduler.Licence
		word       string // "" is in order
		number     string
	}{
		{"their own", own, []string{"22"}, nil, "", "B2"},
		{"under somebody who holds it", licence("US-PA", "22", "tech-a"), []string{"22"}, []scheduler.Licence{own}, "", "B2"},
		{"under somebody who does not", licence("US-PA", "22", "tech-a"), []string{"22"}, nil, "under Technician A, who held no licence of category 22", "B2"},
		{"under somebody, where that is not known to be lawful", licence("GB", "specified-certificate", "tech-a"), []string{"specified-certificate"},
			[]scheduler.Licence{licence("GB", "specified-certificate", "")}, "under another's licence in GB is not known", "B2"},
		{"of a category for other places", licence("US-PA", "06", ""), []string{"06", "22"}, nil, "Technician B held a licence of category 06, which does not cover office in US-PA; want 22", "B2"},
		{"of a category that is for no such place", licence("US-PA", "06", ""), []string{"06"}, nil, "category 06; none of that is known to cover office", "B2"},
		{"of another category", licence("US-PA", "06", ""), []string{"22"}, nil, "asks for a licence of category 22 in US-PA; Technician B held none on that day", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			w := firmtest.Open(t)
			in := c.held.Jurisdiction
			product(t, w, "soap", func(p *catalogue.Product) {
				p.Label.Categories, p.Jurisdictions = c.categories, []catalogue.JurisdictionCode{in}
			})
			offices(t, w, func(s *site.Site) { s.Jurisdiction = in })
			licences(t, w, "tech-a", c.supervisor...)
			licences(t, w, "tech-b", c.held)
			w.MoveClock(t, "2026-03-07 09:00")
			r := w.Spray(t, "r", 1, "2026-03-03 20:00")
			r.Technician = "tech-b"
			told := w.Report(t, r)
			if texts := of(told, scheduler.RuleLicence); c.word == "" && len(texts) != 0 || c.word != "" && !broke(told, scheduler.RuleLicence, c.word) {
				t.Errorf("deviations of the licence %q: want %q", texts, c.word)
			}
			if told.Records[0].Licence != c.number || told.Records[0].Supervisor != c.held.Under {
				t.Errorf("the record names licence %q under %q: want %q under %q", told.Records[0].Licence, told.Records[0].Supervisor, c.number, c.held.Under)
			}
		})
	}
}

// A technician under supervision brings no licence into the firm: without the supervisor's own nobody may apply.
func TestCourse_ASupervisedTechnicianHoldsNoLicence(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	w.Find(t, firmtest.Mealybugs, "citrus-mealybug", "pothos-stairs")
	if chosen := w.Course(t, firmtest.Mealybugs).Chosen; chosen != "soap" {
		t.Fatalf("with the licence held the course chooses %q: want soap", chosen)
	}
	licences(t, w, "tech-a")
	licences(t, w, "tech-b", scheduler.Licence{Jurisdiction: "US-PA", Category: "22", Number: "B2", From: civil.NewDate(2025, 1, 1), To: civil.NewDate(2027, 12, 31), Under: "tech-a"})
	if chosen := w.Course(t, firmtest.Mealybugs).Chosen; chosen == "soap" {
		t.Error("under a supervisor without a licence the course still chooses soap")
	}
}
