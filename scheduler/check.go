package scheduler

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/travel"
)

// Check judges a plan by the eight hard rules and returns every breach it finds, in the order of Rules, then by
// technician and instant; none means that the plan may be published. It is obvious rather than fast and shares
// no schedule arithmetic with Solve: intervals are sorted and compared exactly, in whole seconds of absolute time.
//
// A breach that lies wholly in visits of Problem.Fixed, or in visits that were over before Problem.Now, is Standing.
// The Problem should have passed Validate; whatever it holds, Check does not panic.
func Check(p Problem, plan Plan) []Violation {
	c := newChecker(p, plan)
	c.checkShift()
	c.checkAccess()
	c.checkLicence()
	c.checkTiming()
	c.checkLabel()
	c.checkReentry()
	c.checkMix()
	c.checkPinned()
	slices.SortStableFunc(c.found, func(a, b Violation) int {
		return cmp.Or(
			cmp.Compare(slices.Index(Rules[:], a.Rule), slices.Index(Rules[:], b.Rule)),
			cmp.Compare(a.Technician, b.Technician),
			cmp.Compare(a.During.From, b.During.From),
			cmp.Compare(a.Text, b.Text),
		)
	})
	return c.found
}

// checker holds a Problem and a Plan with what each part of the plan refers to.
type checker struct {
	p    Problem
	plan Plan

	sites     map[SiteID]*Site
	areas     map[AreaID]*areaIn
	plants    map[PlantID]*PlantState
	products  map[ProductID]*Product
	crew      map[TechnicianID]*Technician
	followUps map[ItemID]*FollowUp
	services  map[string]*Service
	places    map[travel.PlaceID]int // index into the matrix

	routes     []*routeIn
	work       []*placed           // of all routes, in order
	items      map[ItemID]*itemIn  // what is placed
	done       map[ItemID]*itemIn  // what Problem.Done says was done
	treatments []*treatment        // of the plan, one for each visit and area
	mixings    map[*routeIn][]span // of each route, sorted
	found      []Violation
}

// span is a half-open stretch of instants.
type span = civil.Interval

// areaIn is an area with its site.
type areaIn struct {
	*Area
	site *Site
}

// routeIn is a day route with its technician and shift, nil where unknown.
type routeIn struct {
	*DayRoute
	tech   *Technician
	shift  *Shift
	visits []*visitIn
}

// visitIn is a visit with its route and site, nil where unknown. A fact is fixed or over.
type visitIn struct {
	*Visit
	route *routeIn
	site  *Site
	fact  bool
	work  []*placed // by beginning
}

// placed is a work item with what it refers to, nil where unknown.
type placed struct {
	*WorkItem
	visit      *visitIn
	follow     *FollowUp
	way        *Way
	part       *Part
	service    *Service
	occurrence int
}

// itemIn is a follow-up or an occurrence of a service as a whole: it begins with its first work item.
type itemIn struct {
	id     ItemID
	begins civil.Instant
	ends   civil.Instant
	zone   civil.Zone
	plants []PlantID
	fact   bool
	work   []*placed // by beginning; empty for what Problem.Done says
}

// date is the civil date of the beginning in the site's zone.
func (i *itemIn) date() civil.Date { return i.zone.DateOf(i.begins) }

func newChecker(p Problem, plan Plan) *checker {
	c := &checker{
		p: p, plan: plan,
		sites: map[SiteID]*Site{}, areas: map[AreaID]*areaIn{}, plants: map[PlantID]*PlantState{},
		products: map[ProductID]*Product{}, crew: map[TechnicianID]*Technician{},
		followUps: map[ItemID]*FollowUp{}, services: map[string]*Service{}, places: map[travel.PlaceID]int{},
		items: map[ItemID]*itemIn{}, done: map[ItemID]*itemIn{}, mixings: map[*routeIn][]span{},
	}
	for i := range p.Sites {
		s := &p.Sites[i]
		c.sites[s.ID] = s
		for k := range s.Areas {
			c.areas[s.Areas[k].ID] = &areaIn{&s.Areas[k], s}
		}
	}
	for i := range p.Plants {
		c.plants[p.Plants[i].Plant.ID] = &p.Plants[i]
	}
	for i := range p.Products {
		c.products[p.Products[i].ID] = &p.Products[i]
	}
	for i := range p.Technicians {
		c.crew[p.Technicians[i].ID] = &p.Technicians[i]
	}
	for i := range p.FollowUps {
		c.followUps[p.FollowUps[i].ID] = &p.FollowUps[i]
	}
	for i := range p.Services {
		c.services[p.Services[i].ID] = &p.Services[i]
	}
	for i, place := range p.Travel.Places {
		c.places[place] = i
	}
	c.readDone()
	c.readRoutes()
	c.readItems()
	c.treatments = c.readTreatments()
	return c
}

func (c *checker) readDone() {
	for _, d := range c.p.Done {
		i := &itemIn{id: d.ID, begins: d.Began, ends: d.Ended, zone: c.zoneOf(c.sites[d.Site]), plants: d.Plants, fact: true}
		if f := c.followUps[d.ID]; f != nil {
			i.plants = f.Plants
		}
		c.done[d.ID] = i
	}
}

func (c *checker) readRoutes() {
	for i := range c.plan.Routes {
		r := &routeIn{DayRoute: &c.plan.Routes[i], tech: c.crew[c.plan.Routes[i].Technician]}
		if r.tech != nil {
			r.shift = shiftOf(r.tech, r.DayRoute)
		}
		for k := range r.Visits {
			v := &visitIn{Visit: &r.Visits[k], route: r, site: c.sites[r.Visits[k].Site]}
			v.fact = c.isFact(v.Visit)
			for n := range v.Work {
				v.work = append(v.work, c.place(v, &v.Work[n]))
			}
			slices.SortStableFunc(v.work, func(a, b *placed) int { return cmp.Compare(a.Begins, b.Begins) })
			r.visits = append(r.visits, v)
			c.work = append(c.work, v.work...)
		}
		for _, m := range r.Mixes {
			c.mixings[r] = append(c.mixings[r], span{From: m.Begins, To: m.Ready})
		}
		c.mixings[r] = joined(c.mixings[r])
		c.routes = append(c.routes, r)
	}
}

// shiftOf returns the technician's shift of the route's day that covers it, else the first of that day, or nil.
func shiftOf(t *Technician, r *DayRoute) *Shift {
	var first *Shift
	for i := range t.Shifts {
		s := &t.Shifts[i]
		if s.Day != r.Day {
			continue
		}
		if within(span{From: r.Departs, To: r.Returns}, s.During) {
			return s
		}
		if first == nil {
			first = s
		}
	}
	return first
}

// isFact says whether a visit is fixed as it stands, or was over before now.
func (c *checker) isFact(v *Visit) bool {
	return v.Leaves <= c.p.Now && !c.p.Now.IsZero() || c.isFixed(v)
}

// isFixed says whether a visit is one of Problem.Fixed, as it stands there.
func (c *checker) isFixed(v *Visit) bool {
	return slices.ContainsFunc(c.p.Fixed, func(f Visit) bool { return f.Arrives == v.Arrives && len(c.differences(&f, v)) == 0 })
}

// place finds what a work item refers to.
func (c *checker) place(v *visitIn, w *WorkItem) *placed {
	item := &placed{WorkItem: w, visit: v, follow: c.followUps[w.Item]}
	if item.follow != nil {
		for i := range item.follow.Ways {
			if item.follow.Ways[i].ID == w.Way {
				item.way = &item.follow.Ways[i]
			}
		}
		if item.way != nil && w.Part >= 0 && w.Part < len(item.way.Parts) {
			item.part = &item.way.Parts[w.Part]
		}
		return item
	}
	// An occurrence is written "service-id#occurrence", counted from 1.
	if at := strings.LastIndexByte(string(w.Item), '#'); at >= 0 {
		k, err := strconv.Atoi(string(w.Item[at+1:]))
		if err == nil && k >= 1 {
			item.service, item.occurrence = c.services[string(w.Item[:at])], k
		}
	}
	return item
}

func (c *checker) readItems() {
	for _, w := range c.work {
		i := c.items[w.Item]
		if i == nil {
			i = &itemIn{id: w.Item, begins: w.Begins, ends: w.Ends, zone: c.zoneOf(w.visit.site), fact: true}
			if w.follow != nil {
				i.plants = w.follow.Plants
			}
			c.items[w.Item] = i
		}
		i.begins, i.ends = min(i.begins, w.Begins), max(i.ends, w.Ends)
		i.fact = i.fact && w.visit.fact
		i.work = append(i.work, w)
		if w.follow == nil {
			i.plants = append(slices.Clone(i.plants), w.Plants...)
		}
	}
	for _, i := range c.items {
		slices.SortStableFunc(i.work, func(a, b *placed) int { return cmp.Compare(a.Begins, b.Begins) })
	}
}

// report appends a breach: where it is, and the sentence.
func (c *checker) report(rule Rule, where Violation, format string, args ...any) {
	where.Rule, where.Text = rule, fmt.Sprintf(format, args...)
	c.found = append(c.found, where)
}

// where is the place of a breach in a whole route; it is standing when every visit is a fact.
func (r *routeIn) where() Violation {
	standing := len(r.visits) > 0
	for _, v := range r.visits {
		standing = standing && v.fact
	}
	return Violation{Technician: r.Technician, Day: r.Day, During: span{From: r.Departs, To: r.Returns}, Standing: standing}
}

func (v *visitIn) where() Violation {
	return Violation{
		Technician: v.route.Technician, Day: v.route.Day, Site: v.Site,
		During: span{From: v.Arrives, To: v.Leaves}, Standing: v.fact,
	}
}

func (w *placed) where() Violation {
	at := w.visit.where()
	at.Area, at.Item, at.During = w.Area, w.Item, w.during()
	return at
}

func (w *placed) during() span { return span{From: w.Begins, To: w.Ends} }

// applies says whether the work item puts something on plants.
func (w *placed) applies() bool { return w.Use != nil }

// areasOf returns the areas that a work item is done in: its own, else those where its plants stand.
func (c *checker) areasOf(w *placed) []AreaID {
	if w.Area != "" {
		return []AreaID{w.Area}
	}
	var areas []AreaID
	for _, id := range w.Plants {
		if plant := c.plants[id]; plant != nil && !slices.Contains(areas, plant.Plant.Area) {
			areas = append(areas, plant.Plant.Area)
		}
	}
	return areas
}

// zoneOf is the site's zone, or the business's where the site is unknown.
func (c *checker) zoneOf(s *Site) civil.Zone {
	if s == nil {
		return c.p.Zone
	}
	return s.Zone
}

// dateAt is the civil date of an instant at a site.
func (c *checker) dateAt(s *Site, i civil.Instant) civil.Date { return c.zoneOf(s).DateOf(i) }

// clock writes an instant in the zone of a site: "Tue 3 Mar 19:30", with seconds only where there are any, and with the
// zone's abbreviation ("Sun 1 Nov 01:30 EDT") only where that reading comes twice.
func (c *checker) clock(s *Site, i civil.Instant) string {
	layout := "Mon 2 Jan 15:04"
	if i%60 != 0 {
		layout = "Mon 2 Jan 15:04:05"
	}
	at := i.Time().In(c.zoneOf(s).Location())
	if readTwice(at) {
		layout += " MST"
	}
	return at.Format(layout)
}

// readTwice says whether the clock shows the same again later, or has shown it before, because it was put back.
func readTwice(at time.Time) bool {
	_, here := at.Zone()
	from, to := at.ZoneBounds()
	if !from.IsZero() {
		_, before := from.Add(-time.Second).Zone()
		if at.Sub(from) < time.Duration(before-here)*time.Second {
			return true
		}
	}
	if !to.IsZero() {
		_, after := to.Zone()
		return to.Sub(at) <= time.Duration(here-after)*time.Second
	}
	return false
}

// stretch writes an interval in the zone of a site: "Tue 3 Mar 19:30 to Tue 3 Mar 20:02".
func (c *checker) stretch(s *Site, v span) string {
	return c.clock(s, v.From) + " to " + c.clock(s, v.To)
}

// driveTime is the technician's travel time between two places: ceil(seconds * 100 / SpeedPercent), in whole seconds.
func (c *checker) driveTime(t *Technician, from, to travel.PlaceID) (time.Duration, bool) {
	a, okA := c.places[from]
	b, okB := c.places[to]
	at := a*len(c.p.Travel.Places) + b
	if !okA || !okB || at >= len(c.p.Travel.Seconds) || t.SpeedPercent <= 0 {
		return 0, false
	}
	scaled := int64(c.p.Travel.Seconds[at]) * 100
	speed := int64(t.SpeedPercent)
	return time.Duration((scaled+speed-1)/speed) * time.Second, true
}

// placeKind is what an area is: its own kind, else its site's.
func placeKind(s *Site, a *areaIn) PlaceKind {
	if a != nil && a.Kind != "" {
		return a.Kind
	}
	return s.Kind
}

// list writes ids for people: "a, b, c".
func list[T ~string](ids []T) string {
	texts := make([]string, len(ids))
	for i, id := range ids {
		texts[i] = string(id)
	}
	return strings.Join(texts, ", ")
}
