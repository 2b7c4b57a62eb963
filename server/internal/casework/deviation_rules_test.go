package casework_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// broke says whether some deviation is of a rule and says a word.
func broke(told firm.Told, rule scheduler.Rule, word string) bool {
	return slices.ContainsFunc(told.Deviations, func(d firm.Deviation) bool { return d.Rule == rule && strings.Contains(d.Text, word) })
}

// of lists what a report is said to have broken.
func of(told firm.Told, rule scheduler.Rule) (texts []string) {
	for _, d := range told.Deviations {
		if d.Rule == rule {
			texts = append(texts, d.Text)
		}
	}
	return texts
}

func celsius(degrees float64) *float64 { return &degrees }

// with reports the soap as another product, undiluted.
func with(r firm.Report, id catalogue.ProductID) firm.Report {
	r.Items[0].Application.Product = id
	r.Items[0].Application.Concentrate, r.Items[0].Application.Volume = quantity.Volume{}, quantity.Volume{}
	return r
}

// Each change makes the spray of Tuesday evening, else in order, break one rule; without it the rule is not named.
func TestAppendReport_JudgesAnApplicationByTheRulesOfAPlan(t *testing.T) {
	t.Parallel()
	type change = func(t *testing.T, w *firmtest.Works, r *firm.Report)
	label := func(do func(*catalogue.Label)) change {
		return func(t *testing.T, w *firmtest.Works, _ *firm.Report) { soapLabel(t, w, do) }
	}
	agreement := func(do func(*site.Agreement)) change {
		return func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			offices(t, w, func(s *site.Site) { do(&s.Agreement) })
		}
	}
	for _, c := range []struct {
		name   string
		change change
		rule   scheduler.Rule
		word   string
	}{
		{"approval withdrawn", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			withdrawn := course.Approval{Product: "soap", Ways: []course.WayKind{course.InPlace}, Withdrawn: true}
			decide(t, w, "2026-03-03 12:00", "no", withdrawn)
		}, scheduler.RuleLicence, "after its approval for this case was withdrawn"},
		{"approved afterwards only", func(t *testing.T, w *firmtest.Works, r *firm.Report) {
			w.MoveClock(t, "2026-03-03 12:00")
			w.Find(t, "figs", "citrus-mealybug", "fig-window")
			r.Items[0].Item, r.Items[0].Case, r.Items[0].Plants = "", "figs", []site.PlantID{"fig-window"}
			w.MoveClock(t, "2026-03-04 12:00")
			w.Approve(t, "figs")
		}, scheduler.RuleLicence, "without an approval"},
		{"stronger than approved", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			weak := course.Approval{Product: "soap", Ways: []course.WayKind{course.InPlace}, MaxRate: rate(t, "1 US fl oz", "1 US gal")}
			decide(t, w, "2026-03-03 12:00", "weak", weak)
		}, scheduler.RuleLicence, "approved for this case up to"},
		{"a household remedy", func(_ *testing.T, _ *firmtest.Works, r *firm.Report) { *r = with(*r, "alcohol") }, scheduler.RuleLabel, "household remedy"},
		{"not registered there", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			product(t, w, "soap", func(p *catalogue.Product) { p.Jurisdictions = []catalogue.JurisdictionCode{"GB"} })
		}, scheduler.RuleLabel, "not registered in US-PA"},
		{"without a registration number", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			product(t, w, "soap", func(p *catalogue.Product) { p.Registration = "" })
		}, scheduler.RuleLabel, "no registration number"},
		{"a pest that is not listed", label(func(l *catalogue.Label) { l.Pests = []catalogue.PestID{"fungus-gnat"} }), scheduler.RuleLabel, "does not list citrus mealybug"},
		{"an interval that nobody knows", label(func(l *catalogue.Label) { l.Entry = catalogue.Entry{Kind: catalogue.EntryUnknown} }), scheduler.RuleLabel, "interval before entry"},
		{"open flowers", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			plant(t, w, "pothos-stairs", func(p *site.Plant) { p.InFlower = true })
		}, scheduler.RuleLabel, "Pothos at the stairs in flower"},
		{"edible plants", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			plant(t, w, "pothos-printer", func(p *site.Plant) { p.Edible = true })
		}, scheduler.RuleLabel, "Pothos by the printers, which is edible"},
		{"a plant that must not get it", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			stands(t, w, "pothos-stairs", catalogue.MustNot)
		},
			scheduler.RuleLabel, "Pothos at the stairs, which must not get it"},
		{"no patch test", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			stands(t, w, "pothos-stairs", catalogue.PatchTest)
		},
			scheduler.RuleLabel, "Pothos at the stairs without a patch test"},
		{"too warm", label(func(l *catalogue.Label) { l.MaxCelsius = celsius(15) }), scheduler.RuleLabel, "allows 15 °C at most"},
		{"too cold", label(func(l *catalogue.Label) { l.MinCelsius = celsius(30) }), scheduler.RuleLabel, "asks for 30 °C at least"},
		{"an hour of the day", label(func(l *catalogue.Label) {
			l.Hours = []civil.Window{{Opens: civil.NewClock(6, 0), Closes: civil.NewClock(20, 15)}} // made from 20:00 to 20:30
		}), scheduler.RuleLabel, "its label allows 06:00 to 20:15"},
		{"near what the label keeps away from", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			soapLabel(t, w, func(l *catalogue.Label) { l.KeepAway = []catalogue.KeepAway{{Thing: catalogue.OdourWish}} })
			everywhere(t, w, catalogue.OdourWish)
		}, scheduler.RuleLabel, "keeps away from odour wish"},
		{"a material that the client refuses", agreement(func(a *site.Agreement) { a.RefusedMaterials = []catalogue.MaterialID{"insecticidal-soap"} }),
			scheduler.RuleAccess, "the client refuses"},
		{"a method that the client refuses", agreement(func(a *site.Agreement) { a.RefusedMethods = []catalogue.Method{catalogue.WholePlantSpray} }),
			scheduler.RuleAccess, "refuses the method whole plant spray"},
		{"without consent", agreement(func(a *site.Agreement) { a.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray} }),
			scheduler.RuleAccess, "without the client's consent"},
		{"barred by an incident", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			spill(t, w, "2026-03-03 12:00")
		}, scheduler.RuleLabel, "while it was barred from"},
		{"barred, and released afterwards", func(t *testing.T, w *firmtest.Works, _ *firm.Report) {
			spill(t, w, "2026-03-03 12:00")
			release(t, w, "2026-03-04 12:00")
		}, scheduler.RuleLabel, "since incident spill"},
		{"a dry plant", func(t *testing.T, w *firmtest.Works, r *firm.Report) { // watered 2 March, dry after 9 days, on the 11th
			later := w.Spray(t, "r", 1, "2026-03-11 20:00")
			later.Items[0].Plants = r.Items[0].Plants
			*r = later
		}, scheduler.RuleLabel, "dry on"},
		{"weaker than the label's least rate", func(t *testing.T, w *firmtest.Works, r *firm.Report) {
			soapLabel(t, w, func(l *catalogue.Label) { l.MinRate = rate(t, "2 US fl oz", "1 US gal") })
			r.Items[0].Application.Concentrate = firmtest.Volume(t, "1/4 US fl oz") // in 32: half of 2 in 128
		}, scheduler.RuleMix, "weaker than its label's least rate"},
		{"a mix past its life", label(func(l *catalogue.Label) { l.MixLife = 20 * time.Minute }), scheduler.RuleMix, "allows a mix for 20m0s"}, // in use for 30
		{"more than the vessel holds", func(t *testing.T, _ *firmtest.Works, r *firm.Report) {
			r.Items[0].Application.Concentrate, r.Items[0].Application.Volume = firmtest.Volume(t, "2.5 US fl oz"), firmtest.Volume(t, "129 US fl oz")
		}, scheduler.RuleMix, "holds 128"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			w := firmtest.Open(t)
			r := w.Spray(t, "r", 1, "2026-03-03 20:00")
			r.Items[0].Plants = []site.PlantID{"pothos-stairs", "pothos-printer"} // whatever the course has since made of them
			c.change(t, w, &r)
			w.MoveClock(t, "2026-03-12 09:00")
			told := w.Report(t, r)
			if !broke(told, c.rule, c.word) || len(told.Records) != 1 {
				t.Fatalf("deviations %+v, %d records: want one of %s with %q, and the record", told.Deviations, len(told.Records), c.rule, c.word)
			}
			if !slices.ContainsFunc(told.Records[0].Deviations, func(text string) bool { return strings.Contains(text, c.word) }) {
				t.Errorf("the record tells %q: want %q among them", told.Records[0].Deviations, c.word)
			}
		})
	}
}

// everywhere puts a sensitive thing into each room of the offices.
func everywhere(t *testing.T, w *firmtest.Works, thing catalogue.Sensitive) {
	t.Helper()
	var rooms []site.Area
	w.In(t, w.Office, func(tx *store.Tx) error {
		s, err := tx.Site("offices-alder-row")
		rooms = s.Areas
		return err
	})
	for _, room := range rooms {
		storetest.Change(t, w.Database, "area", string(room.ID), func(a *site.Area) { a.Sensitive = []catalogue.Sensitive{thing} })
	}
}

// The soap's label asks for a covered tank and a stopped pump: whoever ticks it has kept it.
func TestAppendReport_ALabelsConditionIsTickedOrBroken(t *testing.T) {
	t.Parallel()
	for ticked, flagged := range map[string]bool{"fish-tank: cover the tank and stop the pump": false, "fish-tank: cover the tank": true} {
		w := firmtest.Open(t)
		everywhere(t, w, catalogue.FishTank)
		w.MoveClock(t, "2026-03-07 09:00")
		r := w.Spray(t, "r", 1, "2026-03-03 20:00")
		r.Items[0].ConditionsMet = []string{ticked}
		if told := w.Report(t, r); broke(told, scheduler.RuleLabel, "nobody ticked") != flagged {
			t.Errorf("ticked %q: deviations %+v, want it flagged: %v", ticked, told.Deviations, flagged)
		}
	}
}

// decide tells a decision on the mealybugs' case at an instant.
func decide(t *testing.T, w *firmtest.Works, at, id string, approval course.Approval) {
	t.Helper()
	w.MoveClock(t, at)
	w.In(t, w.TechA, func(tx *store.Tx) error {
		_, _, err := casework.Approve(tx, casework.Decision{ID: id, Case: firmtest.Mealybugs, Approval: approval})
		return err
	})
}

// Every breach is told, not the first: rubbing alcohol has no label, no standing in law, no interval and no approval, and
// one of the plants is of no use to it.
func TestAppendReport_TellsEveryBreachOfOneApplication(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-07 09:00")
	told := w.Report(t, with(w.Spray(t, "r", 1, "2026-03-03 20:00"), "alcohol"))
	for _, word := range []string{"household remedy", "does not list office", "does not list citrus mealybug", "interval before entry", "without a patch test"} {
		if !broke(told, scheduler.RuleLabel, word) {
			t.Errorf("of the label are told %q: want %q among them", of(told, scheduler.RuleLabel), word)
		}
	}
	if !broke(told, scheduler.RuleLicence, "without an approval") {
		t.Errorf("of the licence is told %q: want that nobody approved it", of(told, scheduler.RuleLicence))
	}
}

// Applications to one plant count together over cases and whatever the order of the reports.
func TestAppendReport_JudgesApplicationsOverTime(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		label func(*catalogue.Label)
		word  string // "" is nothing of the label
	}{
		{"one in a row", func(l *catalogue.Label) { l.MostInRow = 1 }, "2 applications in a row"},
		{"two in a row", func(l *catalogue.Label) { l.MostInRow = 2 }, ""},
		{"one a year", func(l *catalogue.Label) { l.MostAYear = 1 }, "2 applications within 365 days"},
		{"two a year", func(l *catalogue.Label) { l.MostAYear = 2 }, ""},
		{"eight days apart", func(l *catalogue.Label) { l.LeastDays = 8 }, "its label asks for 8"},
	} {
		for _, late := range []bool{false, true} {
			t.Run(c.name, func(t *testing.T) {
				t.Parallel()
				w := firmtest.Open(t)
				soapLabel(t, w, c.label)
				w.MoveClock(t, "2026-03-12 09:00")
				first, second := w.Spray(t, "first", 1, "2026-03-03 20:00"), w.Spray(t, "second", 2, "2026-03-10 20:00")
				if late {
					first, second = second, first
				}
				if told := w.Report(t, first); len(of(told, scheduler.RuleLabel)) != 0 {
					t.Errorf("the first report breaks %q", of(told, scheduler.RuleLabel))
				}
				w.Report(t, second)
				// Of two that are too near the later one breaks the label, whichever was told first.
				told := firm.Told{Deviations: slices.Concat(deviationsOf(t, w, "first"), deviationsOf(t, w, "second"))}
				if c.word == "" && len(of(told, scheduler.RuleLabel)) != 0 || c.word != "" && !broke(told, scheduler.RuleLabel, c.word) {
					t.Errorf("the second report, late %v, breaks %q: want %q", late, of(told, scheduler.RuleLabel), c.word)
				}
			})
		}
	}
}

// A drench against gnats five days before belongs to another case; the plant is the same.
func TestAppendReport_IncompatibleMaterialsCountOverCases(t *testing.T) {
	t.Parallel()
	for days, flagged := range map[int]bool{5: false, 6: true} {
		w := firmtest.Open(t)
		w.Find(t, "gnats-too", "fungus-gnat", "pothos-stairs")
		soapLabel(t, w, func(l *catalogue.Label) {
			l.Incompatible = []catalogue.Incompatible{{Material: "bti-drench", Days: days}}
		})
		w.MoveClock(t, "2026-03-12 09:00")
		drench := w.Spray(t, "drench", 1, "2026-03-05 20:00")
		drench.Items[0].Item, drench.Items[0].Case, drench.Items[0].Plants = "", "gnats-too", []site.PlantID{"pothos-stairs"}
		drench.Items[0].Application.Product = "bti"
		w.Report(t, drench)
		told := w.Report(t, w.Spray(t, "spray", 1, "2026-03-10 20:00"))
		if got := broke(told, scheduler.RuleLabel, "are incompatible within 6 days; 5 lie between"); got != flagged {
			t.Errorf("label of %d days, 5 between: deviations %q, want it flagged: %v", days, of(told, scheduler.RuleLabel), flagged)
		}
	}
}

// A patch test two days before, which is policy's, is read before the treatment; one of the day before is not.
func TestAppendReport_APatchTestCountsWhenItWasRead(t *testing.T) {
	t.Parallel()
	for at, flagged := range map[string]bool{"2026-03-04 20:00": false, "2026-03-05 20:00": true} {
		w := firmtest.Open(t)
		stands(t, w, "pothos-stairs", catalogue.PatchTest)
		w.MoveClock(t, "2026-03-12 09:00")
		test := w.Spray(t, "test", 1, at)
		test.Items[0].Item, test.Items[0].Plants = course.NewItemID(firmtest.Mealybugs, course.KindPatchTest, 1, 1), []site.PlantID{"pothos-stairs"}
		test.Items[0].Application = nil
		w.Report(t, test)
		told := w.Report(t, w.Spray(t, "spray", 1, "2026-03-06 20:00"))
		if got := broke(told, scheduler.RuleLabel, "without a patch test"); got != flagged {
			t.Errorf("tested %s: deviations %q, want it flagged: %v", at, of(told, scheduler.RuleLabel), flagged)
		}
	}
}

// Two rounds from one filling: the second ends an hour and a half after the first began. Twice the filling is two mixes.
func TestAppendReport_OneMixIsJudgedFromItsFirstUse(t *testing.T) {
	t.Parallel()
	for applied, flagged := range map[string]bool{"16 US fl oz": true, "17 US fl oz": false} { // of 32 made
		w := firmtest.Open(t)
		soapLabel(t, w, func(l *catalogue.Label) { l.MixLife = time.Hour })
		w.MoveClock(t, "2026-03-07 09:00")
		r, second := w.Spray(t, "r", 1, "2026-03-03 20:00"), w.Spray(t, "r", 1, "2026-03-03 21:00")
		r.Items[0].Plants = []site.PlantID{"pothos-stairs"}
		second.Items[0].Item, second.Items[0].Case, second.Items[0].Plants = "", firmtest.Mealybugs, []site.PlantID{"pothos-printer"}
		r.Items, r.Left = append(r.Items, second.Items...), second.Left
		for _, item := range r.Items {
			item.Application.Applied = firmtest.Volume(t, applied)
		}
		if told := w.Report(t, r); broke(told, scheduler.RuleMix, "still at") != flagged {
			t.Errorf("%s of 32 twice: deviations %q, want it flagged: %v", applied, of(told, scheduler.RuleMix), flagged)
		}
	}
}

// The spray shuts the open floor from 20:00; a look there at 21:00 lies inside, whichever report comes first. On Tuesday
// before, and in another room, it does not.
func TestAppendReport_WorkInsideAKeepOutIsADeviation(t *testing.T) {
	t.Parallel()
	watering := func(r *firm.Report) {
		r.Items[0].Item, r.Items[0].Inspection = scheduler.OccurrenceID("water-offices-alder-row", 1), nil
	}
	look := func(t *testing.T, w *firmtest.Works, at string) firm.Report {
		r := w.Look(t, "look", 1, at)
		r.Technician = "tech-b"
		return r
	}
	for _, c := range []struct {
		name      string
		at        string
		lookFirst bool
		change    func(*firm.Report)
		flagged   bool
	}{
		{name: "inside", at: "2026-03-03 21:00", flagged: true},
		{name: "inside, told before the spray", at: "2026-03-03 21:00", lookFirst: true, flagged: true},
		{name: "before", at: "2026-03-03 19:30"},
		{name: "before, told before", at: "2026-03-03 19:30", lookFirst: true},
		{name: "in another room", at: "2026-03-03 21:00", change: func(r *firm.Report) { r.Items[0].Area = "offices-kitchenette" }},
		{name: "in another room, told before", at: "2026-03-03 21:00", lookFirst: true, change: func(r *firm.Report) { r.Items[0].Area = "offices-kitchenette" }},
		{name: "a watering", at: "2026-03-03 21:00", change: watering, flagged: true},
		{name: "a watering, told before", at: "2026-03-03 21:00", lookFirst: true, change: watering, flagged: true},
		{name: "at a time that is not told", at: "2026-03-03 20:30", change: func(r *firm.Report) { r.Items[0].Began, r.Items[0].Ended = 0, 0 }, flagged: true},
		{name: "at a time that is not told, of a stay that began before", at: "2026-03-03 20:00", change: func(r *firm.Report) { r.Items[0].Began, r.Items[0].Ended = 0, 0 }},
		{name: "not done", at: "2026-03-03 21:00", change: func(r *firm.Report) {
			r.Items[0].Outcome, r.Items[0].Inspection = course.AreaNotShut, nil
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			w := firmtest.Open(t)
			w.MoveClock(t, "2026-03-07 09:00")
			reports := []firm.Report{w.Spray(t, "spray", 1, "2026-03-03 20:00"), look(t, w, c.at)}
			if c.change != nil {
				c.change(&reports[1])
			}
			if c.lookFirst {
				slices.Reverse(reports)
			}
			if told := w.Report(t, reports[0]); len(told.Deviations) != 0 {
				t.Errorf("the first report breaks %+v", told.Deviations)
			}
			w.Report(t, reports[1])
			// It is a deviation of whoever was inside, and of nothing else.
			for report, want := range map[string]bool{"look": c.flagged, "spray": false} {
				kept := deviationsOf(t, w, report)
				if got := len(of(firm.Told{Deviations: kept}, scheduler.RuleReentry)) == 1; got != want {
					t.Errorf("deviations of %s %+v: want one of reentry: %v", report, kept, want)
				}
			}
		})
	}
}

// deviationsOf reads what is known now to have broken a rule in a report.
func deviationsOf(t *testing.T, w *firmtest.Works, report string) (kept []firm.Deviation) {
	t.Helper()
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		kept, err = tx.DeviationsOf(report)
		return err
	})
	return kept
}

// An inspection after the spray of the same visit lies inside what the spray shut.
func TestAppendReport_OtherWorkOfAVisitComesBeforeItsApplication(t *testing.T) {
	t.Parallel()
	for at, flagged := range map[string]bool{"2026-03-03 19:30": false, "2026-03-03 20:30": true} {
		w := firmtest.Open(t)
		w.MoveClock(t, "2026-03-07 09:00")
		r := w.Spray(t, "r", 1, "2026-03-03 20:00")
		r.Items = append(r.Items, w.Look(t, "look", 1, at).Items...)
		r.Arrived, r.Left = w.At(t, "2026-03-03 19:00"), w.At(t, "2026-03-03 21:15")
		if told := w.Report(t, r); (len(of(told, scheduler.RuleReentry)) == 1) != flagged {
			t.Errorf("a look at %s: deviations %+v, want one of reentry: %v", at, told.Deviations, flagged)
		}
	}
}

// Found out late, too: what counts is whether the owner's consent held on the day of the application.
func TestAppendReport_AForeignPlantIsTreatedByItsOwnersConsent(t *testing.T) {
	t.Parallel()
	day := func(d int) civil.Date { return civil.NewDate(2026, 3, d) }
	for name, c := range map[string]struct {
		consents []site.OwnerConsent
		flagged  bool
	}{
		"none":                  {nil, true},
		"given on that day":     {[]site.OwnerConsent{{By: "its owner", On: day(3)}}, false},
		"given afterwards":      {[]site.OwnerConsent{{By: "its owner", On: day(4)}}, true},
		"withdrawn before":      {[]site.OwnerConsent{{By: "its owner", On: day(1), WithdrawnOn: day(3)}}, true},
		"withdrawn afterwards":  {[]site.OwnerConsent{{By: "its owner", On: day(1), WithdrawnOn: day(4)}}, false},
		"withdrawn, then again": {[]site.OwnerConsent{{By: "its owner", On: day(1), WithdrawnOn: day(2)}, {By: "its owner", On: day(3)}}, false},
	} {
		w := firmtest.Open(t)
		r := w.Spray(t, "r", 1, "2026-03-03 20:00")
		r.Items[0].Plants = []site.PlantID{"pothos-stairs", "pothos-printer"}
		plant(t, w, "pothos-stairs", func(p *site.Plant) { p.NotInCare, p.OwnerConsents = true, c.consents })
		w.MoveClock(t, "2026-03-07 09:00")
		if told := w.Report(t, r); broke(told, scheduler.RuleLabel, "Pothos at the stairs, which is not in the business's care") != c.flagged {
			t.Errorf("%s: deviations %+v, want it flagged: %v", name, told.Deviations, c.flagged)
		}
	}
}

// spill tells of an incident with the soap at the offices.
func spill(t *testing.T, w *firmtest.Works, at string) {
	t.Helper()
	w.MoveClock(t, at)
	w.In(t, w.TechA, func(tx *store.Tx) error {
		_, err := casework.TellIncident(tx, firm.Incident{ID: "spill", Kind: firm.Spill, Site: "offices-alder-row", Product: "soap", Text: "on the carpet"})
		return err
	})
}

func release(t *testing.T, w *firmtest.Works, at string) {
	t.Helper()
	w.MoveClock(t, at)
	w.In(t, w.TechA, func(tx *store.Tx) error {
		_, err := casework.ReleaseIncident(tx, "spill", "dried and cleaned")
		return err
	})
}

// An incident bars from when it happened until it is released: what was applied before or after is no breach.
func TestAppendReport_WhatWasAppliedBesideAnIncidentsTimeIsNoBreach(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, spilt, released string }{
		{"spilt afterwards", "2026-03-03 22:00", ""},
		{"released before", "2026-03-02 12:00", "2026-03-03 12:00"},
	} {
		w := firmtest.Open(t)
		r := w.Spray(t, "r", 1, "2026-03-03 20:00")
		r.Items[0].Plants = []site.PlantID{"pothos-stairs", "pothos-printer"}
		spill(t, w, c.spilt)
		if c.released != "" {
			release(t, w, c.released)
		}
		w.MoveClock(t, "2026-03-07 09:00")
		if told := w.Report(t, r); broke(told, scheduler.RuleLabel, "barred") {
			t.Errorf("%s: deviations %+v", c.name, told.Deviations)
		}
	}
}

// A client's consent is judged as it stood when the application was begun, also where it was withdrawn later that day.
func TestAppendReport_AConsentCountsAsItStoodThen(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		given, withdrawn string
		flagged          bool
	}{
		"given before":               {"2026-03-03 12:00", "", false},
		"given an hour later":        {"2026-03-03 21:00", "", true},
		"given the day after":        {"2026-03-04 09:00", "", true},
		"withdrawn before":           {"2026-03-02 12:00", "2026-03-03 19:00", true},
		"withdrawn later that night": {"2026-03-02 12:00", "2026-03-03 22:00", false},
	} {
		w := firmtest.Open(t)
		r := w.Spray(t, "r", 1, "2026-03-03 20:00")
		r.Items[0].Plants = []site.PlantID{"pothos-stairs", "pothos-printer"}
		offices(t, w, func(s *site.Site) { s.Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray} })
		w.In(t, w.Office, func(tx *store.Tx) error {
			_, err := casework.AskClient(tx, firm.ClientConsent{ID: "spray", Site: "offices-alder-row", Method: catalogue.WholePlantSpray, AskedOf: "the desk"})
			return err
		})
		for _, a := range []struct {
			kind firm.ConsentAnswerKind
			at   string
		}{{firm.ConsentGiven, c.given}, {firm.ConsentWithdrawn, c.withdrawn}} {
			if a.at == "" {
				continue
			}
			w.MoveClock(t, a.at)
			w.In(t, w.Office, func(tx *store.Tx) error {
				_, err := casework.AnswerConsent(tx, "spray", firm.ConsentAnswer{Kind: a.kind, By: "the desk"})
				return err
			})
		}
		w.MoveClock(t, "2026-03-07 09:00")
		if told := w.Report(t, r); broke(told, scheduler.RuleAccess, "without the client's consent") != c.flagged {
			t.Errorf("%s: deviations %+v, want it flagged: %v", name, told.Deviations, c.flagged)
		}
	}
}
