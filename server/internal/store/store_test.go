package store_test

import (
	"errors"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

func TestIn_FailureLeavesNoTrace(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	own := errors.New("changed my mind")
	err := d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
		if err := tx.SetPlantsWatered(map[site.PlantID]civil.Date{"plant-1": storetest.Epoch}); err != nil {
			return err
		}
		return own
	})
	if !errors.Is(err, own) {
		t.Errorf("got %v, want the deed's own error", err)
	}
	in(t, d, func(tx *store.Tx) error {
		versions, err := tx.VersionsOf(nil, []site.ID{"site-1"}, nil)
		// 3: one each for being made, its plants, its service.
		if versions.Sites["site-1"] != 3 {
			t.Errorf("the site has version %d, want 3", versions.Sites["site-1"])
		}
		return err
	})
}

func TestIn_APanicRollsBackAndGoesOn(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the panic was swallowed")
			}
		}()
		_ = d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
			if _, err := tx.LockHead(); err != nil {
				return err
			}
			panic("a programmer's error")
		})
	}()
	in(t, d, func(tx *store.Tx) error { _, err := tx.LockHead(); return err }) // would wait for ever were it still locked
}

func TestIn_DeadlocksAreDoneAgain(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	openCase(t, d, "case-1", "plant-1")
	openCase(t, d, "case-2", "plant-2")
	var tries atomic.Int32
	var met, deeds sync.WaitGroup
	met.Add(2)
	for i, order := range [][2]course.CaseID{{"case-1", "case-2"}, {"case-2", "case-1"}} {
		first := true
		deeds.Go(func() {
			err := d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
				tries.Add(1)
				if _, err := tx.LockCase(order[0]); err != nil {
					return err
				}
				if first { // both hold their first lock before either asks for its second
					first = false
					met.Done()
					met.Wait()
				}
				_, err := tx.AppendEvents(order[1], []course.Event{finding(string(order[0]), at(9+i, 0))})
				return err
			})
			if err != nil {
				t.Errorf("locking %v: %v", order, err)
			}
		})
	}
	deeds.Wait()
	if got := tries.Load(); got < 3 { // 4 where the database ends both at the same moment
		t.Errorf("the two deeds took %d tries, want 3 or more: one of them met a deadlock", got)
	}
}

func TestIn_RetriesAreBounded(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	tries := 0
	err := d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
		tries++
		// A twin remembers the same request between this try's look and its end, every time anew.
		id := string(rune('a' + tries))
		in(t, d, func(other *store.Tx) error { return other.Remember("Method", id, []byte("h"), []byte("theirs")) })
		return tx.Remember("Method", id, []byte("h"), []byte("mine"))
	})
	wantFault(t, err, fault.Exists, "EXISTS_ALREADY")
	if tries != 6 {
		t.Errorf("the deed was tried %d times, want 6", tries)
	}
}

func TestReading_SeesOneMomentAndChangesNothing(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	water := func(tx *store.Tx) error {
		return tx.SetPlantsWatered(map[site.PlantID]civil.Date{"plant-1": storetest.Epoch})
	}
	err := d.Store.Reading(t.Context(), d.Office, func(tx *store.Tx) error {
		before, err := tx.Plant("plant-1")
		if err != nil {
			return err
		}
		in(t, d, water)
		after, err := tx.Plant("plant-1")
		if after.Watering.Last != before.Watering.Last {
			t.Errorf("within one reading the last watering went from %q to %q", before.Watering.Last, after.Watering.Last)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Store.Reading(t.Context(), d.Office, water); err == nil {
		t.Error("a reading wrote")
	}
}

func TestIn_NowIsTheFirmsAndStandsStill(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	in(t, d, func(tx *store.Tx) error {
		d.Clock.Set(at(8, 0))
		if tx.Now() != at(7, 0) {
			t.Errorf("within a transaction the instant went on to %s", tx.Now())
		}
		return nil
	})
	var now civil.Instant
	in(t, d, func(tx *store.Tx) error { now = tx.Now(); return nil })
	if now != at(8, 0) {
		t.Errorf("the next transaction's instant is %s, want 08:00", now)
	}
}

func TestLockCase_AppendersToACaseGoOneAfterTheOther(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	openCase(t, d, "case-1", "plant-1")
	const appenders = 8
	var all sync.WaitGroup
	for i := range appenders {
		all.Add(1)
		go func() {
			defer all.Done()
			err := d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
				if _, err := tx.LockCase("case-1"); err != nil {
					return err
				}
				// Each event tells how many were there before: serial only if no two tell the same.
				histories, err := tx.Histories([]course.CaseID{"case-1"})
				if err != nil {
					return err
				}
				event := finding(string(rune('a'+i)), at(9, 0))
				event.Finding.Severity = len(histories[0].Events)
				_, err = tx.AppendEvents("case-1", []course.Event{event})
				return err
			})
			if err != nil {
				t.Error(err)
			}
		}()
	}
	all.Wait()
	in(t, d, func(tx *store.Tx) error {
		histories, err := tx.Histories([]course.CaseID{"case-1"})
		seen := map[int]bool{}
		for _, event := range histories[0].Events {
			seen[event.Finding.Severity] = true
		}
		if len(seen) != appenders {
			t.Errorf("of %d appenders only %d saw different histories", appenders, len(seen))
		}
		return err
	})
}

func TestRemember_ARepeatedRequestGetsTheFirstAnswer(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	beta := d.Add(t, storetest.Business("beta"))
	ask := func(tx *store.Tx, method, id, hash string) (string, bool, error) {
		answer, found, err := tx.Remembered(method, id, []byte(hash))
		return string(answer), found, err
	}
	in(t, d, func(tx *store.Tx) error { return tx.Remember("OpenCase", "r1", []byte("h1"), []byte("case-1")) })
	in(t, d, func(tx *store.Tx) error {
		if answer, found, err := ask(tx, "OpenCase", "r1", "h1"); !found || answer != "case-1" || err != nil {
			t.Errorf("repeated: %q, %v, %v; want case-1", answer, found, err)
		}
		for _, other := range [][2]string{{"OpenCase", "r2"}, {"EndCase", "r1"}} {
			if answer, found, err := ask(tx, other[0], other[1], "h1"); found || err != nil {
				t.Errorf("%v: %q, %v, %v; want nothing", other, answer, found, err)
			}
		}
		_, _, err := ask(tx, "OpenCase", "r1", "h2")
		wantFault(t, err, fault.Invalid, "REQUEST_ID_REUSED")
		return nil
	})
	err := d.Store.In(t.Context(), beta, func(tx *store.Tx) error {
		if _, found, err := ask(tx, "OpenCase", "r1", "h1"); found || err != nil {
			t.Errorf("another business hears of it: %v, %v", found, err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestRemember_OfTwinsAtOneMomentOneDoesTheDeedAndBothHearOfIt(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	const twins = 6
	answers := make(chan string, twins)
	var deeds atomic.Int32
	for i := range twins {
		go func() {
			var given string
			err := d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
				answer, found, err := tx.Remembered("OpenCase", "r1", []byte("h1"))
				if found || err != nil {
					given = string(answer)
					return err
				}
				deeds.Add(1)
				time.Sleep(20 * time.Millisecond)
				given = string(rune('a' + i))
				return tx.Remember("OpenCase", "r1", []byte("h1"), []byte(given))
			})
			if err != nil {
				t.Error(err)
			}
			answers <- given
		}()
	}
	first := <-answers
	for range twins - 1 {
		if next := <-answers; next != first {
			t.Errorf("twins hear %q and %q", first, next)
		}
	}
	if deeds.Load() != 1 {
		t.Errorf("the deed was done %d times, want once: twins wait for one another", deeds.Load())
	}
}

func TestDropForgotten_AfterThirtyDays(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	in(t, d, func(tx *store.Tx) error {
		if err := tx.Remember("OpenCase", "old", nil, nil); err != nil {
			return err
		}
		return tx.Remember("OpenCase", "young", nil, nil)
	})
	db := raw(t, d.OwnerURL)
	day := 24 * time.Hour
	for id, age := range map[string]time.Duration{"old": 31 * day, "young": 29 * day} {
		const statement = `WITH mine AS (SELECT set_config('vernation.business', 'alpha', false)) SELECT 1 FROM mine`
		conn, err := db.Conn(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if _, err := conn.ExecContext(t.Context(), statement); err != nil {
			t.Fatal(err)
		}
		if _, err := conn.ExecContext(t.Context(), `UPDATE idempotency SET remembered_at = $2 WHERE request_id = $1`, id, time.Now().Add(-age)); err != nil {
			t.Fatal(err)
		}
		conn.Close()
	}
	in(t, d, func(tx *store.Tx) error {
		dropped, err := tx.DropForgotten()
		if dropped != 1 {
			t.Errorf("%d answers were dropped, want the one of 31 days", dropped)
		}
		return err
	})
}
