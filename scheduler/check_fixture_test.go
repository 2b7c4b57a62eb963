package scheduler_test

import (
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// story is a Problem with a Plan that keeps every rule: an invented business with two sites and one technician, over a
// fortnight in March 2026. Every figure in it is invented.
type story struct {
	Problem scheduler.Problem `json:"problem"`
	Plan    scheduler.Plan    `json:"plan"`
}

// Names of the story.
const (
	sprayItem   = scheduler.ItemID("mealybug/application/1/1")
	lookItem    = scheduler.ItemID("mealybug/inspect-neighbours/1/1")
	waterLodge  = "water-lodge"
	waterOffice = "water-office"
)

var newYork = mustZone("America/New_York")

func mustZone(name string) civil.Zone {
	z, err := civil.LoadZone(name)
	if err != nil {
		panic(err)
	}
	return z
}

func march(day int) civil.Date { return civil.NewDate(2026, time.March, day) }

// at is an instant of March 2026 on the wall clock of New York: at(3, "19:30").
func at(day int, clock string) civil.Instant {
	c, err := civil.ParseClock(clock)
	if err != nil {
		panic(err)
	}
	return newYork.At(march(day), c)
}

func during(day int, from, to string) civil.Interval {
	return civil.Interval{From: at(day, from), To: at(day, to)}
}

func minutes(n int) time.Duration { return time.Duration(n) * time.Minute }

func volume(text string) quantity.Volume {
	v, err := quantity.ParseVolume(text)
	if err != nil {
		panic(err)
	}
	return v
}

func weekly(days string, opens, closes string) civil.Weekly {
	w := civil.Weekly{Window: window(opens, closes)}
	for _, name := range strings.Fields(days) {
		var d civil.Weekday
		if err := d.UnmarshalText([]byte(name)); err != nil {
			panic(err)
		}
		w.Days = append(w.Days, d)
	}
	return w
}

func window(opens, closes string) civil.Window {
	o, errO := civil.ParseClock(opens)
	c, errC := civil.ParseClock(closes)
	if errO != nil || errC != nil {
		panic(opens + " " + closes)
	}
	return civil.Window{Opens: o, Closes: c}
}

const (
	workdays = "mon tue wed thu fri"
	everyDay = "sun mon tue wed thu fri sat"
)

// newStory returns a fresh copy that a test may change.
func newStory() *story {
	return &story{Problem: storyProblem(), Plan: storyPlan()}
}

func storyProblem() scheduler.Problem {
	return scheduler.Problem{
		Now: at(2, "12:00"), Zone: newYork, FirstDay: march(2), Days: 14,
		Sites: []site.Site{storyOffice(), storyLodge()},
		Plants: []scheduler.PlantState{
			storyPlant("pothos", "office", "floor", scheduler.ConfirmedInfested),
			storyPlant("ficus", "office", "floor", scheduler.Neighbour),
			storyPlant("lilies", "lodge", "lobby", scheduler.Clean),
		},
		Products:    []catalogue.Product{storySoap()},
		Materials:   []scheduler.MaterialFacts{{ID: "soap", Law: catalogue.RegisteredProduct, Name: "soap"}},
		Technicians: []scheduler.Technician{storyTechnician()},
		Travel: travel.Matrix{ // minutes: base-office 20, base-lodge 15, office-lodge 10
			Places:  []travel.PlaceID{"base", "office", "lodge"},
			Seconds: []int32{0, 1200, 900, 1200, 0, 600, 900, 600, 0},
			Metres:  []int32{0, 9000, 7000, 9000, 0, 4000, 7000, 4000, 0},
		},
		FollowUps: []scheduler.FollowUp{storySpray(), storyLook()},
		Services: []site.Service{
			{ID: waterLodge, Site: "lodge", Kind: site.WateringService, Groups: []site.Group{{Plant: "lilies", Minutes: 3}}, Earliest: 5, Ideal: 7, Latest: 9, Last: march(-3)},
			{ID: waterOffice, Site: "office", Kind: site.WateringService, Groups: []site.Group{{Plant: "ficus", Minutes: 4}, {Plant: "pothos", Minutes: 6}}, Earliest: 5, Ideal: 7, Latest: 9, Last: march(2)},
		},
		Fixed: []scheduler.Visit{storyPinned()},
		Rules: scheduler.PlaceRules{
			NoticeLead:      []scheduler.SiteNotice{{Site: "office", Lead: 24 * time.Hour, Known: true}},
			PublishingDelay: 2 * time.Hour, NoticeTolerance: 2 * time.Hour,
			BreakAfter: 6 * time.Hour, MostWork: 10 * time.Hour, Mixing: minutes(6), Rinsing: minutes(5), LeastRatePercent: 90,
			Categories: []scheduler.CategoryCover{{Jurisdiction: "US-PA", Category: "interior", Covers: []catalogue.PlaceKind{catalogue.Office, catalogue.Lodging, catalogue.PlantRoom}}},
		},
	}
}

func storyOffice() site.Site {
	return site.Site{
		ID: "office", Client: "first", Name: "the office", Zone: newYork, Jurisdiction: "US-PA", Kind: catalogue.Office,
		Access: civil.Calendar{Weekly: []civil.Weekly{weekly(workdays, "06:00", "23:00")}},
		Keys:   []site.KeyID{"badge"}, SignIn: minutes(5), Water: site.Water{Area: "store"},
		Areas: []site.Area{
			{
				ID: "floor", Name: "open floor", Climate: site.Climate{{Coldest: 18, Usual: 21, Warmest: 24}},
				People:      civil.Calendar{Weekly: []civil.Weekly{weekly(workdays, "08:00", "18:00"), weekly(workdays, "17:30", "19:30")}},
				Ventilation: civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "06:00", "20:00")}},
			},
			{ID: "store", Name: "store with a tap", Climate: site.Climate{{Coldest: 18, Usual: 20, Warmest: 22}}},
		},
	}
}

func storyLodge() site.Site {
	return site.Site{
		ID: "lodge", Client: "second", Name: "the lodge", Zone: newYork, Jurisdiction: "US-PA", Kind: catalogue.Lodging,
		Access: civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "06:00", "18:00")}},
		SignIn: minutes(5), Water: site.Water{Area: "plant-room"},
		Areas: []site.Area{
			{ID: "lobby", Name: "lobby", People: civil.Calendar{Always: true}, Climate: site.Climate{{Coldest: 20, Usual: 21, Warmest: 23}}},
			{
				ID: "plant-room", Name: "plant room", Kind: catalogue.PlantRoom, Climate: site.Climate{{Coldest: 18, Usual: 20, Warmest: 22}},
				Ventilation: civil.Calendar{Always: true},
				Treatment:   &site.TreatmentPlace{Hours: civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "06:00", "18:00")}}, Capacity: 8},
			},
		},
	}
}

func storyPlant(id site.PlantID, s site.ID, area site.AreaID, health scheduler.Health) scheduler.PlantState {
	return scheduler.PlantState{
		Plant: site.Plant{
			ID: id, Name: string(id), Site: s, Area: area, Species: catalogue.SpeciesID("species-of-" + id), Count: 4,
			PotVolume: volume("4 L"), HeightCM: 40, Planter: site.Drained, Owner: site.OwnedByClient,
			Watering: site.Watering{Earliest: 5, Ideal: 7, Latest: 9, Last: march(2)},
		},
		Health:    health,
		Tolerance: []catalogue.Tolerance{{Material: "soap", Verdict: catalogue.Stands, Standing: catalogue.OwnRecords}},
	}
}

// storySoap: 2.5 US fl oz made up to 1 US gallon = 2.5/128 = 1.953 %, one rate.
func storySoap() catalogue.Product {
	most := quantity.Rate{Concentrate: volume("2.5 US fl oz"), Per: volume("128 US fl oz"), Convention: quantity.MadeUpTo}
	return catalogue.Product{
		ID: "soap-a", Name: "soap A", Material: "soap", Registration: "000-0", Form: catalogue.Concentrate,
		Jurisdictions: []catalogue.JurisdictionCode{"US-PA"},
		Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Office, catalogue.PlantRoom}, Pests: []catalogue.PestID{"citrus-mealybug"},
			MaxRate: &most, Entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}, LeastDays: 7, Categories: []string{"interior"},
		},
	}
}

func storyTechnician() scheduler.Technician {
	return scheduler.Technician{
		ID: "T1", Name: "Technician 1", Base: "base", SpeedPercent: 100, PaidPerMinute: 75,
		Shifts: []scheduler.Shift{
			{Day: march(3), During: during(3, "13:30", "22:30"), BreakWindow: during(3, "16:00", "19:00"), BreakTakes: minutes(30)},
			{Day: march(4), During: during(4, "07:30", "16:00"), BreakWindow: during(4, "11:00", "13:00"), BreakTakes: minutes(30)},
		},
		Licences: []scheduler.Licence{{Jurisdiction: "US-PA", Category: "interior", Number: "0", From: march(1), To: march(31)}},
		Keys:     []scheduler.KeyHeld{{Key: "badge", From: march(1)}},
		Vessels: []scheduler.Vessel{{
			ID: "sprayer", Name: "pump sprayer", Capacity: volume("128 US fl oz"), Dead: volume("2 US fl oz"), Marks: volume("8 US fl oz"),
			Methods: []catalogue.Method{catalogue.SpotSpray, catalogue.WholePlantSpray},
		}},
		Measures: []scheduler.Measure{{Name: "cup", Capacity: volume("4 US fl oz"), Marks: volume("1/8 US fl oz")}},
	}
}

func storyUse() *scheduler.Use {
	return &scheduler.Use{
		Product: "soap-a", Method: catalogue.WholePlantSpray, Doses: []scheduler.Dose{{Plant: "pothos", Amount: volume("600 mL")}},
		ReservePercent: 10, Entry: catalogue.EntryUntilDry, KeepOut: 3 * time.Hour, KeepOutUnventilated: minutes(270),
	}
}

func storySpray() scheduler.FollowUp {
	return scheduler.FollowUp{
		ID: sprayItem, Case: "mealybug", Kind: scheduler.KindApplication, Pest: "citrus-mealybug", Certainty: "confirmed", Severity: 2,
		Site: "office", Plants: []site.PlantID{"pothos"}, Approved: true, Expected: march(3), Reason: "mealybugs on the pothos",
		Ways: []scheduler.Way{{ID: "in-place", Kind: scheduler.InPlace, Parts: []scheduler.Part{
			{Kind: scheduler.ApplicationPart, Area: "floor", Takes: minutes(32), Persons: 1, Use: storyUse()},
		}}},
		Due: scheduler.Due{EarliestOn: march(3), IdealOn: march(4), LatestOn: march(5)},
	}
}

func storyLook() scheduler.FollowUp {
	return scheduler.FollowUp{
		ID: lookItem, Case: "mealybug", Kind: scheduler.KindInspectNeighbours, Pest: "citrus-mealybug", Certainty: "confirmed", Severity: 2,
		Site: "office", Plants: []site.PlantID{"ficus"}, Expected: march(3), Reason: "it stands in the same room",
		Ways: []scheduler.Way{{ID: "in-place", Kind: scheduler.InPlace, Parts: []scheduler.Part{
			{Kind: scheduler.WorkPart, Area: "floor", Takes: minutes(6), Persons: 1},
		}}},
		Due: scheduler.Due{EarliestOn: march(2), IdealOn: march(3), LatestOn: march(9)},
	}
}

// storyPinned waters the lodge on Wednesday morning, as the office pinned it.
func storyPinned() scheduler.Visit {
	return scheduler.Visit{
		ID: "v1", State: scheduler.Pinned, Technician: "T1", Site: "lodge", Arrives: at(4, "08:40"), Leaves: at(4, "08:48"), SignIn: minutes(5),
		Work: []scheduler.WorkItem{{
			Item: waterLodge + "#1", Service: site.WateringService, Area: "lobby", Plants: []site.PlantID{"lilies"},
			Begins: at(4, "08:45"), Ends: at(4, "08:48"), MixIndex: -1,
		}},
	}
}

// storyPlan: on Tuesday evening look at the ficus, mix, spray the pothos once the cleaners are gone, rinse.
// Need 600 mL + 10 % = 660 mL = 22.32 US fl oz, + 2 dead = 24.32: mark 32; 2.5/128 x 32 = 0.625 = 5 marks of 1/8.
// The interval ends at 23:02, after the ventilation stops at 20:00, so 4 h 30 count: shut until Wednesday 00:32.
func storyPlan() scheduler.Plan {
	return scheduler.Plan{
		Routes: []scheduler.DayRoute{
			{
				Technician: "T1", Day: march(3), Departs: at(3, "18:48"), Returns: at(3, "20:27"),
				Visits: []scheduler.Visit{{
					State: scheduler.Planned, Technician: "T1", Site: "office", Arrives: at(3, "19:09"), Leaves: at(3, "20:07"), SignIn: minutes(5),
					Work: []scheduler.WorkItem{
						{Item: lookItem, Kind: scheduler.KindInspectNeighbours, Way: "in-place", Area: "floor", Plants: []site.PlantID{"ficus"}, Begins: at(3, "19:14"), Ends: at(3, "19:20"), MixIndex: -1},
						{Item: sprayItem, Kind: scheduler.KindApplication, Way: "in-place", Area: "floor", Plants: []site.PlantID{"pothos"}, Begins: at(3, "19:30"), Ends: at(3, "20:02"), Use: storyUse(), MixIndex: 0},
					},
				}},
				Mixes: []scheduler.Mix{{
					Technician: "T1", Product: "soap-a", Vessel: "sprayer", Measure: "cup", Site: "office", Area: "store",
					Need: volume("660 mL"), Volume: volume("32 US fl oz"), Concentrate: volume("0.625 US fl oz"),
					Begins: at(3, "19:24"), Ready: at(3, "19:30"), LastUse: at(3, "20:02"), UseBy: at(3, "22:30"), Rinse: during(3, "20:02", "20:07"),
				}},
			},
			{Technician: "T1", Day: march(4), Departs: at(4, "08:20"), Returns: at(4, "09:03"), Visits: []scheduler.Visit{storyPinned()}},
		},
		KeepOuts: []scheduler.KeepOut{{
			Area: "floor", During: civil.Interval{From: at(3, "19:30"), To: at(4, "00:32")}, Product: "soap-a", By: "T1", UntilDry: true, Item: sprayItem,
		}},
	}
}

// check judges the story and returns the breaches.
func (s *story) check() []scheduler.Violation { return scheduler.Check(s.Problem, s.Plan) }

// visit is the office visit of the plan, mix its mix; look and spray are its work items.
func (s *story) visit() *scheduler.Visit     { return &s.Plan.Routes[0].Visits[0] }
func (s *story) route() *scheduler.DayRoute  { return &s.Plan.Routes[0] }
func (s *story) mix() *scheduler.Mix         { return &s.Plan.Routes[0].Mixes[0] }
func (s *story) look() *scheduler.WorkItem   { return &s.visit().Work[0] }
func (s *story) spray() *scheduler.WorkItem  { return &s.visit().Work[1] }
func (s *story) office() *site.Site          { return &s.Problem.Sites[0] }
func (s *story) crew() *scheduler.Technician { return &s.Problem.Technicians[0] }
func (s *story) label() *catalogue.Label     { return &s.Problem.Products[0].Label }
func (s *story) pothos() *scheduler.PlantState {
	return &s.Problem.Plants[0]
}

// wayPart is the application part of the spray in the Problem; what a test changes in the plan's it changes here too.
func (s *story) wayPart() *scheduler.Part { return &s.Problem.FollowUps[0].Ways[0].Parts[0] }

// shut says in the plan that another area is shut with the floor.
func (s *story) shut(area site.AreaID) {
	k := s.Plan.KeepOuts[0]
	k.Area = area
	s.Plan.KeepOuts = append(s.Plan.KeepOuts, k)
}

// later moves everything of the Tuesday route by so much.
func (s *story) later(d time.Duration) {
	r := s.route()
	for _, t := range []*civil.Instant{&r.Departs, &r.Returns, &s.visit().Arrives, &s.visit().Leaves,
		&s.look().Begins, &s.look().Ends, &s.spray().Begins, &s.spray().Ends,
		&s.mix().Begins, &s.mix().Ready, &s.mix().LastUse, &s.mix().Rinse.From, &s.mix().Rinse.To} {
		*t = t.Add(d)
	}
	for i := range s.Plan.KeepOuts {
		k := &s.Plan.KeepOuts[i].During
		k.From, k.To = k.From.Add(d), k.To.Add(d)
	}
}

// breachCase is one change to the story and what it breaks; an empty want says that nothing is broken.
type breachCase struct {
	name     string
	change   func(*story)
	want     string // part of the only breach's text, or of each
	standing bool
}

// expectBreaches runs cases that break one rule, and only that one.
func expectBreaches(t *testing.T, rule scheduler.Rule, cases []breachCase) {
	t.Helper()
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			s := newStory()
			tc.change(s)
			found := s.check()
			if tc.want == "" && len(found) > 0 {
				t.Errorf("accused of %v: want nothing", found)
			}
			if tc.want != "" && len(found) == 0 {
				t.Errorf("no breach found: want %s: %s", rule, tc.want)
			}
			for _, v := range found {
				if v.Rule != rule || !strings.Contains(v.Text, tc.want) || v.Standing != tc.standing {
					t.Errorf("got %v (standing %v), want %s: ... %s ... (standing %v)", v, v.Standing, rule, tc.want, tc.standing)
				}
			}
		})
	}
}

func TestCheck_AcceptsAPlanThatKeepsEveryRule(t *testing.T) {
	t.Parallel()
	s := newStory()
	if err := s.Problem.Validate(); err != nil {
		t.Fatalf("the story's problem: %v", err)
	}
	for _, v := range s.check() {
		t.Error(v)
	}
}
