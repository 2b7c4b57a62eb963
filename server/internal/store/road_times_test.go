package store_test

import (
	"database/sql"
	"testing"

	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

func roadTimes(from firm.RoadPoint) firm.RoadTimes {
	return firm.RoadTimes{
		From: from, Provider: "osrm driving at roads.example", Attribution: "© somebody", AskedAt: at(7, 0),
		To:    []firm.RoadPoint{{Latitude: -9_000_000, Longitude: 18_000_000}, {Latitude: 1, Longitude: -2}, from},
		Times: []firm.RoadTime{{Seconds: 600, Metres: 7_000}, firm.NoRoad, {}},
	}
}

func TestRoadTimes_ComeBackAsWrittenAndAreForgotten(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	here, there := firm.RoadPoint{Latitude: 4_044_000, Longitude: -7_999_000}, firm.RoadPoint{Latitude: 4_044_000, Longitude: -7_998_000}
	newer := roadTimes(there)
	newer.Provider, newer.AskedAt, newer.To, newer.Times = "another", at(8, 0), newer.To[:1], newer.Times[:1]
	in(t, d, func(tx *store.Tx) error {
		for _, row := range []firm.RoadTimes{roadTimes(there), roadTimes(here), newer} {
			if err := tx.PutRoadTimes(row); err != nil {
				return err
			}
		}
		return nil
	})
	in(t, d, func(tx *store.Tx) error {
		kept, err := tx.RoadTimes()
		same(t, "road times", kept, []firm.RoadTimes{roadTimes(here), newer})
		return err
	})
	in(t, d, func(tx *store.Tx) error { return tx.DropRoadTimes([]firm.RoadPoint{here, {Latitude: 5, Longitude: 5}}) })
	in(t, d, func(tx *store.Tx) error {
		kept, err := tx.RoadTimes()
		same(t, "road times", kept, []firm.RoadTimes{newer})
		return err
	})
	for name, spoil := range map[string]func(*firm.RoadTimes){
		"off the earth": func(r *firm.RoadTimes) { r.From.Latitude = 9_000_001 },
		"of nobody":     func(r *firm.RoadTimes) { r.Provider = "" },
	} {
		t.Run(name, func(t *testing.T) {
			row := roadTimes(here)
			spoil(&row)
			refused(t, d, fault.Invalid, "BROKEN_CONSTRAINT", func(tx *store.Tx) error { return tx.PutRoadTimes(row) })
		})
	}
}

func TestRoadTimes_TellNobodyElseWhereClientsAre(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	d.Add(t, storetest.Business("beta"))
	in(t, d, func(tx *store.Tx) error { return tx.PutRoadTimes(roadTimes(firm.RoadPoint{})) })
	for business, want := range map[firm.BusinessID]int{"alpha": 1, "beta": 0, "": 0} {
		as(t, d.ServeURL, business, func(tx *sql.Tx) {
			var got int
			if err := tx.QueryRow(`SELECT count(*) FROM road_times`).Scan(&got); err != nil || got != want {
				t.Errorf("business %q sees %d rows, want %d (%v)", business, got, want, err)
			}
		})
	}
}

// BenchmarkRoadTimes reads all road times of a business with 300 places, as gathering does.
func BenchmarkRoadTimes(b *testing.B) {
	d := storetest.New(b)
	points := make([]firm.RoadPoint, 300)
	for i := range points {
		points[i] = firm.RoadPoint{Latitude: int32(4_000_000 + 700*i), Longitude: int32(-7_000_000 - 300*i)}
	}
	err := d.Store.In(b.Context(), d.Office, func(tx *store.Tx) error {
		for _, from := range points {
			row := firm.RoadTimes{From: from, Provider: "osrm driving at roads.example", AskedAt: at(7, 0), To: points, Times: make([]firm.RoadTime, len(points))}
			for i := range row.Times {
				row.Times[i] = firm.RoadTime{Seconds: int32(600 + i), Metres: int32(7_000 + i)}
			}
			if err := tx.PutRoadTimes(row); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		err := d.Store.Reading(b.Context(), d.Office, func(tx *store.Tx) error {
			_, err := tx.RoadTimes()
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}
