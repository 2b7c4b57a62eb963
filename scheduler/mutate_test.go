package scheduler_test

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// mutation breaks one rule in one way: in the plan, or in what the Problem says of that to which the plan holds on.
type mutation struct {
	rule scheduler.Rule
	name string
	want string // part of the sentence that names the breach
	// also are rules that a plan may break along with it, because what is moved lies among other things.
	also   []scheduler.Rule
	change func(m *mutant, s *spot)
	// where chooses among the work items of the plan that do not stand in fixed visits; nil is any.
	where func(s *spot) bool
}

// mutant is a copy of a Problem and a plan of it, to be changed.
type mutant struct {
	p    scheduler.Problem
	plan scheduler.Plan
}

// spot is a work item of a plan with all that it refers to; nil where there is none.
type spot struct {
	m       *mutant
	route   *scheduler.DayRoute
	visit   *scheduler.Visit
	work    *scheduler.WorkItem
	tech    *scheduler.Technician
	shift   *scheduler.Shift
	site    *scheduler.Site
	area    *scheduler.Area
	plant   *scheduler.PlantState // the first
	follow  *scheduler.FollowUp
	way     *scheduler.Way
	part    *scheduler.Part
	service *scheduler.Service
	product *scheduler.Product
	mix     *scheduler.Mix
	vessel  *scheduler.Vessel
}

// cloned copies a value with all that it points to; what it hides inside is shared and never changed.
func cloned[T any](v T) T {
	return cloneValue(reflect.ValueOf(v)).Interface().(T)
}

func cloneValue(v reflect.Value) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	out.Set(v)
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			out.Set(reflect.New(v.Type().Elem()))
			out.Elem().Set(cloneValue(v.Elem()))
		}
	case reflect.Slice:
		if !v.IsNil() {
			out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
			for i := range v.Len() {
				out.Index(i).Set(cloneValue(v.Index(i)))
			}
		}
	case reflect.Map:
		if !v.IsNil() {
			out.Set(reflect.MakeMap(v.Type()))
			for _, key := range v.MapKeys() {
				out.SetMapIndex(key, cloneValue(v.MapIndex(key)))
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				out.Field(i).Set(cloneValue(v.Field(i)))
			}
		}
	}
	return out
}

// spots lists the work items that may be changed.
func (m *mutant) spots() []*spot {
	var all []*spot
	c := pricer{&m.p, nil}
	for i := range m.plan.Routes {
		r := &m.plan.Routes[i]
		for k := range r.Visits {
			v := &r.Visits[k]
			if c.isFixed(v) {
				continue
			}
			for n := range v.Work {
				all = append(all, m.spot(r, v, &v.Work[n]))
			}
		}
	}
	return all
}

func (m *mutant) spot(r *scheduler.DayRoute, v *scheduler.Visit, w *scheduler.WorkItem) *spot {
	c := pricer{&m.p, nil}
	s := &spot{m: m, route: r, visit: v, work: w, tech: c.technician(r.Technician), site: c.site(v.Site), follow: c.followUp(w.Item)}
	for i := range s.tech.Shifts {
		if s.tech.Shifts[i].Day == r.Day && s.tech.Shifts[i].During.Covers(civil.Interval{From: r.Departs, To: r.Returns}) {
			s.shift = &s.tech.Shifts[i]
		}
	}
	for i := range s.site.Areas {
		if s.site.Areas[i].ID == w.Area {
			s.area = &s.site.Areas[i]
		}
	}
	if len(w.Plants) > 0 {
		s.plant = m.plant(w.Plants[0])
	}
	if s.follow == nil {
		s.service, _ = c.occurrenceOf(w.Item)
		return s
	}
	s.way = &s.follow.Ways[slices.IndexFunc(s.follow.Ways, func(w2 scheduler.Way) bool { return w2.ID == w.Way })]
	s.part = &s.way.Parts[w.Part]
	if w.Use != nil {
		s.product = &m.p.Products[slices.IndexFunc(m.p.Products, func(p scheduler.Product) bool { return p.ID == w.Use.Product })]
	}
	if w.MixIndex >= 0 {
		s.mix = &r.Mixes[w.MixIndex]
		s.vessel = &s.tech.Vessels[slices.IndexFunc(s.tech.Vessels, func(v scheduler.Vessel) bool { return v.ID == s.mix.Vessel })]
	}
	return s
}

func (m *mutant) plant(id site.PlantID) *scheduler.PlantState {
	return &m.p.Plants[slices.IndexFunc(m.p.Plants, func(s scheduler.PlantState) bool { return s.Plant.ID == id })]
}

// day is the civil date on which the work begins; clock what the wall clock shows at an instant there.
func (s *spot) day() civil.Date                    { return s.site.Zone.DateOf(s.work.Begins) }
func (s *spot) clock(at civil.Instant) civil.Clock { return s.site.Zone.ClockOf(at) }

// applies says whether the spot is an application, shuts whether it shuts its area.
func applies(s *spot) bool { return s.work.Use != nil }
func shuts(s *spot) bool   { return applies(s) && s.work.Use.Entry != "none-needed" }
func mixed(s *spot) bool   { return s.mix != nil }
func follows(s *spot) bool { return s.follow != nil }
func serves(s *spot) bool  { return s.service != nil }
func always(*spot) bool    { return true }

// both joins two conditions.
func both(a, b func(*spot) bool) func(*spot) bool {
	return func(s *spot) bool { return a(s) && b(s) }
}

// oneDay says whether the visit begins and ends on one date on which no clock is changed.
func oneDay(s *spot) bool {
	from, to := s.site.Zone.DateOf(s.visit.Arrives), s.site.Zone.DateOf(s.visit.Leaves)
	return from == to && s.site.Zone.At(from+1, 0)-s.site.Zone.At(from, 0) == 24*3600
}

// daily is a calendar that is open every day from one reading of the clock to another.
func daily(opens, closes civil.Clock) civil.Calendar {
	w := weekly(everyDay, "00:00", "24:00")
	w.Opens, w.Closes = opens, closes
	return civil.Calendar{Weekly: []civil.Weekly{w}}
}

// allMutations lists every way to break a rule.
func allMutations() []mutation {
	return slices.Concat(shiftMutations(), accessMutations(), licenceMutations(), timingMutations(), labelMutations(), reentryMutations(), mixMutations(), pinnedMutations())
}

// TestCheck_NamesEachWayToBreakARule takes plans that keep every rule and breaks one at a time in every way that the plan
// gives an occasion for: that rule is named, by the sentence for it, and no other but those that go with it.
func TestCheck_NamesEachWayToBreakARule(t *testing.T) {
	t.Parallel()
	mutations := allMutations()
	tried := map[string]int{}
	plans, total := uint64(40), 0
	if full() {
		plans = 1_000
	}
	for seed := range plans {
		p := draw(bySeed(seed), drawnSize{days: 9, sites: 3, items: 99})
		plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Iterations: 2, Rates: roundRates()})
		if err != nil {
			t.Fatal(err)
		}
		if found := scheduler.Check(p, plan); len(found) == 0 { // else a fixed visit breaks a rule
			total += mutate(t, seed, p, plan, mutations, tried)
		}
	}
	t.Logf("%d mutations", total)
	if full() && total < 10_000 {
		t.Errorf("%d mutations: want 10,000", total)
	}
	for _, m := range mutations {
		if name := string(m.rule) + ": " + m.name; full() && tried[name] == 0 {
			t.Errorf("%s: no plan gave an occasion for it", name)
		}
	}
}

// mutationsAPlan is how many mutations one plan gets.
const mutationsAPlan = 15

// mutate breaks a plan in some ways, those tried least first.
func mutate(t *testing.T, seed uint64, p scheduler.Problem, plan scheduler.Plan, mutations []mutation, tried map[string]int) int {
	choose := bySeed(seed)
	name := func(m mutation) string { return string(m.rule) + ": " + m.name }
	order := slices.Clone(mutations)
	slices.SortStableFunc(order, func(a, b mutation) int { return tried[name(a)] - tried[name(b)] })
	spots := (&mutant{p: p, plan: plan}).spots()
	count := 0
	for i := range order {
		change := &order[i]
		var fit []int
		for k, s := range spots {
			if change.where == nil || change.where(s) {
				fit = append(fit, k)
			}
		}
		if count == mutationsAPlan || len(fit) == 0 {
			continue
		}
		m := &mutant{p: cloned(p), plan: cloned(plan)}
		s := m.spots()[fit[choose("spot", 0, len(fit)-1)]]
		item := s.work.Item
		change.change(m, s)
		judge(t, m, change, fmt.Sprintf("seed %d, %s", seed, item))
		tried[name(*change)]++
		count++
	}
	return count
}

// judge holds that Check names the rule that was broken, and nothing that was not.
func judge(t errorer, m *mutant, change *mutation, at string) {
	t.Helper()
	named, others := false, []string{}
	for _, v := range scheduler.Check(m.p, m.plan) {
		named = named || v.Rule == change.rule && strings.Contains(v.Text, change.want) && !v.Standing
		if v.Rule != change.rule && !slices.Contains(change.also, v.Rule) {
			others = append(others, v.String())
		}
	}
	if !named {
		t.Errorf("%s: %s (at %s): not named; want %q in what Check says: %v\n%s", change.rule, change.name, at, change.want, scheduler.Check(m.p, m.plan), planText(m.plan))
	}
	if len(others) > 0 {
		t.Errorf("%s: %s (at %s): other rules are named too: %v\n%s", change.rule, change.name, at, others, planText(m.plan))
	}
}

// planned lists the first and last work item of each item that is planned in visits that may move, in order of time.
func (m *mutant) planned() []*spot {
	var firsts []*spot
	for _, s := range m.spots() {
		k := slices.IndexFunc(firsts, func(f *spot) bool { return f.work.Item == s.work.Item })
		if k < 0 {
			firsts = append(firsts, s)
		} else if s.work.Begins < firsts[k].work.Begins {
			firsts[k] = s
		}
	}
	slices.SortStableFunc(firsts, func(a, b *spot) int { return int(a.work.Begins - b.work.Begins) })
	return firsts
}

// endOf is the end of all of an item.
func (m *mutant) endOf(id scheduler.ItemID) (end civil.Instant) {
	for _, s := range m.spots() {
		if s.work.Item == id {
			end = max(end, s.work.Ends)
		}
	}
	return end
}

// another returns another planned follow-up that begins later (or earlier), the first in order; nil when there is none.
func (s *spot) another(later bool, ok func(*spot) bool) *spot {
	for _, o := range s.m.planned() {
		if o.follow == nil || o.work.Item == s.work.Item || !ok(o) {
			continue
		}
		if later && o.work.Begins > s.m.endOf(s.work.Item) || !later && s.m.endOf(o.work.Item) < s.first() {
			return o
		}
	}
	return nil
}

// first is when the item of a spot begins.
func (s *spot) first() civil.Instant {
	for _, o := range s.m.planned() {
		if o.work.Item == s.work.Item {
			return o.work.Begins
		}
	}
	return s.work.Begins
}

func hasLater(s *spot) bool { return follows(s) && s.another(true, always) != nil }

// link adds a link to the Problem.
func (m *mutant) link(l scheduler.Link) { m.p.Links = append(m.p.Links, l) }
