package site_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

func weekly(opens, closes int, days ...civil.Weekday) civil.Calendar {
	return civil.Calendar{Weekly: []civil.Weekly{{Days: days, Window: civil.Window{Opens: civil.NewClock(opens, 0), Closes: civil.NewClock(closes, 0)}}}}
}

// office is a sound site of our own invention.
func office(t testing.TB) site.Site {
	t.Helper()
	zone, err := civil.LoadZone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	soft, lead, ask, monday := 80.0, 24*time.Hour, quantity.Money(50_000), civil.Weekday(1)
	return site.Site{
		ID: "office", Client: "client", Name: "Office", Position: travel.Position{Latitude: 40.4, Longitude: -79.9}, Zone: zone,
		Jurisdiction: "US-PA", Kind: catalogue.Office, Access: weekly(6, 23, 1, 2, 3, 4, 5), Keys: []site.KeyID{"k1"}, SignIn: 5 * time.Minute,
		Water: site.Water{Area: "store", HardnessMgL: &soft},
		Areas: []site.Area{
			{ID: "floor", Name: "Floor", People: weekly(8, 18, 1, 2, 3, 4, 5), OpenTo: []site.AreaID{"gallery"}, Sensitive: []catalogue.Sensitive{catalogue.FishTank},
				Climate: site.Climate{{Months: []time.Month{time.December, time.January}, Coldest: 16, Usual: 20, Warmest: 22}, {Coldest: 18, Usual: 21, Warmest: 24}}, Ventilation: weekly(6, 20, 1),
				Humidity: &site.Humidity{Least: 25, Usual: 40, Greatest: 60}},
			{ID: "store", Name: "Store", Kind: catalogue.PlantRoom, Treatment: &site.TreatmentPlace{Hours: weekly(9, 18, 1), Capacity: 8}},
			{ID: "gallery", Name: "Gallery", People: civil.Calendar{Always: true}, ReachedOnlyThrough: "floor"},
		},
		Agreement: site.Agreement{
			AskAbove: &ask, RefusedMaterials: []catalogue.MaterialID{"hydrogen-peroxide"}, RefusedMethods: []catalogue.Method{catalogue.Release},
			ConsentNeeded: []catalogue.Method{catalogue.Drench}, Consents: []site.Consent{{Method: catalogue.Drench, From: 20_000}},
			ShutAreas: []site.ShutArea{{Area: "floor", From: 1000, To: 2000}}, NoticeLead: &lead, ResponseDays: 2,
			UsualTechnician: "t1", TechnicianFixed: true, UsualDay: &monday, DayFixed: true, IsolationArea: "store",
		},
	}
}

// expect asks for one reason at one path and for nothing without a text.
func expect(t *testing.T, wrong []catalogue.FieldError, path, reason string) {
	t.Helper()
	if !slices.ContainsFunc(wrong, func(f catalogue.FieldError) bool { return f.Path == path && f.Reason == reason && f.Text != "" }) {
		t.Errorf("%v, want %s at %s", wrong, reason, path)
	}
	if len(wrong) > 2 {
		t.Errorf("one change makes %d fields wrong: %v", len(wrong), wrong)
	}
}

func TestSite_ASoundOnePasses(t *testing.T) {
	t.Parallel()
	if wrong := office(t).Validate(catalogue.Shipped()); len(wrong) != 0 {
		t.Error(wrong)
	}
}

func TestSite_SaysWhichFieldIsWrong(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, path, reason string
		change             func(*site.Site)
	}{
		{"no id", "id", "MISSING", func(s *site.Site) { s.ID = "" }},
		{"no client", "client", "MISSING", func(s *site.Site) { s.Client = "" }},
		{"no name", "name", "MISSING", func(s *site.Site) { s.Name = "" }},
		{"no zone", "zone", "MISSING", func(s *site.Site) { s.Zone = civil.Zone{} }},
		{"no position", "position", "MISSING", func(s *site.Site) { s.Position = travel.Position{} }},
		{"beyond the pole", "position.latitude", "OUT_OF_RANGE", func(s *site.Site) { s.Position.Latitude = 90.1 }},
		{"no number", "position.longitude", "OUT_OF_RANGE", func(s *site.Site) { s.Position.Longitude = math.NaN() }},
		{"unknown jurisdiction", "jurisdiction", "UNKNOWN_JURISDICTION", func(s *site.Site) { s.Jurisdiction = "US-XX" }},
		{"unknown kind", "kind", "UNKNOWN_PLACE", func(s *site.Site) { s.Kind = "castle" }},
		{"access that ends as it begins", "access.weekly[0]", "WINDOW_INVALID", func(s *site.Site) { s.Access = weekly(8, 8, 1) }},
		{"access on no day", "access.weekly[0]", "WINDOW_INVALID", func(s *site.Site) { s.Access = weekly(8, 9) }},
		{"always and windows", "access", "WINDOW_INVALID", func(s *site.Site) { s.Access.Always = true }},
		{"two exceptions of one date", "access.exceptions[1]", "WINDOW_INVALID", func(s *site.Site) {
			s.Access.Exceptions = []civil.Exception{{On: 20_000}, {On: 20_000}}
		}},
		{"key without a name", "keys[0]", "MISSING", func(s *site.Site) { s.Keys[0] = "" }},
		{"negative sign-in", "sign_in", "OUT_OF_RANGE", func(s *site.Site) { s.SignIn = -time.Second }},
		{"water nowhere", "water.area", "UNKNOWN_AREA", func(s *site.Site) { s.Water.Area = "well" }},
		{"negative hardness", "water.hardness_mg_l", "OUT_OF_RANGE", func(s *site.Site) { *s.Water.HardnessMgL = -1 }},
		{"no areas", "areas", "MISSING", func(s *site.Site) {
			s.Areas, s.Water.Area, s.Agreement.IsolationArea, s.Agreement.ShutAreas = nil, "", "", nil
		}},
		{"area there twice", "areas[2].id", "DUPLICATE", func(s *site.Site) { s.Areas[2].ID, s.Areas[2].ReachedOnlyThrough, s.Areas[0].OpenTo = "store", "", nil }},
		{"area without a name", "areas[1].name", "MISSING", func(s *site.Site) { s.Areas[1].Name = "" }},
		{"unknown kind of an area", "areas[1].kind", "UNKNOWN_PLACE", func(s *site.Site) { s.Areas[1].Kind = "dungeon" }},
		{"people's window turned round", "areas[0].people.weekly[0]", "WINDOW_INVALID", func(s *site.Site) { s.Areas[0].People = weekly(18, 8, 1) }},
		{"ventilation to 49:00", "areas[0].ventilation.weekly[0]", "WINDOW_INVALID", func(s *site.Site) { s.Areas[0].Ventilation = weekly(18, 49, 1) }},
		{"treatment hours turned round", "areas[1].treatment.hours.weekly[0]", "WINDOW_INVALID", func(s *site.Site) { s.Areas[1].Treatment.Hours = weekly(18, 8, 1) }},
		{"no room for plants", "areas[1].treatment.capacity", "OUT_OF_RANGE", func(s *site.Site) { s.Areas[1].Treatment.Capacity = 0 }},
		{"open to nowhere", "areas[0].open_to[0]", "UNKNOWN_AREA", func(s *site.Site) { s.Areas[0].OpenTo[0] = "yard" }},
		{"open to itself", "areas[0].open_to[0]", "CONTRADICTION", func(s *site.Site) { s.Areas[0].OpenTo[0] = "floor" }},
		{"reached through nowhere", "areas[2].reached_only_through", "UNKNOWN_AREA", func(s *site.Site) { s.Areas[2].ReachedOnlyThrough = "yard" }},
		{"reached through itself", "areas[2].reached_only_through", "CONTRADICTION", func(s *site.Site) { s.Areas[2].ReachedOnlyThrough = "gallery" }},
		{"reached in a circle", "areas[0].reached_only_through", "CONTRADICTION", func(s *site.Site) { s.Areas[0].ReachedOnlyThrough = "gallery" }},
		{"unknown sensitive thing", "areas[0].sensitive[0]", "UNKNOWN_SENSITIVE_THING", func(s *site.Site) { s.Areas[0].Sensitive[0] = "dragon" }},
		{"usual below the coldest", "areas[0].climate[1].usual", "CONTRADICTION", func(s *site.Site) { s.Areas[0].Climate[1].Usual = 17 }},
		{"warmest below the usual", "areas[0].climate[1].warmest", "CONTRADICTION", func(s *site.Site) { s.Areas[0].Climate[1].Warmest = 20 }},
		{"no month", "areas[0].climate[0].months[0]", "OUT_OF_RANGE", func(s *site.Site) { s.Areas[0].Climate[0].Months[0] = 13 }},
		{"usual humidity below the least", "areas[0].humidity.usual", "CONTRADICTION", func(s *site.Site) { s.Areas[0].Humidity.Usual = 20 }},
		{"greatest humidity below the usual", "areas[0].humidity.greatest", "CONTRADICTION", func(s *site.Site) { s.Areas[0].Humidity.Greatest = 30 }},
		{"humidity above what air holds", "areas[0].humidity.greatest", "OUT_OF_RANGE", func(s *site.Site) { s.Areas[0].Humidity.Greatest = 101 }},
		{"humidity that is no number", "areas[0].humidity.least", "OUT_OF_RANGE", func(s *site.Site) { s.Areas[0].Humidity.Least = math.NaN() }},
		{"oven", "areas[0].climate[1].warmest", "OUT_OF_RANGE", func(s *site.Site) { s.Areas[0].Climate[1].Warmest = 200 }},
		{"negative sum to ask at", "agreement.ask_above", "OUT_OF_RANGE", func(s *site.Site) { *s.Agreement.AskAbove = -1 }},
		{"unknown refused material", "agreement.refused_materials[0]", "UNKNOWN_MATERIAL", func(s *site.Site) { s.Agreement.RefusedMaterials[0] = "sulfur" }},
		{"unknown refused method", "agreement.refused_methods[0]", "UNKNOWN_METHOD", func(s *site.Site) { s.Agreement.RefusedMethods[0] = "magic" }},
		{"unknown method to ask for", "agreement.consent_needed[0]", "UNKNOWN_METHOD", func(s *site.Site) { s.Agreement.ConsentNeeded[0] = "magic" }},
		{"unknown consented method", "agreement.consents[0].method", "UNKNOWN_METHOD", func(s *site.Site) { s.Agreement.Consents[0].Method = "" }},
		{"consent from no day", "agreement.consents[0].from", "MISSING", func(s *site.Site) { s.Agreement.Consents[0].From = 0 }},
		{"consent that ends before", "agreement.consents[0].to", "CONTRADICTION", func(s *site.Site) { s.Agreement.Consents[0].To = 19_999 }},
		{"shut nowhere", "agreement.shut_areas[0].area", "UNKNOWN_AREA", func(s *site.Site) { s.Agreement.ShutAreas[0].Area = "yard" }},
		{"shut in no time", "agreement.shut_areas[0].to", "WINDOW_INVALID", func(s *site.Site) { s.Agreement.ShutAreas[0].To = 1000 }},
		{"negative notice", "agreement.notice_lead", "OUT_OF_RANGE", func(s *site.Site) { *s.Agreement.NoticeLead = -time.Hour }},
		{"negative response", "agreement.response_days", "OUT_OF_RANGE", func(s *site.Site) { s.Agreement.ResponseDays = -1 }},
		{"nobody fixed", "agreement.technician_fixed", "CONTRADICTION", func(s *site.Site) { s.Agreement.UsualTechnician = "" }},
		{"no day fixed", "agreement.day_fixed", "CONTRADICTION", func(s *site.Site) { s.Agreement.UsualDay = nil }},
		{"no such day", "agreement.usual_day", "OUT_OF_RANGE", func(s *site.Site) { *s.Agreement.UsualDay = 7 }},
		{"isolation nowhere", "agreement.isolation_area", "UNKNOWN_AREA", func(s *site.Site) { s.Agreement.IsolationArea = "yard" }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			s := office(t)
			tc.change(&s)
			expect(t, s.Validate(catalogue.Shipped()), tc.path, tc.reason)
		})
	}
}

func TestClimate_TheFirstSeasonOfTheMonthCounts(t *testing.T) {
	t.Parallel()
	climate := office(t).Areas[0].Climate
	for date, want := range map[civil.Date]float64{
		civil.NewDate(2026, time.January, 31): 16, civil.NewDate(2026, time.February, 1): 18, civil.NewDate(2026, time.December, 1): 16,
	} {
		if season, ok := climate.On(date); !ok || season.Coldest != want {
			t.Errorf("%v: coldest %v, %v, want %v", date, season.Coldest, ok, want)
		}
	}
	if season, ok := climate[:1].On(civil.NewDate(2026, time.July, 1)); ok {
		t.Errorf("a winter's climate says %v of July", season)
	}
}

func plants() site.Plant {
	value := quantity.Money(1800)
	return site.Plant{
		ID: "p1", Name: "pothos by the window", Site: "office", Area: "floor", Species: "epipremnum-aureum", Count: 8,
		PotVolume: quantity.NewVolume(2, 1, quantity.Litre), HeightCM: 40, Planter: site.Drained, Owner: site.OwnedByClient, Replacement: &value,
		Touches:   []site.PlantID{"p2"},
		Tolerance: []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: catalogue.Stands, Standing: catalogue.OwnRecords}},
		Watering:  site.Watering{Earliest: 5, Ideal: 7, Latest: 9},
	}
}

func TestPlant_SoundOnesPass(t *testing.T) {
	t.Parallel()
	bedded, alone := plants(), plants()
	bedded.Planter, bedded.PotVolume = site.Bed, quantity.Volume{}
	alone.Watering = site.Watering{}
	for name, p := range map[string]site.Plant{"in pots": plants(), "in a bed": bedded, "watered by others": alone} {
		if wrong := p.Validate(catalogue.Shipped()); len(wrong) != 0 {
			t.Errorf("%s: %v", name, wrong)
		}
	}
	if !alone.Watering.Rhythmless() || bedded.Watering.Rhythmless() {
		t.Error("only the plant that others water has no rhythm")
	}
}

func TestPlant_SaysWhichFieldIsWrong(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, path, reason string
		change             func(*site.Plant)
	}{
		{"no id", "id", "MISSING", func(p *site.Plant) { p.ID = "" }},
		{"no name", "name", "MISSING", func(p *site.Plant) { p.Name = "" }},
		{"no site", "site", "MISSING", func(p *site.Plant) { p.Site = "" }},
		{"no area", "area", "MISSING", func(p *site.Plant) { p.Area = "" }},
		{"unknown species", "species", "UNKNOWN_SPECIES", func(p *site.Plant) { p.Species = "triffid" }},
		{"none", "count", "OUT_OF_RANGE", func(p *site.Plant) { p.Count = 0 }},
		{"a million", "count", "OUT_OF_RANGE", func(p *site.Plant) { p.Count = 1_000_000 }},
		{"negative pot", "pot_volume", "OUT_OF_RANGE", func(p *site.Plant) { p.PotVolume = quantity.NewVolume(-1, 1, quantity.Litre) }},
		{"no pot", "pot_volume", "OUT_OF_RANGE", func(p *site.Plant) { p.PotVolume = quantity.Volume{} }},
		{"negative bed", "pot_volume", "OUT_OF_RANGE", func(p *site.Plant) { p.Planter, p.PotVolume = site.Bed, quantity.NewVolume(-1, 1, quantity.Litre) }},
		{"pot like a lake", "pot_volume", "OUT_OF_RANGE", func(p *site.Plant) { p.PotVolume = quantity.NewVolume(1_000_000, 1, quantity.Litre) }},
		{"no height", "height_cm", "OUT_OF_RANGE", func(p *site.Plant) { p.HeightCM = 0 }},
		{"unknown planter", "planter", "UNKNOWN_PLANTER", func(p *site.Plant) { p.Planter = "boot" }},
		{"unknown owner", "owner", "UNKNOWN_OWNER", func(p *site.Plant) { p.Owner = "" }},
		{"negative value", "replacement", "OUT_OF_RANGE", func(p *site.Plant) { *p.Replacement = -1 }},
		{"touches itself", "touches[0]", "CONTRADICTION", func(p *site.Plant) { p.Touches[0] = "p1" }},
		{"touches twice", "touches[1]", "DUPLICATE", func(p *site.Plant) { p.Touches = []site.PlantID{"p2", "p2"} }},
		{"touches nothing", "touches[0]", "MISSING", func(p *site.Plant) { p.Touches[0] = "" }},
		{"unknown material", "tolerance[0].material", "UNKNOWN_MATERIAL", func(p *site.Plant) { p.Tolerance[0].Material = "sulfur" }},
		{"unknown verdict", "tolerance[0].verdict", "UNKNOWN_VERDICT", func(p *site.Plant) { p.Tolerance[0].Verdict = "likes" }},
		{"unknown standing", "tolerance[0].standing", "UNKNOWN_STANDING", func(p *site.Plant) { p.Tolerance[0].Standing = "" }},
		{"material there twice", "tolerance[1].material", "DUPLICATE", func(p *site.Plant) { p.Tolerance = append(p.Tolerance, p.Tolerance[0]) }},
		{"ideal after latest", "watering.ideal", "CONTRADICTION", func(p *site.Plant) { p.Watering.Ideal = 10 }},
		{"negative earliest", "watering.earliest", "OUT_OF_RANGE", func(p *site.Plant) { p.Watering.Earliest = -1 }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			p := plants()
			tc.change(&p)
			expect(t, p.Validate(catalogue.Shipped()), tc.path, tc.reason)
		})
	}
}

func TestService_SaysWhichFieldIsWrong(t *testing.T) {
	t.Parallel()
	sound := func() site.Service {
		return site.Service{ID: "s1", Site: "office", Kind: site.WateringService, Groups: []site.Group{{Plant: "p1", Minutes: 6}}, Earliest: 5, Ideal: 7, Latest: 9}
	}
	if wrong := sound().Validate(); len(wrong) != 0 {
		t.Errorf("a sound service: %v", wrong)
	}
	for _, tc := range []struct {
		name, path, reason string
		change             func(*site.Service)
	}{
		{"no id", "id", "MISSING", func(s *site.Service) { s.ID = "" }},
		{"no site", "site", "MISSING", func(s *site.Service) { s.Site = "" }},
		{"unknown kind", "kind", "UNKNOWN_SERVICE", func(s *site.Service) { s.Kind = "singing" }},
		{"no groups", "groups", "MISSING", func(s *site.Service) { s.Groups = nil }},
		{"group without a plant", "groups[0].plant", "MISSING", func(s *site.Service) { s.Groups[0].Plant = "" }},
		{"plant there twice", "groups[1].plant", "DUPLICATE", func(s *site.Service) { s.Groups = append(s.Groups, s.Groups[0]) }},
		{"no minutes", "groups[0].minutes", "OUT_OF_RANGE", func(s *site.Service) { s.Groups[0].Minutes = 0 }},
		{"a rhythm of no days", "latest", "OUT_OF_RANGE", func(s *site.Service) { s.Earliest, s.Ideal, s.Latest = 0, 0, 0 }},
		{"ideal before earliest", "ideal", "CONTRADICTION", func(s *site.Service) { s.Ideal = 4 }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			s := sound()
			tc.change(&s)
			expect(t, s.Validate(), tc.path, tc.reason)
		})
	}
}
