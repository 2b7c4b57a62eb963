package planning

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
)

// serviceOf is the service of an occurrence: water-lodge of water-lodge#2.
func serviceOf(item scheduler.ItemID) string {
	name, _, _ := strings.Cut(string(item), "#")
	return name
}

// countOccurrences names the services of visits by their order in time: the first visit that does a service is its first
// occurrence, the next one its second. A Problem counts occurrences from when a service was done last, so what was published as
// the second is the first once that is done. Visits get work of their own.
func countOccurrences(visits []*scheduler.Visit) {
	inTime := slices.Clone(visits)
	slices.SortStableFunc(inTime, func(a, b *scheduler.Visit) int { return cmp.Compare(a.Arrives, b.Arrives) })
	count := map[string]int{}
	for _, v := range inTime {
		v.Work = slices.Clone(v.Work)
		here := map[string]bool{}
		for w := range v.Work {
			work := &v.Work[w]
			if work.Service == "" {
				continue
			}
			name := serviceOf(work.Item)
			if !here[name] {
				here[name] = true
				count[name]++
			}
			work.Item = scheduler.ItemID(fmt.Sprintf("%s#%d", name, count[name]))
		}
	}
}

// pointers are pointers to the visits of some lists.
func pointers(lists ...[]scheduler.Visit) []*scheduler.Visit {
	var visits []*scheduler.Visit
	for _, list := range lists {
		for i := range list {
			visits = append(visits, &list[i])
		}
	}
	return visits
}
