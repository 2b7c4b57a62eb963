package scheduler

import (
	"cmp"
	"math"
	"math/big"
	"slices"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// checkMix judges the rule mix: each application of a diluted product draws on a mix of it that its label, its vessel
// and its life allow, made at the visit of first use, and each vessel is rinsed.
func (c *checker) checkMix() {
	for _, r := range c.routes {
		uses := make([][]*placed, len(r.Mixes))
		for _, v := range r.visits {
			for _, w := range v.work {
				if i, ok := c.drawsOn(r, w); ok {
					uses[i] = append(uses[i], w)
				}
			}
		}
		for i := range r.Mixes {
			slices.SortStableFunc(uses[i], func(a, b *placed) int { return cmp.Compare(a.Begins, b.Begins) })
			c.mixLawful(r, i, uses[i])
			c.mixUsed(r, i, uses[i])
		}
		c.vesselsRinsed(r)
	}
}

// drawsOn returns the index of the mix that a work item draws on, and whether there is one.
func (c *checker) drawsOn(r *routeIn, w *placed) (int, bool) {
	if !w.applies() {
		return 0, false
	}
	product := c.products[w.Use.Product]
	there := w.MixIndex >= 0 && w.MixIndex < len(r.Mixes)
	switch {
	case product == nil:
		return 0, false
	case !product.Diluted():
		if there && r.Mixes[w.MixIndex].Product == w.Use.Product {
			c.report(RuleMix, w.where(), "%s draws %s from a mix: it is %s and never diluted", w.Item, product.Name, product.Form)
			return w.MixIndex, true
		}
		return 0, false
	case !there:
		c.report(RuleMix, w.where(), "%s applies %s without a mix: a %s is applied from a mix of the day route", w.Item, product.Name, product.Form)
		return 0, false
	}
	m := &r.Mixes[w.MixIndex]
	if m.Product != w.Use.Product {
		c.report(RuleMix, w.where(), "%s applies %s but draws on a mix of %s", w.Item, w.Use.Product, m.Product)
	}
	if vessel := vesselOf(r, m); vessel != nil && !slices.Contains(vessel.Methods, w.Use.Method) {
		c.report(RuleMix, w.where(), "%s is done by %s from vessel %s, which is for %s", w.Item, w.Use.Method, m.Vessel, list(vessel.Methods))
	}
	return w.MixIndex, true
}

// mixIsFact says whether a mix was begun already, or everything that draws on it is a fact.
func (c *checker) mixIsFact(r *routeIn, i int) bool {
	m := &r.Mixes[i]
	if slices.ContainsFunc(c.p.Mixes, func(old Mix) bool {
		return old.Technician == m.Technician && old.Vessel == m.Vessel && old.Begins == m.Begins
	}) {
		return true
	}
	fact := false
	for _, v := range r.visits {
		for _, w := range v.work {
			if w.applies() && w.MixIndex == i {
				if !v.fact {
					return false
				}
				fact = true
			}
		}
	}
	return fact
}

func (c *checker) mixWhere(r *routeIn, i int) Violation {
	m := &r.Mixes[i]
	return Violation{
		Technician: r.Technician, Day: r.Day, Site: m.Site, Area: m.Area,
		During: span{From: m.Begins, To: max(m.Ready, m.LastUse)}, Standing: c.mixIsFact(r, i),
	}
}

func vesselOf(r *routeIn, m *Mix) *Vessel {
	if r.tech == nil {
		return nil
	}
	for i := range r.tech.Vessels {
		if r.tech.Vessels[i].ID == m.Vessel {
			return &r.tech.Vessels[i]
		}
	}
	return nil
}

// mixLawful: the vessel and the measure are the technician's, both amounts can be read off them, and the strength lies
// within the label; a label with one rate allows LeastRatePercent of it to all of it.
func (c *checker) mixLawful(r *routeIn, i int, uses []*placed) {
	m, at := &r.Mixes[i], c.mixWhere(r, i)
	if r.tech == nil {
		return
	}
	if m.Technician != r.Technician {
		c.report(RuleMix, at, "the mix of %s is %q's but stands in the route of %q", m.Product, m.Technician, r.Technician)
	}
	vessel := vesselOf(r, m)
	switch {
	case vessel == nil:
		c.report(RuleMix, at, "the mix of %s is made in vessel %q, which %s does not have", m.Product, m.Vessel, r.tech.Name)
	case m.Volume.Cmp(vessel.Capacity) > 0:
		c.report(RuleMix, at, "the mix of %s is %v in %s: it holds %v", m.Product, m.Volume, vessel.Name, vessel.Capacity)
	case !onMark(m.Volume, vessel.Marks):
		c.report(RuleMix, at, "the mix of %s is %v in %s: its marks lie every %v", m.Product, m.Volume, vessel.Name, vessel.Marks)
	}
	product := c.products[m.Product]
	portion := product != nil && product.Form != concentrateForm && product.Label.MaxPortion != nil
	if !portion {
		c.measured(r, m, at)
	}
	switch {
	case product == nil:
		c.report(RuleMix, at, "the mix is of product %q, which is not in the Problem", m.Product)
	case !product.Diluted():
		c.report(RuleMix, at, "%s is %s and never diluted: no mix of it is made", product.Name, product.Form)
	case portion:
		c.portionDosed(r, m, at, product)
		c.portionLawful(at, m, product, uses)
	default:
		c.rateLawful(at, m, product)
	}
}

// measured: the concentrate is a number of marks of a measure of the technician.
func (c *checker) measured(r *routeIn, m *Mix, at Violation) {
	k := slices.IndexFunc(r.tech.Measures, func(x Measure) bool { return x.Name == m.Measure })
	switch {
	case k < 0:
		c.report(RuleMix, at, "the mix of %s is dosed with measure %q, which %s does not have", m.Product, m.Measure, r.tech.Name)
	case !onMark(m.Concentrate, r.tech.Measures[k].Marks):
		c.report(RuleMix, at, "the mix of %s takes %v: measure %s has marks every %v", m.Product, m.Concentrate, m.Measure, r.tech.Measures[k].Marks)
	case m.Concentrate.Cmp(r.tech.Measures[k].Capacity.Times(big.NewRat(mostFills, 1))) > 0:
		c.report(RuleMix, at, "the mix of %s takes %v: measure %s holds %v and is filled %d times at most", m.Product, m.Concentrate, m.Measure, r.tech.Measures[k].Capacity, mostFills)
	}
	if m.Organisms != 0 || m.Mass.Sign() != 0 {
		c.report(RuleMix, at, "the mix of %s takes %v and %d organisms: its product is poured, and neither weighed nor counted", m.Product, m.Mass, m.Organisms)
	}
}

// mostFills is how often a measure is filled for one mix at most: who counts further loses count.
const mostFills = 10

// onMark says whether a volume is more than nothing and a whole number of marks.
func onMark(v, marks quantity.Volume) bool {
	return v.Sign() > 0 && marks.Sign() > 0 && new(big.Rat).Quo(v.Millilitres(), marks.Millilitres()).IsInt()
}

func (c *checker) rateLawful(at Violation, m *Mix, product *Product) {
	most := product.Label.MaxRate
	if most == nil || m.Volume.Sign() <= 0 {
		c.report(RuleMix, at, "the mix of %s has no rate to be judged by: its label states none, or the mix no volume", product.Name)
		return
	}
	greatest := most.Share()
	least := new(big.Rat).Mul(greatest, big.NewRat(int64(c.p.Rules.LeastRatePercent), 100))
	if product.Label.MinRate != nil {
		least = product.Label.MinRate.Share()
	}
	share := new(big.Rat).Quo(m.Concentrate.Millilitres(), m.Volume.Millilitres())
	if share.Cmp(greatest) > 0 || share.Cmp(least) < 0 {
		c.report(RuleMix, at, "the mix of %s is %v in %v, %s %%: the label allows %s to %s %%", product.Name, m.Concentrate, m.Volume,
			quantity.Percent(share, 3), quantity.Percent(least, 3), quantity.Percent(greatest, 3))
	}
}

// mixUsed: the mix is made in its minutes at the visit of first use, covers what draws on it with reserve and dead
// volume, and its last use ends within its life, inside the shift.
func (c *checker) mixUsed(r *routeIn, i int, uses []*placed) {
	m, at, s := &r.Mixes[i], c.mixWhere(r, i), c.sites[r.Mixes[i].Site]
	if len(uses) == 0 && at.Standing {
		return // it was used at a visit that is over
	}
	if len(uses) == 0 {
		c.report(RuleMix, at, "the mix of %s at %s is used for nothing: make none", m.Product, c.clock(s, m.Begins))
		return
	}
	first, last := uses[0], uses[0]
	for _, w := range uses {
		if w.Ends > last.Ends {
			last = w
		}
	}
	if took := m.Ready.Sub(m.Begins); took < c.p.Rules.Mixing {
		c.report(RuleMix, at, "%s is mixed in %v (%s): mixing takes %v", m.Product, took, c.stretch(s, span{From: m.Begins, To: m.Ready}), c.p.Rules.Mixing)
	}
	visit := first.visit
	if m.Site != visit.Site || !within(span{From: m.Begins, To: m.Ready}, span{From: visit.Arrives, To: visit.Leaves}) {
		c.report(RuleMix, at, "%s is mixed at %s at %s: it is made at the visit of first use, at %s (%s)", m.Product, m.Site, c.clock(s, m.Begins),
			visit.Site, c.stretch(visit.site, span{From: visit.Arrives, To: visit.Leaves}))
	}
	c.mixedSomewhere(at, m, s)
	if first.Begins < m.Ready {
		c.report(RuleMix, at, "%s draws on the mix of %s at %s, before it is ready at %s", first.Item, m.Product, c.clock(s, first.Begins), c.clock(s, m.Ready))
	}
	if m.LastUse != last.Ends {
		c.report(RuleMix, at, "the mix of %s says that its last use ends at %s: it ends at %s", m.Product, c.clock(s, m.LastUse), c.clock(s, last.Ends))
	}
	useBy, why := c.usableUntil(r, m)
	if last.Ends > useBy {
		c.report(RuleMix, at, "the mix of %s made at %s is used until %s: it may be used until %s (%s)", m.Product, c.clock(s, m.Begins), c.clock(s, last.Ends), c.clock(s, useBy), why)
	}
	if m.UseBy > useBy || m.UseBy < last.Ends {
		c.report(RuleMix, at, "the mix of %s says use by %s: right is from its last use to %s (%s)", m.Product, c.clock(s, m.UseBy), c.clock(s, useBy), why)
	}
	c.mixCovers(r, i, uses)
}

// mixedSomewhere: a mix is made in an area of its site; where the site has no water, with carried water in no area of it.
// No field says how much water a technician carries: what the vessel holds is carried for it, so that its capacity is
// the bound there as everywhere.
func (c *checker) mixedSomewhere(at Violation, m *Mix, s *Site) {
	area := c.areas[m.Area]
	switch {
	case s == nil: // which is told as not being at the visit of first use
	case s.Water.Area == "" && m.Area != "":
		c.report(RuleMix, at, "%s is mixed in %s of %s, which has no water: it is mixed with carried water, in no area of the site", m.Product, m.Area, m.Site)
	case s.Water.Area != "" && m.Area == "":
		c.report(RuleMix, at, "%s is mixed in no area of %s, which has water in %s: say where", m.Product, m.Site, s.Water.Area)
	case m.Area != "" && (area == nil || area.site != s):
		c.report(RuleMix, at, "%s is mixed in area %q, which %s does not have", m.Product, m.Area, m.Site)
	}
}

// usableUntil is the end of a mix's life: the label's, counted from mixing, and never past the shift.
func (c *checker) usableUntil(r *routeIn, m *Mix) (civil.Instant, string) {
	until, why := civil.Instant(math.MaxInt64), "no shift" // which is told as a breach of shift
	if r.shift != nil {
		until, why = r.shift.During.To, "the end of the shift"
	}
	if product := c.products[m.Product]; product != nil && product.Label.MixLife > 0 && m.Begins.Add(product.Label.MixLife) < until {
		return m.Begins.Add(product.Label.MixLife), "its life of " + product.Label.MixLife.String()
	}
	return until, why
}

func (c *checker) mixCovers(r *routeIn, i int, uses []*placed) {
	m, at := &r.Mixes[i], c.mixWhere(r, i)
	need := quantity.Volume{}
	for _, w := range uses {
		for _, dose := range w.Use.Doses {
			need = need.Add(dose.Amount.Times(big.NewRat(int64(100+w.Use.ReservePercent), 100)))
		}
	}
	if need.Sign() > 0 {
		need = need.As(m.Volume.Unit())
	}
	if m.Need.Cmp(need) < 0 {
		c.report(RuleMix, at, "the mix of %s states a need of %v: its applications need %v with reserve", m.Product, m.Need, need)
	}
	if vessel := vesselOf(r, m); vessel != nil && m.Volume.Cmp(need.Add(vessel.Dead)) < 0 {
		c.report(RuleMix, at, "the mix of %s is %v: its applications need %v with reserve, and %v stays in %s", m.Product, m.Volume, need, vessel.Dead, vessel.Name)
	}
}

// vesselsRinsed: another product comes into a vessel only after a rinse, one product only after the last use of what
// was there, and every vessel used is rinsed by the end of the day route. A rinse takes its time, after the last use,
// at the base or inside a visit at a site with water.
func (c *checker) vesselsRinsed(r *routeIn) {
	byVessel := map[VesselID][]int{}
	var vessels []VesselID
	for i := range r.Mixes {
		id := r.Mixes[i].Vessel
		if byVessel[id] == nil {
			vessels = append(vessels, id)
		}
		byVessel[id] = append(byVessel[id], i)
	}
	for _, id := range vessels {
		mixes := byVessel[id]
		slices.SortStableFunc(mixes, func(a, b int) int { return cmp.Compare(r.Mixes[a].Begins, r.Mixes[b].Begins) })
		for n, i := range mixes {
			m := &r.Mixes[i]
			var next *Mix
			if n+1 < len(mixes) {
				next = &r.Mixes[mixes[n+1]]
			}
			c.rinsed(r, i, next)
			if n == 0 {
				c.nothingOpenIn(r, i)
			}
			if next != nil && next.Begins < max(m.LastUse, m.Rinse.To) {
				c.report(RuleMix, c.mixWhere(r, mixes[n+1]), "%s is mixed in vessel %s at %s, before the mix of %s there is used and rinsed (%s)",
					next.Product, id, c.clock(c.sites[next.Site], next.Begins), m.Product, c.clock(c.sites[next.Site], max(m.LastUse, m.Rinse.To)))
			}
		}
	}
}

func (c *checker) rinsed(r *routeIn, i int, next *Mix) {
	m, at, s := &r.Mixes[i], c.mixWhere(r, i), c.sites[r.Mixes[i].Site]
	if none(m.Rinse) {
		switch {
		case next == nil:
			c.report(RuleMix, at, "vessel %s is not rinsed after %s by the end of the route (%s): a rinse takes %v", m.Vessel, m.Product, c.clock(s, r.Returns), c.p.Rules.Rinsing)
		case next.Product != m.Product:
			c.report(RuleMix, at, "vessel %s is not rinsed between %s and %s: a rinse takes %v", m.Vessel, m.Product, next.Product, c.p.Rules.Rinsing)
		}
		return
	}
	if m.Rinse.Length() < c.p.Rules.Rinsing {
		c.report(RuleMix, at, "vessel %s is rinsed in %v (%s): a rinse takes %v", m.Vessel, m.Rinse.Length(), c.stretch(s, m.Rinse), c.p.Rules.Rinsing)
	}
	if m.Rinse.From < m.LastUse {
		c.report(RuleMix, at, "vessel %s is rinsed at %s, before the last use of %s ends at %s", m.Vessel, c.clock(s, m.Rinse.From), m.Product, c.clock(s, m.LastUse))
	}
	if m.Rinse.To > r.Returns {
		c.report(RuleMix, at, "vessel %s is rinsed until %s, after the route ends at %s", m.Vessel, c.clock(s, m.Rinse.To), c.clock(s, r.Returns))
	}
	if visit := visitAt(r, m.Rinse); !m.RinseAtBase && (visit == nil || visit.site == nil || visit.site.Water.Area == "") {
		c.report(RuleMix, at, "vessel %s is rinsed at %s, where no visit is at a site with water: rinse there or at the base on return", m.Vessel, c.clock(s, m.Rinse.From))
	}
}

// nothingOpenIn: a mix that was open before the plan is used up and rinsed before another product comes into its vessel.
func (c *checker) nothingOpenIn(r *routeIn, i int) {
	m := &r.Mixes[i]
	for _, old := range c.p.Mixes {
		if old.Technician != m.Technician || old.Vessel != m.Vessel || old.Product == m.Product || old.Begins >= m.Begins {
			continue
		}
		rinsed := !none(old.Rinse) && old.Rinse.To <= m.Begins && old.Rinse.Length() >= c.p.Rules.Rinsing
		if !rinsed && r.shift != nil && old.Begins >= r.shift.During.From {
			c.report(RuleMix, c.mixWhere(r, i), "%s is mixed in vessel %s at %s: the mix of %s that is open there was not rinsed out",
				m.Product, m.Vessel, c.clock(c.sites[m.Site], m.Begins), old.Product)
		}
	}
}
