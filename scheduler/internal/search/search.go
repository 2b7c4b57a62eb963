package search

import (
	"math"
	"math/rand/v2"
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/tour"
)

// Cost is instance.Cost.
type Cost = instance.Cost

// Limits bound a search.
type Limits struct {
	Seed uint64
	// Iterations are the rounds of each island; 0 is the construction only.
	Iterations int
	// Islands are the searches side by side; 0 is one. An answer depends on their number, never on that of the cores.
	Islands int
	// Part is how many items a part of a large problem has at least: one of twice as many is searched in parts. 0 is 4,000.
	Part int
	// Spent says how much of the budget is spent, from 0 to 1, where time and not Iterations bounds it; nil is Iterations.
	Spent func() float64
	// Stop is asked often, by all islands; true ends the search with what there is. nil never stops.
	Stop func() bool
	// Hurry is asked while an answer says why items are not in it; true leaves most of them unasked. nil never hurries.
	Hurry func() bool
	// Report is told of each improvement, and now and then, by one island at a time; nil is nobody.
	Report func(iteration int, best *schedule.State, cost Cost)
}

// Answer is the best state found.
type Answer struct {
	State      *schedule.State
	Iterations int
	Why        []Why // by item; empty for those that are planned
}

// Why says why an item is not in an answer.
type Why struct {
	// Causes are what spoke against each technician-day that lies in its days.
	Causes []tour.Cause
	// Unasked says that there was no time to ask.
	Unasked bool
	// Possible says that it could be put in lawfully, for Added.
	Possible bool
	Added    Cost
}

// search is one search over a state of its own.
type search struct {
	in     *instance.Instance
	state  *schedule.State
	sieve  *schedule.Sieve
	random *rand.Rand
	stop   func() bool
	near   [][]int32 // by site: all sites, nearest first
	at     [][]int32 // by site: its items
	// absent are the items that could be planned and are not; hopeless ones have no way.
	absent   []int32
	hopeless []int32
	slot     []int32 // by item: its index in absent, or None
	cost     Cost
	best     schedule.Snapshot
	bestCost Cost
	bold     bool
	mood     mood

	pending []uint32 // by item: the round in which it waits to be put in
	hit     []uint32 // by tour: the round in which it was ruined
	round   uint32
	places  []schedule.Place
	ranks   []ranked // of places
	keys    []int64
	pool    []int32
	before  []int32 // absent, as it was

	// What a search is bounded to; see divide. tours are those that may change, members the items to put into them.
	island         int
	parts          int
	tours, members []int32
	open, member   []bool
	unplanned      []Cost // by item: what it costs while it is not planned; kept where the problem is divided
	was            []priced
	routes         Cost // of all tours, as part of cost
}

// mood is how dear an item may be in a round; see limit.
type mood int8

const (
	building mood = iota // of the construction: nothing is left to chance
	keeping              // of the construction from what was published
	usual
	sober
	daring
)

// priced is what an item cost.
type priced struct {
	item int32
	cost Cost
}

// newSearch returns a search whose state is constructed.
func newSearch(in *instance.Instance, near [][]int32, limits *Limits, island int) *search {
	s := emptySearch(in, near, limits, island)
	s.construct()
	s.keep()
	return s
}

// emptySearch returns a search whose state holds fixed visits only.
func emptySearch(in *instance.Instance, near [][]int32, limits *Limits, island int) *search {
	s := &search{
		in: in, island: island, state: schedule.NewIsland(in, island), random: rand.New(rand.NewPCG(limits.Seed, uint64(len(in.Items))+uint64(island)<<32)), stop: limits.Stop,
		near: near, at: make([][]int32, len(in.Sites)), slot: make([]int32, len(in.Items)),
		pending: make([]uint32, len(in.Items)), hit: make([]uint32, len(in.Shifts)), keys: make([]int64, len(in.Items)),
		open: make([]bool, len(in.Shifts)), member: make([]bool, len(in.Items)),
	}
	s.leave()
	if s.stop == nil {
		s.stop = func() bool { return false }
	}
	s.sieve = schedule.NewSieve(s.state).Hasty()
	for item := range in.Items {
		i := int32(item)
		s.slot[i] = instance.None
		s.at[in.Items[i].Site] = append(s.at[in.Items[i].Site], i)
		switch {
		case in.Items[i].Outside:
		case len(in.Items[i].Ways) == 0:
			s.hopeless = append(s.hopeless, i)
		default:
			s.miss(i)
		}
	}
	return s
}

// keep makes the state the best.
func (s *search) keep() { s.best, s.bestCost = s.state.Snapshot(), s.cost }

// adopt goes on from the best of another search.
func (s *search) adopt(other *search) {
	s.comeTo(other.best)
	s.cost = other.bestCost
	s.keep()
}

// comeTo goes on from a snapshot.
func (s *search) comeTo(best schedule.Snapshot) {
	s.state.Restore(best)
	var absent []int32
	for item := range s.in.Items {
		it := &s.in.Items[item]
		if !it.Outside && len(it.Ways) > 0 && !s.state.Placed(int32(item)).Placed {
			absent = append(absent, int32(item))
		}
	}
	s.forget(absent)
}

// manyItems is from how many items on the plan is constructed in two ways only.
const manyItems = 300

// construct fills an empty state in several orders and keeps the cheapest: as it was published; the dearest to leave out first, or
// the last to begin last, each patiently (what comes before first) and boldly. A large plan that was published is not made anew.
func (s *search) construct() {
	dearest := func(i int32) int64 { return -int64(s.saving(i)) }
	soonest := func(i int32) int64 { return int64(s.in.Items[i].Hi) }
	all := slices.Clone(s.absent)
	var best schedule.Snapshot
	var left []int32
	s.cost = math.MaxInt64
	orders := []func(int32) int64{dearest, soonest}
	published := s.published()
	if len(published) > 0 {
		byKey(all, s.keys, dearest)
		s.keepPublished(published)
		s.recreate(slices.Clone(s.absent))
		best, left, s.cost = s.state.Snapshot(), slices.Clone(s.absent), s.price()
		s.mood = building
	}
	switch many := len(s.in.Items) > manyItems; {
	case many && len(published) > 0:
		orders = nil
	case many:
		orders = orders[:1]
	}
	for _, order := range orders {
		byKey(all, s.keys, order)
		for _, bold := range [...]bool{false, true} {
			for _, item := range s.state.Remove(s.planned()) {
				s.miss(item)
			}
			s.bold = bold
			s.recreate(all)
			if cost := s.price(); cost < s.cost {
				best, left, s.cost = s.state.Snapshot(), slices.Clone(s.absent), cost
			}
		}
	}
	s.state.Restore(best)
	s.forget(left)
}

// lain is an item of a visit that was published, in the tour of that visit.
type lain struct {
	arrives instance.Seconds
	t, item int32
}

// published lists what was published, in the order of its visits.
func (s *search) published() []lain {
	var all []lain
	for t := range s.in.Shifts {
		for b := range s.in.Shifts[t].Before {
			before := &s.in.Shifts[t].Before[b]
			for _, item := range before.Items {
				all = append(all, lain{before.Arrives, int32(t), item})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b lain) int { return int(a.arrives - b.arrives) })
	return all
}

// keepPublished puts what was published back where it was, as far as that still can be.
func (s *search) keepPublished(published []lain) {
	s.bold, s.mood = true, keeping
	s.round++              // nothing is pending: what is needed and not there now is not waited for
	for again := range 2 { // what needs something later in the list comes in the second time
		for _, was := range published {
			if s.stop() {
				return
			}
			if s.slot[was.item] == instance.None {
				continue
			}
			waits, never := s.waits(was.item)
			if never || waits && again == 0 {
				continue
			}
			if found, ok := s.cheapestOf(was.item, s.saving(was.item), mostWalked, []int32{was.t}); ok {
				s.place(was.item, &found)
			}
		}
	}
}

// planned lists the items that are planned.
func (s *search) planned() []int32 {
	var planned []int32
	for item := range s.in.Items {
		if s.state.Placed(int32(item)).Placed {
			planned = append(planned, int32(item))
		}
	}
	return planned
}

// miss notes that an item is not planned, found that it is.
func (s *search) miss(item int32) {
	if s.slot[item] == instance.None {
		s.slot[item] = int32(len(s.absent))
		s.absent = append(s.absent, item)
	}
}

func (s *search) found(item int32) {
	i := s.slot[item]
	last := s.absent[len(s.absent)-1]
	s.absent[i], s.slot[last] = last, i
	s.absent = s.absent[:len(s.absent)-1]
	s.slot[item] = instance.None
}

// forget makes absent a list as it was.
func (s *search) forget(was []int32) {
	for _, item := range s.absent {
		s.slot[item] = instance.None
	}
	s.absent = append(s.absent[:0], was...)
	for i, item := range s.absent {
		s.slot[item] = int32(i)
	}
}

// price is the cost of the whole.
func (s *search) price() Cost {
	total := s.state.Planned()
	for _, list := range [...][]int32{s.absent, s.hopeless} {
		for _, item := range list {
			cost, _ := s.state.Unplanned(item)
			total += cost
		}
	}
	return total
}

// priceAfter is the cost of the whole after a round. Where the problem is divided, only items of the round are asked what they cost
// unplanned, and those that count from them.
func (s *search) priceAfter() Cost {
	s.was = s.was[:0]
	if s.parts == 1 {
		return s.price()
	}
	total := s.cost - s.routes + s.state.Planned()
	for _, item := range s.pool {
		total += s.repriced(item)
	}
	return total
}

// repriced prices an item anew, and those that count from it, and returns the difference.
func (s *search) repriced(item int32) (more Cost) {
	cost, _ := s.state.Unplanned(item)
	if cost != s.unplanned[item] {
		more = cost - s.unplanned[item]
		s.was = append(s.was, priced{item, s.unplanned[item]})
		s.unplanned[item] = cost
	}
	for _, bond := range s.in.Items[item].Bonds {
		if bond.From == item && bond.Kind == instance.DueAfter {
			more += s.repriced(bond.To)
		}
	}
	return more
}

// try ruins and recreates once; what comes of it stays when it is not worse by more than chance allows at a temperature.
func (s *search) try(temperature float64) {
	s.round++
	s.state.Begin()
	s.before = append(s.before[:0], s.absent...)
	s.pool = append(s.pool[:0], s.state.Remove(s.ruin())...)
	if s.parts > 1 && !s.state.ChangedOnly(s.open) {
		s.state.Undo() // something that is joined lies in a tour that stays
		return
	}
	for _, item := range s.pool {
		s.miss(item)
	}
	s.another()
	s.bold = s.random.IntN(2) == 0
	s.mood = [...]mood{usual, usual, usual, sober, daring}[s.random.IntN(5)]
	s.order(s.pool)
	s.recreate(s.pool)
	cost := s.priceAfter()
	if float64(cost) >= float64(s.cost)-temperature*math.Log(s.random.Float64()) {
		s.state.Undo()
		s.forget(s.before)
		for i := len(s.was) - 1; i >= 0; i-- {
			s.unplanned[s.was[i].item] = s.was[i].cost
		}
		return
	}
	s.cost, s.routes = cost, s.state.Planned()
}

// others is how many items that were absent before are tried in a round.
const others = 6

// another adds to the pool some of the items that are not planned.
func (s *search) another() {
	for range min(others, len(s.absent)) * s.parts {
		if item := s.absent[s.random.IntN(len(s.absent))]; s.member[item] && !slices.Contains(s.pool, item) {
			s.pool = append(s.pool, item)
		}
	}
}

// nearest is how many sites are listed near another.
const nearest = 64

// nearSites lists for each site those nearest by travel, nearest first; itself is the first.
func nearSites(in *instance.Instance) [][]int32 {
	near := make([][]int32, len(in.Sites))
	keys := make([]int64, len(in.Sites))
	for a := range in.Sites {
		list := make([]int32, 0, min(len(in.Sites), nearest))
		for b := range in.Sites {
			keys[b] = apart(in, in.Sites[a].Place, in.Sites[b].Place)
			if a == b {
				keys[b] = -1
			}
			at := len(list)
			for at > 0 && keys[list[at-1]] > keys[b] {
				at--
			}
			if at < nearest {
				list = slices.Insert(list[:min(len(list), nearest-1)], at, int32(b))
			}
		}
		near[a] = list
	}
	return near
}

// byKey sorts a list by a key, ties in their order.
func byKey(list []int32, keys []int64, key func(int32) int64) {
	for _, i := range list {
		keys[i] = key(i)
	}
	slices.SortStableFunc(list, func(a, b int32) int { return int(min(1, max(-1, keys[a]-keys[b]))) })
}
