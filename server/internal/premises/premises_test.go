package premises_test

import (
	"slices"
	"strings"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

// attempt does a deed of the office that may be refused.
func attempt(t *testing.T, w *firmtest.Works, do func(tx *store.Tx) error) error {
	t.Helper()
	return w.Store.In(t.Context(), w.Office, do)
}

func plant(t *testing.T, id site.PlantID) site.Plant {
	t.Helper()
	return site.Plant{
		ID: id, Name: "New pothos", Site: "offices-alder-row", Area: "offices-floor", Species: "epipremnum-aureum", Count: 2,
		PotVolume: firmtest.Volume(t, "1.2 L"), HeightCM: 40, Planter: "drained", Owner: "client",
	}
}

func TestAddPlants_RefusesWhatCannotBeAndStoresNone(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	for _, c := range []struct {
		name   string
		change func(*site.Plant)
		path   string
	}{
		{"a species unknown", func(p *site.Plant) { p.Species = "triffid" }, "plants[1].species"},
		{"no plant", func(p *site.Plant) { p.Count = 0 }, "plants[1].count"},
		{"a million plants", func(p *site.Plant) { p.Count = 1_000_000 }, "plants[1].count"},
		{"a pot of less than nothing", func(p *site.Plant) { p.PotVolume = quantity.NewVolume(-1, 1, quantity.Millilitre) }, "plants[1].pot_volume"},
		{"an area of another site", func(p *site.Plant) { p.Area = "hotel-lobby" }, "plants[1].area"},
		{"no area", func(p *site.Plant) { p.Area = "" }, "plants[1].area"},
	} {
		t.Run(c.name, func(t *testing.T) {
			good, bad := plant(t, "good"), plant(t, "bad")
			c.change(&bad)
			err := attempt(t, w, func(tx *store.Tx) error { return premises.AddPlants(tx, []site.Plant{good, bad}) })
			f := firmtest.Refused(t, err, fault.Invalid, "INVALID_FIELDS")
			for _, field := range f.Fields {
				if field.Path == c.path && field.Reason != "" && field.Text != "" {
					return
				}
			}
			t.Errorf("fields %+v: want %s", f.Fields, c.path)
		})
	}
	elsewhere := plant(t, "good")
	elsewhere.Site = "nowhere"
	firmtest.Refused(t, attempt(t, w, func(tx *store.Tx) error { return premises.AddPlants(tx, []site.Plant{elsewhere}) }), fault.NotFound, "NOT_FOUND")
	twice := plant(t, "pothos-stairs")
	firmtest.Refused(t, attempt(t, w, func(tx *store.Tx) error { return premises.AddPlants(tx, []site.Plant{twice}) }), fault.Exists, "EXISTS_ALREADY")
	w.In(t, w.Office, func(tx *store.Tx) error {
		_, err := tx.Plant("good")
		firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
		return premises.AddPlants(tx, []site.Plant{plant(t, "good")})
	})
}

func TestAddPlant_JoinsTheSitesWorkOfItsRhythmOrBeginsItsOwn(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	rhythm := site.Service{Site: "offices-alder-row", Kind: site.WateringService, Earliest: 5, Ideal: 7, Latest: 9, Last: civil.NewDate(2026, 3, 2)}
	for _, c := range []struct {
		id      site.PlantID
		latest  int
		service string
	}{{"joins", 9, "water-offices-alder-row"}, {"begins", 10, "begins-watering"}} {
		own := rhythm
		own.Latest, own.Groups = c.latest, []site.Group{{Plant: c.id, Minutes: 3}}
		w.In(t, w.Office, func(tx *store.Tx) error {
			_, services, err := premises.AddPlant(tx, firm.Kept[site.Plant]{Value: plant(t, c.id)}, []site.Service{own})
			for _, s := range services {
				if slices.ContainsFunc(s.Groups, func(g site.Group) bool { return g.Plant == c.id }) != (s.ID == c.service) {
					t.Errorf("plant %s, watered until day %d: service %s has groups %+v; want it in %s alone", c.id, c.latest, s.ID, s.Groups, c.service)
				}
			}
			return err
		})
	}
	twice := rhythm
	twice.Groups = []site.Group{{Plant: "third", Minutes: 1}}
	err := attempt(t, w, func(tx *store.Tx) error {
		_, _, err := premises.AddPlant(tx, firm.Kept[site.Plant]{Value: plant(t, "third")}, []site.Service{twice, twice})
		return err
	})
	firmtest.Field(t, firmtest.Refused(t, err, fault.Invalid, "INVALID_FIELDS"), "plant.services[1].kind", catalogue.ReasonDuplicate)
	touching := plant(t, "third")
	touching.Touches = []site.PlantID{"nobody"}
	err = attempt(t, w, func(tx *store.Tx) error {
		_, _, err := premises.AddPlant(tx, firm.Kept[site.Plant]{Value: touching}, nil)
		return err
	})
	firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
}

func TestAddSite_RefusesWindowsAndPlacesThatCannotBe(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	base := func() (s site.Site) {
		w.In(t, w.Office, func(tx *store.Tx) (err error) {
			s, err = tx.Site("bench-tannery-yard")
			return err
		})
		s.ID, s.Agreement = "new-bench", site.Agreement{}
		s.Areas = slices.Clone(s.Areas)
		for i := range s.Areas {
			s.Areas[i].ID = site.AreaID("new-" + strings.TrimPrefix(string(s.Areas[i].ID), "bench-"))
		}
		s.Water.Area = s.Areas[0].ID
		return s
	}
	add := func(s site.Site) error {
		return attempt(t, w, func(tx *store.Tx) error {
			_, err := premises.AddSite(tx, firm.Kept[site.Site]{Value: s})
			return err
		})
	}
	same := civil.NewClock(9, 0)
	for _, c := range []struct {
		name   string
		change func(*site.Site)
		path   string
	}{
		{"a window that ends as it begins", func(s *site.Site) {
			s.Access.Weekly = []civil.Weekly{{Days: s.Access.Weekly[0].Days, Window: civil.Window{Opens: same, Closes: same}}}
		}, "site.access"},
		{"a jurisdiction unknown", func(s *site.Site) { s.Jurisdiction = "MARS" }, "site.jurisdiction"},
		{"water in an area that it does not have", func(s *site.Site) { s.Water.Area = "nowhere" }, "site.water.area"},
		{"off the globe", func(s *site.Site) { s.Position.Latitude = 91 }, "site.position"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := base()
			c.change(&s)
			f := firmtest.Refused(t, add(s), fault.Invalid, "INVALID_FIELDS")
			if !slices.ContainsFunc(f.Fields, func(field catalogue.FieldError) bool { return strings.HasPrefix(field.Path, c.path) }) {
				t.Errorf("fields %+v: want one under %s", f.Fields, c.path)
			}
		})
	}
	stranger := base()
	stranger.Client = "nobody"
	firmtest.Refused(t, add(stranger), fault.NotFound, "NOT_FOUND")
	unusual := base()
	unusual.Agreement.UsualTechnician = "nobody"
	firmtest.Refused(t, add(unusual), fault.NotFound, "NOT_FOUND")
	if err := add(base()); err != nil {
		t.Errorf("the site itself: %v", err)
	}
	firmtest.Refused(t, add(base()), fault.Exists, "EXISTS_ALREADY")
}

func TestAddProducts_AHouseholdRemedyIsTheResponsibleApplicatorsToJustify(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	remedy := func() (p catalogue.Product) {
		w.In(t, w.Office, func(tx *store.Tx) (err error) {
			p, err = tx.Product("alcohol")
			return err
		})
		p.ID, p.LawfulBecause = "alcohol-2", map[catalogue.JurisdictionCode]string{"US-PA": "recorded by the responsible applicator"}
		return p
	}()
	add := func(caller firm.Caller) error {
		return w.Store.In(t.Context(), caller, func(tx *store.Tx) error { return premises.AddProducts(tx, []catalogue.Product{remedy}) })
	}
	f := firmtest.Refused(t, add(w.Office), fault.Forbidden, "RIGHT_NEEDED")
	if !slices.Equal(f.Needs, []string{"responsible_applicator"}) {
		t.Errorf("needed is %v", f.Needs)
	}
	if err := add(w.TechA); err != nil {
		t.Errorf("the responsible applicator: %v", err)
	}
	firmtest.Refused(t, add(w.TechA), fault.Exists, "EXISTS_ALREADY")
	remedy.ID, remedy.Material = "alcohol-3", "moonshine"
	f = firmtest.Refused(t, add(w.TechA), fault.Invalid, "INVALID_FIELDS")
	if f.Fields[0].Path != "product.material" {
		t.Errorf("fields %+v: want product.material", f.Fields)
	}
}

func TestAddCrew_SaysEverythingThatIsWrong(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	bad := firm.CrewMember{
		ID: "tech-c", Name: "Technician C", Shifts: civil.Calendar{Always: true}, BreakTakes: 1, BreakFrom: 10, BreakTo: 10,
		PaidPerMinute: -1, SpeedPercent: 5, Licences: []scheduler.Licence{{Jurisdiction: "MARS", From: 10, To: 9}},
		Vessels: []scheduler.Vessel{{}}, Measures: []scheduler.Measure{{}},
	}
	err := attempt(t, w, func(tx *store.Tx) error { return premises.AddCrew(tx, []firm.CrewMember{bad}) })
	f := firmtest.Refused(t, err, fault.Invalid, "INVALID_FIELDS")
	for path, reason := range map[string]string{
		"shifts.always": "CALENDAR_INVALID", "break_to": "CONTRADICTION", "paid_per_minute": "OUT_OF_RANGE", "speed_percent": "OUT_OF_RANGE",
		"licences[0].jurisdiction": "UNKNOWN_JURISDICTION", "licences[0].to": "CONTRADICTION", "vessels[0]": "VESSEL_INVALID", "measures[0]": "MEASURE_INVALID",
	} {
		firmtest.Field(t, f, "technician."+path, reason)
	}
}

func TestAddServices_WantPlantsOfTheirSite(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	service := site.Service{ID: "groom", Site: "offices-alder-row", Kind: site.WateringService, Earliest: 5, Ideal: 7, Latest: 9,
		Last: civil.NewDate(2026, 3, 2), Groups: []site.Group{{Plant: "lily-lobby", Minutes: 1}}}
	err := attempt(t, w, func(tx *store.Tx) error { return premises.AddServices(tx, []site.Service{service}) })
	firmtest.Field(t, firmtest.Refused(t, err, fault.Invalid, "INVALID_FIELDS"), "services[0].groups[0].plant", "UNKNOWN_PLANT")
	service.Site = "nowhere"
	err = attempt(t, w, func(tx *store.Tx) error { return premises.AddServices(tx, []site.Service{service}) })
	firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
}
