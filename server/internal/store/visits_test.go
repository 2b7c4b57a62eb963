package store_test

import (
	"database/sql"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// visit is a published visit at site-1 whose work is a watering in the lobby for the whole time after signing in.
func visit(id scheduler.VisitID, technician scheduler.TechnicianID, during civil.Interval) scheduler.Visit {
	return scheduler.Visit{
		ID: id, State: scheduler.Published, Technician: technician, Site: "site-1",
		Arrives: during.From, Leaves: during.To, SignIn: 5 * time.Minute,
		Work: []scheduler.WorkItem{{
			Item: "service-1#1", Service: site.WateringService, Area: "site-1-lobby", Plants: []site.PlantID{"plant-1"},
			Begins: during.From.Add(5 * time.Minute), Ends: during.To, MixIndex: -1,
		}},
		Cost: scheduler.Cost{Total: 1500, Parts: map[scheduler.CostPart]quantity.Money{scheduler.CostPaid: 1500}},
	}
}

// spraying is a visit that applies soap in an area.
func spraying(id scheduler.VisitID, technician scheduler.TechnicianID, area site.AreaID, during civil.Interval) scheduler.Visit {
	v := visit(id, technician, during)
	v.Work[0] = scheduler.WorkItem{
		Item: "case-1/application/1/1", Kind: scheduler.KindApplication, Way: "in-place", Area: area, Plants: []site.PlantID{"plant-1"},
		Begins: during.From, Ends: during.To, MixIndex: 0,
		Use: &scheduler.Use{Product: "soap-1", Method: catalogue.Method("spray"), Doses: []course.Dose{{Plant: "plant-1", Amount: quantity.NewVolume(3, 4, quantity.USFluidOunce)}}},
	}
	return v
}

func keepOut(visit scheduler.VisitID, area site.AreaID, during civil.Interval) firm.KeepOutFact {
	return firm.KeepOutFact{
		KeepOut: scheduler.KeepOut{Area: area, During: during, Product: "soap-1", By: "tech-1", UntilDry: true, Item: "case-1/application/1/1"},
		Visit:   visit,
	}
}

func route(technician scheduler.TechnicianID, during civil.Interval) firm.Route {
	return firm.Route{Technician: technician, Day: storetest.Epoch, Departs: during.From, Returns: during.To}
}

func TestReplaceVisits_ComeBackAsWritten(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	watering := visit("visit-1", "tech-1", span(9, 10))
	treatment := spraying("visit-2", "tech-2", "site-1-hall", span(11, 12))
	day := route("tech-1", span(8, 11))
	day.Break = civil.Interval{From: at(10, 15), To: at(10, 45)}
	day.Mixes = []scheduler.Mix{{Technician: "tech-1", Product: "soap-1", Vessel: "sprayer", Volume: quantity.NewVolume(32, 1, quantity.USFluidOunce)}}
	shut := keepOut("visit-2", "site-1-hall", span(11, 15))
	in(t, d, func(tx *store.Tx) error {
		return tx.ReplaceVisits(nil, []scheduler.Visit{treatment, watering}, []firm.Route{day, route("tech-2", span(10, 13))}, []firm.KeepOutFact{shut}, "")
	})
	in(t, d, func(tx *store.Tx) error {
		visits, errVisits := tx.Visits(store.VisitFilter{})
		routes, errRoutes := tx.Routes(store.RouteFilter{From: storetest.Epoch, To: storetest.Epoch})
		keepOuts, errKeepOuts := tx.KeepOuts(span(14, 20))
		after, errAfter := tx.KeepOuts(span(15, 20))
		for _, err := range []error{errVisits, errRoutes, errKeepOuts, errAfter} {
			if err != nil {
				return err
			}
		}
		same(t, "visits", visits, []scheduler.Visit{watering, treatment})
		same(t, "day route", routes[0], day)
		same(t, "keep-outs", keepOuts, []firm.KeepOutFact{shut})
		if len(routes) != 2 || routes[1].Break != (civil.Interval{}) {
			t.Errorf("the second day route comes back as %+v", routes[1:])
		}
		if len(after) != 0 { // [11, 15) has no instant in [15, 20)
			t.Errorf("from its end on a keep-out still shows: %v", after)
		}
		return nil
	})
}

func TestVisits_AreFilteredByTimeCrewAndState(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	in(t, d, func(tx *store.Tx) error {
		return tx.ReplaceVisits(nil, []scheduler.Visit{visit("visit-1", "tech-1", span(9, 10)), visit("visit-2", "tech-2", span(10, 11))}, nil, nil, "")
	})
	in(t, d, func(tx *store.Tx) error { return tx.SetVisitState("visit-1", scheduler.Begun) })
	for name, test := range map[string]struct {
		filter store.VisitFilter
		want   []scheduler.VisitID
	}{
		"all":                           {store.VisitFilter{}, []scheduler.VisitID{"visit-1", "visit-2"}},
		"until one begins is before it": {store.VisitFilter{To: at(10, 0)}, []scheduler.VisitID{"visit-1"}},
		"from the end of one":           {store.VisitFilter{From: at(10, 0)}, []scheduler.VisitID{"visit-2"}},
		"of a technician":               {store.VisitFilter{Technician: "tech-2"}, []scheduler.VisitID{"visit-2"}},
		"of another site":               {store.VisitFilter{Site: "site-2"}, nil},
		"begun":                         {store.VisitFilter{States: []scheduler.VisitState{scheduler.Begun, scheduler.Done}}, []scheduler.VisitID{"visit-1"}},
	} {
		t.Run(name, func(t *testing.T) {
			in(t, d, func(tx *store.Tx) error {
				found, err := tx.Visits(test.filter)
				var got []scheduler.VisitID
				for _, v := range found {
					got = append(got, v.ID)
				}
				same(t, "visits", got, test.want)
				return err
			})
		})
	}
}

func TestReplaceVisits_TwoVisitsMayChangePlaces(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	first, second := visit("visit-1", "tech-1", span(9, 10)), visit("visit-2", "tech-1", span(10, 11))
	second.Work[0].Item = "service-1#2"
	put := func(visits ...scheduler.Visit) func(tx *store.Tx) error {
		return func(tx *store.Tx) error {
			return tx.ReplaceVisits(nil, visits, []firm.Route{route("tech-1", span(8, 12))}, nil, "")
		}
	}
	in(t, d, put(first, second))
	swapped, other := visit("visit-1", "tech-1", span(10, 11)), visit("visit-2", "tech-1", span(9, 10))
	in(t, d, put(swapped, other))
	in(t, d, func(tx *store.Tx) error {
		moved, err := tx.Visit("visit-1")
		same(t, "visit-1 after the swap", moved, swapped)
		return err
	})
}

func TestReplaceVisits_RefusesATechnicianAtTwoPlacesAtOnce(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	refused(t, d, fault.Conflict, "HELD_ALREADY", func(tx *store.Tx) error {
		return tx.ReplaceVisits(nil, []scheduler.Visit{visit("visit-1", "tech-1", span(9, 11)), visit("visit-2", "tech-1", span(10, 12))}, nil, nil, "")
	})
	in(t, d, func(tx *store.Tx) error {
		visits, err := tx.Visits(store.VisitFilter{})
		if len(visits) != 0 {
			t.Errorf("the refused transaction left %d visits", len(visits))
		}
		return err
	})
}

// What was done at another time than it stood for holds nobody at that time.
func TestReplaceVisits_AVisitThatIsDoneHoldsNobody(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	shut := keepOut("visit-2", "site-1-lobby", span(11, 15))
	in(t, d, func(tx *store.Tx) error {
		if err := tx.ReplaceVisits(nil, []scheduler.Visit{visit("visit-1", "tech-1", span(12, 13))}, nil, nil, ""); err != nil {
			return err
		}
		return tx.SetVisitState("visit-1", scheduler.Done)
	})
	in(t, d, func(tx *store.Tx) error {
		return tx.ReplaceVisits(nil, []scheduler.Visit{spraying("visit-2", "tech-1", "site-1-lobby", span(11, 13))}, nil, []firm.KeepOutFact{shut}, "")
	})
}

func TestReplaceVisits_RefusesWorkInsideAKeepOut(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	shut := keepOut("visit-2", "site-1-lobby", span(11, 15))
	treatment := spraying("visit-2", "tech-2", "site-1-lobby", span(11, 12))
	replace := func(watering scheduler.Visit) func(tx *store.Tx) error {
		return func(tx *store.Tx) error {
			return tx.ReplaceVisits(nil, []scheduler.Visit{treatment, watering}, nil, []firm.KeepOutFact{shut}, "")
		}
	}
	refused(t, d, fault.Conflict, "HELD_ALREADY", replace(visit("visit-1", "tech-1", span(14, 16))))
	// A service that names no area is where its plants stand.
	unnamed := visit("visit-1", "tech-1", span(14, 16))
	unnamed.Work[0].Area = ""
	refused(t, d, fault.Conflict, "HELD_ALREADY", replace(unnamed))
	// [11, 15) and [15:05, 17) touch nothing of each other.
	in(t, d, replace(visit("visit-1", "tech-1", span(15, 17))))
}

func TestGuards_HoldWhenCodeIsBypassed(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	const insertVisit = `INSERT INTO visit (business_id, visit_id, state, technician_id, site_id, during, sign_in_seconds, cost)
		VALUES ('alpha', $1, 'published', 'tech-1', 'site-1', $2::tstzrange, 0, '{}')`
	const insertUse = `INSERT INTO area_use (business_id, area_id, kind, item_id, visit_id, during, technician_id, product_id)
		VALUES ('alpha', 'site-1-lobby', $1, $2, 'v', $3::tstzrange, '', '')`
	for name, test := range map[string]struct {
		statement     string
		first, second []any
		want          string
	}{
		"a technician twice":           {insertVisit, []any{"a", "[2026-03-02 09:00Z,2026-03-02 10:00Z)"}, []any{"b", "[2026-03-02 09:59:59Z,2026-03-02 11:00Z)"}, "23P01"},
		"one visit after the other":    {insertVisit, []any{"a", "[2026-03-02 09:00Z,2026-03-02 10:00Z)"}, []any{"b", "[2026-03-02 10:00Z,2026-03-02 11:00Z)"}, ""},
		"work inside a keep-out":       {insertUse, []any{"keep-out", "i", "[2026-03-02 09:00Z,2026-03-02 13:00Z)"}, []any{"work", "j", "[2026-03-02 12:00Z,2026-03-02 14:00Z)"}, "23P01"},
		"two keep-outs may overlap":    {insertUse, []any{"keep-out", "i", "[2026-03-02 09:00Z,2026-03-02 13:00Z)"}, []any{"keep-out", "j", "[2026-03-02 12:00Z,2026-03-02 14:00Z)"}, ""},
		"work beside work may overlap": {insertUse, []any{"work", "i", "[2026-03-02 09:00Z,2026-03-02 13:00Z)"}, []any{"work", "j", "[2026-03-02 12:00Z,2026-03-02 14:00Z)"}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			as(t, d.ServeURL, "alpha", func(tx *sql.Tx) {
				for _, args := range [][]any{test.first, test.second} {
					if _, err := tx.Exec(test.statement, args...); err != nil {
						t.Fatalf("refused before the end of the transaction: %v", err)
					}
				}
				// What is deferred is looked at now, and the transaction rolled back.
				_, err := tx.Exec(`SET CONSTRAINTS ALL IMMEDIATE`)
				if got := string(code(t, err)); got != test.want {
					t.Errorf("got %q (%v), want %q", got, err, test.want)
				}
			})
		})
	}
	for _, during := range []string{"[2026-03-02 09:00Z,2026-03-02 10:00Z]", "empty", "[2026-03-02 09:00Z,)"} {
		as(t, d.ServeURL, "alpha", func(tx *sql.Tx) {
			if _, err := tx.Exec(insertVisit, "a", during); code(t, err) != "23514" {
				t.Errorf("a visit during %s: got %v, want a broken check", during, err)
			}
		})
	}
}

func TestReplaceVisits_TwoTransactionsCannotBothPass(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	results := make(chan error, 2)
	var both = make(chan struct{}, 2)
	for _, id := range []scheduler.VisitID{"visit-1", "visit-2"} {
		go func() {
			results <- d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
				if err := tx.ReplaceVisits(nil, []scheduler.Visit{visit(id, "tech-1", span(9, 10))}, nil, nil, ""); err != nil {
					return err
				}
				both <- struct{}{}
				for deadline := time.Now().Add(2 * time.Second); len(both) < 2 && time.Now().Before(deadline); {
					time.Sleep(time.Millisecond)
				}
				return nil
			})
		}()
	}
	first, second := <-results, <-results
	if (first == nil) == (second == nil) {
		t.Fatalf("of two visits of one technician at one time got %v and %v, want exactly one refused", first, second)
	}
	for _, err := range []error{first, second} {
		if err != nil {
			wantFault(t, err, fault.Conflict, "HELD_ALREADY")
		}
	}
}

func TestReplaceVisits_FixedVisitsCannotBeWithdrawn(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	in(t, d, func(tx *store.Tx) error {
		return tx.ReplaceVisits(nil, []scheduler.Visit{visit("visit-1", "tech-1", span(9, 10)), visit("visit-2", "tech-2", span(9, 10))},
			[]firm.Route{route("tech-1", span(8, 11)), route("tech-2", span(8, 11))}, nil, "")
	})
	in(t, d, func(tx *store.Tx) error { return tx.SetVisitState("visit-1", scheduler.Pinned) })
	refused(t, d, fault.Conflict, "VISIT_FIXED", func(tx *store.Tx) error {
		return tx.ReplaceVisits([]scheduler.VisitID{"visit-1"}, nil, nil, nil, "")
	})
	in(t, d, func(tx *store.Tx) error { return tx.ReplaceVisits([]scheduler.VisitID{"visit-2"}, nil, nil, nil, "") })
	in(t, d, func(tx *store.Tx) error {
		routes, err := tx.Routes(store.RouteFilter{})
		if len(routes) != 1 || routes[0].Technician != "tech-1" {
			t.Errorf("day routes after tech-2's only visit went: %v", routes)
		}
		return err
	})
}

func TestAddKeepOuts_AFactIsNeverRefusedAndStandsInThePlansPlace(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	later := visit("visit-1", "tech-1", span(15, 16))
	replace := func(visits ...scheduler.Visit) func(tx *store.Tx) error {
		return func(tx *store.Tx) error { return tx.ReplaceVisits(nil, visits, nil, nil, "") }
	}
	in(t, d, func(tx *store.Tx) error {
		treatment := spraying("visit-2", "tech-2", "site-1-lobby", span(11, 12))
		return tx.ReplaceVisits(nil, []scheduler.Visit{treatment, later}, nil, []firm.KeepOutFact{keepOut("visit-2", "site-1-lobby", span(11, 15))}, "")
	})
	// The application really ended an hour later, so the lobby is shut until 16:00, into the planned watering.
	real := keepOut("visit-2", "site-1-lobby", span(12, 16))
	in(t, d, func(tx *store.Tx) error { return tx.AddKeepOuts([]firm.KeepOutFact{real}) })
	in(t, d, func(tx *store.Tx) error {
		keepOuts, err := tx.KeepOuts(civil.Interval{})
		same(t, "keep-outs", keepOuts, []firm.KeepOutFact{real})
		return err
	})
	// A new plan may not put work there again, unless the visit is fixed.
	refused(t, d, fault.Conflict, "HELD_ALREADY", replace(later))
	later.State = scheduler.Pinned
	in(t, d, replace(later))
	in(t, d, func(tx *store.Tx) error {
		open, err := tx.AwaitingDry() // at 07:00 it has not begun
		if len(open) != 0 {
			t.Errorf("before it begins %v waits for being dry", open)
		}
		return err
	})
	d.Clock.Set(at(17, 0))
	in(t, d, func(tx *store.Tx) error {
		open, err := tx.AwaitingDry()
		same(t, "awaiting dry", open, []firm.KeepOutFact{real})
		if err != nil {
			return err
		}
		if err := tx.ConfirmDryAfter("", "site-1-lobby", at(16, 30)); err != nil {
			return err
		}
		open, err = tx.AwaitingDry()
		if len(open) != 0 {
			t.Errorf("after the confirmation %v still waits", open)
		}
		return err
	})
}

func TestNotices_StandOnceAndAreUsedUp(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	notice := firm.Notice{ID: "notice-1", Item: "case-1/application/1/1", Site: "site-1", Begins: at(18, 0), DueAt: at(8, 0)}
	notice.SentAt = at(7, 30)
	again := notice
	again.SentAt = at(7, 45)
	for _, told := range []firm.Notice{notice, again} {
		in(t, d, func(tx *store.Tx) error { return tx.InsertNotices([]firm.Notice{told}) })
	}
	in(t, d, func(tx *store.Tx) error { return tx.UseUpNotices([]scheduler.ItemID{notice.Item}) })
	in(t, d, func(tx *store.Tx) error {
		found, err := tx.Notices(span(18, 19))
		notice.Used = true
		same(t, "notices", found, []firm.Notice{notice})
		return err
	})
	late := notice
	late.ID, late.DueAt = "notice-2", at(19, 0)
	refused(t, d, fault.Invalid, "BROKEN_CONSTRAINT", func(tx *store.Tx) error { return tx.InsertNotices([]firm.Notice{late}) })
}
