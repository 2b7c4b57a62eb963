package planning_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"vernation/scheduler/travel"
	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/roadtimes"
	"vernation/server/internal/store"
)

// town is a matrix service of which every way takes 7 minutes there and 9 back, as the latitudes rise or fall.
type town struct {
	*httptest.Server
	ways   atomic.Int64 // asked for
	broken atomic.Bool
	hangs  atomic.Bool
}

func openTown(t *testing.T) *town {
	t.Helper()
	s := &town{}
	s.Server = httptest.NewServer(http.HandlerFunc(s.answer))
	t.Cleanup(s.Close)
	return s
}

func (s *town) answer(w http.ResponseWriter, r *http.Request) {
	var question struct {
		Sources, Targets []struct{ Lat, Lon float64 }
	}
	if err := json.NewDecoder(r.Body).Decode(&question); err != nil {
		panic(err)
	}
	s.ways.Add(int64(len(question.Sources) * len(question.Targets)))
	if s.hangs.Load() {
		<-r.Context().Done() // until the caller has had enough
		return
	}
	if s.broken.Load() {
		w.WriteHeader(http.StatusInternalServerError)
		return
	}
	rows := make([][]map[string]any, len(question.Sources))
	for i, from := range question.Sources {
		for j, to := range question.Targets {
			seconds := 0
			switch {
			case from.Lat < to.Lat:
				seconds = 420
			case from.Lat > to.Lat:
				seconds = 540
			}
			rows[i] = append(rows[i], map[string]any{"from_index": i, "to_index": j, "time": seconds, "distance": float64(seconds) / 100})
		}
	}
	if err := json.NewEncoder(w).Encode(map[string]any{"sources_to_targets": rows, "units": "kilometers"}); err != nil {
		panic(err)
	}
}

func (s *town) roads(t *testing.T) planning.Roads {
	t.Helper()
	service, err := roadtimes.Open(roadtimes.Config{URL: s.URL, Format: roadtimes.Valhalla, Attribution: "© the town", EachWithin: 5 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	return planning.Roads{Service: service}
}

func (o *office) gathered(t *testing.T) (gathered planning.Gathered) {
	t.Helper()
	o.In(t, o.Office, func(tx *store.Tx) (err error) {
		gathered, err = planning.Gather(tx, o.Business.Zone.DateOf(tx.Now()), 1)
		return err
	})
	return gathered
}

// positions are those of all places, by id.
func positions(t *testing.T, o *office) map[travel.PlaceID]travel.Position {
	t.Helper()
	at := map[travel.PlaceID]travel.Position{}
	o.In(t, o.Office, func(tx *store.Tx) error {
		crew, err := tx.Crew()
		for _, m := range crew {
			at[travel.PlaceID("base:"+string(m.ID))] = travel.Position{Latitude: m.BaseLatitude, Longitude: m.BaseLongitude}
		}
		return err
	})
	for _, s := range o.gathered(t).Problem.Sites {
		at[travel.PlaceID(s.ID)] = s.Position
	}
	return at
}

func TestRoads_APlanIsMadeWithRoadTimesAndSaysSo(t *testing.T) {
	t.Parallel()
	s := openTown(t)
	o := openWith(t, s.roads(t))
	before := o.gathered(t)
	if before.Travel.Estimated != before.Travel.Ways || before.Travel.Ways == 0 {
		t.Errorf("before any plan: %+v, want all ways estimated", before.Travel)
	}
	plan := o.plan(t, 3)
	got := plan.Travel
	if got.Estimated != 0 || got.Ways != before.Travel.Ways || got.Failure != "" || got.Attribution != "© the town" ||
		got.Provider != "valhalla auto" || got.AskedAt != o.Clock.Now() {
		t.Errorf("the plan says %+v: want no way of %d estimated, and whom to thank", got, before.Travel.Ways)
	}
	at, matrix := positions(t, o), o.gathered(t).Problem.Travel
	for _, from := range matrix.Places {
		for _, to := range matrix.Places {
			want := int32(0)
			switch {
			case at[from].Latitude < at[to].Latitude:
				want = 420
			case at[from].Latitude > at[to].Latitude:
				want = 540
			}
			if seconds, metres, _ := matrix.Between(from, to); from != to && at[from] != at[to] && (seconds != want || metres != want*10) {
				t.Errorf("%s to %s: %d s, %d m: want %d s, %d m", from, to, seconds, metres, want, want*10)
			}
		}
	}
	asked := s.ways.Load()
	if o.plan(t, 3); s.ways.Load() != asked {
		t.Errorf("the second plan asks for %d ways again: all are kept", s.ways.Load()-asked)
	}
	o.publish(t, plan)
}

func TestRoads_WhatFailsIsEstimatedAndFlagged(t *testing.T) {
	t.Parallel()
	s := openTown(t)
	s.broken.Store(true)
	o := openWith(t, s.roads(t))
	got := o.plan(t, 3).Travel
	if got.Estimated != got.Ways || got.Ways == 0 || got.Failure != roadtimes.ErrFails.Error() || got.Provider != "" {
		t.Errorf("the plan says %+v: want all ways estimated, because the service answers with an error of its own", got)
	}
	s.broken.Store(false)
	if got := o.plan(t, 3).Travel; got.Estimated != 0 || got.Failure != "" {
		t.Errorf("once the service answers the plan says %+v: want nothing estimated", got)
	}
	// A month later what is kept is old, and still better than an estimate.
	s.broken.Store(true)
	asked := o.Clock.Now()
	o.Clock.Set(asked.Add(31 * 24 * time.Hour))
	if got := o.plan(t, 3).Travel; got.Estimated != 0 || got.Failure == "" || got.AskedAt != asked {
		t.Errorf("a month later the plan says %+v: want the old times, their age and the failure", got)
	}
	s.broken.Store(false)
	if got := o.plan(t, 3).Travel; got.AskedAt != o.Clock.Now() || got.Failure != "" {
		t.Errorf("then the plan says %+v: want times of today", got)
	}
}

func TestRoads_AServiceThatHangsHoldsNoPlanUp(t *testing.T) {
	t.Parallel()
	s := openTown(t)
	s.hangs.Store(true)
	roads := s.roads(t)
	roads.Within = 200 * time.Millisecond
	o := openWith(t, roads)
	if got := o.plan(t, 3).Travel; got.Estimated != got.Ways || got.Failure != roadtimes.ErrSilent.Error() {
		t.Errorf("the plan says %+v: want all ways estimated, because the service did not answer in time", got)
	}
}

func TestRoads_ANewPlaceCostsItsOwnWaysOnly(t *testing.T) {
	t.Parallel()
	s := openTown(t)
	o := openWith(t, s.roads(t))
	o.plan(t, 3)
	before := s.ways.Load()
	o.In(t, o.Office, func(tx *store.Tx) error {
		sites, err := tx.AllSites()
		if err != nil {
			return err
		}
		moved := sites[0]
		moved.Position.Latitude += 0.01
		return tx.UpdateSite(moved, "")
	})
	points := map[firm.RoadPoint]bool{}
	for _, p := range positions(t, o) {
		points[firm.RoadPointOf(p)] = true
	}
	if got := o.gathered(t).Travel; got.Estimated == 0 || got.Estimated == got.Ways {
		t.Errorf("before the next plan %+v: want the ways to and from the moved site estimated, and no others", got)
	}
	if got := o.plan(t, 3).Travel; got.Estimated != 0 {
		t.Errorf("the plan says %+v: want nothing estimated", got)
	}
	n := int64(len(points))
	if asked := s.ways.Load() - before; asked != n+n-1 {
		t.Errorf("%d ways were asked for: want %d from the new point and %d to it", asked, n, n-1)
	}
	o.In(t, o.Office, func(tx *store.Tx) error {
		kept, err := tx.RoadTimes()
		for _, row := range kept {
			if !points[row.From] || len(row.To) != len(points) {
				t.Errorf("from %v %d ways are kept: want %d, and none of a place that is there no longer", row.From, len(row.To), len(points))
			}
		}
		return err
	})
}

func TestRoads_WithoutAServiceNothingIsKept(t *testing.T) {
	t.Parallel()
	s := openTown(t)
	o := openWith(t, s.roads(t))
	o.plan(t, 3)
	err := planning.Worker(o.Store, planning.Roads{})(t.Context(), o.Business.ID, "unknown", 1)
	if err == nil {
		t.Error("an unknown run is carried out")
	}
	if got := o.gathered(t).Travel; got.Estimated != got.Ways || got.Provider != "" {
		t.Errorf("with no service configured %+v: want the great circle for all", got)
	}
}
