package dispatch

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// workingDaysAhead is how many working days after today a technician may look ahead: what is published later still moves.
const workingDaysAhead = 2

// DayRoute returns a technician's published visits of a day, in order. A technician sees their own only, up to the second
// working day after today.
//
// Fails with Forbidden (NOT_YOUR_DAY_ROUTE, NOT_YET_YOUR_DAY) and NotFound (NO_DAY_ROUTE when nothing is published for that
// day).
func DayRoute(tx *store.Tx, technician scheduler.TechnicianID, day civil.Date) (firm.DayRoute, error) {
	made, err := MakeDayRoute(tx, technician, day)
	return made.Route, err
}

// MadeDayRoute is a day route with how long it reads so. It depends on nothing else than the business at that version, the
// technician, the day, the clock, and whether its caller is the office, a technician or another program.
type MadeDayRoute struct {
	Route   firm.DayRoute
	Version int64          // of the business, that it was made at
	Good    civil.Interval // of the firm's clock: within it the same version gives the same day route
}

// MakeDayRoute is DayRoute with how long it is good.
func MakeDayRoute(tx *store.Tx, technician scheduler.TechnicianID, day civil.Date) (made MadeDayRoute, err error) {
	d := explaining{tx: tx, day: day}
	for _, step := range []func() error{
		func() error { return d.readCrew(technician) }, d.mayRead, d.readDay, d.readPlaces, d.readReasons, d.explainVisits, d.explainMixes, d.explainKeepOuts,
		d.makeLoad, d.readStamps,
	} {
		if err := step(); err != nil {
			return made, err
		}
	}
	d.route.Cautions = d.cautions()
	if tx.Caller().Role != firm.Office {
		d.hideCosts()
	}
	made.Route, made.Good.From = d.route, tx.Now()
	if made.Good.To, err = d.goodUntil(); err != nil {
		return made, err
	}
	made.Version, err = tx.Version()
	return made, err
}

// goodUntil is when the clock alone first changes the day route: courses ask for the hour, rounded up, and for the day,
// which also says how far a technician looks ahead; and what is shut until somebody finds it dry is asked for from its
// beginning.
func (d *explaining) goodUntil() (civil.Instant, error) {
	const hour = civil.Instant(3600)
	now := d.tx.Now()
	until := (now+hour-1)/hour*hour + 1
	until = min(until, d.business.Zone.At(d.business.Zone.DateOf(now).AddDays(1), 0))
	next, err := d.tx.NextUntilDry(until)
	if !next.IsZero() {
		until = min(until, next)
	}
	return until, err
}

// readCrew reads whose day it is, of which business.
func (d *explaining) readCrew(technician scheduler.TechnicianID) (err error) {
	if caller := d.tx.Caller(); caller.Role == firm.Technician && caller.Technician != technician {
		return fault.New(fault.Forbidden, "NOT_YOUR_DAY_ROUTE", "a technician pulls their own day routes: want technician %s", caller.Technician)
	}
	if d.business, err = d.tx.Business(); err != nil {
		return err
	}
	d.member, err = d.tx.CrewMember(technician)
	return err
}

// mayRead keeps days from a technician that lie too far ahead; the office plans and sees all.
func (d *explaining) mayRead() error {
	if d.tx.Caller().Role != firm.Technician {
		return nil
	}
	today := d.business.Zone.DateOf(d.tx.Now())
	ahead := workingDays(d.member, today, workingDaysAhead)
	last := today
	if len(ahead) > 0 {
		last = ahead[len(ahead)-1]
	}
	if d.day > last {
		return fault.New(fault.Forbidden, "NOT_YET_YOUR_DAY", "a technician pulls the day routes of today and of the next %d working days, until %s: %s lies later", workingDaysAhead, last.Short(), d.day.Short())
	}
	return nil
}

// longestAway is how far ahead the next working day of a technician is looked for.
const longestAway = 60

// workingDays lists the next days after one on which a shift of a technician begins.
func workingDays(m firm.CrewMember, after civil.Date, count int) []civil.Date {
	var days []civil.Date
	for day := after.AddDays(1); len(days) < count && day <= after.AddDays(longestAway); day = day.AddDays(1) {
		if len(m.Shifts.WindowsOn(day)) > 0 {
			days = append(days, day)
		}
	}
	return days
}

// hideCosts keeps what a day costs the business to its office.
func (d *explaining) hideCosts() {
	d.route.Cost = scheduler.Cost{}
	for i := range d.route.Visits {
		d.route.Visits[i].Visit.Cost = scheduler.Cost{}
	}
}

type explaining struct {
	tx       *store.Tx
	day      civil.Date
	member   firm.CrewMember
	business firm.Business
	sites    map[site.ID]site.Site
	plants   map[site.PlantID]site.Plant
	products map[catalogue.ProductID]catalogue.Product
	reasons  map[scheduler.ItemID]scheduler.FollowUp
	keepOuts []firm.KeepOutFact
	awaiting []firm.KeepOutFact // shut until somebody finds them dry, however long ago or soon
	route    firm.DayRoute
}

func (d *explaining) readDay() error {
	technician := d.member.ID
	routes, err := d.tx.Routes(store.RouteFilter{From: d.day, To: d.day, Technician: technician})
	if err != nil {
		return err
	}
	if len(routes) == 0 {
		return fault.New(fault.NotFound, "NO_DAY_ROUTE", "nothing is published for %s on %s", d.member.Name, d.day.Short())
	}
	d.route.Route = routes[0]
	span := civil.Interval{From: routes[0].Departs, To: routes[0].Returns}
	visits, err := d.tx.Visits(store.VisitFilter{From: span.From, To: span.To, Technician: technician})
	if err != nil {
		return err
	}
	slices.SortFunc(visits, func(a, b scheduler.Visit) int { return cmp.Compare(a.Arrives, b.Arrives) })
	for _, v := range visits {
		d.route.Visits = append(d.route.Visits, firm.DayVisit{Visit: v})
		d.route.Cost.Plus(v.Cost)
	}
	d.dropUndrawnMixes()
	d.keepOuts, err = d.tx.KeepOuts(civil.Interval{From: span.From.Add(-72 * time.Hour), To: span.To.Add(72 * time.Hour)})
	if err != nil {
		return err
	}
	d.awaiting, err = d.tx.AwaitingDry()
	for _, k := range d.keepOuts { // those still to come before the day's visits
		if k.UntilDry && k.During.From > d.tx.Now() {
			d.awaiting = append(d.awaiting, k)
		}
	}
	return err
}

// dropUndrawnMixes takes out the mixes that no work of the day draws on any more, since it moved away: nobody is to
// make them.
func (d *explaining) dropUndrawnMixes() {
	drawn := map[int][]*scheduler.WorkItem{}
	for v := range d.route.Visits {
		work := d.route.Visits[v].Visit.Work
		for w := range work {
			if work[w].MixIndex >= 0 {
				drawn[work[w].MixIndex] = append(drawn[work[w].MixIndex], &work[w])
			}
		}
	}
	var kept []scheduler.Mix
	for i, mix := range d.route.Route.Mixes {
		if len(drawn[i]) == 0 {
			continue
		}
		for _, work := range drawn[i] {
			work.MixIndex = len(kept)
		}
		kept = append(kept, mix)
	}
	d.route.Route.Mixes = kept
}

func (d *explaining) readPlaces() error {
	d.sites, d.plants = map[site.ID]site.Site{}, map[site.PlantID]site.Plant{}
	d.products = map[catalogue.ProductID]catalogue.Product{}
	for i := range d.route.Visits {
		id := d.route.Visits[i].Visit.Site
		s, err := d.tx.Site(id)
		if err != nil {
			return err
		}
		d.sites[id], d.route.Visits[i].Site = s, s
		plants, err := d.tx.PlantsOf(id)
		if err != nil {
			return err
		}
		for _, p := range plants {
			d.plants[p.ID] = p
		}
	}
	products, err := d.tx.AllProducts()
	for _, p := range products {
		d.products[p.ID] = p
	}
	return err
}

// readReasons takes from the courses why each follow-up of the day is needed.
func (d *explaining) readReasons() error {
	d.reasons = map[scheduler.ItemID]scheduler.FollowUp{}
	cases, err := d.tx.GoingCases()
	if err != nil {
		return err
	}
	asked := d.casesOfDay()
	for _, c := range cases {
		if _, here := d.sites[site.ID(c.Site)]; !here || !asked[c.ID] {
			continue
		}
		_, present, err := casework.Course(d.tx, c.ID)
		if err != nil {
			return err
		}
		for _, f := range present.FollowUps {
			d.reasons[f.ID] = f
		}
	}
	return nil
}

// casesOfDay are those that the day's follow-ups are of: a course takes longer to make than all the rest of the day.
func (d *explaining) casesOfDay() map[course.CaseID]bool {
	of := map[course.CaseID]bool{}
	for _, v := range d.route.Visits {
		for _, work := range v.Visit.Work {
			if id, _, followUp := strings.Cut(string(work.Item), "/"); followUp {
				of[course.CaseID(id)] = true
			}
		}
	}
	return of
}
