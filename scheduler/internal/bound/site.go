package bound

import (
	"slices"

	"vernation/scheduler/internal/instance"
)

// kind is a kind of chain by what its visits cost beside.
type kind int8

// The kinds: services may cost another technician or weekday, work on what is infested costs sanitation.
const (
	other kind = iota
	serving
	infested
	kinds
)

// site is one site: its chains, and who may come when.
type site struct {
	number  int32
	lastDay Day
	days    []Day // of the shifts that may come
	groups  int   // of shifts, by their days
	comings []coming
	chains  [kinds][]chain
	plain   []Cost // by group: price of a visit, and more where it serves
	more    []Cost
	table   [kinds][]Cost // by set of groups
	scratch []int32
}

// mostWork bounds sets of groups times pairs of days.
const mostWork = 1 << 14

// itemsOf lists by site the items with which its chains begin: those that count from none of this site.
func itemsOf(in *instance.Instance, following [][]int32) [][]int32 {
	first := make([][]int32, len(in.Sites))
	for i := range in.Items {
		item := &in.Items[i]
		if after := item.Due.After; after == instance.None || in.Items[after].Site != item.Site {
			first[item.Site] = append(first[item.Site], int32(i))
		}
	}
	return first
}

// site makes a site ready.
func (b *bounding) site(number int32, first []int32, following [][]int32) *site {
	s := &site{number: number, lastDay: b.in.LastDay}
	var chains [][]int32
	on := make([]bool, len(b.in.Shifts))
	for _, item := range first {
		items := []int32{item}
		for n := 0; n < len(items); n++ {
			for _, next := range following[items[n]] {
				if b.in.Items[next].Site == number {
					items = append(items, next)
				}
			}
		}
		chains = append(chains, items)
		for _, i := range items {
			for w := range b.in.Items[i].Ways {
				if legs := b.in.Items[i].Ways[w].Legs; len(legs) > 0 {
					for t, may := range legs[0].On {
						on[t] = on[t] || may
					}
				}
			}
		}
	}
	s.comings = b.comings(number, func(t int32) bool { return on[t] })
	s.group(b)
	for _, items := range chains {
		kind, chain := s.chain(b, items)
		s.chains[kind] = append(s.chains[kind], chain)
	}
	s.plain, s.more = make([]Cost, s.groups), make([]Cost, s.groups)
	for k := range s.table {
		s.table[k] = make([]Cost, 1<<s.groups)
	}
	return s
}

// group parts the shifts that may come by their days: a group for each day, or for some days in a row where there are many.
func (s *site) group(b *bounding) {
	where := &b.in.Sites[s.number]
	var shiftDays []Day
	for i := range s.comings {
		shiftDays = append(shiftDays, b.in.Shifts[s.comings[i].shift].Day)
		for _, run := range s.comings[i].runs {
			for day := where.DayOf(run.From); day <= where.DayOf(run.To); day++ {
				s.days = append(s.days, day)
			}
		}
	}
	slices.Sort(s.days)
	s.days = slices.Compact(s.days)
	shiftDays = slices.Compact(shiftDays)
	s.groups = len(shiftDays)
	for s.groups > 1 && len(s.days)*len(s.days)<<s.groups > mostWork {
		s.groups--
	}
	for i := range s.comings {
		at, _ := slices.BinarySearch(shiftDays, b.in.Shifts[s.comings[i].shift].Day)
		s.comings[i].group = int32(at * s.groups / len(shiftDays))
	}
}

// chain makes a chain ready and says its kind.
func (s *site) chain(b *bounding, items []int32) (kind, chain) {
	c := make(chain, len(items))
	of := infested
	for m, i := range items {
		item := &b.in.Items[i]
		c[m] = member{
			item: item, after: instance.None, options: s.options(b, item), least: make([]Cost, len(s.days)), done: make([]Cost, len(s.days)),
		}
		if m > 0 {
			c[m].after = int32(slices.Index(items, item.Due.After))
		} else {
			c[m].free = item.Due.After != instance.None
		}
		if !infests(item) {
			of = other
		}
	}
	if b.in.Items[items[0]].Service {
		of = serving
	}
	return of, c
}

// infests says whether a follow-up is work on suspected or confirmed plants, by whichever way.
func infests(item *instance.Item) bool {
	for w := range item.Ways {
		legs := item.Ways[w].Legs
		if len(legs) > 0 && slices.ContainsFunc(legs[0].Blocks, func(b instance.Block) bool { return b.Rank < instance.RankSuspected }) {
			return false
		}
	}
	return !item.Service
}

// least is the least cost of a site in grains, at a level of pay.
//
// Proof. A visit lies in one shift, and so in one group. Let D be the groups in which the plan visits the site. It pays in each
// of them for one visit at least, at the least price of the shifts of that group. Its chains cost at least what they cost where
// somebody comes in all of D. If services are done in some groups of D, a visit of each of those costs at least as much as the
// cheapest that serves; if infested plants are worked on, one visit of each of those has its sanitation. So D costs at least
// the sum of its visits, of all other chains on D, and of the least over the parts of D of what services with the more that
// their visits cost, and work on infested plants with its sanitation, come to. The least over all D is below every plan.
func (s *site) least(b *bounding, level Cost) Cost {
	for g := range s.plain {
		s.plain[g], s.more[g] = never, never
	}
	for i := range s.comings {
		c := &s.comings[i]
		plain, serves := b.price(s.number, c, level)
		s.plain[c.group] = min(s.plain[c.group], plain)
		s.more[c.group] = min(s.more[c.group], serves)
	}
	sanitation := grain * minutes(b.in.Sanitation) * b.in.Rates.SanitationMinute
	for g := range s.plain {
		s.more[g] -= s.plain[g]
	}
	for k := range s.table {
		for set := range s.table[k] {
			cost := Cost(0)
			for _, c := range s.chains[k] {
				cost += c.least(s, uint32(set), level)
			}
			for g := range s.groups {
				switch {
				case set>>g&1 == 0:
				case kind(k) == serving:
					cost += s.more[g]
				case kind(k) == infested:
					cost += sanitation
				}
			}
			s.table[k][set] = cost
		}
		s.leastOfParts(s.table[k])
	}
	best := never
	for set := range s.table[other] {
		cost := s.table[other][set] + s.table[serving][set] + s.table[infested][set]
		for g := range s.groups {
			if set>>g&1 == 1 {
				cost += s.plain[g]
			}
		}
		best = min(best, cost)
	}
	return best
}

// leastOfParts turns a cost by set into the least over all parts of the set.
func (s *site) leastOfParts(table []Cost) {
	for g := range s.groups {
		for set := range table {
			if set>>g&1 == 1 {
				table[set] = min(table[set], table[set&^(1<<g)])
			}
		}
	}
}
