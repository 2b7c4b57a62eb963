package dilution_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
)

// routeMeans are a sprayer and a can that spray and drench, 128 and 64 US fl oz, with two products of wide range, so that
// every need that fits a vessel can be read.
func routeMeans(t testing.TB, vessels int) dilution.RouteMeans {
	t.Helper()
	limits := limitsOf(t, bti(t))
	both := []catalogue.Method{catalogue.WholePlantSpray, catalogue.Drench}
	large, small := sprayer(t, "128 US fl oz"), sprayer(t, "64 US fl oz")
	large.Methods, small.ID, small.Methods = both, "small", both
	return dilution.RouteMeans{
		Products:  map[catalogue.ProductID]dilution.RouteProduct{"a": {Limits: limits, MixLife: 4 * time.Hour}, "b": {Limits: limits}},
		Vessels:   []dilution.Vessel{large, small}[:vessels],
		Measures:  []dilution.Measure{cup(t, "1/8 US fl oz")},
		Mixing:    6 * time.Minute,
		ShiftEnds: 10 * 3600,
	}
}

func use(product catalogue.ProductID, ounces int64, begins, ends int) dilution.RouteUse {
	return dilution.RouteUse{Application: drench(ounces, begins, ends), Product: product, Method: catalogue.Drench}
}

func TestRoute_SharesMixesOverVesselsAndProducts(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name          string
		vessels       int
		in            []dilution.RouteUse
		mixes, rinses int
	}{
		{"none", 1, nil, 0, 0},
		{"one product, one vessel", 1, []dilution.RouteUse{use("a", 40, 60, 70), use("a", 40, 80, 90)}, 1, 1},
		// a b a b: one vessel makes four mixes, rinsed between and at the end.
		{"turn by turn, one vessel", 1, []dilution.RouteUse{use("a", 20, 60, 70), use("b", 20, 80, 90), use("a", 20, 100, 110), use("b", 20, 120, 130)}, 4, 4},
		// Two vessels hold one each.
		{"turn by turn, two vessels", 2, []dilution.RouteUse{use("a", 20, 60, 70), use("b", 20, 80, 90), use("a", 20, 100, 110), use("b", 20, 120, 130)}, 2, 2},
		// 100 + 100 is more than 126: two mixes of one product follow each other without a rinse.
		{"refilled", 1, []dilution.RouteUse{use("a", 100, 60, 70), use("a", 100, 80, 90)}, 2, 1},
		// a's four hours are over at minute 294; b lives until the end of the shift.
		{"a mix that is too old", 1, []dilution.RouteUse{use("a", 20, 60, 70), use("a", 20, 290, 300)}, 2, 1},
		{"a mix that keeps", 1, []dilution.RouteUse{use("b", 20, 60, 70), use("b", 20, 290, 300)}, 1, 1},
		// What comes first would fill the large vessel; putting the small need into the small vessel saves nothing there.
		{"the small one for the small need", 2, []dilution.RouteUse{use("a", 60, 60, 70), use("b", 100, 80, 90), use("b", 20, 100, 110), use("a", 2, 120, 130)}, 2, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			plan, err := dilution.Route(c.in, routeMeans(t, c.vessels))
			if err != nil || len(plan.Mixes) != c.mixes || plan.Rinses != c.rinses {
				t.Fatalf("%d mixes, %d rinses, %v; want %d and %d", len(plan.Mixes), plan.Rinses, err, c.mixes, c.rinses)
			}
		})
	}
}

func TestRoute_SaysWhatNeverFits(t *testing.T) {
	t.Parallel()
	spray := use("a", 20, 60, 70)
	spray.Method = catalogue.Wipe
	for name, c := range map[string]struct {
		in   dilution.RouteUse
		want string
	}{
		"by no vessel":       {spray, `application 0: vessel "the pump sprayer" does not apply by wipe`},
		"an unknown product": {use("c", 20, 60, 70), `application 0: product "c" is not among the means`},
	} {
		if _, err := dilution.Route([]dilution.RouteUse{c.in}, routeMeans(t, 1)); err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
	}
	if _, err := dilution.Route([]dilution.RouteUse{use("a", 127, 60, 70)}, routeMeans(t, 2)); !errors.Is(err, dilution.ErrVessel) {
		t.Errorf("more than any vessel holds: %v", err)
	}
	if _, err := dilution.Route([]dilution.RouteUse{use("b", 20, 590, 601)}, routeMeans(t, 1)); err == nil {
		t.Error("a mix is used after the shift")
	}
	if _, err := dilution.Route([]dilution.RouteUse{use("a", 20, 60, 70)}, routeMeans(t, 0)); err == nil {
		t.Error("mixed in no vessel")
	}
	if _, err := dilution.Route(make([]dilution.RouteUse, dilution.MaxRouteUses+1), routeMeans(t, 1)); !errors.Is(err, dilution.ErrTooMany) {
		t.Errorf("too many applications: %v", err)
	}
}

// small is a case in plain numbers: products 0 and 1, ounces, begin and end in minutes.
type small struct{ product, ounces, begins, ends int }

// TestRoute_AsFewAsAnySearch compares with every choice of vessel and of a fresh or the open mix, on all cases of up to four
// applications of two products, three needs and two rhythms, from one and two vessels.
func TestRoute_AsFewAsAnySearch(t *testing.T) {
	t.Parallel()
	means := [3]dilution.RouteMeans{1: routeMeans(t, 1), 2: routeMeans(t, 2)}
	needs := []int{20, 60, 100}
	for n := 1; n <= 4; n++ {
		kinds := 2 * len(needs)
		total := 1
		for range n {
			total *= kinds
		}
		for code := range total {
			for _, gap := range []int{20, 130} {
				in := make([]small, n)
				for i, rest := 0, code; i < n; i, rest = i+1, rest/kinds {
					begins := 60 + i*gap
					in[i] = small{rest % 2, needs[rest%kinds/2], begins, begins + 10}
				}
				for vessels := 1; vessels <= 2; vessels++ {
					compare(t, in, means[vessels])
				}
			}
		}
	}
}

// TestRoute_AsFewAsAnySearchOfRandomCases adds uneven needs and gaps, up to six applications.
func TestRoute_AsFewAsAnySearchOfRandomCases(t *testing.T) {
	t.Parallel()
	means := [3]dilution.RouteMeans{1: routeMeans(t, 1), 2: routeMeans(t, 2)}
	rapid.Check(t, func(t *rapid.T) {
		var in []small
		minute := 10
		for range rapid.IntRange(0, 6).Draw(t, "applications") {
			begins := minute + rapid.IntRange(0, 90).Draw(t, "gap")
			minute = begins + rapid.IntRange(1, 30).Draw(t, "takes")
			in = append(in, small{rapid.IntRange(0, 1).Draw(t, "product"), rapid.IntRange(1, 128).Draw(t, "ounces"), begins, minute})
		}
		compare(t, in, means[rapid.IntRange(1, 2).Draw(t, "vessels")])
	})
}

// TestRoute_OfOneProductAndVesselIsMixes: where there is no choice of vessel, both ways of counting agree.
func TestRoute_OfOneProductAndVesselIsMixes(t *testing.T) {
	t.Parallel()
	means, simple := routeMeans(t, 1), using(t)
	rapid.Check(t, func(t *rapid.T) {
		var uses []dilution.RouteUse
		var applications []dilution.Application
		minute := 10
		for range rapid.IntRange(1, 8).Draw(t, "applications") {
			begins := minute + rapid.IntRange(0, 60).Draw(t, "gap")
			minute = begins + rapid.IntRange(1, 20).Draw(t, "takes")
			uses = append(uses, use("a", rapid.Int64Range(1, 126).Draw(t, "ounces"), begins, minute))
			applications = append(applications, uses[len(uses)-1].Application)
		}
		plan, err := dilution.Route(uses, means)
		mixes, simpleErr := dilution.Mixes(applications, simple)
		if (err == nil) != (simpleErr == nil) || len(plan.Mixes) != len(mixes) || err == nil && plan.Rinses != 1 {
			t.Fatalf("%d mixes, %d rinses, %v; Mixes says %d, %v", len(plan.Mixes), plan.Rinses, err, len(mixes), simpleErr)
		}
	})
}

func compare(t interface {
	Helper()
	Fatalf(string, ...any)
}, in []small, means dilution.RouteMeans) {
	t.Helper()
	uses := make([]dilution.RouteUse, len(in))
	for i, s := range in {
		uses[i] = use([]catalogue.ProductID{"a", "b"}[s.product], int64(s.ounces), s.begins, s.ends)
	}
	got, err := dilution.Route(uses, means)
	want := search{in: in, vessels: len(means.Vessels)}.best(0, [2]held{}, 0, 0)
	if err != nil {
		if want.found {
			t.Fatalf("%v of %v: %v, though %d mixes and %d rinses do", in, len(means.Vessels), err, want.mixes, want.rinses)
		}
		return
	}
	if !want.found || len(got.Mixes)+got.Rinses != want.mixes+want.rinses || len(got.Mixes) != want.mixes {
		t.Fatalf("%v of %v: %d mixes and %d rinses, want %+v", in, len(means.Vessels), len(got.Mixes), got.Rinses, want)
	}
	if text := wrong(in, got, means); text != "" {
		t.Fatalf("%v: %s", in, text)
	}
}

// wrong says what in a plan breaks a rule, read off the plan alone.
func wrong(in []small, plan dilution.RoutePlan, means dilution.RouteMeans) string {
	served := map[int]bool{}
	last := map[dilution.VesselID]dilution.RouteMix{}
	rinses := 0
	for _, mix := range plan.Mixes {
		var need quantity.Volume
		for _, i := range mix.Serves {
			if served[i] || mix.Product != []catalogue.ProductID{"a", "b"}[in[i].product] {
				return fmt.Sprintf("application %d is served twice or with %s", i, mix.Product)
			}
			served[i] = true
			need = need.Add(quantity.NewVolume(int64(in[i].ounces), 1, quantity.USFluidOunce))
		}
		first, end := in[mix.Serves[0]], in[mix.Serves[len(mix.Serves)-1]]
		before, dirty := last[mix.Vessel]
		switch {
		case !mix.Need.Equal(need) || mix.Volume.Cmp(need) < 0 || !means.Products[mix.Product].Limits.Allow(mix.Share):
			return fmt.Sprintf("mix of %v for %v at %v", mix.Volume, need, mix.Share)
		case mix.Begins != civil.Instant(first.begins*60-360) || mix.LastUse != civil.Instant(end.ends*60) || mix.LastUse > mix.UseBy:
			return fmt.Sprintf("mix from %d, used until %d, use by %d", mix.Begins, mix.LastUse, mix.UseBy)
		case mix.RinseBefore != (dirty && before.Product != mix.Product):
			return "a rinse is told where there is none, or not where there is one"
		case dirty && before.Serves[len(before.Serves)-1] > mix.Serves[0]:
			return "a vessel holds two mixes"
		}
		if mix.RinseBefore {
			rinses++
		}
		last[mix.Vessel] = mix
	}
	if len(served) != len(in) || rinses+len(last) != plan.Rinses {
		return fmt.Sprintf("%d of %d served, %d rinses told and %d counted", len(served), len(in), plan.Rinses, rinses+len(last))
	}
	return ""
}

// held is what a vessel holds in the search: product + 1, ounces so far, the minute at which the mix was begun.
type held struct{ product, ounces, begun int }

type search struct {
	in      []small
	vessels int
}

type found struct {
	found         bool
	mixes, rinses int
}

// best tries everything. Vessels hold 126 and 62 beside the dead 2; product 0 lives four hours, both end with the shift at minute 600.
func (s search) best(i int, vessels [2]held, mixes, rinses int) found {
	if i == len(s.in) {
		for _, v := range vessels {
			if v.product != 0 {
				rinses++
			}
		}
		return found{true, mixes, rinses}
	}
	var best found
	a := s.in[i]
	for v := range s.vessels {
		for fresh := range 2 {
			h, moreRinses := vessels[v], 0
			if fresh == 1 {
				if h.product != 0 && h.product != a.product+1 {
					moreRinses = 1
				}
				h = held{a.product + 1, 0, a.begins - 6}
			}
			h.ounces += a.ounces
			late := a.ends > 600 || a.product == 0 && a.ends > h.begun+240
			if h.product != a.product+1 || h.ounces > []int{126, 62}[v] || late {
				continue
			}
			after := vessels
			after[v] = h
			got := s.best(i+1, after, mixes+fresh, rinses+moreRinses)
			total, least := got.mixes+got.rinses, best.mixes+best.rinses
			if got.found && (!best.found || total < least || total == least && got.mixes < best.mixes) {
				best = got
			}
		}
	}
	return best
}

// BenchmarkRoute is a long day: thirty applications of three products from three vessels.
func BenchmarkRoute(b *testing.B) {
	means := routeMeans(b, 2)
	third := means.Vessels[0]
	third.ID = "third"
	means.Vessels = append(means.Vessels, third)
	means.Products["c"] = means.Products["b"]
	var uses []dilution.RouteUse
	for i := range 30 {
		uses = append(uses, use([]catalogue.ProductID{"a", "b", "c"}[i*i%3], int64(7+i*5%31), 20+i*18, 30+i*18))
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := dilution.Route(uses, means); err != nil {
			b.Fatal(err)
		}
	}
}
