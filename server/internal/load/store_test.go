package load_test

import (
	"fmt"
	"strings"
	"testing"

	"vernation/server/internal/firmtest"
	"vernation/server/internal/load"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

func TestStore_WritesAllThatTheDemosFileTells(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	w.In(t, w.Office, func(tx *store.Tx) error {
		sites, err := tx.AllSites()
		if err != nil {
			return err
		}
		plants, err := tx.AllPlants()
		if err != nil {
			return err
		}
		products, err := tx.AllProducts()
		if err != nil {
			return err
		}
		crew, err := tx.Crew()
		if err != nil {
			return err
		}
		services, err := tx.Services()
		if err != nil {
			return err
		}
		business, err := tx.Business()
		if len(sites) != 8 || len(plants) != 150 || len(products) != 6 || len(crew) != 2 || len(services) != 8 || business.ID != "demo-rounds" || business.Currency != "USD" {
			t.Errorf("%d sites, %d plants, %d products, %d technicians, %d services of %+v: want 8, 150, 6, 2, 8 of demo-rounds",
				len(sites), len(plants), len(products), len(crew), len(services), business.ID)
		}
		return err
	})
}

// A mistake that only a deed can see, since it needs what else is stored, names file and line, and stores nothing.
func TestStore_AMistakeNamesFileLineAndFieldAndStoresNothing(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, old, new, want string }{
		{"an area of another site", "site: offices-alder-row, area: offices-floor, species: epipremnum-aureum, count: 3", "site: offices-alder-row, area: hotel-lobby, species: epipremnum-aureum, count: 3", "plants[1].area"},
		{"a species unknown", "species: ficus-lyrata, count: 2", "species: triffid, count: 2", "plants[2].species"},
		{"a million plants", "species: epipremnum-aureum, count: 5", "species: epipremnum-aureum, count: 1000000", "plants[0].count"},
		{"nobody's licence", `jurisdiction: US-PA, category: "06"`, `jurisdiction: MARS, category: "06"`, "technicians[1].licences[0].jurisdiction"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			text := demo(t)
			if !strings.Contains(text, c.old) {
				t.Fatalf("the demo file holds no %q", c.old)
			}
			at := strings.Count(text[:strings.Index(text, c.old)], "\n") + 1
			file, err := load.Read("demo.yaml", []byte(strings.Replace(text, c.old, c.new, 1)))
			if err != nil {
				t.Fatal(err)
			}
			d := storetest.New(t)
			err = d.Store.In(t.Context(), d.Office, file.Store)
			if err == nil {
				t.Fatal("the mistake was stored")
			}
			if want := fmt.Sprintf("demo.yaml:%d: %s", at, c.want); !strings.Contains(err.Error(), want) {
				t.Errorf("%q does not say %q", err, want)
			}
			if left := d.Count(t, "client"); left != 0 {
				t.Errorf("the refused file left %d clients", left)
			}
		})
	}
}

func TestFirm_SaysWhatOfTheHeadCannotBe(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, old, new, want string }{
		{"a zone that does not exist", "\n  zone: America/New_York", "\n  zone: America/Old_York", "business.zone"},
		{"no currency", "\n  currency: USD", "\n  currency: dollars", "business.currency"},
		{"no speed", "\n  speed_kmh: 28", "\n  speed_kmh: 0", "business.speed_kmh"},
		{"an extent unknown", "\nclients:", "\npolicy: {extent_by_severity: [spot, spot, all, neighbours]}\nclients:", "policy.extent_by_severity[2]"},
		{"a rate unknown", "\nclients:", "\nrates: {nonsense: 5}\nclients:", "rates.nonsense"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			text := demo(t)
			if !strings.Contains(text, c.old) {
				t.Fatalf("the demo file holds no %q", c.old)
			}
			file, err := load.Read("demo.yaml", []byte(strings.Replace(text, c.old, c.new, 1)))
			if err != nil {
				t.Fatal(err)
			}
			_, err = file.Firm()
			at := strings.Count(text[:strings.Index(text, c.old)], "\n") + 2
			if want := fmt.Sprintf("demo.yaml:%d: %s", at, c.want); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%v does not say %q", err, want)
			}
		})
	}
}
