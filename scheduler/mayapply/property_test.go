package mayapply_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// TestMayApply_AgreesWithTheBeginnings: whatever the hour, people refuse exactly when no treatment may begin.
func TestMayApply_AgreesWithTheBeginnings(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		q := question()
		q.Begins = at(rapid.IntRange(2, 14).Draw(t, "day"), "00:00").Add(time.Duration(rapid.IntRange(0, 24*3600-1).Draw(t, "second")) * time.Second)
		q.Takes = time.Duration(rapid.IntRange(1, 3600).Draw(t, "takes")) * time.Second
		if rapid.Bool().Draw(t, "times of day") {
			q.Product.Label.Hours = []civil.Window{window("05:00", "09:00"), window("18:00", "23:30")}
		}
		if rapid.Bool().Draw(t, "shut") {
			from := q.Begins.Add(time.Duration(rapid.IntRange(-7200, 7200).Draw(t, "shut from")) * time.Second)
			q.Running = []mayapply.Running{{KeepOut: reentry.KeepOut{Area: "floor", During: civil.Interval{From: from, To: from.Add(90 * time.Minute)}}, UntilDry: rapid.Bool().Draw(t, "until dry"), Confirmed: rapid.Bool().Draw(t, "confirmed")}}
		}
		for i := range q.Site.Areas {
			if rapid.Bool().Draw(t, "people "+q.Site.Areas[i].Name) {
				q.Site.Areas[i].People = civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "07:30", "17:00")}}
			}
		}
		a, err := mayapply.MayApply(q)
		if err != nil {
			t.Fatal(err)
		}
		people := slices.ContainsFunc(a.Words, func(w mayapply.Word) bool { return w.Rule == mayapply.RulePeople })
		begins := reentry.Beginnings(q.Site, "floor", q.Takes, 3*time.Hour, 3*time.Hour*3/2, civil.Interval{From: q.Begins, To: q.Begins + 1})
		if people != (len(begins) == 0) {
			t.Fatalf("people refuse: %v; Beginnings %v", people, begins)
		}
		if !a.Next.IsZero() {
			later := q
			later.Begins = a.Next
			again, err := mayapply.MayApply(later)
			times := []mayapply.Rule{mayapply.RulePeople, mayapply.RuleShut, mayapply.RuleAccess, mayapply.RuleHours}
			if err != nil || slices.ContainsFunc(again.Words, func(w mayapply.Word) bool { return slices.Contains(times, w.Rule) }) {
				t.Fatalf("told to begin at %v: %v, %v", a.Next, again.Words, err)
			}
		}
	})
}

// drawQuestion varies what labels and plants say.
func drawQuestion(t *rapid.T) mayapply.Question {
	q := question()
	label := &q.Product.Label
	label.OpenFlowers, label.EdiblePlants, label.DryPlants = rapid.Bool().Draw(t, "flowers"), rapid.Bool().Draw(t, "edible"), rapid.Bool().Draw(t, "dry")
	label.MostInRow, label.MostAYear, label.LeastDays = rapid.IntRange(0, 3).Draw(t, "in row"), rapid.IntRange(0, 4).Draw(t, "a year"), rapid.IntRange(0, 10).Draw(t, "least")
	label.ModeOfAction = rapid.SampledFrom([]string{"", "G"}).Draw(t, "group")
	if rapid.IntRange(0, 3).Draw(t, "a limit") == 0 {
		label.MaxCelsius = ptr(rapid.Float64Range(20, 30).Draw(t, "warmest"))
	}
	if rapid.IntRange(0, 3).Draw(t, "a thing") == 0 {
		q.Site.Areas[rapid.IntRange(0, 3).Draw(t, "where")].Sensitive = []catalogue.Sensitive{catalogue.Pond}
		label.KeepAway = []catalogue.KeepAway{{Thing: catalogue.Pond}}
	}
	if rapid.IntRange(0, 3).Draw(t, "another") == 0 {
		label.Incompatible = []catalogue.Incompatible{{Material: "larvicide", Days: rapid.IntRange(1, 40).Draw(t, "apart")}}
	}
	q.Plants = nil
	for i := range rapid.IntRange(1, 3).Draw(t, "plants") {
		p := plant(site.PlantID(fmt.Sprint("plant-", i)), "floor")
		p.Species = rapid.SampledFrom([]catalogue.SpeciesID{"pothos", "pothos", "fern", "palm"}).Draw(t, "species")
		p.InFlower, p.Edible = rapid.Bool().Draw(t, "in flower"), rapid.Bool().Draw(t, "is edible")
		p.Watering.Last = march(3).AddDays(-rapid.IntRange(1, 12).Draw(t, "watered"))
		if rapid.Bool().Draw(t, "tested") {
			p.PatchTested = []catalogue.MaterialID{"soap"}
		}
		for range rapid.IntRange(0, 4).Draw(t, "applied") {
			past := mayapply.Applied{Product: "soap-a", Material: "soap", Group: label.ModeOfAction, Began: at(3-rapid.IntRange(1, 400).Draw(t, "days ago"), "12:00")}
			if rapid.IntRange(0, 2).Draw(t, "other material") == 0 {
				past.Product, past.Material, past.Group = "", "larvicide", rapid.SampledFrom([]string{"", "G"}).Draw(t, "other group")
			}
			p.Applied = append(p.Applied, past)
		}
		q.Plants = append(q.Plants, p)
	}
	return q
}

// TestMayApply_JudgesEachPlantAlone: what refuses one plant never refuses another.
func TestMayApply_JudgesEachPlantAlone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		q := drawQuestion(t)
		together, err := mayapply.MayApply(q)
		if err != nil {
			t.Fatal(err)
		}
		var alone []site.PlantID
		for _, p := range q.Plants {
			one := q
			one.Plants = []mayapply.Plant{p}
			a, err := mayapply.MayApply(one)
			if err != nil {
				t.Fatal(err)
			}
			alone = append(alone, a.On...)
		}
		if diff := cmp.Diff(alone, together.On); diff != "" {
			t.Fatal(diff)
		}
	})
}

// TestMayApply_AgreesWithTheChecker: the independent checker of plans, which shares no code with this package, finds a breach of the
// label rule for exactly the plants that are refused here.
func TestMayApply_AgreesWithTheChecker(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		q := drawQuestion(t)
		a, err := mayapply.MayApply(q)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range q.Plants {
			breaches := slices.DeleteFunc(scheduler.Check(planOf(q, p)), func(v scheduler.Violation) bool { return v.Rule != scheduler.RuleLabel })
			if slices.Contains(a.On, p.ID) != (len(breaches) == 0) {
				t.Fatalf("%s: allowed on %v by %v; the checker says %v", p.ID, a.On, a.Words, breaches)
			}
		}
	})
}

// planOf is a plan that makes the application on one plant and nothing else that the label rule reads.
func planOf(q mayapply.Question, p mayapply.Plant) (scheduler.Problem, scheduler.Plan) {
	const item = "case/application/1/1"
	ids := []site.PlantID{p.ID}
	use := &scheduler.Use{Product: q.Product.ID, Method: catalogue.WholePlantSpray, Entry: q.Product.Label.Entry.Kind, KeepOut: 3 * time.Hour, KeepOutUnventilated: 3 * time.Hour * 3 / 2}
	state := scheduler.PlantState{Plant: p.Plant, Health: scheduler.ConfirmedInfested, PatchTested: p.PatchTested, Tolerance: []catalogue.Tolerance{q.Catalogue.Tolerance(p.Species, "soap")}}
	past := slices.Clone(p.Applied)
	slices.SortStableFunc(past, func(x, y mayapply.Applied) int { return int(x.Began - y.Began) })
	for _, x := range past {
		state.Applied = append(state.Applied, scheduler.Applied{Product: x.Product, Material: x.Material, Group: x.Group, Began: x.Began, Ended: x.Began + 60})
	}
	problem := scheduler.Problem{
		Now: q.Begins - 1, Zone: q.Site.Zone, FirstDay: march(3), Days: 2, Sites: []site.Site{q.Site}, Plants: []scheduler.PlantState{state},
		Products: []catalogue.Product{q.Product}, Materials: []scheduler.MaterialFacts{{ID: "soap", Law: catalogue.RegisteredProduct, Name: "soap"}},
		FollowUps: []scheduler.FollowUp{{ID: item, Kind: scheduler.KindApplication, Pest: q.Pest, Site: q.Site.ID, Plants: ids, Ways: []scheduler.Way{{ID: "in-place", Kind: scheduler.InPlace, Parts: []scheduler.Part{
			{Kind: scheduler.ApplicationPart, Area: p.Area, Takes: q.Takes, Persons: 1, Use: use},
		}}}}},
	}
	ends := q.Begins.Add(q.Takes)
	plan := scheduler.Plan{Routes: []scheduler.DayRoute{{Technician: "T1", Day: march(3), Departs: q.Begins, Returns: ends, Visits: []scheduler.Visit{{
		State: scheduler.Planned, Technician: "T1", Site: q.Site.ID, Arrives: q.Begins, Leaves: ends,
		Work: []scheduler.WorkItem{{Item: item, Kind: scheduler.KindApplication, Way: "in-place", Area: p.Area, Plants: ids, Begins: q.Begins, Ends: ends, Use: use, MixIndex: -1}},
	}}}}}
	return problem, plan
}

// TestMayApply_Golden: what a technician reads.
func TestMayApply_Golden(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*mayapply.Question){
		"yes": func(*mayapply.Question) {},
		"not-on-all": func(q *mayapply.Question) {
			q.Plants = append(q.Plants, plant("fern-1", "floor"), plant("pothos-3", "plant-room"))
			q.Plants[1].InFlower, q.Plants[2].Species = true, "fern"
			q.Plants[3].Applied = []mayapply.Applied{{Product: "soap-a", Material: "soap", Began: at(1, "12:00")}}
			q.Site.Areas[0].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
			q.Product.Label.KeepAway = []catalogue.KeepAway{{Thing: catalogue.FishTank, Condition: "cover it and stop the pump"}}
			q.Product.Placeholders = []string{"label.entry"}
		},
		"no-among-people": func(q *mayapply.Question) { q.Begins, q.NoticeSent = at(3, "12:00"), nil },
		"no-household-remedy": func(q *mayapply.Question) {
			q.Product = catalogue.Product{ID: "alcohol-a", Name: "alcohol", Material: "alcohol", Form: catalogue.ReadyToUse}
			q.Containers = nil
		},
		"school": func(q *mayapply.Question) {
			q.Site.Kind, q.NoticeSent, q.Begins = catalogue.School, ptr(at(3, "19:45")-73*3600), at(3, "19:45")
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			q := question()
			change(&q)
			got := ask(t, q).Text(newYork)
			file := filepath.Join("testdata", name+".golden.txt")
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("read the difference, then run with -update if it is right:\n%s", diff)
			}
		})
	}
}
