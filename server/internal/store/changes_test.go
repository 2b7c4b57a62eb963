package store_test

import (
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// after reads all changes from a position on in a snapshot of its own.
func after(t *testing.T, d *storetest.Database, position int64, filter store.ChangeFilter) (changes []firm.Change) {
	t.Helper()
	err := d.Store.Reading(t.Context(), d.Office, func(tx *store.Tx) (err error) {
		changes, err = tx.Changes(position, filter, 1000)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return changes
}

func last(t *testing.T, d *storetest.Database) (position int64) {
	t.Helper()
	err := d.Store.Reading(t.Context(), d.Office, func(tx *store.Tx) (err error) {
		position, err = tx.LastChange()
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return position
}

// Writers hold their transactions open for different times after they have told what changed, so that they commit in
// another order than they began. A reader that follows by its last position must see every position once.
func TestChanges_AReaderSkipsNoneWhileManyWrite(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	const writers, each = 8, 25
	given := errors.New("given up")
	var writing sync.WaitGroup
	for w := range writers {
		writing.Go(func() {
			for i := range each {
				err := d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
					tx.Tell(firm.Change{Noun: firm.NounSite, Kind: firm.Changed, ID: fmt.Sprintf("site-%d-%d", w, i)},
						firm.Change{Noun: firm.NounPlant, Kind: firm.Changed, ID: fmt.Sprintf("plant-%d-%d", w, i)})
					time.Sleep(time.Duration((w*7+i*3)%5) * time.Millisecond)
					if i%5 == 4 {
						return given // its positions are another's
					}
					return nil
				})
				if err != nil && !errors.Is(err, given) {
					t.Error(err)
				}
			}
		})
	}
	done := make(chan struct{})
	go func() { writing.Wait(); close(done) }()
	seen := map[string]bool{}
	position, over := int64(0), false
	for ended := false; !ended; {
		select {
		case <-done:
			over = true
		default:
		}
		changes := after(t, d, position, store.ChangeFilter{})
		for _, change := range changes {
			if change.Position != position+1 {
				t.Fatalf("after position %d comes %d: a reader has skipped what lies between, or meets it twice", position, change.Position)
			}
			position = change.Position
			if name := string(change.Noun) + change.ID; seen[name] {
				t.Errorf("%s is told twice", name)
			} else {
				seen[name] = true
			}
		}
		ended = over && len(changes) == 0
	}
	if want := int64(writers * (each - each/5) * 2); position != want || last(t, d) != want {
		t.Errorf("the last position is %d, the count says %d: want %d", position, last(t, d), want)
	}
}

// told writes a change as a line: what, to whom, and an exclamation mark where it is for safety.
func told(changes []firm.Change) []string {
	var lines []string
	for _, c := range changes {
		line := fmt.Sprint(c.Noun, " ", c.ID, " ", c.Kind)
		if c.Technician != "" {
			line += fmt.Sprint(" ", c.Technician, " ", c.Day)
		}
		if c.Safety {
			line += " !"
		}
		lines = append(lines, line)
	}
	return lines
}

func TestChanges_OfVisitsNameWhomTheyConcern(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	watering, treatment := visit("watering", "tech-1", span(9, 10)), spraying("treatment", "tech-2", "site-1-hall", span(11, 12))
	later, passed, sprayedLater := watering, watering, spraying("treatment", "tech-2", "site-1-hall", span(13, 14))
	later.Arrives, later.Leaves = at(10, 0), at(11, 0)
	passed.Technician, passed.Arrives, passed.Leaves = "tech-2", at(15, 0), at(16, 0)
	otherProduct := spraying("treatment", "tech-2", "site-1-hall", span(13, 14))
	otherProduct.Work[0].Use.Product = "soap-2"
	swap := func(remove []scheduler.VisitID, visits ...scheduler.Visit) func(*store.Tx) error {
		return func(tx *store.Tx) error { return tx.ReplaceVisits(remove, visits, nil, nil, "") }
	}
	for _, step := range []struct {
		name string
		do   func(*store.Tx) error
		want []string
	}{
		{"two visits are planned", swap(nil, watering, treatment),
			[]string{"visit watering planned tech-1 2026-03-02", "visit treatment planned tech-2 2026-03-02"}},
		{"nothing is different", swap(nil, watering, treatment), nil},
		{"one moves", swap(nil, later), []string{"visit watering moved tech-1 2026-03-02"}},
		{"one passes to somebody else", swap(nil, passed),
			[]string{"visit watering withdrawn tech-1 2026-03-02", "visit watering planned tech-2 2026-03-02"}},
		{"an application moves", swap(nil, sprayedLater), []string{"visit treatment moved tech-2 2026-03-02 !"}},
		{"another product is to be applied", swap(nil, otherProduct), []string{"visit treatment changed tech-2 2026-03-02 !"}},
		{"a visit begins", func(tx *store.Tx) error { return tx.SetVisitState("watering", scheduler.Begun) }, []string{"visit watering begun tech-2 2026-03-02"}},
		{"it has begun already", func(tx *store.Tx) error { return tx.SetVisitState("watering", scheduler.Begun) }, nil},
		{"it is done", func(tx *store.Tx) error { return tx.SetVisitState("watering", scheduler.Done) }, []string{"visit watering done tech-2 2026-03-02"}},
		{"an application goes", swap([]scheduler.VisitID{"treatment"}), []string{"visit treatment withdrawn tech-2 2026-03-02 !"}},
	} {
		position := last(t, d)
		in(t, d, step.do)
		same(t, step.name, told(after(t, d, position, store.ChangeFilter{})), step.want)
	}
}

func TestChanges_OfKeepOutsReachWhoComesToTheSite(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	in(t, d, func(tx *store.Tx) error {
		return tx.ReplaceVisits(nil, []scheduler.Visit{visit("watering", "tech-2", span(12, 13))}, nil, nil, "")
	})
	position := last(t, d)
	in(t, d, func(tx *store.Tx) error {
		return tx.AddKeepOuts([]firm.KeepOutFact{keepOut("", "site-1-hall", span(11, 15))})
	})
	same(t, "a keep-out", told(after(t, d, position, store.ChangeFilter{})),
		[]string{"keep-out site-1-hall created", "keep-out site-1-hall created tech-2 2026-03-02 !"})
	same(t, "those of tech-2", told(after(t, d, position, store.ChangeFilter{Technician: "tech-2"})),
		[]string{"keep-out site-1-hall created tech-2 2026-03-02 !"})
}

func TestChanges_OfProductsReachWhoIsToApplyThem(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	in(t, d, func(tx *store.Tx) error {
		return tx.ReplaceVisits(nil, []scheduler.Visit{visit("watering", "tech-1", span(12, 13)), spraying("treatment", "tech-2", "site-1-hall", span(14, 15))}, nil, nil, "")
	})
	stop := func(tx *store.Tx) error {
		return tx.TellOfProduct(firm.Change{Noun: firm.NounProduct, ID: "soap-1", Kind: firm.ProductStopped})
	}
	position := last(t, d)
	in(t, d, stop)
	same(t, "a product that is stopped", told(after(t, d, position, store.ChangeFilter{})), []string{"product soap-1 stopped tech-2 2026-03-02 !"})
	d.Clock.Set(at(15, 0)) // when nobody has it ahead
	position = last(t, d)
	in(t, d, stop)
	same(t, "the same after the visit", told(after(t, d, position, store.ChangeFilter{})), []string(nil))
}

func TestChanges_AreFilteredByNounCaseAndTechnician(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	position := last(t, d)
	openCase(t, d, "case-1", "plant-1")
	openCase(t, d, "case-2", "plant-2")
	in(t, d, func(tx *store.Tx) error {
		_, err := tx.AppendEvents("case-1", nil)
		return err
	})
	same(t, "of case-1", told(after(t, d, position, store.ChangeFilter{Case: "case-1"})), []string{"case case-1 created", "case case-1 changed"})
	same(t, "of products", told(after(t, d, 0, store.ChangeFilter{Nouns: []firm.Noun{firm.NounProduct}})), []string{"product soap-1 created"})
	for _, change := range after(t, d, position, store.ChangeFilter{}) {
		if change.Site != "site-1" || change.At != d.Clock.Now() {
			t.Errorf("%+v: want the site of its case and the firm's instant", change)
		}
	}
}

func TestAcknowledge_OnlyTheTechnicianConcernedAndOnce(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	in(t, d, func(tx *store.Tx) error {
		return tx.ReplaceVisits(nil, []scheduler.Visit{spraying("treatment", "tech-2", "site-1-hall", span(11, 12))}, nil, nil, "")
	})
	position := last(t, d) + 1
	in(t, d, func(tx *store.Tx) error { return tx.ReplaceVisits([]scheduler.VisitID{"treatment"}, nil, nil, nil, "") })
	acknowledge := func(by scheduler.TechnicianID) (found []firm.Acknowledged) {
		in(t, d, func(tx *store.Tx) (err error) {
			found, err = tx.Acknowledge(by, []int64{position})
			return err
		})
		return found
	}
	waits := func(before civil.Instant) (count int) {
		in(t, d, func(tx *store.Tx) error {
			found, err := tx.Unacknowledged("", before, 0, 10)
			count = len(found)
			return err
		})
		return count
	}
	if found := acknowledge("tech-1"); len(found) != 0 {
		t.Errorf("tech-1 acknowledges what concerns tech-2: %v", found)
	}
	d.Clock.Set(at(11, 0)) // when the visit was to begin
	if waits(at(6, 0)) != 1 {
		t.Errorf("%d rise when their visit begins, want 1", waits(at(6, 0)))
	}
	d.Clock.Set(at(7, 0))
	if waits(at(6, 59)) != 0 || waits(at(7, 0)) != 1 {
		t.Errorf("%d unacknowledged before 07:00 and %d at it, want 0 and 1", waits(at(6, 59)), waits(at(7, 0)))
	}
	first := acknowledge("tech-2")
	d.Clock.Set(at(8, 0))
	again := acknowledge("tech-2")
	same(t, "the second acknowledgement", again, first)
	if len(first) != 1 || first[0].AcknowledgedAt != at(7, 0) || waits(at(9, 0)) != 0 {
		t.Errorf("acknowledged %+v and %d wait, want one at 07:00 and none", first, waits(at(9, 0)))
	}
}

func TestNews_WakesForAnotherServersChange(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	other, err := store.Open(t.Context(), d.ServeURL, d.Clock, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	news := other.News(d.Office.Business)
	defer news.Close()
	next := news.Next()
	openCase(t, d, "case-1", "plant-1")
	select {
	case <-next:
	case <-time.After(10 * time.Second):
		t.Error("nobody is woken")
	}
}
