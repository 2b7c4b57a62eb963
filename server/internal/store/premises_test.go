package store_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// same compares values that hold zones and volumes.
func same(t *testing.T, what string, got, want any) {
	t.Helper()
	equalZones := cmp.Comparer(func(a, b civil.Zone) bool { return a.Equal(b) })
	equalVolumes := cmp.Comparer(func(a, b quantity.Volume) bool { return a.Equal(b) && a.Unit() == b.Unit() })
	if diff := cmp.Diff(want, got, equalZones, equalVolumes); diff != "" {
		t.Errorf("%s differs (-want +got):\n%s", what, diff)
	}
}

func TestPremises_ComeBackAsWritten(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	err := d.Store.Reading(t.Context(), d.Office, func(tx *store.Tx) error {
		business, errBusiness := tx.Business()
		client, errClient := tx.Client("client-1")
		place, errSite := tx.Site("site-1")
		group, errPlant := tx.Plant("plant-1")
		product, errProduct := tx.Product("soap-1")
		technician, errCrew := tx.CrewMember("tech-1")
		services, errServices := tx.Services("site-1")
		for _, err := range []error{errBusiness, errClient, errSite, errPlant, errProduct, errCrew, errServices} {
			if err != nil {
				return err
			}
		}
		same(t, "business", business, d.Business)
		same(t, "client", client, firm.Client{ID: "client-1", Name: "Client 1"})
		same(t, "site", place, office("site-1"))
		same(t, "plant", group, plant("plant-1", "site-1", "site-1-lobby"))
		same(t, "product", product, soap())
		same(t, "technician", technician, member("tech-1"))
		if len(services) != 1 || services[0].Last != storetest.Epoch.AddDays(-7) || services[0].Groups[0].Minutes != 5 {
			t.Errorf("services come back as %+v", services)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestPremises_PagesGoByKeyToTheEnd(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	in(t, d, func(tx *store.Tx) error {
		var seen []site.ID
		for page := (listing.Question{Size: 1, Order: []listing.Key{{Field: listing.NameField}}}); ; {
			sites, err := tx.KeptSites(page)
			if err != nil {
				return err
			}
			if len(sites) == 0 {
				break
			}
			seen = append(seen, sites[0].Value.Value.ID)
			page.After = sites[0].After
		}
		same(t, "sites by page", seen, []site.ID{"site-1", "site-2"})
		plants, err := tx.KeptPlants("site-1", listing.Question{Order: []listing.Key{{Field: listing.NameField}}, After: []string{"plant-1"}})
		if err == nil && (len(plants) != 1 || plants[0].Value.Value.ID != "plant-2") {
			t.Errorf("after plant-1 come %v, want plant-2", plants)
		}
		return err
	})
}

func TestPremises_RefusesWhatCannotBe(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	stranger := plant("plant-9", "site-1", "site-2-lobby")
	dwarf := plant("plant-9", "site-1", "site-1-lobby")
	dwarf.Count = 0
	unruly := plant("plant-9", "site-1", "site-1-lobby")
	unruly.Watering = site.Watering{Earliest: 7, Ideal: 5, Latest: 9}
	nul := office("site-9")
	nul.AccessNotes = "ring\x00twice"
	taken := office("site-9")
	taken.Areas = office("site-1").Areas
	for name, test := range map[string]struct {
		do     func(tx *store.Tx) error
		kind   fault.Kind
		reason string
	}{
		"a client twice":                     {func(tx *store.Tx) error { return tx.InsertClients([]firm.Client{{ID: "client-1"}}) }, fault.Exists, "EXISTS_ALREADY"},
		"a plant in an area of another site": {func(tx *store.Tx) error { return tx.InsertPlants([]site.Plant{stranger}) }, fault.NotFound, "PARENT_NOT_FOUND"},
		"a group of no plants":               {func(tx *store.Tx) error { return tx.InsertPlants([]site.Plant{dwarf}) }, fault.Invalid, "BROKEN_CONSTRAINT"},
		"watering days out of order":         {func(tx *store.Tx) error { return tx.InsertPlants([]site.Plant{unruly}) }, fault.Invalid, "BROKEN_CONSTRAINT"},
		"a text with NUL":                    {func(tx *store.Tx) error { return tx.InsertSites([]site.Site{nul}) }, fault.Invalid, "TEXT_NOT_STORABLE"},
		"an area of another site":            {func(tx *store.Tx) error { return tx.InsertSites([]site.Site{taken}) }, fault.Exists, "EXISTS_ALREADY"},
		"a site that nobody knows":           {func(tx *store.Tx) error { _, err := tx.Site("site-9"); return err }, fault.NotFound, "NOT_FOUND"},
		"watering a plant that nobody knows": {func(tx *store.Tx) error {
			return tx.SetPlantsWatered(map[site.PlantID]civil.Date{"plant-9": storetest.Epoch})
		}, fault.NotFound, "NOT_FOUND"},
	} {
		t.Run(name, func(t *testing.T) { refused(t, d, test.kind, test.reason, test.do) })
	}
}

func TestPremises_ChangesRaiseTheVersionThatPublishingCompares(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	versions := func() (v firm.Versions) {
		in(t, d, func(tx *store.Tx) (err error) {
			v, err = tx.VersionsOf(nil, []site.ID{"site-1", "site-2", "site-9"}, nil)
			return err
		})
		return v
	}
	for name, change := range map[string]func(tx *store.Tx) error{
		"a plant more": func(tx *store.Tx) error {
			return tx.InsertPlants([]site.Plant{plant("plant-4", "site-1", "site-1-hall")})
		},
		"a plant watered": func(tx *store.Tx) error {
			return tx.SetPlantsWatered(map[site.PlantID]civil.Date{"plant-1": storetest.Epoch})
		},
		"a service done": func(tx *store.Tx) error {
			return tx.SetServicesDone(map[string]civil.Date{"service-1": storetest.Epoch})
		},
	} {
		before := versions()
		in(t, d, change)
		after := versions()
		if after.Sites["site-1"] <= before.Sites["site-1"] || after.Sites["site-2"] != before.Sites["site-2"] {
			t.Errorf("%s: versions went from %v to %v, want site-1 alone to rise", name, before.Sites, after.Sites)
		}
		if _, known := after.Sites["site-9"]; known {
			t.Errorf("a site that nobody knows has a version")
		}
	}
}

func TestSetPlantsWatered_ReportsInAnyOrderGiveTheLatestDay(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	for _, day := range []civil.Date{storetest.Epoch.AddDays(3), storetest.Epoch.AddDays(1)} {
		in(t, d, func(tx *store.Tx) error {
			return tx.SetPlantsWatered(map[site.PlantID]civil.Date{"plant-1": day, "plant-3": day})
		})
	}
	in(t, d, func(tx *store.Tx) error {
		plants, err := tx.PlantsOf("site-1", "site-2")
		if err == nil && (plants[0].Watering.Last != storetest.Epoch.AddDays(3) || !plants[1].Watering.Last.IsZero()) {
			t.Errorf("last waterings are %s and %q, want %s and none", plants[0].Watering.Last, plants[1].Watering.Last, storetest.Epoch.AddDays(3))
		}
		return err
	})
}
