package store_test

import (
	"errors"
	"fmt"
	"reflect"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// filler sets every field of a value to something that is not its zero value, so that a field which the store forgets
// to write or to read shows. Instants rise in the order of fields.
type filler struct{ last civil.Instant }

func whole[T any](change func(v *T)) T {
	var v T
	f := filler{last: at(9, 0)}
	f.fill(reflect.ValueOf(&v).Elem())
	change(&v)
	return v
}

func (f *filler) fill(v reflect.Value) {
	switch v.Interface().(type) {
	case civil.Instant:
		f.last = f.last.Add(time.Minute)
		v.Set(reflect.ValueOf(f.last))
		return
	case civil.Date:
		v.Set(reflect.ValueOf(storetest.Epoch))
		return
	case civil.Zone:
		v.Set(reflect.ValueOf(storetest.Business("x").Zone))
		return
	case time.Duration:
		v.Set(reflect.ValueOf(5 * time.Minute))
		return
	case quantity.Volume:
		v.Set(reflect.ValueOf(quantity.NewVolume(5, 8, quantity.USFluidOunce)))
		return
	case quantity.Mass:
		v.Set(reflect.ValueOf(quantity.NewMass(5, 2, quantity.Gram)))
		return
	case quantity.Surface:
		v.Set(reflect.ValueOf(quantity.NewSurface(5, 2, quantity.SquareFoot)))
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString("something")
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int8, reflect.Int32, reflect.Int64:
		v.SetInt(3)
	case reflect.Uint64:
		v.SetUint(3)
	case reflect.Float64:
		v.SetFloat(0.625)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		f.fill(v.Elem())
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		f.fill(v.Index(0))
	case reflect.Array:
		for i := range v.Len() {
			f.fill(v.Index(i))
		}
	case reflect.Map:
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		f.fill(key)
		f.fill(value)
		v.Set(reflect.MakeMap(v.Type()))
		v.SetMapIndex(key, value)
	case reflect.Struct:
		for i := range v.NumField() {
			f.fill(v.Field(i))
		}
	default:
		panic("the filler knows no " + v.Kind().String())
	}
}

// roundTrip writes a value and compares what comes back, field by field.
func roundTrip[T any](t *testing.T, d *storetest.Database, want T, write func(tx *store.Tx, v T) error, read func(tx *store.Tx) (T, error)) {
	t.Helper()
	t.Run(reflect.TypeFor[T]().String(), func(t *testing.T) {
		in(t, d, func(tx *store.Tx) error { return write(tx, want) })
		in(t, d, func(tx *store.Tx) error {
			got, err := read(tx)
			same(t, "what comes back", got, want)
			return err
		})
	})
}

// first returns the first of a list that holds one.
func first[T any](list []T, err error) (T, error) {
	if err != nil || len(list) == 0 {
		var none T
		return none, err
	}
	return list[0], nil
}

func TestStore_NoFieldOfPremisesIsForgotten(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	business := whole(func(b *firm.Business) { b.ID, b.Currency = "whole", "GBP" })
	err := d.Store.Reading(t.Context(), d.Add(t, business), func(tx *store.Tx) error {
		got, err := tx.Business()
		same(t, "what comes back of a business", got, business)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	roundTrip(t, d, whole(func(c *firm.Client) { c.ID = "whole" }),
		func(tx *store.Tx, c firm.Client) error { return tx.InsertClients([]firm.Client{c}) },
		func(tx *store.Tx) (firm.Client, error) { return tx.Client("whole") })
	roundTrip(t, d, whole(func(s *site.Site) {
		s.ID, s.Client, s.Areas[0].ID, s.Barred = "whole", "client-1", "whole-area", nil
		s.Agreement.Consents[0].Asked, s.Agreement.ShutAreas[0].Asked = "", ""
	}),
		func(tx *store.Tx, s site.Site) error { return tx.InsertSites([]site.Site{s}) },
		func(tx *store.Tx) (site.Site, error) { return tx.Site("whole") })
	roundTrip(t, d, whole(func(p *site.Plant) { p.ID, p.Site, p.Area = "whole", "whole", "whole-area" }),
		func(tx *store.Tx, p site.Plant) error { return tx.InsertPlants([]site.Plant{p}) },
		func(tx *store.Tx) (site.Plant, error) { return tx.Plant("whole") })
	roundTrip(t, d, whole(func(p *catalogue.Product) { p.ID, p.Form = "whole", catalogue.Concentrate }),
		func(tx *store.Tx, p catalogue.Product) error { return tx.InsertProducts([]catalogue.Product{p}) },
		func(tx *store.Tx) (catalogue.Product, error) { return tx.Product("whole") })
	roundTrip(t, d, whole(func(m *firm.CrewMember) { m.ID = "whole" }),
		func(tx *store.Tx, m firm.CrewMember) error { return tx.InsertCrew([]firm.CrewMember{m}) },
		func(tx *store.Tx) (firm.CrewMember, error) { return tx.CrewMember("whole") })
	roundTrip(t, d, whole(func(s *site.Service) { s.ID, s.Site, s.Kind = "whole", "whole", site.GroomingService }),
		func(tx *store.Tx, s site.Service) error { return tx.InsertServices([]site.Service{s}) },
		func(tx *store.Tx) (site.Service, error) { return first(tx.Services("whole")) })
}

func TestStore_NoFieldOfPlansIsForgotten(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	roundTrip(t, d, whole(func(p *firm.KeptPlan) { p.ID, p.Run, p.PublishedAt = "whole", "", 0 }),
		func(tx *store.Tx, p firm.KeptPlan) error { return tx.InsertPlan(p) },
		func(tx *store.Tx) (firm.KeptPlan, error) { return tx.Plan("whole") })
	visit := whole(func(v *scheduler.Visit) {
		v.ID, v.State, v.Technician, v.Site, v.Work[0].Area = "whole", scheduler.Announced, "tech-1", "site-1", "site-1-lobby"
	})
	roundTrip(t, d, visit,
		func(tx *store.Tx, v scheduler.Visit) error {
			return tx.ReplaceVisits(nil, []scheduler.Visit{v}, nil, nil, "whole")
		},
		func(tx *store.Tx) (scheduler.Visit, error) { return tx.Visit("whole") })
	roundTrip(t, d, whole(func(r *firm.Route) { r.Technician, r.Departs, r.Returns = "tech-1", at(8, 0), at(20, 0) }),
		func(tx *store.Tx, r firm.Route) error {
			return tx.ReplaceVisits(nil, []scheduler.Visit{visit}, []firm.Route{r}, nil, "whole")
		},
		func(tx *store.Tx) (firm.Route, error) { return first(tx.Routes(store.RouteFilter{})) })
	roundTrip(t, d, whole(func(k *firm.KeepOutFact) { k.Area = "site-1-hall" }),
		func(tx *store.Tx, k firm.KeepOutFact) error { return tx.AddKeepOuts([]firm.KeepOutFact{k}) },
		func(tx *store.Tx) (firm.KeepOutFact, error) { return first(tx.KeepOuts(civil.Interval{})) })
	roundTrip(t, d, whole(func(n *firm.Notice) { n.ID, n.Site, n.DueAt = "whole", "site-1", n.Begins }),
		func(tx *store.Tx, n firm.Notice) error { return tx.InsertNotices([]firm.Notice{n}) },
		func(tx *store.Tx) (firm.Notice, error) { return first(tx.Notices(civil.Interval{})) })
}

func TestStore_NoFieldOfReportsIsForgotten(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	openCase(t, d, "case-1", "plant-1")
	roundTrip(t, d, whole(func(r *firm.Report) { r.ID, r.Corrects, r.Technician, r.Site = "whole", "", "tech-1", "site-1" }),
		func(tx *store.Tx, r firm.Report) error { return tx.InsertReport(r) },
		func(tx *store.Tx) (firm.Report, error) { return tx.Report("whole") })
	roundTrip(t, d, whole(func(v *firm.Deviation) {
		v.ID, v.Report, v.Rule, v.Site = "whole", "whole", scheduler.RuleMix, "site-1"
	}),
		func(tx *store.Tx, v firm.Deviation) error {
			return errors.Join(tx.InsertDeviations([]firm.Deviation{v}), tx.LookAtDeviation(v.ID, *v.Look))
		},
		func(tx *store.Tx) (firm.Deviation, error) { return first(tx.DeviationsOf("whole")) })
	record := whole(func(r *firm.Record) {
		r.ID, r.Report, r.Corrects, r.Case, r.Site, r.Area = "whole", "whole", "", "case-1", "site-1", "site-1-lobby"
		r.Product, r.Technician = "soap-1", "tech-1"
	})
	roundTrip(t, d, record,
		func(tx *store.Tx, r firm.Record) error { return tx.InsertRecords([]firm.Record{r}) },
		func(tx *store.Tx) (firm.Record, error) { return first(tx.RecordsOf("whole")) })
	roundTrip(t, d, whole(func(s *firm.Stamp) { s.ID, s.Technician, s.Event = "whole", "tech-1", firm.StampEnded }),
		func(tx *store.Tx, s firm.Stamp) error { _, err := tx.InsertStamp(s); return err },
		func(tx *store.Tx) (firm.Stamp, error) { return tx.Stamp("whole") })
	roundTrip(t, d, whole(func(s *firm.AccessSecrets) { s.Site = "site-1" }),
		func(tx *store.Tx, s firm.AccessSecrets) error { return tx.PutAccessSecrets(s) },
		func(tx *store.Tx) (firm.AccessSecrets, error) {
			found, err := tx.AccessSecrets("site-1")
			return found["site-1"], err
		})
	// An event of plants tells one thing of the five.
	for i, keep := range []func(all, one *firm.PlantEvent){
		func(all, one *firm.PlantEvent) { one.Patch = all.Patch },
		func(all, one *firm.PlantEvent) { one.Moved = all.Moved },
		func(all, one *firm.PlantEvent) { one.Split = all.Split },
		func(all, one *firm.PlantEvent) { one.Joined = all.Joined },
		func(all, one *firm.PlantEvent) { one.Gone = all.Gone },
	} {
		id := fmt.Sprint("whole-", i)
		told := whole(func(e *firm.PlantEvent) {
			all := *e
			e.ID, e.Site, e.Patch, e.Moved, e.Split, e.Joined, e.Gone = id, "site-1", nil, nil, nil, nil, nil
			keep(&all, e)
		})
		roundTrip(t, d, told,
			func(tx *store.Tx, e firm.PlantEvent) error { return tx.InsertPlantEvent(e) },
			func(tx *store.Tx) (firm.PlantEvent, error) { return tx.PlantEvent(id) })
	}
	event := whole(func(e *course.Event) {
		*e = course.Event{ID: "whole", At: e.At, Application: e.Application}
	})
	roundTrip(t, d, event,
		func(tx *store.Tx, e course.Event) error {
			_, err := tx.AppendEvents("case-1", []course.Event{e})
			return err
		},
		func(tx *store.Tx) (course.Event, error) {
			histories, err := tx.Histories([]course.CaseID{"case-1"})
			if err != nil {
				return course.Event{}, err
			}
			return first(histories[0].Events, nil)
		})
	roundTrip(t, d, whole(func(c *course.Course) { c.Case = "case-1" }),
		func(tx *store.Tx, c course.Course) error { return tx.SaveCourse("case-1", c.Key, c) },
		func(tx *store.Tx) (course.Course, error) { c, _, err := tx.Course("case-1"); return c, err })
}

func TestStore_NoFieldOfCrewCalendarAndStockIsForgotten(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	roundTrip(t, d, whole(func(a *firm.Absence) { a.ID, a.Technician = "whole", "tech-1" }),
		func(tx *store.Tx, a firm.Absence) error { return tx.InsertAbsences([]firm.Absence{a}) },
		func(tx *store.Tx) (firm.Absence, error) { return first(tx.Absences(storetest.Epoch, storetest.Epoch)) })
	roundTrip(t, d, whole(func(h *firm.Holiday) { h.ID = "whole" }),
		func(tx *store.Tx, h firm.Holiday) error { return tx.InsertHolidays([]firm.Holiday{h}) },
		func(tx *store.Tx) (firm.Holiday, error) { return first(tx.Holidays(storetest.Epoch, storetest.Epoch)) })
	roundTrip(t, d, whole(func(l *firm.Lot) { l.ID, l.Product, l.Base = "whole", "soap-1", "0" }),
		func(tx *store.Tx, l firm.Lot) error { return tx.InsertLots([]firm.Lot{l}) },
		func(tx *store.Tx) (firm.Lot, error) { return first(tx.Lots("soap-1")) })
	roundTrip(t, d, whole(func(m *firm.Movement) {
		m.ID, m.Product, m.Lot, m.Kind, m.Record, m.ToldAt = "whole", "soap-1", "whole", firm.StockReceived, "", d.Clock.Now()
	}),
		func(tx *store.Tx, m firm.Movement) error { return tx.InsertMovements([]firm.Movement{m}) },
		func(tx *store.Tx) (firm.Movement, error) { return first(tx.Movements("whole", store.Page{})) })
}

func TestStore_NoFieldOfIncidentsAndConsentsIsForgotten(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	roundTrip(t, d, whole(func(i *firm.Incident) { i.ID, i.Kind, i.Site, i.Product = "whole", firm.Spill, "site-1", "soap-1" }),
		func(tx *store.Tx, i firm.Incident) error {
			return errors.Join(tx.InsertIncident(i), tx.ReleaseIncident(i, *i.Release))
		},
		func(tx *store.Tx) (firm.Incident, error) { return tx.Incident("whole") })
	roundTrip(t, d, whole(func(c *firm.ClientConsent) {
		c.ID, c.Site, c.Case, c.Answers[0].Kind = "whole", "site-1", "", firm.ConsentGiven
	}),
		func(tx *store.Tx, c firm.ClientConsent) error {
			answer := c.Answers[0]
			c.Answers = nil
			return errors.Join(tx.InsertClientConsent(c), tx.AnswerClientConsent(c, answer))
		},
		func(tx *store.Tx) (firm.ClientConsent, error) { return tx.ClientConsent("whole") })
}
