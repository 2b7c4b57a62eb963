package tour

import "vernation/scheduler/internal/instance"

// Parts are costs by their place in scheduler.CostParts.
type Parts [11]Cost

// The parts in the order of scheduler.CostParts.
const (
	Paid = iota
	Overtime
	Travel
	Visits
	OtherTechnician
	Delay
	LateService
	Unplanned
	SanitationPart
	Changes
	Uneven
)

// Sum returns the sum of the parts.
func (p *Parts) Sum() Cost {
	sum := Cost(0)
	for _, c := range p {
		sum += c
	}
	return sum
}

// Plus adds every part of another cost.
func (p *Parts) Plus(other *Parts) {
	for i := range p {
		p[i] += other[i]
	}
}

const secondsPerMinute = 60

// minutes rounds a length up to whole minutes.
func minutes(s Seconds) Cost { return Cost((s + secondsPerMinute - 1) / secondsPerMinute) }

// price sets departure, work time and every part of the cost.
func (w *Walker) price() bool {
	walk := &w.walk
	rates := &w.in.Rates
	walk.Changes = w.changes()
	walk.Cost = walk.Changes
	underWay := w.shift.Departed != instance.Far
	last := w.shift.From
	switch {
	case underWay:
		walk.Departs = w.shift.Departed
	case len(w.stops) == 0:
		walk.Departs, walk.Returns = w.shift.Start, w.shift.Start
		return true
	default:
		first := w.in.Sites[w.stops[0].Site].Place
		walk.Departs = walk.Visits[0].Arrives - w.travel(w.shift.From, first)
		if walk.Break.From < walk.Break.To && walk.Break.From < walk.Visits[0].Arrives {
			out := walk.Break.From // at the base, before the first drive
			if walk.BreakArrived {
				out -= w.travel(w.shift.From, first)
			}
			walk.Departs = min(walk.Departs, out)
		}
	}
	if len(w.stops) > 0 {
		last = w.in.Sites[w.stops[len(w.stops)-1].Site].Place
	}
	walk.Work = walk.Returns - walk.Departs - (walk.Break.To - walk.Break.From)
	walk.Own = Parts{}
	walk.Own[Paid] = max(minutes(walk.Work), rates.LeastPaidMinutes) * w.in.Crew[w.shift.Technician].PaidPerMinute
	walk.Own[Travel] = minutes(w.travel(last, w.shift.Base)) * rates.VehicleMinute
	place := w.shift.From
	total := walk.Own.Sum()
	pieces := walk.Pieces
	for s := range w.stops {
		site := &w.in.Sites[w.stops[s].Site]
		parts := &walk.Visits[s].Parts
		*parts = Parts{}
		parts[Travel] = minutes(w.travel(place, site.Place)) * rates.VehicleMinute
		parts[Visits] = rates.Visit
		of := 0
		for of < len(pieces) && pieces[of].Stop == int32(s) {
			of++
		}
		w.priceVisit(s, site, pieces[:of], parts)
		pieces = pieces[of:]
		total += parts.Sum()
		place = site.Place
	}
	walk.Cost += total
	return true
}

// priceVisit adds what the work of a visit costs beside its time, and its pieces.
func (w *Walker) priceVisit(stop int, site *instance.Site, pieces []Piece, parts *Parts) {
	rates := &w.in.Rates
	serves, infested := w.does(pieces)
	for _, ref := range w.stops[stop].Refs {
		if ref.Leg != 0 || ref.Block != 0 {
			continue
		}
		price, late := w.rules.timing.cost(ref.Item)
		if w.in.Items[ref.Item].Service {
			parts[LateService] += price + late
		} else {
			parts[Delay] += price + late
		}
	}
	if serves && site.Usual != instance.None && site.Usual != w.shift.Technician {
		parts[OtherTechnician] += rates.OtherTechnician
	}
	if serves && site.UsualDay >= 0 && int8((int(site.Weekday0)+int(site.DayOf(w.walk.Visits[stop].Arrives))%7+7)%7) != site.UsualDay {
		parts[OtherTechnician] += rates.OtherWeekday
	}
	if infested {
		parts[SanitationPart] += minutes(w.in.Sanitation) * rates.SanitationMinute
	}
}

// DayPrice returns what the day of a placed item costs, outside of any walk.
func (w *Walker) DayPrice(item int32) Cost {
	price, late := w.rules.timing.cost(item)
	return price + late
}

// does says whether a visit does routine work, and something on plants that are suspected or confirmed. A block whose plants are
// all replaced that day is not done.
func (w *Walker) does(pieces []Piece) (serves, infested bool) {
	for i := range pieces {
		if piece := &pieces[i]; piece.Begins < piece.Ends {
			block := w.block(piece.Ref)
			serves = serves || block.Class == instance.ClassService
			infested = infested || block.Rank >= instance.RankSuspected
		}
	}
	return serves, infested
}

// holdPublished finds the stops that could keep a published arrival; false when there is none.
func (w *Walker) holdPublished() bool {
	w.freeArrivals()
	held := false
	for s := range w.stops {
		for b := range w.shift.Before {
			if before := &w.shift.Before[b]; w.shares(s, before) {
				w.hold[s], held = before.Arrives, true
				break
			}
		}
	}
	return held
}

// freeArrivals lets every visit arrive when it likes.
func (w *Walker) freeArrivals() {
	w.hold = w.hold[:0]
	for range w.stops {
		w.hold = append(w.hold, instance.Far)
	}
}

// changes prices the published visits of the shift that no visit keeps.
func (w *Walker) changes() Cost {
	total := Cost(0)
	for b := range w.shift.Before {
		before := &w.shift.Before[b]
		kept := false
		for s := range w.stops {
			kept = kept || w.shares(s, before) && w.walk.Visits[s].Arrives == before.Arrives
		}
		if !kept {
			total += before.Moves
		}
	}
	return total
}

// shares says whether a stop is at the site of a published visit and does something of it.
func (w *Walker) shares(stop int, before *instance.BeforeVisit) bool {
	if w.stops[stop].Site != before.Site {
		return false
	}
	for _, ref := range w.stops[stop].Refs {
		for _, item := range before.Items {
			if ref.Item == item {
				return true
			}
		}
	}
	return false
}
