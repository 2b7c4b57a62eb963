package scheduler_test

import (
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/travel"
)

// table writes lineups side by side as a timetable; alone where there are others that are not written.
func (o *oracle) table(lineups []*lineup, alone bool) *timetable {
	t := &timetable{o: o, nodes: 1, lineups: lineups, alone: alone, items: map[scheduler.ItemID][]int{}}
	for r, l := range lineups {
		o.writeRoute(t, r, l)
	}
	for i := range t.acts {
		if a := &t.acts[i]; a.item != "" {
			t.items[a.item] = append(t.items[a.item], i)
		}
	}
	for _, acts := range t.items {
		slices.SortStableFunc(acts, func(a, b int) int { return t.acts[a].part - t.acts[b].part })
	}
	o.writeWays(t)
	if !alone {
		o.writeLinks(t)
	}
	return t
}

// writing is the state of writing one route.
type writing struct {
	o      *oracle
	t      *timetable
	r      int
	l      *lineup
	s      *crewShift
	visit  []int         // of the timetable
	act    map[useAt]int // of the pieces
	total  int64
	rinses int64 // at the base
	// emptied says for each mix from where, and how long after, its vessel is free.
	emptied []edge
	rest    int64
}

// writeRoute writes one technician-day.
func (o *oracle) writeRoute(t *timetable, r int, l *lineup) {
	s := &o.shifts[l.shift]
	w := &writing{o: o, t: t, r: r, l: l, s: s, act: map[useAt]int{}}
	route := timedRoute{departs: t.node(), returns: t.node(), leastMinutes: int64(o.rates.LeastPaidMinutes.Amount), pay: s.tech.PaidPerMinute}
	if l.rest >= 0 {
		route.rest = int64(s.shift.BreakTakes.Seconds())
		w.rest = route.rest
	}
	t.timed = append(t.timed, route)
	t.edges = append(t.edges, atLeast(route.departs, s.from), atMost(route.returns, s.shift.During.To))
	for i := range l.visits {
		w.writeVisit(&l.visits[i])
	}
	for i := range l.mixes {
		w.writeMix(i)
	}
	w.writeTravel(route)
	w.writeTreatments()
	breakAfter, mostWork := int64(o.p.Rules.BreakAfter.Seconds()), int64(o.p.Rules.MostWork.Seconds())
	switch {
	case s.shift.BreakTakes == 0 || breakAfter == 0:
	case w.rest == 0:
		t.edge(route.returns, route.departs, -breakAfter)
	default: // a break is taken where one is due
		t.edge(route.departs, route.returns, breakAfter+1)
	}
	if mostWork > 0 {
		t.edge(route.returns, route.departs, -mostWork-w.rest)
	}
	t.edge(route.departs, route.returns, w.total+w.rest)
}

// add adds an act with a node of its own, inside a visit where it is in one.
func (w *writing) add(a act) int {
	t := w.t
	a.route, a.node = w.r, t.node()
	t.acts = append(t.acts, a)
	t.edge(0, a.node, int64(w.s.from))
	if a.visit >= 0 {
		v := &t.visits[a.visit]
		t.edge(v.arrives, a.node, int64(a.site.SignIn.Seconds()))
		t.edge(a.node, v.leaves, a.takes)
	}
	if a.kind != resting {
		w.total += a.takes
	}
	return len(t.acts) - 1
}

func (w *writing) writeVisit(v *lineVisit) {
	t := w.t
	visit := timedVisit{arrives: t.node(), leaves: t.node(), access: w.o.access(w.s, v.site), fixed: v.fixed != nil}
	if day := v.site.Agreement.UsualDay; v.site.Agreement.DayFixed && day != nil {
		visit.arrivals = append([]civil.Interval{}, w.o.daysOn(v.site, func(d civil.Date) bool { return d.Weekday() == *day })...)
	}
	index := len(t.visits)
	w.visit = append(w.visit, index)
	t.visits = append(t.visits, visit)
	if v.fixed != nil {
		w.writeFixed(v, index)
		return
	}
	sum := int64(v.site.SignIn.Seconds())
	w.total += sum
	last := -1
	for b, block := range v.blocks {
		for p := range block.pieces {
			piece := &block.pieces[p]
			a := act{
				kind: working, visit: index, takes: int64(piece.takes.Seconds()), site: v.site, area: piece.area, item: block.item,
				service: block.service, way: block.way, part: piece.part, use: piece.use, plants: piece.plants, allowed: piece.allowed,
			}
			i := w.add(a)
			sum += a.takes
			w.act[useAt{index - w.visit[0], b, p}] = i
			if last >= 0 {
				t.edge(t.acts[last].node, t.acts[i].node, t.acts[last].takes)
				if p > 0 { // right after it, but for a mix that is made between
					gap := t.acts[last].takes
					if w.l.mixedBefore(useAt{index - w.visit[0], b, p}) {
						gap += int64(w.o.p.Rules.Mixing.Seconds())
						t.edge(t.acts[last].node, t.acts[i].node, gap)
					}
					t.edge(t.acts[i].node, t.acts[last].node, -gap)
				}
			}
			last = i
		}
	}
	t.edge(visit.arrives, visit.leaves, sum)
}

// mixedBefore says whether a mix is made inside a block right before a piece.
func (l *lineup) mixedBefore(u useAt) bool {
	return slices.ContainsFunc(l.mixes, func(m lineMix) bool { return m.inside && m.uses[0] == u })
}

// writeFixed writes a visit that does not move.
func (w *writing) writeFixed(v *lineVisit, index int) {
	t := w.t
	visit := &t.visits[index]
	for node, at := range map[int]civil.Instant{visit.arrives: v.fixed.Arrives, visit.leaves: v.fixed.Leaves} {
		t.edges = append(t.edges, atLeast(node, at), atMost(node, at))
	}
	w.total += int64(v.fixed.Leaves - v.fixed.Arrives)
	for i := range v.fixed.Work {
		work := &v.fixed.Work[i]
		a := act{kind: working, route: w.r, visit: index, node: t.node(), takes: int64(work.Ends - work.Begins), site: v.site, area: work.Area, plants: work.Plants}
		t.edges = append(t.edges, atLeast(a.node, work.Begins), atMost(a.node, work.Begins))
		t.acts = append(t.acts, a)
	}
}

func (w *writing) writeMix(m int) {
	t, mix := w.t, &w.l.mixes[m]
	rules := &w.o.p.Rules
	first := mix.uses[0]
	i := w.add(act{kind: mixing, visit: w.visit[first.visit], takes: int64(rules.Mixing.Seconds()), site: w.l.visits[first.visit].site, floats: !mix.inside})
	made := t.acts[i].node
	if mix.inside {
		before := &t.acts[w.act[useAt{first.visit, first.block, first.piece - 1}]]
		t.edge(before.node, made, before.takes)
		t.edge(made, before.node, -before.takes)
	}
	for _, u := range mix.uses {
		use := &t.acts[w.act[u]]
		t.edge(made, use.node, t.acts[i].takes)
		if life := int64(mix.product.Label.MixLife.Seconds()); life > 0 {
			t.edge(use.node, made, use.takes-life)
		}
	}
	emptied, takes := t.acts[w.act[mix.uses[len(mix.uses)-1]]].node, t.acts[w.act[mix.uses[len(mix.uses)-1]]].takes
	switch {
	case mix.rinse == rinsedAtBase:
		w.rinses += int64(rules.Rinsing.Seconds())
		w.total += int64(rules.Rinsing.Seconds())
	case mix.rinse >= 0:
		s := w.l.visits[mix.rinse].site
		rinse := w.add(act{kind: rinsing, visit: w.visit[mix.rinse], takes: int64(rules.Rinsing.Seconds()), site: s, area: s.Water.Area, floats: true})
		t.edge(emptied, t.acts[rinse].node, takes)
		emptied, takes = t.acts[rinse].node, t.acts[rinse].takes
	}
	// Whatever was in the vessel before is used up and rinsed out by now.
	for k := range w.l.mixes {
		if k < m && w.l.nextIn(k) == m {
			t.edge(w.emptied[k].from, made, w.emptied[k].least)
		}
	}
	w.emptied = append(w.emptied, edge{from: emptied, least: takes})
}

// writeTravel puts the drives between base and visits, and the break.
func (w *writing) writeTravel(route timedRoute) {
	t, s := w.t, w.s
	from, place := route.departs, s.tech.Base
	for i := 0; i <= len(w.visit); i++ {
		to, next := route.returns, s.tech.Base
		extra := w.rinses
		if i < len(w.visit) {
			to, next = t.visits[w.visit[i]].arrives, travel.PlaceID(w.l.visits[i].site.ID)
			extra = 0
		}
		drive := int64(w.o.price.drive(s.tech, place, next).Seconds())
		w.total += drive
		if w.l.rest == 2*i {
			rest := w.addRest(-1, nil)
			t.edge(from, t.acts[rest].node, 0)
			t.edge(t.acts[rest].node, to, w.rest+extra)
			t.edge(from, to, drive+w.rest+extra)
		} else {
			t.edge(from, to, drive+extra)
		}
		if i < len(w.visit) {
			from, place = t.visits[w.visit[i]].leaves, next
		}
	}
	if w.l.rest >= 0 && w.l.rest%2 == 1 {
		w.addRest(w.visit[w.l.rest/2], w.l.visits[w.l.rest/2].site)
	}
}

// addRest adds the break, in its window.
func (w *writing) addRest(visit int, at *scheduler.Site) int {
	rest := w.add(act{kind: resting, visit: visit, takes: w.rest, site: at, floats: visit >= 0})
	w.t.edges = append(w.t.edges, atLeast(w.t.acts[rest].node, w.s.shift.BreakWindow.From), atMost(w.t.acts[rest].node, w.s.shift.BreakWindow.To.Add(-w.s.shift.BreakTakes)))
	return rest
}

// writeTreatments joins the applications of each visit in one area.
func (w *writing) writeTreatments() {
	t, o := w.t, w.o
	for i := range t.acts {
		a := &t.acts[i]
		if a.route != w.r || a.use == nil || a.use.Entry == catalogue.EntryNone {
			continue
		}
		aired, unaired := a.use.KeepOut, max(a.use.KeepOut, a.use.KeepOutUnventilated)
		for _, e := range o.p.Rules.LeastEntry {
			if e.Site == a.site.ID {
				aired, unaired = max(aired, e.Least), max(unaired, e.Least)
			}
		}
		k := slices.IndexFunc(t.treatments, func(r timedTreatment) bool { return r.visit == a.visit && r.area == a.area })
		if k < 0 {
			k = len(t.treatments)
			t.treatments = append(t.treatments, timedTreatment{visit: a.visit, area: a.area, first: i, shut: o.shutWith(a.area)})
		}
		r := &t.treatments[k]
		r.last = i
		r.aired, r.unaired = max(r.aired, int64(aired.Seconds())), max(r.unaired, int64(unaired.Seconds()))
	}
	for k := range t.treatments {
		r := &t.treatments[k]
		if t.acts[r.first].route != w.r {
			continue
		}
		s, area := t.acts[r.first].site, o.area(r.area)
		r.always = area.Ventilation.Always
		for _, run := range area.Ventilation.Open(s.Zone, o.span) {
			if last := run.To - civil.Instant(r.aired); run.From <= last {
				r.airedEnds = append(r.airedEnds, civil.Interval{From: run.From, To: last + 1})
			}
		}
		for _, id := range r.shut {
			var agreed []civil.Interval
			for _, shut := range s.Agreement.ShutAreas {
				if shut.Area == id {
					agreed = append(agreed, civil.Interval{From: shut.From, To: shut.To})
				}
			}
			r.people = append(r.people, civil.Subtract(o.area(id).People.Open(s.Zone, o.span), civil.Merge(agreed))...)
		}
	}
}

// writeWays joins the legs of ways: the wait, and the greatest time away.
func (o *oracle) writeWays(t *timetable) {
	for _, acts := range t.items {
		way := t.acts[acts[0]].way
		if way == nil {
			continue
		}
		for k := 1; k < len(acts); k++ {
			before, next := &t.acts[acts[k-1]], &t.acts[acts[k]]
			if wait := before.part + 1; wait < next.part && way.Parts[wait].Kind == scheduler.WaitPart {
				t.edge(before.node, next.node, before.takes+int64(way.Parts[wait].Takes.Seconds()))
			}
			out := &t.acts[acts[0]]
			if way.MostAway > 0 && way.Parts[next.part].Kind == scheduler.CarryBackPart && way.Parts[out.part].Kind == scheduler.CarryOutPart {
				t.edge(next.node, out.node, -int64(way.MostAway.Seconds())-out.takes)
			}
		}
	}
}

// writeLinks joins items by what follows what.
func (o *oracle) writeLinks(t *timetable) {
	for _, id := range o.order {
		if f := o.price.followUp(id); f != nil && f.Due.After != "" && t.items[id] != nil {
			o.writeLink(t, scheduler.Link{Kind: "after", From: f.Due.After, To: id})
		}
	}
	for _, link := range o.p.Links {
		o.writeLink(t, link)
	}
}

func (o *oracle) writeLink(t *timetable, link scheduler.Link) {
	from, to := t.items[link.From], t.items[link.To]
	if from == nil || to == nil {
		return
	}
	first, last, next := &t.acts[from[0]], &t.acts[from[len(from)-1]], &t.acts[to[0]]
	switch link.Kind {
	case "after":
		t.edge(first.node, next.node, 0)
	case scheduler.Needs:
		t.edge(first.node, next.node, 1)
	case scheduler.Order:
		t.edge(last.node, next.node, last.takes)
	case scheduler.LeastLag:
		if link.Hours > 0 {
			t.edge(last.node, next.node, last.takes+int64(link.Hours.Seconds()))
		}
	}
}

// couldStart says whether a technician could begin a follow-up by a way on such a weekday, as far as anything but the hour
// says.
func (o *oracle) couldStart(shift int, f *scheduler.FollowUp, way *scheduler.Way) bool {
	c, s := &o.shifts[shift], o.site(f.Site)
	if !o.mayVisit(shift, s) || !o.keyed(shift, s) {
		return false
	}
	for _, i := range legsOf(way)[0] {
		part := &way.Parts[i]
		for _, skill := range part.Skills {
			if !slices.Contains(c.tech.Skills, skill) {
				return false
			}
		}
		if part.Use == nil {
			continue
		}
		product, area := o.product(part.Use.Product), o.area(part.Area)
		kind := s.Kind
		if area.Kind != "" {
			kind = area.Kind
		}
		for _, at := range []civil.Instant{c.shift.During.From, c.shift.During.To} {
			if !o.licensedOn(c.tech, product, s, kind, s.Zone.DateOf(at)) {
				return false
			}
		}
		if product.Diluted() && !slices.ContainsFunc(c.tech.Vessels, func(v scheduler.Vessel) bool {
			_, _, _, ok := o.fill(product, needOf(part.Use), &v, c.tech.Measures)
			return ok && slices.Contains(v.Methods, part.Use.Method)
		}) {
			return false
		}
		if !o.lawfulAtAll(f, s, part) {
			return false
		}
	}
	return true
}
