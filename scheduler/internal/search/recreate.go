package search

import (
	"cmp"
	"math"
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
)

const (
	blink      = 0.01 // share of places that are passed over
	mostWalked = 8    // places of an item whose day is walked
	mostBuilt  = 64   // of the construction
	leave      = 0.02 // chance that an item is left out though it is worth it
	dare       = 4    // how much more than it saves an item may add in a daring round
)

// order draws the order in which items are put in.
func (s *search) order(pool []int32) {
	s.random.Shuffle(len(pool), func(i, j int) { pool[i], pool[j] = pool[j], pool[i] })
	d := s.random.IntN(6)
	if len(s.in.Shifts) == 0 {
		return
	}
	switch d {
	case 2: // the dearest to leave out first
		byKey(pool, s.keys, func(i int32) int64 { return -int64(s.in.Items[i].LeftOut) })
	case 3: // the longest first
		byKey(pool, s.keys, func(i int32) int64 { return -s.length(i) })
	case 4: // the fewest days first
		byKey(pool, s.keys, func(i int32) int64 {
			earliest, _, stands, known := s.state.Days(i)
			if !known {
				return math.MaxInt32
			}
			return int64(stands - earliest)
		})
	case 5: // the farthest first
		byKey(pool, s.keys, func(i int32) int64 {
			return -int64(s.in.Travel[0][s.in.Shifts[0].Base*s.in.Places+s.in.Sites[s.in.Items[i].Site].Place])
		})
	}
}

// length is the time that the first way of an item takes.
func (s *search) length(item int32) int64 {
	sum := int64(0)
	for l := range s.in.Items[item].Ways[0].Legs {
		for b := range s.in.Items[item].Ways[0].Legs[l].Blocks {
			for _, piece := range s.in.Items[item].Ways[0].Legs[l].Blocks[b].Pieces {
				sum += int64(piece.Takes)
			}
		}
	}
	return sum
}

// waits says whether an item must not be tried yet: something before it is still to be tried; never that something that it
// needs was given up.
func (s *search) waits(item int32) (waits, never bool) {
	for _, before := range s.in.Items[item].Before {
		switch {
		case s.state.Placed(before.Item).Placed:
		case s.pending[before.Item] != s.round:
			never = never || before.Hard
		case before.Hard || !s.bold:
			waits = true
		}
	}
	return waits, never
}

// recreate puts in the items of a pool that are worth it, in their order, each after those that come before it. Items that
// found no place are tried once more when others went in, since a watering may be what a spray waits for.
func (s *search) recreate(pool []int32) {
	var missed []int32
	for again := range 2 {
		any := s.pass(pool, &missed)
		if again == 1 || !any || len(missed) == 0 {
			return
		}
		pool, missed = missed, nil
	}
}

// pass does so once; missed are those that found no place and may find one later.
func (s *search) pass(pool []int32, missed *[]int32) (any bool) {
	s.round++
	for _, item := range pool {
		s.pending[item] = s.round
	}
	left := slices.Clone(pool)
	impatient := false // nothing else is left: what only prefers to wait goes ahead
	for len(left) > 0 {
		moved := false
		kept := left[:0]
		for _, item := range left {
			if s.stop() {
				return any
			}
			waits, never := s.waits(item)
			if waits && !never && !impatient {
				kept = append(kept, item)
				continue
			}
			s.pending[item] = 0
			moved = true
			switch {
			case never:
			case s.put(item):
				any, impatient = true, false
			default:
				*missed = append(*missed, item)
			}
		}
		left = kept
		impatient = !moved
	}
	return any
}

// saving is what putting an item in may save at most: its own price of being unplanned and that of all that waits for it.
func (s *search) saving(item int32) Cost {
	saving, _ := s.state.Unplanned(item)
	for _, bond := range s.in.Items[item].Bonds {
		if bond.From == item && bond.Kind == instance.DueAfter {
			saving += s.saving(bond.To)
		}
	}
	return saving
}

// limit is what putting an item in may add at most: what it saves; in daring rounds more, since others may go in beside it, in
// sober ones only what it saves by itself, and now and then nothing, since a plan may be better off without it.
func (s *search) limit(item int32) Cost {
	switch {
	case s.mood == building || s.mood == keeping:
		return s.saving(item)
	case s.random.Float64() < leave:
		return 0
	case s.mood == sober:
		own, _ := s.state.Unplanned(item)
		return own
	case s.mood == daring:
		return dare * s.saving(item)
	}
	return s.saving(item)
}

// put puts an item into a cheap place; a way with a carry back is planned with it or not at all.
func (s *search) put(item int32) bool {
	limit := s.limit(item)
	walked := mostWalked
	if s.mood == building {
		walked = mostBuilt
	}
	found, ok := s.cheapest(item, limit, walked)
	return ok && s.place(item, &found)
}

// place puts an item into a place that was found for it.
func (s *search) place(item int32, found *place) bool {
	if !found.walked {
		if added, ok := s.state.Try(found.out); !ok || added != found.out.Added {
			return false // cannot be: it was tried from this very state
		}
	}
	s.state.Take(found.out)
	if found.back.OK {
		if _, ok := s.state.Try(found.back); !ok {
			return false // cannot be: it was tried from this very state
		}
		s.state.Take(found.back)
	}
	s.found(item)
	return true
}

// place is where an item may go: its first leg, and its second where there is one.
type place struct {
	out, back schedule.Place
	added     Cost
	walked    bool // out is the place that was walked last
}

// cheapest finds the cheapest places of an item that add less than a limit, walking the days of at most so many.
func (s *search) cheapest(item int32, limit Cost, walked int) (best place, ok bool) {
	return s.cheapestOf(item, limit, walked, s.tours)
}

// cheapestOf does so in some tours.
func (s *search) cheapestOf(item int32, limit Cost, walked int, tours []int32) (best place, ok bool) {
	s.places = s.places[:0]
	for way := range s.in.Items[item].Ways {
		s.places = s.sieve.Cheap(s.places, item, int16(way), 0, tours, limit)
	}
	s.rank()
	best.added = limit
	for {
		p, any := s.nextPlace()
		if !any || p.Likely >= best.added || walked == 0 {
			break
		}
		if !s.sieve.InTime(p) {
			continue
		}
		if limit < math.MaxInt64/2 && s.random.Float64() < blink {
			continue
		}
		walked--
		best.walked = false
		added, lawful := s.state.Try(p)
		if !lawful || added >= best.added {
			continue
		}
		p.Added, p.OK = added, true
		if len(s.in.Items[item].Ways[p.Way].Legs) == 1 {
			best, ok = place{out: p, added: added, walked: true}, true
			continue
		}
		if back := s.back(p, best.added-added); back.OK {
			best, ok = place{out: p, back: back, added: added + back.Added}, true
		}
	}
	return best, ok
}

// ranked is a place of the list by what it likely adds; of equals the one that was found first comes first.
type ranked struct {
	likely Cost
	at     int32
}

func (r ranked) before(other ranked) bool {
	return r.likely < other.likely || r.likely == other.likely && r.at < other.at
}

// rank makes a heap of the places: few are asked for, so that sorting them all would take longer.
func (s *search) rank() {
	s.ranks = s.ranks[:0]
	for i := range s.places {
		s.ranks = append(s.ranks, ranked{s.places[i].Likely, int32(i)})
	}
	for i := len(s.ranks)/2 - 1; i >= 0; i-- {
		s.sink(i)
	}
}

// sink lets a place sink to where it belongs in the heap.
func (s *search) sink(i int) {
	for ranks := s.ranks; ; {
		least := 2*i + 1
		if least >= len(ranks) {
			return
		}
		if right := least + 1; right < len(ranks) && ranks[right].before(ranks[least]) {
			least = right
		}
		if ranks[i].before(ranks[least]) {
			return
		}
		ranks[i], ranks[least] = ranks[least], ranks[i]
		i = least
	}
}

// nextPlace returns the likely cheapest of the places that are left and takes it out of the heap.
func (s *search) nextPlace() (cheapest schedule.Place, any bool) {
	last := len(s.ranks) - 1
	if last < 0 {
		return cheapest, false
	}
	cheapest = s.places[s.ranks[0].at]
	s.ranks[0] = s.ranks[last]
	s.ranks = s.ranks[:last]
	s.sink(0)
	return cheapest, true
}

// back returns the cheapest place of the second leg behind a first that Try has just found lawful; the state stays as it was.
func (s *search) back(out schedule.Place, limit Cost) (best schedule.Place) {
	was := s.state.Tours[out.Tour]
	s.state.Take(out)
	var places []schedule.Place
	for _, t := range s.tours {
		places = s.sieve.Append(places, out.Item, out.Way, 1, t, limit)
	}
	slices.SortStableFunc(places, func(a, b schedule.Place) int { return cmp.Compare(a.Added, b.Added) })
	best.Added = limit
	for i, p := range places {
		if i == mostWalked || p.Added >= best.Added {
			break
		}
		if added, ok := s.state.Try(p); ok && added < best.Added {
			p.Added, p.OK = added, true
			best = p
		}
	}
	s.state.Back(out.Tour, was)
	return best
}
