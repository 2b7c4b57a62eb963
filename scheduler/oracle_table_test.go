package scheduler_test

import (
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// timetable is some day routes whose order is settled and whose times are looked for: what the rules ask of two instants
// as edges, and all else for broken to judge.
type timetable struct {
	o          *oracle
	nodes      int
	edges      []edge
	timed      []timedRoute
	acts       []act
	visits     []timedVisit
	treatments []timedTreatment
	items      map[scheduler.ItemID][]int // acts by item, in order
	lineups    []*lineup
	alone      bool // one route of several: what others may mend is not judged
}

// timedRoute is the part of a route that is paid by time.
type timedRoute struct {
	departs, returns int
	rest             int64 // break, which is not paid
	leastMinutes     int64
	pay              quantity.Money
}

// actKind is what a technician does.
type actKind int

const (
	working actKind = iota
	mixing
	rinsing
	resting
)

// act is one stretch of a technician's time.
type act struct {
	kind         actKind
	route, visit int // visit -1: between two
	node         int
	takes        int64
	site         *scheduler.Site
	area         site.AreaID
	item         scheduler.ItemID
	service      *scheduler.Service
	way          *scheduler.Way
	part         int
	use          *scheduler.Use
	plants       []site.PlantID
	allowed      []civil.Interval // of beginnings; nil is any
	floats       bool             // its place among the others is not settled
}

// timedVisit is one visit.
type timedVisit struct {
	arrives, leaves  int
	access, arrivals []civil.Interval // runs; of the arrival, nil is any
	fixed            bool
}

// timedTreatment is the applications of one visit in one area.
type timedTreatment struct {
	visit          int
	area           site.AreaID
	first, last    int // acts
	shut           []site.AreaID
	aired, unaired int64
	airedEnds      []civil.Interval // ends after which all of the interval is ventilated
	always         bool             // ventilated
	people         []civil.Interval
}

func (t *timetable) node() int { t.nodes++; return t.nodes - 1 }

func (t *timetable) edge(from, to int, least int64) { t.edges = append(t.edges, edge{from, to, least}) }

// begins and ends of an act in a schedule.
func (t *timetable) begins(at []int64, a int) int64 { return at[t.acts[a].node] }
func (t *timetable) ends(at []int64, a int) int64   { return at[t.acts[a].node] + t.acts[a].takes }

// before and after let one act end before another begins, or begin after an instant.
func (t *timetable) before(a, b int) choice {
	return choice{edge{t.acts[a].node, t.acts[b].node, t.acts[a].takes}, -1}
}
func orEdge(e edge) choice { return choice{e, -1} }

// endsBy and beginsFrom bound an act by an instant.
func (t *timetable) endsBy(a int, by civil.Instant) choice {
	return orEdge(edge{t.acts[a].node, 0, t.acts[a].takes - int64(by)})
}
func (t *timetable) beginsFrom(a int, from civil.Instant) choice {
	return orEdge(atLeast(t.acts[a].node, from))
}

// broken finds something that a schedule breaks, and all the ways to mend it; each lawful schedule keeps one of them.
func (t *timetable) broken(at []int64, unaired []bool) (choices []choice, broken bool) {
	for _, judge := range []func([]int64, []bool) ([]choice, bool){
		t.windows, t.openings, t.oneThing, t.ventilated, t.peopleOut, t.shutOut, t.somewhere, t.capacity, t.wet, t.overTime,
	} {
		if choices, broken := judge(at, unaired); broken {
			return choices, true
		}
	}
	return nil, false
}

// insideOne returns how an instant (of a node, so many seconds on) comes into one of several stretches of beginnings.
func insideOne(node int, on int64, at int64, allowed []civil.Interval) ([]choice, bool) {
	var choices []choice
	for _, run := range allowed {
		if int64(run.From) <= at && at < int64(run.To) {
			return nil, false
		}
	}
	for i := len(allowed) - 1; i >= 0; i-- {
		if int64(allowed[i].To) <= at {
			choices = append(choices, orEdge(atMost(node, allowed[i].To-1-civil.Instant(on))))
			break
		}
	}
	for _, run := range allowed {
		if int64(run.From) > at {
			choices = append(choices, orEdge(atLeast(node, run.From-civil.Instant(on))))
			break
		}
	}
	return choices, true
}

// windows: acts begin where they may, visits arrive where they may.
func (t *timetable) windows(at []int64, _ []bool) ([]choice, bool) {
	for i := range t.acts {
		if a := &t.acts[i]; a.allowed != nil {
			if choices, broken := insideOne(a.node, 0, at[a.node], a.allowed); broken {
				return choices, true
			}
		}
	}
	for i := range t.visits {
		if v := &t.visits[i]; v.arrivals != nil {
			if choices, broken := insideOne(v.arrives, 0, at[v.arrives], v.arrivals); broken {
				return choices, true
			}
		}
	}
	return nil, false
}

// openings: each visit lies in one run of access.
func (t *timetable) openings(at []int64, _ []bool) ([]choice, bool) {
	for i := range t.visits {
		v := &t.visits[i]
		if v.fixed {
			continue
		}
		from, to := civil.Instant(at[v.arrives]), civil.Instant(at[v.leaves])
		if slices.ContainsFunc(v.access, func(run civil.Interval) bool { return run.From <= from && to <= run.To }) {
			continue
		}
		var choices []choice
		for k := len(v.access) - 1; k >= 0; k-- {
			if v.access[k].From <= from {
				choices = append(choices, orEdge(atMost(v.leaves, v.access[k].To)))
				break
			}
		}
		for _, run := range v.access {
			if run.From > from {
				choices = append(choices, orEdge(atLeast(v.arrives, run.From)))
				break
			}
		}
		return choices, true
	}
	return nil, false
}

func overlapping(fromA, toA, fromB, toB int64) bool {
	return fromA < toA && fromB < toB && fromA < toB && fromB < toA
}

// oneThing: what floats overlaps nothing of its route.
func (t *timetable) oneThing(at []int64, _ []bool) ([]choice, bool) {
	for i := range t.acts {
		if !t.acts[i].floats {
			continue
		}
		for k := range t.acts {
			if i == k || t.acts[i].route != t.acts[k].route || t.acts[k].floats && k < i {
				continue
			}
			if overlapping(t.begins(at, i), t.ends(at, i), t.begins(at, k), t.ends(at, k)) {
				return []choice{t.before(i, k), t.before(k, i)}, true
			}
		}
	}
	return nil, false
}

// keep is how long a treatment shuts its areas after its end.
func (r *timedTreatment) keep(unaired bool) int64 {
	if unaired {
		return r.unaired
	}
	return r.aired
}

// ventilated: a treatment that counts as aired ends where all of its interval is.
func (t *timetable) ventilated(at []int64, unaired []bool) ([]choice, bool) {
	for i := range t.treatments {
		r := &t.treatments[i]
		if unaired[i] || r.always || r.aired == r.unaired {
			continue
		}
		last := &t.acts[r.last]
		if choices, broken := insideOne(last.node, last.takes, t.ends(at, r.last), r.airedEnds); broken {
			return append(choices, choice{unaired: i}), true
		}
	}
	return nil, false
}

// peopleOut: no hour with people lies in what a treatment shuts.
func (t *timetable) peopleOut(at []int64, unaired []bool) ([]choice, bool) {
	for i := range t.treatments {
		r := &t.treatments[i]
		keep := r.keep(unaired[i])
		for _, p := range r.people {
			if overlapping(t.begins(at, r.first), t.ends(at, r.last)+keep, int64(p.From), int64(p.To)) {
				return []choice{t.endsBy(r.last, p.From-civil.Instant(keep)), t.beginsFrom(r.first, p.To)}, true
			}
		}
	}
	return nil, false
}

// inShut returns how an act in an area keeps out of what shuts it; nil where it does.
func (t *timetable) inShut(at []int64, unaired []bool, i int, area site.AreaID) []choice {
	a := &t.acts[i]
	from, to := t.begins(at, i), t.ends(at, i)
	for n := range t.treatments {
		r := &t.treatments[n]
		mine := a.use != nil && a.visit == r.visit && area == r.area
		if mine || !slices.Contains(r.shut, area) {
			continue
		}
		last := &t.acts[r.last]
		keep := r.keep(unaired[n])
		if overlapping(from, to, t.begins(at, r.first), t.ends(at, r.last)+keep) {
			return []choice{t.before(i, r.first), orEdge(edge{last.node, a.node, last.takes + keep})}
		}
	}
	for _, k := range t.o.shut {
		if k.item != "" && a.use != nil && a.item == k.item || !slices.Contains(k.areas, area) {
			continue
		}
		if overlapping(from, to, int64(k.during.From), int64(k.during.To)) {
			return []choice{t.endsBy(i, k.during.From), t.beginsFrom(i, k.during.To)}
		}
	}
	return nil
}

// shutOut: no work and no rinse in a shut area.
func (t *timetable) shutOut(at []int64, unaired []bool) ([]choice, bool) {
	for i := range t.acts {
		if a := &t.acts[i]; a.area != "" && (a.kind == working || a.kind == rinsing) {
			if choices := t.inShut(at, unaired, i, a.area); choices != nil {
				return choices, true
			}
		}
	}
	return nil, false
}

// somewhere: a mix is made, and a break in a visit is taken, where some area of the site is not shut.
func (t *timetable) somewhere(at []int64, unaired []bool) ([]choice, bool) {
	for i := range t.acts {
		a := &t.acts[i]
		if a.kind == mixing && a.site.Water.Area == "" || a.kind == resting && a.visit < 0 || a.kind == working || a.kind == rinsing {
			continue
		}
		var choices []choice
		free := len(a.site.Areas) == 0
		for k := range a.site.Areas {
			mend := t.inShut(at, unaired, i, a.site.Areas[k].ID)
			free = free || mend == nil
			choices = append(choices, mend...)
		}
		if !free {
			return choices, true
		}
	}
	return nil, false
}

// capacity: a treatment place holds no more plants at once than it can. Stretches that overlap two by two have an
// instant in common, so where too many are there two of them must not overlap.
func (t *timetable) capacity(at []int64, _ []bool) ([]choice, bool) {
	type stay struct{ first, last, plants int }
	stays := map[site.AreaID][]stay{}
	for _, id := range t.o.order {
		for _, i := range t.items[id] {
			a := &t.acts[i]
			place := t.o.area(a.area)
			if a.use == nil || a.way.Kind != scheduler.AtTreatmentPlace || place == nil || place.Treatment == nil {
				continue
			}
			all := t.items[id]
			s := stay{all[0], all[len(all)-1], 0}
			for _, plant := range a.plants {
				s.plants += t.o.plant(plant).Plant.Count
			}
			stays[a.area] = append(stays[a.area], s)
		}
	}
	for id, list := range stays {
		for _, s := range list {
			var together []stay
			plants := 0
			for _, other := range list {
				if t.begins(at, other.first) <= t.begins(at, s.first) && t.begins(at, s.first) < t.ends(at, other.last) {
					together, plants = append(together, other), plants+other.plants
				}
			}
			if plants <= t.o.area(id).Treatment.Capacity {
				continue
			}
			var choices []choice
			for _, a := range together {
				for _, b := range together {
					if a != b {
						choices = append(choices, t.before(a.last, b.first))
					}
				}
			}
			return choices, true
		}
	}
	return nil, false
}

// wets says whether an act waters a plant.
func (a *act) wets(id site.PlantID) bool {
	wets := a.service != nil && a.service.Kind == site.WateringService || a.use != nil && a.use.Method == catalogue.Drench
	return wets && slices.Contains(a.plants, id)
}

// wet: a spray comes before its plants are dry, or after they were watered.
func (t *timetable) wet(at []int64, _ []bool) ([]choice, bool) {
	if t.alone {
		return nil, false
	}
	for i := range t.acts {
		a := &t.acts[i]
		if a.use == nil || !a.use.Method.Sprays() || t.o.product(a.use.Product).Label.DryPlants {
			continue
		}
		zone := a.site.Zone
		for _, id := range a.plants {
			latest, last := t.o.lastWatering(id)
			var choices []choice
			for k := range t.acts {
				if !t.acts[k].wets(id) {
					continue
				}
				if t.ends(at, k) <= t.begins(at, i) {
					last = max(last, zone.DateOf(civil.Instant(t.begins(at, k))))
				} else {
					choices = append(choices, t.before(k, i))
				}
			}
			if latest > 0 && (last.IsZero() || zone.DateOf(civil.Instant(t.begins(at, i))) >= last.AddDays(latest)) {
				if !last.IsZero() {
					choices = append(choices, orEdge(atMost(a.node, zone.At(last.AddDays(latest), 0)-1)))
				}
				return choices, true
			}
		}
	}
	return nil, false
}
