package scheduler

import (
	"fmt"
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/tour"
	"vernation/scheduler/travel"
)

// InvalidQuestion says what is wrong with a question about a plan, all at once.
type InvalidQuestion struct{ Fields []FieldError }

// Error lists the fields.
func (e *InvalidQuestion) Error() string {
	text := "invalid question"
	for _, f := range e.Fields {
		text += ": " + f.Path + ": " + f.Text
	}
	return text
}

func wrongQuestion(path, reason, text string, args ...any) error {
	return &InvalidQuestion{Fields: []FieldError{{Path: path, Reason: reason, Text: fmt.Sprintf(text, args...)}}}
}

// resume turns a Plan of the Problem back into the kernel's state, at the times that the plan gives. Work that the Problem
// does not ask for any more is left out. It fails with *InvalidQuestion where the plan lacks a visit that does not move.
func (c *compiled) resume(plan *Plan) (*schedule.State, error) {
	var given []schedule.Given
	seen := make([]bool, len(c.shifts))
	for r := range plan.Routes {
		route := &plan.Routes[r]
		t := c.tourOf(route)
		if t == instance.None || seen[t] {
			continue
		}
		seen[t] = true
		given = append(given, c.given(route, t))
	}
	state := schedule.Resume(c.in, given)
	for t := range c.in.Shifts {
		want, have := 0, 0
		for _, fixed := range c.in.Shifts[t].Fixed {
			if !fixed.Past {
				want++
			}
		}
		for _, stop := range state.Tours[t].Stops {
			if stop.Fixed != instance.None {
				have++
			}
		}
		if want != have {
			technician := &c.p.Technicians[c.shifts[t].technician]
			return nil, wrongQuestion("plan.routes", ReasonUnknown,
				"%s has %d visits that do not move on %s and the plan holds %d of them: ask about a plan of this Problem",
				technician.Name, want, c.shiftOf(c.shifts[t]).Day.Short(), have)
		}
	}
	return state, nil
}

// tourOf returns the technician-day of a day route, or None.
func (c *compiled) tourOf(route *DayRoute) int32 {
	found := instance.None
	for t, ref := range c.shifts {
		shift := c.shiftOf(ref)
		if c.p.Technicians[ref.technician].ID != route.Technician || shift.Day != route.Day {
			continue
		}
		if found == instance.None || shift.During.From <= route.Departs && route.Departs < shift.During.To {
			found = int32(t)
		}
	}
	return found
}

// given turns a day route into stops and times.
func (c *compiled) given(route *DayRoute, t int32) schedule.Given {
	ref := c.shifts[t]
	facts := c.mixesOfFacts(&c.p.Technicians[ref.technician], c.shiftOf(ref))
	offset := len(facts)
	g := schedule.Given{Tour: t, Walk: tour.Walk{Departs: c.second(route.Departs), Returns: c.second(route.Returns)}}
	if !route.Break.Empty() {
		g.Walk.Break = c.window(route.Break)
	}
	for v := range route.Visits {
		c.givenVisit(&g, &route.Visits[v], offset)
	}
	index := make([]int32, max(0, len(route.Mixes)-offset)) // of the mixes that work which is still asked for draws on
	for m := range index {
		index[m] = instance.None
		if mix := c.givenMix(&g, &route.Mixes[offset+m], int32(m)); mix.Need > 0 {
			index[m] = int32(len(g.Walk.Mixes))
			g.Walk.Mixes = append(g.Walk.Mixes, mix)
		}
	}
	for i := range g.Walk.Pieces {
		if piece := &g.Walk.Pieces[i]; piece.Mix != instance.None && int(piece.Mix) < len(index) {
			piece.Mix = index[piece.Mix]
		}
	}
	g.Walk.Returns = c.workedUntil(&g, route, facts)
	g.Walk.BreakArrived = c.breaksOnArrival(&g)
	return g
}

// breaksOnArrival says whether the break of a day lies behind the drive to the stop after it.
func (c *compiled) breaksOnArrival(g *schedule.Given) bool {
	from, left := c.in.Shifts[g.Tour].From, g.Walk.Departs
	for k := range g.Stops {
		to := c.in.Sites[g.Stops[k].Site].Place
		if g.Walk.Visits[k].Arrives >= g.Walk.Break.To {
			drive := c.in.Travel[c.in.Shifts[g.Tour].Technician][from*c.in.Places+to]
			return g.Walk.Break.From < g.Walk.Break.To && g.Walk.Break.From >= left+drive
		}
		from, left = to, g.Walk.Visits[k].Leaves
	}
	return false
}

// workedUntil is when the work of a day route ends. A rinse of a mix that was begun may be told to end later than that.
func (c *compiled) workedUntil(g *schedule.Given, route *DayRoute, facts []Mix) instance.Seconds {
	returns := c.second(route.Returns)
	told := slices.ContainsFunc(facts, func(m Mix) bool { return !m.Rinse.Empty() && m.Rinse.To == route.Returns })
	last := len(g.Stops) - 1
	if !told || last < 0 {
		return returns
	}
	technician := &c.p.Technicians[c.in.Shifts[g.Tour].Technician]
	ends := g.Walk.Visits[last].Leaves + instance.Seconds(c.drive(technician, travel.PlaceID(c.p.Sites[g.Stops[last].Site].ID), technician.Base).Seconds())
	ends += c.in.Shifts[g.Tour].RinseAtBase
	for i := range g.Walk.Mixes {
		if g.Walk.Mixes[i].AtBase {
			ends += c.in.Rinsing
		}
	}
	return min(returns, ends)
}

// givenVisit adds a visit to a technician-day. Fixed ones that have begun are no stops.
func (c *compiled) givenVisit(g *schedule.Given, v *Visit, offset int) {
	at, known := c.siteIndex[v.Site]
	if !known {
		return
	}
	stop := tour.Stop{Site: at, Fixed: instance.None}
	for f, fixed := range c.in.Shifts[g.Tour].Fixed {
		if of := &c.p.Fixed[fixed.Index]; of.ID == v.ID && of.Site == v.Site && of.Arrives == v.Arrives && of.Leaves == v.Leaves {
			if fixed.Past {
				return
			}
			stop.Fixed = int32(f)
		}
	}
	times := tour.Visit{Arrives: c.second(v.Arrives), Leaves: c.second(v.Leaves)}
	last := len(g.Stops) - 1
	if stop.Fixed != instance.None {
		g.Stops, g.Walk.Visits = append(g.Stops, stop), append(g.Walk.Visits, times)
		return
	}
	joins := last >= 0 && g.Stops[last].Site == at && g.Stops[last].Fixed == instance.None // what lay between is asked for no more
	number := int32(last + 1)
	if joins {
		number, stop = int32(last), g.Stops[last]
	}
	for w := range v.Work {
		if piece, found := c.givenPiece(&v.Work[w]); found {
			piece.Stop = number
			if v.Work[w].MixIndex >= offset {
				piece.Mix = int32(v.Work[w].MixIndex - offset)
			}
			g.Walk.Pieces = append(g.Walk.Pieces, piece)
			stop.Refs = c.withLeg(stop.Refs, piece.Ref)
		}
	}
	switch {
	case len(stop.Refs) == 0:
	case joins:
		g.Stops[last] = stop
		g.Walk.Visits[last].Leaves = times.Leaves
	default:
		g.Stops, g.Walk.Visits = append(g.Stops, stop), append(g.Walk.Visits, times)
	}
}

// withLeg adds the blocks of a leg to the refs of a stop, in their order.
func (c *compiled) withLeg(refs []tour.Ref, of tour.Ref) []tour.Ref {
	if slices.ContainsFunc(refs, func(r tour.Ref) bool { return r.Item == of.Item && r.Leg == of.Leg }) {
		return refs
	}
	for b := range c.in.Items[of.Item].Ways[of.Way].Legs[of.Leg].Blocks {
		of.Block = int16(b)
		refs = append(refs, of)
	}
	slices.SortStableFunc(refs, func(a, b tour.Ref) int { return tour.Before(c.in, a, b) })
	return refs
}

// givenPiece finds the piece of the kernel that a work item is.
func (c *compiled) givenPiece(w *WorkItem) (tour.Piece, bool) {
	piece := tour.Piece{Mix: instance.None, Begins: c.second(w.Begins), Ends: c.second(w.Ends)}
	item, known := c.itemOf(w.Item)
	if !known {
		return piece, false
	}
	ref := &c.items[item]
	piece.Item = item
	for way := range c.in.Items[item].Ways {
		kernel := &c.in.Items[item].Ways[way]
		if ref.follow != nil && ref.follow.Ways[kernel.Index].ID != w.Way {
			continue
		}
		for leg := range kernel.Legs {
			for b := range kernel.Legs[leg].Blocks {
				block := &kernel.Legs[leg].Blocks[b]
				for p := range block.Pieces {
					if ref.follow != nil && int(block.Pieces[p].Part) == w.Part || ref.follow == nil && c.isOfBlock(block, w) {
						piece.Way, piece.Leg, piece.Block, piece.Piece = int16(way), int16(leg), int16(b), int16(p)
						return piece, true
					}
				}
			}
		}
	}
	return piece, false
}

// isOfBlock says whether a work item of a service is of a block: its area, and plants of its health.
func (c *compiled) isOfBlock(block *instance.Block, w *WorkItem) bool {
	return c.areas[block.Area].ID == w.Area && len(w.Plants) > 0 && c.rank(w.Plants[0]) == block.Rank
}

// itemOf returns the item that an id still asks for: for a follow-up whose plants are away, their carry back.
func (c *compiled) itemOf(id ItemID) (int32, bool) {
	if at, known := c.index[id]; known {
		return at, true
	}
	if _, done := c.done[id]; !done {
		return 0, false
	}
	at := slices.IndexFunc(c.items, func(ref itemRef) bool { return ref.away != nil && ref.id == id })
	return int32(at), at >= 0
}

// givenMix turns a Mix back into a filling.
func (c *compiled) givenMix(g *schedule.Given, m *Mix, index int32) tour.Mix {
	out := tour.Mix{
		Area: instance.None, RinseArea: instance.None, AtBase: m.RinseAtBase,
		Begins: c.second(m.Begins), Ready: c.second(m.Ready), LastUse: c.second(m.LastUse), UseBy: c.second(m.UseBy),
		RinseFrom: c.second(m.Rinse.From), RinseTo: c.second(m.Rinse.To),
	}
	if at, known := c.areaIndex[m.Area]; known {
		out.Area = at
	}
	for i := range g.Walk.Pieces {
		piece := &g.Walk.Pieces[i]
		if piece.Mix != index {
			continue
		}
		if out.Need == 0 {
			out.Stop = piece.Stop
		}
		kernel := &c.in.Items[piece.Item].Ways[piece.Way].Legs[piece.Leg].Blocks[piece.Block].Pieces[piece.Piece]
		out.Product, out.RinseStop = kernel.Product, piece.Stop
		out.Need += kernel.Need
	}
	technician := &c.p.Technicians[c.in.Shifts[g.Tour].Technician]
	out.Vessel = int32(max(0, slices.IndexFunc(technician.Vessels, func(v Vessel) bool { return v.ID == m.Vessel })))
	if !out.AtBase && out.Need > 0 {
		out.RinseArea = c.in.Sites[g.Stops[out.RinseStop].Site].WaterArea
	}
	return out
}
