package course_test

import (
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// An invented business in Pennsylvania: an office floor, a hotel lobby and a home. Every figure of it is set for the
// tests: areas, amounts on labels, people's hours.

const (
	officeCase = course.CaseID("M")
	lobbyCase  = course.CaseID("G")
	homeCase   = course.CaseID("X")
)

func date(text string) civil.Date {
	d, err := civil.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func instant(text string) civil.Instant {
	i, err := civil.ParseInstant(text)
	if err != nil {
		panic(err)
	}
	return i
}

func newYork() civil.Zone {
	z, err := civil.LoadZone("America/New_York")
	if err != nil {
		panic(err)
	}
	return z
}

func climate(coldest, usual, warmest float64) site.Climate {
	return site.Climate{{Coldest: coldest, Usual: usual, Warmest: warmest}}
}

func rate(concentrate, per string) *quantity.Rate {
	c, err := quantity.ParseVolume(concentrate)
	if err != nil {
		panic(err)
	}
	p, err := quantity.ParseVolume(per)
	if err != nil {
		panic(err)
	}
	return &quantity.Rate{Concentrate: c, Per: p, Convention: quantity.MadeUpTo}
}

func litres(n int64) quantity.Volume { return quantity.NewVolume(n, 1, quantity.Litre) }

func hours(days []civil.Weekday, opens, closes string) civil.Calendar {
	from, err := civil.ParseClock(opens)
	if err != nil {
		panic(err)
	}
	to, err := civil.ParseClock(closes)
	if err != nil {
		panic(err)
	}
	return civil.Calendar{Weekly: []civil.Weekly{{Days: days, Window: civil.Window{Opens: from, Closes: to}}}}
}

var weekdays = []civil.Weekday{1, 2, 3, 4, 5}

func soap() catalogue.Product {
	return catalogue.Product{
		ID: "soap-s", Name: "soap concentrate S", Material: "insecticidal-soap", Registration: "invented-1", Form: catalogue.Concentrate,
		Jurisdictions: []catalogue.JurisdictionCode{"US-PA"}, Placeholders: []string{"label.max_rate"}, LabelVersion: "1",
		Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Office, catalogue.Lodging, catalogue.Home}, Pests: []catalogue.PestID{"citrus-mealybug"},
			MaxRate: rate("2.5 US fl oz", "1 US gal"), Entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}, LeastDays: 7,
			Categories: []string{"22"}, KeepAway: []catalogue.KeepAway{{Thing: catalogue.FishTank}},
		},
	}
}

func bti() catalogue.Product {
	return catalogue.Product{
		ID: "bti-b", Name: "Bti drench B", Material: "bti-drench", Registration: "invented-2", Form: catalogue.Concentrate,
		Jurisdictions: []catalogue.JurisdictionCode{"US-PA"},
		Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Office, catalogue.Lodging, catalogue.PlantRoom}, Pests: []catalogue.PestID{"fungus-gnat"},
			MinRate: rate("0.64 US fl oz", "1 US gal"), MaxRate: rate("2.56 US fl oz", "1 US gal"),
			Entry: catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * time.Hour}, LeastDays: 5, Categories: []string{"22"},
			OpenFlowers: true,
		},
	}
}

func office() site.Site {
	lead := 24 * time.Hour
	return site.Site{
		ID: "O", Name: "office", Zone: newYork(), Jurisdiction: "US-PA", Kind: catalogue.Office,
		Access: hours(weekdays, "06:00", "23:00"),
		Areas: []site.Area{
			{ID: "O1", Name: "open floor", People: hours(weekdays, "08:00", "19:30"), Climate: climate(18, 21, 24), Ventilation: hours(weekdays, "06:00", "20:00")},
			{ID: "O3", Name: "cleaners' store", Climate: climate(18, 21, 24)},
		},
		Agreement: site.Agreement{NoticeLead: &lead},
	}
}

func hotel() site.Site {
	return site.Site{
		ID: "L", Name: "hotel", Zone: newYork(), Jurisdiction: "US-PA", Kind: catalogue.Lodging,
		Areas: []site.Area{
			{ID: "L1", Name: "lobby", People: civil.Calendar{Always: true}, Climate: climate(20, 21, 23)},
			{ID: "L2", Name: "plant room", Kind: catalogue.PlantRoom, People: hours(weekdays, "07:00", "09:00"), Climate: climate(20, 21, 23),
				Treatment: &site.TreatmentPlace{Water: true, Drain: true, Capacity: 8}},
		},
	}
}

func home() site.Site {
	return site.Site{
		ID: "H", Name: "home", Zone: newYork(), Jurisdiction: "US-PA", Kind: catalogue.Home,
		Areas: []site.Area{
			{ID: "H1", Name: "living room", Sensitive: []catalogue.Sensitive{catalogue.FishTank}, Climate: climate(19, 21, 24)},
			{ID: "H2", Name: "spare room", Climate: climate(19, 21, 24)},
		},
		Agreement: site.Agreement{IsolationArea: "H2"},
	}
}

func plants() []site.Plant {
	stands := []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: catalogue.Stands, Standing: catalogue.OwnRecords}}
	return []site.Plant{
		{ID: "O-a", Name: "pothos on the floor", Site: "O", Area: "O1", Species: "epipremnum-aureum", Count: 8, PotVolume: litres(2), HeightCM: 40, Planter: site.Drained, Tolerance: stands},
		{ID: "O-b", Name: "figs", Site: "O", Area: "O1", Species: "ficus-lyrata", Count: 2, PotVolume: litres(20), HeightCM: 180, Planter: site.Drained},
		{ID: "L-a", Name: "peace lilies", Site: "L", Area: "L1", Species: "spathiphyllum-wallisii", Count: 6, PotVolume: litres(4), HeightCM: 50, Planter: site.Drained},
		{ID: "L-b", Name: "corn plant", Site: "L", Area: "L1", Species: "dracaena-fragrans", Count: 1, PotVolume: litres(10), HeightCM: 150, Planter: site.SubIrrigated},
		{ID: "H-a", Name: "pothos at the tank", Site: "H", Area: "H1", Species: "epipremnum-aureum", Count: 1, PotVolume: litres(2), HeightCM: 50, Planter: site.Drained, Tolerance: stands},
		{ID: "H-b", Name: "corn plant at home", Site: "H", Area: "H1", Species: "dracaena-fragrans", Count: 3, PotVolume: litres(4), HeightCM: 60, Planter: site.Drained},
	}
}

func finding(id, at string, f course.Finding) course.Event {
	f.By = "technician 1"
	return course.Event{ID: id, At: instant(at), Finding: &f}
}

func histories() []course.History {
	return []course.History{
		{Case: officeCase, Site: "O", Pest: "citrus-mealybug", Plants: []site.PlantID{"O-a"}, Events: []course.Event{
			finding("m-1", "2026-03-02T14:30:00Z", course.Finding{Pest: "citrus-mealybug", Certainty: course.Confirmed, Life: course.Living, Severity: 2, Plants: []site.PlantID{"O-a"}}),
		}},
		{Case: lobbyCase, Site: "L", Pest: "fungus-gnat", Plants: []site.PlantID{"L-a"}, Events: []course.Event{
			finding("g-1", "2026-03-02T15:30:00Z", course.Finding{Pest: "fungus-gnat", Certainty: course.Confirmed, Life: course.Living, Severity: 2, Plants: []site.PlantID{"L-a"}}),
		}},
		{Case: homeCase, Site: "H", Pest: "citrus-mealybug", Plants: []site.PlantID{"H-a"}, Events: []course.Event{
			finding("x-1", "2026-03-02T16:00:00Z", course.Finding{Pest: "citrus-mealybug", Certainty: course.Suspected, Life: course.NotSure, Severity: 1, Plants: []site.PlantID{"H-a"}}),
		}},
	}
}

// week is the business on Monday 2 March 2026 at noon in Pennsylvania.
func week(of course.CaseID) course.Input {
	c := catalogue.Shipped()
	return course.Input{
		Today: date("2026-03-02"), Now: instant("2026-03-02T17:00:00Z"), Case: of,
		Histories: histories(), Sites: []site.Site{office(), hotel(), home()}, Plants: plants(),
		Services: []site.Service{{ID: "water-L", Site: "L", Kind: site.WateringService, Groups: []site.Group{{Plant: "L-a", Minutes: 3}, {Plant: "L-b", Minutes: 3}}, Earliest: 5, Ideal: 7, Latest: 9}},
		Products: []catalogue.Product{soap(), bti()},
		Held:     map[catalogue.JurisdictionCode][]string{"US-PA": {"22"}}, Catalogue: c, Policy: course.DefaultPolicy(c),
	}
}

// with adds events to a case of the input.
func with(in course.Input, events ...course.Event) course.Input {
	for i, history := range in.Histories {
		if history.Case == in.Case {
			in.Histories[i].Events = append(append([]course.Event(nil), history.Events...), events...)
		}
	}
	return in
}

// on moves the clock to noon of a day in Pennsylvania.
func on(in course.Input, day civil.Date) course.Input {
	in.Today, in.Now = day, newYork().At(day, civil.NewClock(12, 0))
	return in
}

func compute(t testing.TB, in course.Input) course.Course {
	t.Helper()
	c, err := course.Compute(in)
	if err != nil {
		t.Fatalf("Compute: %v", err)
	}
	return c
}

func kind(c course.Course, kind course.FollowUpKind) []course.FollowUp {
	var all []course.FollowUp
	for _, f := range c.FollowUps {
		if f.Kind == kind {
			all = append(all, f)
		}
	}
	return all
}
