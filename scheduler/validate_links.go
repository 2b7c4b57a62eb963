package scheduler

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

func (v *validator) links() {
	for i, link := range v.p.Links {
		path := fmt.Sprintf("links[%d]", i)
		word(v, link.Kind, path+".kind", LeastLag, Order, Needs, SameVisit, InsteadOf, Not)
		v.unless(v.isItem(link.From) || v.serviceID[string(link.From)], path+".from", ReasonUnknown, "item %q is neither to be planned nor done", link.From)
		if link.Kind == InsteadOf || link.Kind == Not {
			v.unless(v.serviceID[string(link.To)], path+".to", ReasonUnknown, "%q is no service: want a service's id without an occurrence", link.To)
		} else {
			v.unless(v.isItem(link.To) || v.serviceID[string(link.To)], path+".to", ReasonUnknown, "item %q is neither to be planned nor done", link.To)
		}
		v.unless(link.From != link.To, path+".to", ReasonCircle, "%q is linked to itself: want two items", link.From)
		v.within(link.Days, 0, MaxLagDays, path+".days")
		v.duration(link.Hours, MaxStretch, path+".hours")
		v.unless(link.Kind != LeastLag || link.Days > 0 || link.Hours > 0, path+".days", ReasonMissing, "a least lag of nothing: want days or hours")
	}
}

// precedes is one item that must come before another, and the field that says so.
type precedes struct {
	from, to ItemID
	path     string
}

// orders lists what must come before what, by chains and links. A link of a service as a whole speaks of each of its
// occurrences that some field names, and these come in the order of their numbers. Two kinds do not: a least lag means the
// occurrences from the other item on, so that it may stand both ways, and a need of a service is met by any of them.
func (v *validator) orders() []precedes {
	var edges []precedes
	for i, f := range v.p.FollowUps {
		if f.Due.After != "" && f.Due.After != f.ID {
			edges = append(edges, precedes{f.Due.After, f.ID, fmt.Sprintf("follow_ups[%d].due.after", i)})
		}
	}
	for i, link := range v.p.Links {
		from, to := v.serviceID[string(link.From)], v.serviceID[string(link.To)]
		ordered := link.Kind == LeastLag && !from && !to || link.Kind == Order || link.Kind == Needs && !from
		if ordered && link.From != link.To {
			edges = append(edges, precedes{link.From, link.To, fmt.Sprintf("links[%d]", i)})
		}
	}
	named := map[string][]int{} // occurrences by service
	for _, e := range edges {
		for _, id := range []ItemID{e.from, e.to} {
			if service, k, of := occurrenceNamed(id); of && v.serviceID[service] && !slices.Contains(named[service], k) {
				named[service] = append(named[service], k)
			}
		}
	}
	all := make([]precedes, 0, len(edges))
	for _, e := range edges {
		all = append(all, e)
		for _, k := range named[string(e.from)] {
			all = append(all, precedes{OccurrenceID(string(e.from), k), e.to, e.path})
		}
		for _, k := range named[string(e.to)] {
			all = append(all, precedes{e.from, OccurrenceID(string(e.to), k), e.path})
		}
	}
	for service, numbers := range named {
		slices.Sort(numbers)
		for i := 1; i < len(numbers); i++ {
			all = append(all, precedes{OccurrenceID(service, numbers[i-1]), OccurrenceID(service, numbers[i]), ""})
		}
	}
	return all
}

// occurrenceNamed reads "service#k".
func occurrenceNamed(id ItemID) (service string, k int, of bool) {
	service, number, of := strings.Cut(string(id), "#")
	k, err := strconv.Atoi(number)
	return service, k, of && err == nil
}

// circles notes items that wait for one another, by the links and the chains that close the circle. What was done
// waits for nothing.
func (v *validator) circles() {
	edges := v.orders()
	done := map[ItemID]bool{}
	for _, d := range v.p.Done {
		done[d.ID] = true
	}
	// What nothing precedes, or what precedes nothing, is in no circle: take it away until nothing more goes.
	for {
		before, after := map[ItemID]bool{}, map[ItemID]bool{}
		for _, e := range edges {
			before[e.from], after[e.to] = true, true
		}
		var left []precedes
		for _, e := range edges {
			if after[e.from] && before[e.to] && !done[e.from] {
				left = append(left, e)
			}
		}
		if len(left) == len(edges) {
			break
		}
		edges = left
	}
	told := map[string]bool{"": true}
	for _, e := range edges {
		if !told[e.path] {
			v.add(e.path, ReasonCircle, "%q comes after %q, which comes after it by other fields: want one of them first", e.to, e.from)
		}
		told[e.path] = true
	}
}
