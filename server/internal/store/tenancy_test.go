package store_test

import (
	"context"
	"database/sql"
	"errors"
	"log/slog"
	"strings"
	"testing"

	"github.com/lib/pq"
	"github.com/lib/pq/pqerror"

	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// as runs SQL with the server's login inside a transaction of a business, past the store's code and its predicates.
func as(t *testing.T, url string, business firm.BusinessID, do func(tx *sql.Tx)) {
	t.Helper()
	tx, err := raw(t, url).Begin()
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	if business != "" {
		if _, err := tx.Exec(`SELECT set_config('vernation.business', $1, true)`, string(business)); err != nil {
			t.Fatal(err)
		}
	}
	do(tx)
}

func code(t *testing.T, err error) pqerror.Code {
	t.Helper()
	if err == nil {
		return ""
	}
	var refused *pq.Error
	if !errors.As(err, &refused) {
		t.Fatalf("%T is no answer of the database: %v", err, err)
	}
	return refused.Code
}

func TestTenancy_RowSecurityAloneKeepsBusinessesApart(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	beta := d.Add(t, storetest.Business("beta"))
	furnish(t, d, d.Office)
	furnish(t, d, beta)
	for _, test := range []struct {
		business firm.BusinessID
		want     int
	}{{"alpha", 2}, {"beta", 2}, {"gamma", 0}, {"", 0}} {
		as(t, d.ServeURL, test.business, func(tx *sql.Tx) {
			var got int
			if err := tx.QueryRow(`SELECT count(*) FROM site`).Scan(&got); err != nil || got != test.want {
				t.Errorf("business %q sees %d sites without any predicate, want %d (%v)", test.business, got, test.want, err)
			}
		})
	}
	as(t, d.ServeURL, "alpha", func(tx *sql.Tx) {
		result, err := tx.Exec(`UPDATE client SET name = 'theirs' WHERE business_id = 'beta'`)
		if err != nil {
			t.Fatal(err)
		}
		if rows, _ := result.RowsAffected(); rows != 0 {
			t.Errorf("alpha changed %d rows of beta", rows)
		}
		if _, err := tx.Exec(`INSERT INTO client (business_id, client_id, name) VALUES ('beta', 'client-9', 'smuggled')`); code(t, err) != "42501" {
			t.Errorf("alpha wrote a row for beta: %v", err)
		}
	})
}

func TestTenancy_TheOwnerIsBoundToo(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	as(t, d.OwnerURL, "beta", func(tx *sql.Tx) {
		var got int
		if err := tx.QueryRow(`SELECT count(*) FROM site`).Scan(&got); err != nil || got != 0 {
			t.Errorf("the owner sees %d sites of another business (%v)", got, err)
		}
	})
}

func TestTenancy_TheSameIdsMeanOtherThingsInEachBusiness(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	beta := d.Add(t, storetest.Business("beta"))
	furnish(t, d, d.Office)
	furnish(t, d, beta)
	in(t, d, func(tx *store.Tx) error {
		return tx.SetPlantsWatered(map[site.PlantID]civil.Date{"plant-1": storetest.Epoch})
	})
	err := d.Store.Reading(t.Context(), beta, func(tx *store.Tx) error {
		other, err := tx.Plant("plant-1")
		if !other.Watering.Last.IsZero() {
			t.Errorf("beta's plant was watered on %s, when alpha watered its own", other.Watering.Last)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestTenancy_AConnectionForgetsItsBusiness(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	db := raw(t, d.ServeURL)
	db.SetMaxOpenConns(1)
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tx.Exec(`SELECT set_config('vernation.business', 'alpha', true)`); err != nil {
		t.Fatal(err)
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
	var got int
	if err := db.QueryRow(`SELECT count(*) FROM site`).Scan(&got); err != nil || got != 0 {
		t.Errorf("after its transaction the connection still sees %d sites (%v)", got, err)
	}
}

func TestIn_ACallerWithoutBusinessIsRefused(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	err := d.Store.In(t.Context(), firm.Caller{Subject: "nobody"}, func(tx *store.Tx) error { return nil })
	wantFault(t, err, fault.Forbidden, "NO_BUSINESS")
}

func TestAppendOnly_WhatIsToldCannotBeChanged(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	in(t, d, func(tx *store.Tx) error { return tx.InsertReport(report("report-1", "")) })
	for _, statement := range []string{
		`UPDATE report SET caller = 'another'`, `DELETE FROM report`, `UPDATE history SET event_id = 'x'`, `DELETE FROM plan`,
		`UPDATE application_record SET licence = 'forged'`, `DELETE FROM deviation`,
	} {
		as(t, d.ServeURL, "alpha", func(tx *sql.Tx) {
			if _, err := tx.Exec(statement); code(t, err) != "42501" {
				t.Errorf("%s: got %v, want permission denied", statement, err)
			}
		})
	}
}

func TestOpen_RefusesLoginsThatAreTooStrong(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	log := slog.New(slog.DiscardHandler)
	admin := strings.Replace(d.OwnerURL, "vernation_owner", "vernation_admin", 1)
	db := raw(t, admin)
	database := names(t, admin, `SELECT current_database()::text`)[0]
	for _, statement := range []string{
		`CREATE ROLE strong_` + database + ` LOGIN BYPASSRLS`,
		`CREATE ROLE heir_` + database + ` LOGIN IN ROLE vernation_owner`,
	} {
		if _, err := db.Exec(statement); err != nil {
			t.Fatal(err)
		}
	}
	for name, url := range map[string]string{
		"a superuser":                   admin,
		"the owner":                     d.OwnerURL,
		"one that bypasses":             strings.Replace(d.OwnerURL, "vernation_owner", "strong_"+database, 1),
		"one that belongs to the owner": strings.Replace(d.OwnerURL, "vernation_owner", "heir_"+database, 1),
	} {
		opened, err := store.Open(t.Context(), url, &firm.Clock{}, log)
		if err == nil {
			opened.Close()
			t.Errorf("%s was let in", name)
			continue
		}
		wantFault(t, err, fault.Refused, "LOGIN_TOO_STRONG")
	}
}

func TestOpen_RefusesAnOldOrMissingSchema(t *testing.T) {
	t.Parallel()
	ownerURL, serveURL := storetest.Empty(t)
	log := slog.New(slog.DiscardHandler)
	_, err := store.Open(t.Context(), serveURL, &firm.Clock{}, log)
	wantFault(t, err, fault.Refused, "SCHEMA_MISSING")
	if err := store.Migrate(t.Context(), ownerURL); err != nil {
		t.Fatal(err)
	}
	for _, version := range []int64{11, 3} { // one behind, and many
		if err := store.MigrateDown(t.Context(), ownerURL, version); err != nil {
			t.Fatal(err)
		}
		_, err = store.Open(t.Context(), serveURL, &firm.Clock{}, log)
		wantFault(t, err, fault.Refused, "SCHEMA_TOO_OLD")
	}
}

func TestCreateBusiness_OnceOnlyAndNeverByTheServersLogin(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	wantFault(t, store.CreateBusiness(context.Background(), d.OwnerURL, d.Business), fault.Exists, "EXISTS_ALREADY")
	wantFault(t, store.CreateBusiness(context.Background(), d.ServeURL, storetest.Business("delta")), fault.Forbidden, "NOT_THIS_BUSINESS")
	bad := storetest.Business("epsilon")
	bad.Currency = "dollars"
	wantFault(t, store.CreateBusiness(context.Background(), d.OwnerURL, bad), fault.Invalid, "BROKEN_CONSTRAINT")
}

func report(id, corrects string) firm.Report {
	return firm.Report{
		ID: id, Corrects: corrects, Technician: "tech-1", Site: site.ID("site-1"), Arrived: at(9, 0), Left: at(10, 0),
		Items: []firm.ReportItem{{Item: "service-1#1", Outcome: "done", Plants: []site.PlantID{"plant-1"}}},
	}
}
