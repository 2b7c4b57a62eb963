package rpc_test

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/identity"
	"vernation/server/internal/planning"
	"vernation/server/internal/premises"
	"vernation/server/internal/rpc"
	"vernation/server/internal/store"
)

// busyDay is a day with a drench and a spray, asked for of two servers on one database.
type busyDay struct {
	served
	day     civil.Date
	servers []vernationv1.DayRouteServiceClient
	callers map[firm.Role]context.Context
}

func openBusyDay(t *testing.T) busyDay {
	t.Helper()
	d := busyDay{served: serveFirm(t), day: civil.NewDate(2026, 3, 5), callers: map[firm.Role]context.Context{}}
	for _, wish := range []firm.Booking{
		{Visit: "drench", Item: "gnats/application/1/1", Technician: "tech-a", Begins: d.At(t, "2026-03-05 14:30")},
		{Visit: "spray", Item: "mealybugs/application/1/1", Technician: "tech-a", Begins: d.At(t, "2026-03-05 19:45")},
	} {
		if _, err := planning.Book(t.Context(), d.Store, d.Office, wish, nil); err != nil {
			t.Fatal(err)
		}
	}
	keys, err := identity.GenerateKeys()
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		kept, err := store.Open(t.Context(), d.ServeURL, d.Clock, nil)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { kept.Close() })
		server := rpc.NewServer(rpc.Frame{Keys: keys, Clock: d.Clock, Log: slog.New(slog.DiscardHandler)}, []rpc.Service{rpc.DayRoutes(kept)})
		d.servers = append(d.servers, vernationv1.NewDayRouteServiceClient(dialled(t, server)))
	}
	for _, caller := range []firm.Caller{d.Office, d.TechA} {
		token, err := keys.Issue(caller, time.Hour)
		if err != nil {
			t.Fatal(err)
		}
		d.callers[caller.Role] = metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+token)
	}
	return d
}

// asked is what a server answers, without what opens the sites.
func (d busyDay) asked(server int, role firm.Role) (*vernationv1.DayRoute, error) {
	request := &vernationv1.GetDayRouteRequest{Name: d.name("technicians/tech-a/dayRoutes/" + d.day.String())}
	answer, err := d.servers[server].GetDayRoute(d.callers[role], request)
	for _, visit := range answer.GetVisits() {
		visit.GetBrief().AccessSecrets = nil
	}
	return answer, err
}

// fresh is the day route made from what is stored now.
func (d busyDay) fresh(t *testing.T, caller firm.Caller) (*vernationv1.DayRoute, error) {
	t.Helper()
	var route firm.DayRoute
	err := d.Store.Reading(t.Context(), caller, func(tx *store.Tx) (err error) {
		route, err = dispatch.DayRoute(tx, "tech-a", d.day)
		return err
	})
	if err != nil {
		return nil, err
	}
	return convert.DayRoute(convert.NamesOf(caller.Business), route), nil
}

// deeds are what may happen to a business whose day routes are remembered; number tells repetitions apart.
func (d busyDay) deeds(t *testing.T, number int) []func(tx *store.Tx) error {
	text := fmt.Sprint("as told ", number)
	at := []site.ID{"offices-alder-row", "hotel-quarry-square"}[number%2]
	visit := []scheduler.VisitID{"drench", "spray"}[number%2]
	product := []catalogue.ProductID{"soap", "bti"}[number%2]
	return []func(tx *store.Tx) error{
		func(tx *store.Tx) error {
			business, err := tx.Business()
			if err != nil {
				return err
			}
			business.PoisonLine = text
			return tx.SetPolicy(business)
		},
		func(tx *store.Tx) error {
			_, err := premises.ChangeSite(tx, at, nil, func(s firm.Kept[site.Site]) (firm.Kept[site.Site], error) {
				s.Value.AccessNotes = text
				return s, nil
			})
			return err
		},
		func(tx *store.Tx) error {
			plant, err := tx.Plant("pothos-stairs")
			if err != nil {
				return err
			}
			plant.Name = text
			return tx.RewritePlant(plant, "")
		},
		func(tx *store.Tx) error {
			_, err := premises.ChangeProduct(tx, product, nil, func(p firm.Kept[catalogue.Product]) (firm.Kept[catalogue.Product], error) {
				p.Value.Name = text
				return p, nil
			})
			return err
		},
		func(tx *store.Tx) error {
			_, err := premises.ChangeCrewMember(tx, "tech-a", nil, func(m firm.Kept[firm.CrewMember]) (firm.Kept[firm.CrewMember], error) {
				m.Value.Name = text
				return m, nil
			})
			return err
		},
		func(tx *store.Tx) error {
			_, err := casework.TellIncident(tx, firm.Incident{ID: text, Kind: firm.Spill, Site: at, Product: product, Text: text})
			return err
		},
		func(tx *store.Tx) error {
			_, err := casework.ReleaseIncident(tx, fmt.Sprint("as told ", number-1), text)
			return err
		},
		func(tx *store.Tx) error {
			event := []firm.StampEvent{firm.StampBegun, firm.StampEnded}[number/2%2]
			_, err := dispatch.Stamp(tx, firm.Stamp{ID: text, Visit: visit, Technician: "tech-a", Event: event, At: tx.Now()})
			return err
		},
		func(tx *store.Tx) error {
			_, err := planning.Pin(tx, visit)
			return err
		},
		func(tx *store.Tx) error {
			_, err := planning.Unpin(tx, visit)
			return err
		},
		func(tx *store.Tx) error {
			_, err := casework.AppendReport(tx, d.Look(t, text, 1+number, "2026-03-04 10:00"))
			return err
		},
		func(tx *store.Tx) error {
			return tx.ConfirmDryAfter("mealybugs/application/1/1", "offices-floor", tx.Now())
		},
		func(tx *store.Tx) error {
			amount := dilution.Amount{Volume: firmtest.Volume(t, "1/2 US fl oz")}
			_, err := premises.AddLot(tx, firm.Kept[firm.Lot]{Value: firm.Lot{ID: fmt.Sprint("lot-", number), Product: product, Pack: amount, Packs: 1 + number, ReceivedOn: d.day.AddDays(-9)}})
			return err
		},
		func(tx *store.Tx) error {
			_, err := premises.AddHoliday(tx, firm.Kept[firm.Holiday]{Value: firm.Holiday{ID: fmt.Sprint("holiday-", number), Name: text, From: d.day.AddDays(1), To: d.day.AddDays(2)}})
			return err
		},
	}
}

// Whatever happened, and whenever, two servers that remember day routes answer as one that makes them anew.
func TestGetDayRoute_ARememberedOneEqualsAFreshOneAfterAnyDeeds(t *testing.T) {
	t.Parallel()
	for seed := range uint64(2) {
		t.Run(fmt.Sprint("seed-", seed), func(t *testing.T) {
			t.Parallel()
			d := openBusyDay(t)
			d.MoveClock(t, "2026-03-04 21:30")
			random := rand.New(rand.NewPCG(seed, 0))
			seen, done := map[string]bool{}, 0
			for step := range 40 {
				caller, server := []firm.Caller{d.Office, d.TechA}[random.IntN(2)], random.IntN(2)
				_, _ = d.asked(server, caller.Role) // so that there is something to remember; it is judged below
				if deeds := d.deeds(t, step); random.IntN(4) > 0 {
					err := d.Store.In(t.Context(), d.TechA, deeds[random.IntN(len(deeds))])
					if err == nil {
						done++
					} else if fault.Of(err).Kind == fault.Internal {
						t.Fatal(err)
					}
				} else {
					d.Clock.Set(d.Clock.Now().Add(time.Duration(random.IntN(200)) * time.Minute))
				}
				want, failed := d.fresh(t, caller)
				got, err := d.asked(server, caller.Role)
				if (failed == nil) != (err == nil) || !proto.Equal(got, want) {
					t.Fatalf("step %d, %s, at %s: a server answers\n%v, %v\nwant what is stored:\n%v, %v", step, caller.Role, d.Clock.Now(), got, err, want, failed)
				}
				seen[got.String()] = true
			}
			if len(seen) < 10 || done < 15 {
				t.Errorf("%d deeds and %d day routes: want more, or nothing is shown", done, len(seen))
			}
		})
	}
}

// What no deed told is not seen until one is done; so an answer was remembered, and every deed makes it anew.
func TestGetDayRoute_IsRememberedUntilADeed(t *testing.T) {
	t.Parallel()
	d := openBusyDay(t)
	first, err := d.asked(0, firm.Office)
	if err != nil {
		t.Fatal(err)
	}
	owner, err := sql.Open("postgres", d.OwnerURL)
	if err != nil {
		t.Fatal(err)
	}
	defer owner.Close()
	if _, err := owner.Exec(`ALTER TABLE product NO FORCE ROW LEVEL SECURITY`); err != nil {
		t.Fatal(err)
	}
	if _, err := owner.Exec(`UPDATE product SET detail = jsonb_set(detail, '{name}', '"Another name"')`); err != nil {
		t.Fatal(err)
	}
	again, err := d.asked(0, firm.Office)
	if err != nil || !proto.Equal(first, again) {
		t.Errorf("asked again: %v, %v; want the same, remembered", again, err)
	}
	d.In(t, d.Office, func(tx *store.Tx) error {
		business, err := tx.Business()
		if err != nil {
			return err
		}
		return tx.SetPolicy(business)
	})
	after, err := d.asked(0, firm.Office)
	if err != nil || proto.Equal(first, after) {
		t.Errorf("asked after a deed: %v, %v; want what is stored", after, err)
	}
}

// The clock alone may shut a day that lies ahead, or open it, whatever was remembered for somebody else.
func TestGetDayRoute_WhatTheOfficeWasGivenIsNotTheTechniciansYet(t *testing.T) {
	t.Parallel()
	d := openBusyDay(t)
	if _, err := d.asked(0, firm.Office); err != nil {
		t.Fatal(err)
	}
	if _, err := d.asked(0, firm.Technician); status.Code(err) != codes.PermissionDenied {
		t.Errorf("on Monday the technician is told of Thursday: %v", err)
	}
	d.MoveClock(t, "2026-03-03 00:00")
	if answer, err := d.asked(0, firm.Technician); err != nil || answer.GetCost() != nil {
		t.Errorf("on Tuesday: %v, %v; want the day route without its cost", answer.GetCost(), err)
	}
	d.MoveClock(t, "2026-03-02 23:59")
	if _, err := d.asked(0, firm.Technician); status.Code(err) != codes.PermissionDenied {
		t.Errorf("the clock set back: %v; want it shut again", err)
	}
}
