package anneal

import (
	"slices"

	"vernation/scheduler/internal/route"
)

// waiting is the share of a least wait that counts as distance (Vidal, Crainic, Gendreau and Prins 2013, Computers & OR 40:475).
const waiting = 0.2

// Near lists for each stop the others by cost of the arc, nearest first, at most so many.
func Near(in *route.Instance, most int) [][]int32 {
	cost, n := in.Cost[0], in.Places
	return nearest(in, most, func(u, v int32) float64 {
		return float64(cost[in.Stops[u].Place*n+in.Stops[v].Place])
	})
}

// Beside lists for each stop the others between or after which it lies well: those with the least of cost, a share of the least
// wait, and the least lateness, whichever of the two comes first; at most so many.
func Beside(in *route.Instance, most int) [][]int32 {
	return nearest(in, most, func(u, v int32) float64 { return min(follows(in, u, v), follows(in, v, u)) })
}

// follows is the cost of v directly after u with what it waits and is late at least.
func follows(in *route.Instance, u, v int32) float64 {
	a, b := &in.Stops[u], &in.Stops[v]
	arc := a.Place*in.Places + b.Place
	ready := a.Windows[0].From + a.Takes + in.Time[0][arc]
	due := a.Windows[len(a.Windows)-1].To + a.Takes + in.Time[0][arc]
	wait := max(0, b.Windows[0].From-due)
	late := max(0, ready-b.Windows[len(b.Windows)-1].To)
	return float64(in.Cost[0][arc]) + waiting*float64(wait) + float64(late)
}

func nearest(in *route.Instance, most int, apart func(u, v int32) float64) [][]int32 {
	near := make([][]int32, len(in.Stops))
	keys := make([]float64, len(in.Stops))
	for u := range in.Stops {
		list := make([]int32, 0, len(in.Stops)-1)
		for v := range in.Stops {
			if u != v {
				list = append(list, int32(v))
				keys[v] = apart(int32(u), int32(v))
			}
		}
		slices.SortStableFunc(list, func(a, b int32) int {
			switch d := keys[a] - keys[b]; {
			case d < 0:
				return -1
			case d > 0:
				return 1
			}
			return 0
		})
		near[u] = slices.Clone(list[:min(most, len(list))])
	}
	return near
}
