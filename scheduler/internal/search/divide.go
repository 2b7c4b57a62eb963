package search

import (
	"math"
	"math/rand/v2"
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
)

// A large problem is divided into parts that are searched each for itself, so that a round takes as long as in a small one and the
// rounds of all islands add up. A part is some technicians who begin near one another, and the sites around them with all their
// items. Nothing that one part does is seen by another: whatever joins items or shuts areas lies in one part, and a tour
// that visits a site of another part stays as it is until parts are drawn anew.

// partItems is how many items a part has at least where Limits.Part says nothing.
const partItems = 4000

// division says to which part technicians and sites belong.
type division struct {
	parts      int
	technician []int32
	site       []int32
}

// partsOf is into how many parts a problem is divided.
func partsOf(in *instance.Instance, limits *Limits) int {
	least := limits.Part
	if least == 0 {
		least = partItems
	}
	return max(1, min(len(in.Items)/least, len(in.Crew), len(in.Sites)))
}

// divide draws parts around technicians far from one another, the first of them by chance.
func divide(in *instance.Instance, parts int, state *schedule.State, groups []int32, random *rand.Rand) division {
	d := division{parts: parts, technician: make([]int32, len(in.Crew)), site: make([]int32, len(in.Sites))}
	from := anchors(in)
	middles := middlesOf(in, from, d.parts, random)
	nearest := func(place int32) int32 {
		best, least := int32(0), int64(math.MaxInt64)
		for part, middle := range middles {
			if far := apart(in, place, middle); far < least {
				best, least = int32(part), far
			}
		}
		return best
	}
	for t := range d.technician {
		d.technician[t] = nearest(from[t])
	}
	visits := make([]int32, len(in.Sites)*d.parts)
	for t := range state.Tours {
		for _, stop := range state.Tours[t].Stops {
			visits[int(groups[stop.Site])*d.parts+int(d.technician[in.Shifts[t].Technician])]++
		}
	}
	for s := range d.site {
		group := groups[s] // the first of its sites speaks for all
		part, most := nearest(in.Sites[group].Place), int32(0)
		if usual := in.Sites[group].Usual; usual != instance.None {
			part = d.technician[usual]
		}
		for p, n := range visits[int(group)*d.parts : (int(group)+1)*d.parts] {
			if n > most {
				part, most = int32(p), n
			}
		}
		d.site[s] = part
	}
	return d
}

// apart is the travel between two places, there and back.
func apart(in *instance.Instance, a, b int32) int64 {
	return int64(in.Travel[0][a*in.Places+b]) + int64(in.Travel[0][b*in.Places+a])
}

// anchors returns where each technician begins the first day.
func anchors(in *instance.Instance) []int32 {
	from := make([]int32, len(in.Crew))
	for t := len(in.Shifts) - 1; t >= 0; t-- {
		from[in.Shifts[t].Technician] = in.Shifts[t].From
	}
	return from
}

// middlesOf picks a place by chance, and each next one as far as can be from those before.
func middlesOf(in *instance.Instance, from []int32, parts int, random *rand.Rand) []int32 {
	middles := []int32{from[random.IntN(len(from))]}
	for len(middles) < parts {
		best, most := from[0], int64(-1)
		for _, place := range from {
			least := int64(math.MaxInt64)
			for _, middle := range middles {
				least = min(least, apart(in, place, middle))
			}
			if least > most {
				best, most = place, least
			}
		}
		middles = append(middles, best)
	}
	return middles
}

// groupsOf returns for each site the first of the sites that belong together: items of theirs are joined, or go to areas of one another.
func groupsOf(in *instance.Instance) []int32 {
	first := make([]int32, len(in.Sites))
	for s := range first {
		first[s] = int32(s)
	}
	find := func(s int32) int32 {
		for first[s] != s {
			first[s] = first[first[s]]
			s = first[s]
		}
		return s
	}
	join := func(a, b int32) {
		a, b = find(a), find(b)
		first[max(a, b)] = min(a, b)
	}
	for s := range in.Sites {
		if water := in.Sites[s].WaterArea; water != instance.None {
			join(int32(s), in.Areas[water].Site)
		}
	}
	for a := range in.Areas {
		for _, shut := range in.Areas[a].Shuts {
			join(in.Areas[a].Site, in.Areas[shut].Site)
		}
	}
	for i := range in.Items {
		item := &in.Items[i]
		for b := range item.Bonds {
			join(in.Items[item.Bonds[b].From].Site, in.Items[item.Bonds[b].To].Site)
		}
		for w := range item.Ways {
			joinAreas(in, &item.Ways[w], item.Site, join)
		}
	}
	for s := range first {
		first[s] = find(int32(s))
	}
	return first
}

// joinAreas joins a site with those of the areas that a way of an item there goes to.
func joinAreas(in *instance.Instance, way *instance.Way, site int32, join func(a, b int32)) {
	if way.HeldIn != instance.None {
		join(site, in.Areas[way.HeldIn].Site)
	}
	for l := range way.Legs {
		for b := range way.Legs[l].Blocks {
			for p := range way.Legs[l].Blocks[b].Pieces {
				join(site, in.Areas[way.Legs[l].Blocks[b].Pieces[p].Area].Site)
			}
		}
	}
}

// enter bounds a search to a part: its items, and those tours of its technicians that visit no site of another.
func (s *search) enter(d *division, part int32) {
	s.parts = d.parts
	s.tours, s.members = s.tours[:0], s.members[:0]
	for t := range s.in.Shifts {
		s.open[t] = d.technician[s.in.Shifts[t].Technician] == part
		for _, stop := range s.state.Tours[t].Stops {
			s.open[t] = s.open[t] && d.site[stop.Site] == part
		}
		if s.open[t] {
			s.tours = append(s.tours, int32(t))
		}
	}
	for item := range s.in.Items {
		s.member[item] = d.site[s.in.Items[item].Site] == part
		if s.member[item] {
			s.members = append(s.members, int32(item))
		}
	}
}

// fill constructs the part, patiently and boldly, and keeps the cheaper.
func (s *search) fill() {
	var all, left []int32
	for _, item := range s.absent {
		if s.member[item] {
			all = append(all, item)
		}
	}
	byKey(all, s.keys, func(i int32) int64 { return -int64(s.saving(i)) })
	begun, absent := s.state.Snapshot(), slices.Clone(s.absent)
	best := begun
	s.mood, s.cost = building, math.MaxInt64
	for _, bold := range [...]bool{false, true} {
		s.state.Restore(begun)
		s.forget(absent)
		s.bold = bold
		s.recreate(all)
		if cost := s.price(); cost < s.cost {
			best, left, s.cost = s.state.Snapshot(), slices.Clone(s.absent), cost
		}
	}
	s.state.Restore(best)
	s.forget(left)
}

// priceAll prices everything anew.
func (s *search) priceAll() {
	if s.unplanned == nil {
		s.unplanned = make([]Cost, len(s.in.Items))
	}
	for item := range s.unplanned {
		s.unplanned[item], _ = s.state.Unplanned(int32(item))
	}
	s.cost, s.routes = s.price(), s.state.Planned()
}

// leave opens all of the problem to a search again.
func (s *search) leave() {
	s.parts = 1
	s.tours, s.members = s.tours[:0], s.members[:0]
	for t := range s.in.Shifts {
		s.open[t] = true
		s.tours = append(s.tours, int32(t))
	}
	for item := range s.in.Items {
		s.member[item] = true
		s.members = append(s.members, int32(item))
	}
}
