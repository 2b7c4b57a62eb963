package store_test

import (
	"errors"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// The version is told of each deed by itself, of its own business, whether the feed hears of it or not; and of nothing that was
// taken back.
func TestVersion_RisesWithEveryDeedOfItsBusinessAndNoOther(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	beta := d.Add(t, storetest.Business("beta"))
	furnish(t, d, d.Office)
	version := func(of firm.BusinessID) int64 {
		t.Helper()
		now, err := d.Store.Version(t.Context(), of)
		if err != nil {
			t.Fatal(err)
		}
		inside := int64(-1)
		err = d.Store.Reading(t.Context(), firm.Caller{Business: of}, func(tx *store.Tx) (err error) {
			inside, err = tx.Version()
			return err
		})
		if err != nil || inside != now {
			t.Errorf("version %d inside of a transaction, %v: want %d as outside", inside, err, now)
		}
		return now
	}
	takenBack := errors.New("taken back")
	policy := func(tx *store.Tx) error { return tx.SetPolicy(d.Business) }
	for name, c := range map[string]struct {
		do   func(tx *store.Tx) error
		want int64 // how much it rises
	}{
		"a deed that the feed hears of": {func(tx *store.Tx) error {
			return tx.InsertClients([]firm.Client{{ID: "client-new", Name: "Another one"}})
		}, 1},
		"settings, which it does not":  {policy, 1},
		"a deed that is taken back":    {func(tx *store.Tx) error { return errors.Join(policy(tx), takenBack) }, 0},
		"two in one transaction":       {func(tx *store.Tx) error { return errors.Join(policy(tx), policy(tx)) }, 1},
		"a look":                       {func(tx *store.Tx) error { _, err := tx.LockPolicy(); return err }, 0},
		"an answer that is remembered": {func(tx *store.Tx) error { return tx.Remember("method", "request", nil, nil) }, 0},
		"secrets that are read": {func(tx *store.Tx) error {
			sites, err := tx.AllSites()
			return errors.Join(err, tx.InsertSecretReadings([]site.ID{sites[0].ID}, "", 0))
		}, 0},
	} {
		own, other := version(d.Business.ID), version(beta.Business)
		if err := d.Store.In(t.Context(), d.Office, c.do); err != nil && !errors.Is(err, takenBack) {
			t.Fatalf("%s: %v", name, err)
		}
		if rose := version(d.Business.ID) - own; rose != c.want {
			t.Errorf("%s: the version rose by %d, want %d", name, rose, c.want)
		}
		if version(beta.Business) != other {
			t.Errorf("%s: the version of another business moved", name)
		}
	}
}

// A statement that writes and is taken for a look would leave what was made before in use.
func TestVersion_NoStatementThatWritesIsTakenForALook(t *testing.T) {
	t.Parallel()
	writing := regexp.MustCompile(`INSERT INTO ([a-z_.]+)|DELETE FROM ([a-z_.]+)|UPDATE\s+([a-z_.]+)[a-z\s]*\sSET\s`)
	unread := regexp.MustCompile(`^(queue\.[a-z_]+|idempotency|access_secrets_reading|acknowledgement|integration_key|plan_run|plan_run_problem|road_times|webhook|webhook_delivery)$`)
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		for _, text := range literals(t, file) {
			want := false
			for _, table := range writing.FindAllStringSubmatch(text, -1) {
				want = want || !unread.MatchString(table[1]+table[2]+table[3])
			}
			if want {
				found++
			}
			if got := store.Writes(text); got != want {
				t.Errorf("%s: that it writes what people read is %v, want %v: %s", file, got, want, text)
			}
		}
	}
	if found < 60 {
		t.Errorf("only %d statements write, so that this test reads the wrong files", found)
	}
}
