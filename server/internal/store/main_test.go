package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// workerMode holds the address for which the test binary is a worker that takes a run up and never ends it.
const workerMode = "VERNATION_STORE_WORKER"

func TestMain(m *testing.M) {
	if url := os.Getenv(workerMode); url != "" {
		workForEver(url)
		return
	}
	storetest.Main(m)
}

// workForEver says the attempt of each run that it takes up, and waits to be killed.
func workForEver(url string) {
	opened, err := store.Open(context.Background(), url, &firm.Clock{}, nil)
	if err != nil {
		fmt.Println("error:", err)
		os.Exit(1)
	}
	err = opened.Work(context.Background(), func(_ context.Context, _ firm.BusinessID, _ string, attempt int) error {
		fmt.Println(attempt)
		select {}
	}, quick("victim"))
	fmt.Println("error:", err)
}

// in does a deed that must succeed.
func in(t *testing.T, d *storetest.Database, do func(tx *store.Tx) error) {
	t.Helper()
	if err := d.Store.In(t.Context(), d.Office, do); err != nil {
		t.Fatal(err)
	}
}

// refused does a deed that must fail with a kind and reason.
func refused(t *testing.T, d *storetest.Database, kind fault.Kind, reason string, do func(tx *store.Tx) error) {
	t.Helper()
	wantFault(t, d.Store.In(t.Context(), d.Office, do), kind, reason)
}

func wantFault(t *testing.T, err error, kind fault.Kind, reason string) {
	t.Helper()
	if err == nil {
		t.Fatalf("nothing was refused, want %s", reason)
	}
	if f := fault.Of(err); f.Kind != kind || f.Reason != reason {
		t.Fatalf("got kind %d, %v; want kind %d, %s", f.Kind, err, kind, reason)
	}
}

// raw opens a plain connection to run SQL past the store's code.
func raw(t *testing.T, url string) *sql.DB {
	t.Helper()
	db, err := sql.Open("postgres", url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// at is an instant of the tests' Monday in UTC.
func at(hour, minute int) civil.Instant {
	return civil.Zone{}.At(storetest.Epoch, civil.NewClock(hour, minute))
}

func span(fromHour, toHour int) civil.Interval {
	return civil.Interval{From: at(fromHour, 0), To: at(toHour, 0)}
}

// furnish adds a client, two sites with two areas each, three plants, a product, two technicians and a service.
func furnish(t *testing.T, d *storetest.Database, caller firm.Caller) {
	t.Helper()
	err := d.Store.In(context.Background(), caller, func(tx *store.Tx) error {
		steps := []func() error{
			func() error { return tx.InsertClients([]firm.Client{{ID: "client-1", Name: "Client 1"}}) },
			func() error { return tx.InsertSites([]site.Site{office("site-1"), office("site-2")}) },
			func() error {
				return tx.InsertPlants([]site.Plant{
					plant("plant-1", "site-1", "site-1-lobby"), plant("plant-2", "site-1", "site-1-hall"), plant("plant-3", "site-2", "site-2-lobby"),
				})
			},
			func() error { return tx.InsertProducts([]catalogue.Product{soap()}) },
			func() error { return tx.InsertCrew([]firm.CrewMember{member("tech-1"), member("tech-2")}) },
			func() error {
				return tx.InsertServices([]site.Service{{
					ID: "service-1", Site: "site-1", Kind: site.WateringService, Groups: []site.Group{{Plant: "plant-1", Minutes: 5}},
					Earliest: 5, Ideal: 7, Latest: 9, Last: storetest.Epoch.AddDays(-7),
				}})
			},
		}
		for _, step := range steps {
			if err := step(); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func office(id site.ID) site.Site {
	zone, err := civil.LoadZone("America/New_York")
	if err != nil {
		panic(err)
	}
	return site.Site{
		ID: id, Client: "client-1", Name: "Site " + string(id), Zone: zone, Jurisdiction: "US-PA", Kind: "office",
		Access: civil.Calendar{Always: true}, Keys: []site.KeyID{"key-1"},
		Areas: []site.Area{
			{ID: site.AreaID(id) + "-lobby", Name: "Lobby", OpenTo: []site.AreaID{site.AreaID(id) + "-hall"}, Public: true,
				Climate: site.Climate{{Coldest: 18, Usual: 21, Warmest: 24}}, Humidity: &site.Humidity{Least: 25, Usual: 40, Greatest: 60}},
			{ID: site.AreaID(id) + "-hall", Name: "Hall"},
		},
	}
}

func plant(id site.PlantID, at site.ID, area site.AreaID) site.Plant {
	return site.Plant{
		ID: id, Name: string(id), Site: at, Area: area, Species: "ficus-benjamina", Count: 3, HeightCM: 180,
		Planter: site.Liner, Owner: site.OwnedByClient, Watering: site.Watering{Earliest: 5, Ideal: 7, Latest: 10},
	}
}

func soap() catalogue.Product {
	return catalogue.Product{ID: "soap-1", Name: "Soap 1", Material: "insecticidal-soap", Form: catalogue.Concentrate, LabelVersion: "1"}
}

func member(id scheduler.TechnicianID) firm.CrewMember {
	return firm.CrewMember{
		ID: id, Name: string(id), BaseLatitude: 39.95, BaseLongitude: -75.16, SpeedPercent: 100, PaidPerMinute: 55,
		Licences: []scheduler.Licence{{Jurisdiction: "US-PA", Category: "18", Number: "1"}},
	}
}
