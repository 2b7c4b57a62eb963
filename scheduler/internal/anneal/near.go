package anneal

import (
	"cmp"
	"slices"

	"vernation/scheduler/internal/route"
)

// nearStops lists for each stop the others by cost of the arc, nearest first, at most so many.
func nearStops(in *route.Instance, most int) [][]int32 {
	near := make([][]int32, len(in.Stops))
	for u := range in.Stops {
		list := make([]int32, 0, len(in.Stops)-1)
		for v := range in.Stops {
			if u != v {
				list = append(list, int32(v))
			}
		}
		row := in.Cost[0][in.Stops[u].Place*in.Places:]
		slices.SortStableFunc(list, func(a, b int32) int { return cmp.Compare(row[in.Stops[a].Place], row[in.Stops[b].Place]) })
		near[u] = slices.Clone(list[:min(most, len(list))])
	}
	return near
}
