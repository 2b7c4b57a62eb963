package records

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// lookBackDays before a span are read for what its follow-ups are counted from: items before them and plans made for them.
const lookBackDays = 60

// mostDays is the longest span.
const mostDays = 92

// facts are all that measures are computed from.
type facts struct {
	wish     firm.MeasureWish
	business firm.Business
	now      civil.Instant
	span     civil.Interval
	zones    map[site.ID]civil.Zone
	ours     map[site.ID]bool // the sites that the wish speaks of
	pay      map[scheduler.TechnicianID]int64

	done    []work                            // of the span and of the days before it, by time
	planned []firm.PlannedWindows             // the earliest first
	windows map[scheduler.ItemID][]planWindow // of planned
	routes  []firm.Route
	visits  []scheduler.Visit // of those routes
	records []firm.Record     // of the span
	ended   []firm.Case
	lives   []work        // of the ended cases, over their whole lives
	applied []firm.Record // of the ended cases
}

// Measure computes the measures of a span of days from what was reported, planned and ended.
//
// Fails with Invalid (OUT_OF_RANGE) for a span that is empty or too long, and NotFound for a client, site or technician that is
// not known.
func Measure(tx *store.Tx, wish firm.MeasureWish) (firm.Measures, error) {
	if err := wishRight(wish); err != nil {
		return firm.Measures{}, err
	}
	f := &facts{wish: wish, now: tx.Now(), zones: map[site.ID]civil.Zone{}, ours: map[site.ID]bool{}, pay: map[scheduler.TechnicianID]int64{}}
	for _, read := range []func(*store.Tx) error{f.readFirm, f.readWork, f.readRoutes, f.readCases} {
		if err := read(tx); err != nil {
			return firm.Measures{}, err
		}
	}
	return f.measures(), nil
}

// wishRight says what is wrong with a span.
func wishRight(wish firm.MeasureWish) error {
	if days := wish.Last.DaysSince(wish.First) + 1; days < 1 || days > mostDays {
		return fault.InvalidFields([]catalogue.FieldError{{Path: "last_on", Reason: catalogue.ReasonOutOfRange,
			Text: fmt.Sprintf("from %v to %v: want the last day on or after the first, and %d days at most", wish.First, wish.Last, mostDays)}})
	}
	return nil
}

func (f *facts) readFirm(tx *store.Tx) (err error) {
	if f.business, err = tx.Business(); err != nil {
		return err
	}
	f.span = civil.Interval{From: f.business.Zone.At(f.wish.First, 0), To: f.business.Zone.At(f.wish.Last.AddDays(1), 0)}
	if f.wish.Client != "" {
		if _, err := tx.Client(f.wish.Client); err != nil {
			return err
		}
	}
	if f.wish.Site != "" {
		if _, err := tx.Site(f.wish.Site); err != nil {
			return err
		}
	}
	crew, err := tx.EverCrew()
	if err != nil {
		return err
	}
	for _, member := range crew {
		f.pay[member.ID] = member.PaidPerMinute
	}
	if f.wish.Technician != "" {
		if _, err := tx.KeptCrewMember(f.wish.Technician); err != nil {
			return err
		}
	}
	sites, err := tx.EverySite()
	for _, s := range sites {
		f.zones[s.ID] = s.Zone
		f.ours[s.ID] = (f.wish.Client == "" || string(s.Client) == f.wish.Client) && (f.wish.Site == "" || s.ID == f.wish.Site)
	}
	return err
}

func (f *facts) readWork(tx *store.Tx) (err error) {
	before := civil.Interval{From: f.span.From.Add(-lookBackDays * 24 * time.Hour), To: f.span.To}
	if f.done, err = f.workWithin(tx, before); err != nil {
		return err
	}
	if f.planned, err = tx.WindowsPlanned(before); err != nil {
		return err
	}
	f.records, err = tx.RecordsWithin(f.span)
	return err
}

// workWithin is what was reported as done at stays of a span.
func (f *facts) workWithin(tx *store.Tx, span civil.Interval) ([]work, error) {
	reports, err := tx.ReportsWithin(span)
	if err != nil {
		return nil, err
	}
	var named []scheduler.VisitID
	for _, r := range reports {
		if r.Visit != "" {
			named = append(named, r.Visit)
		}
	}
	visits, err := tx.VisitsNamed(named)
	held := make(map[scheduler.VisitID]scheduler.Visit, len(visits))
	for _, visit := range visits {
		held[visit.ID] = visit
	}
	var done []work
	for _, r := range reports {
		done = append(done, workOf(r, held[r.Visit], f.zones[r.Site])...)
	}
	return done, err
}

func (f *facts) readRoutes(tx *store.Tx) (err error) {
	if f.wish.Client != "" || f.wish.Site != "" {
		return nil // a drive belongs to no site
	}
	// The days that are over: of a day that goes on nobody knows when it ends.
	last := min(f.wish.Last, f.business.Zone.DateOf(f.now).AddDays(-1))
	if last < f.wish.First {
		return nil
	}
	if f.routes, err = tx.Routes(store.RouteFilter{From: f.wish.First, To: last, Technician: f.wish.Technician}); err != nil {
		return err
	}
	span := civil.Interval{From: f.span.From.Add(-24 * time.Hour), To: f.span.To.Add(24 * time.Hour)}
	f.visits, err = tx.Visits(store.VisitFilter{From: span.From, To: span.To, Technician: f.wish.Technician})
	return err
}

func (f *facts) readCases(tx *store.Tx) (err error) {
	if f.ended, err = tx.CasesEnded(f.span); err != nil {
		return err
	}
	f.ended = slices.DeleteFunc(f.ended, func(c firm.Case) bool { return !f.ours[site.ID(c.Site)] })
	ids := func() (ids []course.CaseID) {
		for _, c := range f.ended {
			ids = append(ids, c.ID)
		}
		return ids
	}
	if f.applied, err = tx.RecordsOfCases(ids()); err != nil || len(f.ended) == 0 {
		return err
	}
	if f.wish.Technician != "" {
		f.ended = slices.DeleteFunc(f.ended, func(c firm.Case) bool {
			return !slices.ContainsFunc(f.applied, func(r firm.Record) bool { return r.Case == c.ID && r.Technician == f.wish.Technician })
		})
		if f.applied, err = tx.RecordsOfCases(ids()); err != nil || len(f.ended) == 0 {
			return err
		}
	}
	opened := f.ended[0].OpenedAt
	for _, c := range f.ended {
		opened = min(opened, c.OpenedAt)
	}
	f.lives, err = f.workWithin(tx, civil.Interval{From: opened, To: f.span.To})
	return err
}
