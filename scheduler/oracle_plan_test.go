package scheduler_test

import (
	"slices"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// plan writes an answer as a Plan, so that Check can judge it.
func (o *oracle) plan(a *answer) scheduler.Plan {
	w := &planWriting{o: o, t: a.table, at: a.at}
	for i := range w.t.treatments {
		w.unaired = append(w.unaired, !w.aired(i))
	}
	plan := scheduler.Plan{Cost: scheduler.Cost{Total: a.cost}}
	for r, l := range a.lineups {
		plan.Routes = append(plan.Routes, w.route(r, l))
	}
	for i := range w.t.treatments {
		plan.KeepOuts = append(plan.KeepOuts, w.keepOuts(i)...)
	}
	return plan
}

// planWriting is the state of writing a plan.
type planWriting struct {
	o       *oracle
	t       *timetable
	at      []int64
	unaired []bool
	next    int // of the timetable's visits
}

// aired says whether all of the interval of a treatment is ventilated.
func (w *planWriting) aired(i int) bool {
	r := &w.t.treatments[i]
	_, broken := insideOne(0, 0, w.t.ends(w.at, r.last), r.airedEnds)
	return r.always || !broken
}

func (w *planWriting) during(a int) civil.Interval {
	return civil.Interval{From: civil.Instant(w.t.begins(w.at, a)), To: civil.Instant(w.t.ends(w.at, a))}
}

func (w *planWriting) keepOuts(i int) []scheduler.KeepOut {
	r := &w.t.treatments[i]
	first := &w.t.acts[r.first]
	during := civil.Interval{From: w.during(r.first).From, To: w.during(r.last).To + civil.Instant(r.keep(w.unaired[i]))}
	var shut []scheduler.KeepOut
	for _, area := range r.shut {
		shut = append(shut, scheduler.KeepOut{
			Area: area, During: during, Product: first.use.Product, By: w.t.technicianOf(first.route), UntilDry: true, Item: first.item,
		})
	}
	return shut
}

func (w *planWriting) route(r int, l *lineup) scheduler.DayRoute {
	s, timed := &w.o.shifts[l.shift], &w.t.timed[r]
	route := scheduler.DayRoute{
		Technician: s.tech.ID, Day: s.shift.Day,
		Departs: civil.Instant(w.at[timed.departs]), Returns: civil.Instant(w.at[timed.returns]),
	}
	first := w.next
	for v := range l.visits {
		route.Visits = append(route.Visits, w.visit(l, v))
	}
	var mixings, rinses []int
	for i := range w.t.acts {
		switch a := &w.t.acts[i]; {
		case a.route != r:
		case a.kind == mixing:
			mixings = append(mixings, i)
		case a.kind == rinsing:
			rinses = append(rinses, i)
		case a.kind == resting:
			route.Break = w.during(i)
		}
	}
	rinsing := w.o.p.Rules.Rinsing
	atBase := route.Returns
	for m := range l.mixes {
		made := w.mix(l, &l.mixes[m], mixings[m], first)
		switch l.mixes[m].rinse {
		case notRinsed:
		case rinsedAtBase:
			made.Rinse, made.RinseAtBase = civil.Interval{From: atBase.Add(-rinsing), To: atBase}, true
			atBase = made.Rinse.From
		default:
			made.Rinse, rinses = w.during(rinses[0]), rinses[1:]
		}
		route.Mixes = append(route.Mixes, made)
	}
	return route
}

func (t *timetable) technicianOf(route int) scheduler.TechnicianID {
	return t.o.shifts[t.lineups[route].shift].tech.ID
}

func (w *planWriting) visit(l *lineup, v int) scheduler.Visit {
	timed := &w.t.visits[w.next]
	index := w.next
	w.next++
	if fixed := l.visits[v].fixed; fixed != nil {
		return *fixed
	}
	s := l.visits[v].site
	visit := scheduler.Visit{
		State: scheduler.Planned, Technician: w.o.shifts[l.shift].tech.ID, Site: s.ID, SignIn: s.SignIn,
		Arrives: civil.Instant(w.at[timed.arrives]), Leaves: civil.Instant(w.at[timed.leaves]),
	}
	var acts []int
	for i := range w.t.acts {
		if w.t.acts[i].visit == index && w.t.acts[i].kind == working {
			acts = append(acts, i)
		}
	}
	for b, block := range l.visits[v].blocks {
		for p := range block.pieces {
			visit.Work = append(visit.Work, w.work(l, useAt{v, b, p}, acts[0]))
			acts = acts[1:]
		}
	}
	return visit
}

func (w *planWriting) work(l *lineup, u useAt, i int) scheduler.WorkItem {
	a, during := &w.t.acts[i], w.during(i)
	work := scheduler.WorkItem{
		Item: a.item, Area: a.area, Plants: a.plants, Begins: during.From, Ends: during.To, Use: a.use, MixIndex: -1,
	}
	if a.service != nil {
		work.Service, work.Marked = a.service.Kind, true
		return work
	}
	work.Kind, work.Way, work.Part = w.o.price.followUp(a.item).Kind, a.way.ID, a.part
	for m := range l.mixes {
		if slices.Contains(l.mixes[m].uses, u) {
			work.MixIndex = m
		}
	}
	return work
}

func (w *planWriting) mix(l *lineup, m *lineMix, i, first int) scheduler.Mix {
	s := &w.o.shifts[l.shift]
	a, during := &w.t.acts[i], w.during(i)
	volume, concentrate, measure, _ := w.o.fill(m.product, l.need(m), m.vessel, s.tech.Measures)
	made := scheduler.Mix{
		Technician: s.tech.ID, Product: m.product.ID, Vessel: m.vessel.ID, Measure: measure, Site: a.site.ID,
		Need: l.need(m), Volume: volume, Concentrate: concentrate, Begins: during.From, Ready: during.To, UseBy: s.shift.During.To,
	}
	if life := m.product.Label.MixLife; life > 0 {
		made.UseBy = min(made.UseBy, made.Begins.Add(life))
	}
	for i := range w.t.acts {
		use := &w.t.acts[i]
		if use.kind != working {
			continue
		}
		for _, u := range m.uses {
			piece := l.piece(u)
			if use.visit == first+u.visit && use.item == l.visits[u.visit].blocks[u.block].item && use.part == piece.part {
				made.LastUse = max(made.LastUse, w.during(i).To)
			}
		}
	}
	if a.site.Water.Area != "" {
		for k := range a.site.Areas {
			if made.Area == "" && w.t.inShut(w.at, w.unaired, i, a.site.Areas[k].ID) == nil {
				made.Area = a.site.Areas[k].ID
			}
		}
	}
	return made
}

// drawSmall draws a Problem of at most so many items, two technicians and two days that the oracle can exhaust. Prices of
// delay have two steps, and one for what follows another item, so that no day after the horizon is dearer than another.
func drawSmall(seed uint64, items int) scheduler.Problem {
	p := draw(bySeed(seed), drawnSize{days: 2, sites: 3, items: items})
	for i := range p.FollowUps {
		for k := range p.FollowUps[i].PricePerDay {
			if f := &p.FollowUps[i]; k > 0 || f.Due.After != "" {
				f.PricePerDay[k] = f.PricePerDay[1]
			}
		}
	}
	crosses := false
	for _, t := range p.Technicians {
		for _, s := range t.Shifts {
			crosses = crosses || newYork.DateOf(s.During.To) > s.Day
		}
	}
	for i := range p.Sites {
		if crosses && !p.Sites[i].Agreement.DayFixed {
			p.Sites[i].Agreement.UsualDay = nil
		}
	}
	return p
}

// smallRates leaves out what the oracle does not price.
func smallRates() scheduler.Rates {
	rates := roundRates()
	rates.LateInspectionDay.Amount, rates.UnevenMinute.Amount = 0, 0
	return rates
}

// compared is what became of one small Problem.
type compared struct {
	seed          uint64
	solved, least quantity.Money
	plan, best    scheduler.Plan
	bound         quantity.Money
	gaveUp        bool
	frozen        bool // a day of visits that do not move breaks a rule by itself
	nets          int
}

// compare plans a small Problem and asks the oracle for a plan that costs no more.
func compare(t *testing.T, seed uint64, items, iterations int) compared {
	t.Helper()
	p, rates := drawSmall(seed, items), smallRates()
	c := compared{seed: seed}
	plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Iterations: iterations, Rates: rates})
	if err != nil {
		t.Errorf("seed %d: %v", seed, err)
		return c
	}
	c.plan, c.solved, c.bound = plan, plan.Cost.Total, plan.Bound
	for _, v := range scheduler.Check(p, plan) {
		c.frozen = c.frozen || v.Standing
		if !v.Standing {
			t.Errorf("seed %d: Solve breaks a rule: %v", seed, v)
		}
	}
	for i := range plan.Routes {
		c.frozen = c.frozen || pricer{&p, &rates}.factsAlone(&plan.Routes[i])
	}
	if c.frozen {
		return c // a day of visits that do not move breaks a rule by itself
	}
	found, o := leastCost(&p, &rates, c.solved+1)
	c.gaveUp, c.nets = o.gaveUp, o.nets
	if found == nil {
		if !o.gaveUp {
			t.Errorf("seed %d: Solve's plan costs %v, and the oracle finds none that costs as little:\n%s", seed, c.solved, planText(plan))
		}
		return c
	}
	c.best, c.least = o.plan(found), found.cost
	for _, v := range scheduler.Check(p, c.best) {
		t.Errorf("seed %d: the oracle breaks a rule: %v", seed, v)
	}
	_, routes := o.price.routes(c.best)
	whole := quantity.Money(0)
	for _, r := range routes {
		whole += r.Total
	}
	if whole > found.cost {
		t.Errorf("seed %d: the oracle's routes cost %v, its plan %v", seed, whole, found.cost)
	}
	if c.bound > c.least {
		t.Errorf("seed %d: the bound is %v, and a plan costs %v", seed, c.bound, c.least)
	}
	return c
}
