package dilution

import (
	"errors"
	"fmt"
	"math/big"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// ErrTooMany says that a day's applications or vessels are more than Route looks at.
var ErrTooMany = errors.New("too many for one day route")

// Bounds of a Route: a day has far fewer.
const (
	MaxRouteUses    = 60
	MaxRouteVessels = 6
	maxRouteStates  = 20_000
)

// RouteUse is one application of a diluted product on a day route.
type RouteUse struct {
	Application
	Product catalogue.ProductID
	Method  catalogue.Method // a vessel must be able to apply by it
}

// RouteMeans says with what the applications of a day route are mixed.
type RouteMeans struct {
	Products  map[catalogue.ProductID]RouteProduct
	Vessels   []Vessel
	Measures  []Measure
	Mixing    time.Duration // to make one mix, right before its first use
	ShiftEnds civil.Instant
}

// RouteProduct is what the label of a diluted product says.
type RouteProduct struct {
	Limits  Limits
	MixLife time.Duration // 0 is until ShiftEnds
}

// RouteMix is one filling and the applications that draw on it.
type RouteMix struct {
	Filling
	Product catalogue.ProductID
	Vessel  VesselID
	Serves  []int // applications by index, in order
	Begins  civil.Instant
	LastUse civil.Instant
	UseBy   civil.Instant
	// RinseBefore says that the vessel held another product and is rinsed before this mix.
	RinseBefore bool
}

// RoutePlan is the mixes of a day route in order of their beginning, and how often a vessel is rinsed: between two products
// and once at the end for each vessel used.
type RoutePlan struct {
	Mixes  []RouteMix
	Rinses int
}

// Route decides from which vessel each application is made and which of them share a mix, with the fewest mixes and
// rinses together, then the fewest mixes. Two mixes may be open in two vessels; one vessel holds one mix; a mix serves
// while its need fits the vessel and its life the clock; the same product may follow itself without a rinse.
//
// It is a dynamic programme over the applications in order of time. Its state is what each vessel holds: product, need so
// far, beginning of the mix. A state falls when another that holds the same products has cost no more, filled no more
// and begun no earlier, since whatever the first can still do the second can too. Whether there is time to mix and
// rinse between the applications is not asked here.
//
// Errors: ErrTooMany, or why the first application that cannot be made has no vessel.
func Route(uses []RouteUse, means RouteMeans) (RoutePlan, error) {
	if len(uses) > MaxRouteUses || len(means.Vessels) > MaxRouteVessels {
		return RoutePlan{}, fmt.Errorf("%w: %d applications from %d vessels, want %d from %d at most", ErrTooMany, len(uses), len(means.Vessels), MaxRouteUses, MaxRouteVessels)
	}
	r := newRouter(uses, means)
	states := []*routeState{{vessels: make([]routeVessel, len(means.Vessels))}}
	for i := range uses {
		var err error
		if states, err = r.step(states, i); err != nil {
			return RoutePlan{}, fmt.Errorf("application %d: %w", i, err)
		}
	}
	var best *routeState
	for _, s := range states {
		for _, v := range s.vessels {
			if v.product != "" {
				s.rinses++
			}
		}
		if best == nil || s.cheaper(best) {
			best = s
		}
	}
	return r.plan(best)
}

// routeVessel is what a vessel holds: the open or last mix. No product is clean.
type routeVessel struct {
	product catalogue.ProductID
	need    *big.Int // in the day's common part of a millilitre; never changed
	begins  civil.Instant
}

// routeState is what is known after some applications; its parent is the state before the last of them.
type routeState struct {
	vessels       []routeVessel
	mixes, rinses int
	parent        *routeState
	vessel        int  // of the last application
	fresh, rinsed bool // whether it began a mix, and after a rinse
}

func (s *routeState) cheaper(than *routeState) bool {
	total, other := s.mixes+s.rinses, than.mixes+than.rinses
	return total < other || total == other && s.mixes < than.mixes
}

// covers says whether whatever the other state can still do this one can too, at no more cost.
func (s *routeState) covers(other *routeState) bool {
	if other.cheaper(s) {
		return false
	}
	for i, v := range s.vessels {
		o := other.vessels[i]
		if v.product != o.product || v.begins < o.begins || v.product != "" && v.need.Cmp(o.need) > 0 {
			return false
		}
	}
	return true
}

type fitKey struct {
	product catalogue.ProductID
	vessel  int
	need    string
}

type router struct {
	uses  []RouteUse
	means RouteMeans
	// needs are those of the uses as whole numbers of parts of a millilitre, parts being the least that serves all: sums and
	// comparisons of whole numbers are what the search spends its time on.
	needs []*big.Int
	parts *big.Int
	fits  map[fitKey]error
}

func newRouter(uses []RouteUse, means RouteMeans) *router {
	r := &router{uses: uses, means: means, parts: big.NewInt(1), fits: map[fitKey]error{}}
	for _, use := range uses {
		denominator := use.Need.Millilitres().Denom()
		common := new(big.Int).GCD(nil, nil, r.parts, denominator)
		r.parts.Mul(r.parts, denominator).Quo(r.parts, common)
	}
	for _, use := range uses {
		ml := use.Need.Millilitres()
		r.needs = append(r.needs, ml.Mul(ml, new(big.Rat).SetInt(r.parts)).Num())
	}
	return r
}

// step returns the states after one more application, without those that another covers.
func (r *router) step(states []*routeState, i int) ([]*routeState, error) {
	var next []*routeState
	var refused error
	add := func(s *routeState) {
		if slices.ContainsFunc(next, func(other *routeState) bool { return other.covers(s) }) {
			return
		}
		next = append(slices.DeleteFunc(next, s.covers), s)
	}
	for _, s := range states {
		for v := range r.means.Vessels {
			for _, fresh := range []bool{false, true} {
				after, err := r.apply(s, i, v, fresh)
				if err == nil {
					add(after)
				} else if refused == nil || fresh {
					refused = err
				}
			}
		}
		if len(next) > maxRouteStates {
			return nil, fmt.Errorf("%w: more than %d ways to share mixes", ErrTooMany, maxRouteStates)
		}
	}
	if len(next) == 0 && refused == nil {
		refused = errors.New("there is no vessel")
	}
	if len(next) == 0 {
		return nil, refused
	}
	return next, nil
}

// apply returns the state after an application from a vessel, of a fresh mix or of the one that is open there.
func (r *router) apply(s *routeState, i, vessel int, fresh bool) (*routeState, error) {
	use, v := r.uses[i], s.vessels[vessel]
	product, known := r.means.Products[use.Product]
	switch {
	case !known:
		return nil, fmt.Errorf("product %q is not among the means", use.Product)
	case !slices.Contains(r.means.Vessels[vessel].Methods, use.Method):
		return nil, fmt.Errorf("vessel %q does not apply by %s", r.means.Vessels[vessel].Name, use.Method)
	case !fresh && v.product != use.Product:
		return nil, fmt.Errorf("vessel %q holds no mix of %q", r.means.Vessels[vessel].Name, use.Product)
	}
	after := &routeState{vessels: slices.Clone(s.vessels), mixes: s.mixes, rinses: s.rinses, parent: s, vessel: vessel, fresh: fresh}
	if fresh {
		after.mixes++
		after.rinsed = v.product != "" && v.product != use.Product
		if after.rinsed {
			after.rinses++
		}
		v = routeVessel{product: use.Product, need: new(big.Int), begins: use.Begins.Add(-r.means.Mixing)}
	}
	v.need = new(big.Int).Add(v.need, r.needs[i])
	if useBy := UseBy(v.begins, product.MixLife, r.means.ShiftEnds); use.Ends > useBy {
		return nil, fmt.Errorf("ends %v, after its mix may be used (%v)", use.Ends, useBy)
	}
	if err := r.fit(use.Product, vessel, v.need); err != nil {
		return nil, err
	}
	after.vessels[vessel] = v
	return after, nil
}

// fit says whether a need of a product can be filled in a vessel; each is tried once.
func (r *router) fit(product catalogue.ProductID, vessel int, need *big.Int) error {
	key := fitKey{product, vessel, need.String()}
	if err, known := r.fits[key]; known {
		return err
	}
	millilitres := new(big.Rat).SetFrac(need, r.parts)
	_, err := Fill(quantity.NewVolume(1, 1, quantity.Millilitre).Times(millilitres), r.means.Products[product].Limits, r.means.Vessels[vessel], r.means.Measures)
	r.fits[key] = err
	return err
}

// plan reads the mixes off the states that led to the last one.
func (r *router) plan(last *routeState) (RoutePlan, error) {
	path := make([]*routeState, len(r.uses))
	for i, s := len(r.uses)-1, last; i >= 0; i, s = i-1, s.parent {
		path[i] = s
	}
	plan := RoutePlan{Rinses: last.rinses}
	open := make([]int, len(r.means.Vessels)) // by vessel, the index of its mix
	for i, s := range path {
		use := r.uses[i]
		if s.fresh {
			begins := s.vessels[s.vessel].begins
			open[s.vessel] = len(plan.Mixes)
			plan.Mixes = append(plan.Mixes, RouteMix{
				Product: use.Product, Vessel: r.means.Vessels[s.vessel].ID, Begins: begins, RinseBefore: s.rinsed,
				UseBy: UseBy(begins, r.means.Products[use.Product].MixLife, r.means.ShiftEnds),
			})
		}
		mix := &plan.Mixes[open[s.vessel]]
		mix.Serves, mix.LastUse, mix.Need = append(mix.Serves, i), use.Ends, mix.Need.Add(use.Need)
		filling, err := Fill(mix.Need, r.means.Products[use.Product].Limits, r.means.Vessels[s.vessel], r.means.Measures)
		if err != nil {
			return RoutePlan{}, fmt.Errorf("application %d: %w", i, err)
		}
		mix.Filling = filling
	}
	return plan, nil
}
