package scheduler

import (
	"math/big"
	"slices"

	"vernation/scheduler/dilution"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// nanolitresPerMillilitre is the kernel's grain of volumes; needs are rounded up to it and what vessels hold down.
const nanolitresPerMillilitre = 1_000_000

func (c *compiled) compileCrew() {
	c.findMixed()
	c.in.Places = int32(len(c.p.Travel.Places))
	bySpeed := map[int][]instance.Seconds{} // the matrix is by far the largest thing that there is
	for t := range c.p.Technicians {
		technician := &c.p.Technicians[t]
		c.crewIndex[technician.ID] = int32(t)
		if bySpeed[technician.SpeedPercent] == nil {
			bySpeed[technician.SpeedPercent] = scaledTravel(c.p.Travel, technician.SpeedPercent)
		}
		c.in.Travel = append(c.in.Travel, bySpeed[technician.SpeedPercent])
		out := instance.Technician{PaidPerMinute: instance.Cost(technician.PaidPerMinute), Vessels: len(technician.Vessels)}
		for i := range c.mixed {
			holds := make([]int64, len(technician.Vessels))
			for v := range technician.Vessels {
				holds[v] = c.holds(i, &technician.Vessels[v], technician)
			}
			out.Holds = append(out.Holds, holds)
		}
		c.in.Crew = append(c.in.Crew, out)
	}
	c.in.Towards = instance.Turned(c.in.Travel, c.in.Places)
	for _, mixed := range c.mixed {
		c.in.MixLife = append(c.in.MixLife, instance.Seconds(c.products[mixed.product].Label.MixLife.Seconds()))
	}
}

// scaledTravel is ceil(seconds * 100 / speedPercent), row by row.
func scaledTravel(m travel.Matrix, speedPercent int) []instance.Seconds {
	speed := int64(max(1, speedPercent))
	scaled := make([]instance.Seconds, len(m.Seconds))
	for i, seconds := range m.Seconds {
		scaled[i] = instance.Seconds((int64(seconds)*100 + speed - 1) / speed)
	}
	return scaled
}

// findMixed lists the diluted products with the methods by which the follow-ups apply them.
func (c *compiled) findMixed() {
	for i := range c.p.FollowUps {
		for _, way := range c.p.FollowUps[i].Ways {
			for _, part := range way.Parts {
				if part.Use == nil {
					continue
				}
				mixed, dosing, diluted := c.mixedBy(part.Use)
				if diluted && !slices.Contains(c.mixed, mixed) {
					c.mixed, c.dosings = append(c.mixed, mixed), append(c.dosings, dosing)
				}
			}
		}
	}
}

// mixedBy returns the mix that a use draws on and what it may hold; diluted is false where it draws on none. A label that
// no mix can keep for the plants of the use gives a mix that no vessel takes.
func (c *compiled) mixedBy(use *Use) (mixed mixedKind, dosing dilution.Dosing, diluted bool) {
	product := c.products[use.Product]
	if product == nil || !product.Diluted() {
		return mixedKind{}, dosing, false
	}
	dosing, err := dilution.LabelDosing(*product, c.p.Rules.LeastRatePercent, PouredBy(use, c.plant))
	if err != nil {
		return mixedKind{use.Product, use.Method, err.Error()}, dilution.Dosing{}, true
	}
	return mixedKind{use.Product, use.Method, dosing.Key()}, dosing, true
}

// plant returns a plant of the Problem.
func (c *compiled) plant(id site.PlantID) (site.Plant, bool) {
	i, known := c.plantIndex[id]
	if !known {
		return site.Plant{}, false
	}
	return c.p.Plants[i].Plant, true
}

// holds returns the greatest need, in nanolitres, that one filling of a vessel covers within the label: down from the
// last mark, the first that some measure, scale or pack can be read for. 0 when there is none.
func (c *compiled) holds(kind int, vessel *Vessel, technician *Technician) int64 {
	mixed, dosing := c.mixed[kind], c.dosings[kind]
	if dosing == (dilution.Dosing{}) || vessel.Validate() != nil || !slices.Contains(vessel.Methods, mixed.method) {
		return 0
	}
	kit := technician.Kit(c.products[mixed.product])
	marks := new(big.Rat).Quo(vessel.Capacity.Millilitres(), vessel.Marks.Millilitres())
	for mark := new(big.Int).Quo(marks.Num(), marks.Denom()).Int64(); mark > 0; mark-- {
		need := vessel.Marks.Times(big.NewRat(mark, 1)).Sub(vessel.Dead)
		if need.Sign() <= 0 {
			return 0
		}
		if _, err := dosing.Fill(need, *vessel, kit); err == nil {
			return nanolitres(need, false)
		}
	}
	return 0
}

// nanolitres rounds a volume to the kernel's grain, up or down.
func nanolitres(v quantity.Volume, up bool) int64 {
	exact := new(big.Rat).Mul(v.Millilitres(), big.NewRat(nanolitresPerMillilitre, 1))
	whole, rest := new(big.Int).QuoRem(exact.Num(), exact.Denom(), new(big.Int))
	if up && rest.Sign() > 0 {
		whole.Add(whole, big.NewInt(1))
	}
	if !whole.IsInt64() {
		return 1 << 62
	}
	return whole.Int64()
}

// needOf is the sum of the doses with reserve.
func needOf(use *Use) quantity.Volume {
	need := quantity.Volume{}
	for _, dose := range use.Doses {
		need = need.Add(dose.Amount)
	}
	return need.Times(big.NewRat(int64(100+use.ReservePercent), 100))
}

// compileShifts lists the technician-days of the horizon that are not over, by day, then technician.
func (c *compiled) compileShifts() {
	last := c.p.FirstDay.AddDays(c.p.Days - 1)
	for t := range c.p.Technicians {
		for s := range c.p.Technicians[t].Shifts {
			shift := &c.p.Technicians[t].Shifts[s]
			if shift.Day >= c.p.FirstDay && shift.Day <= last && (shift.During.To > c.p.Now || c.hasFixed(t, shift)) {
				c.shifts = append(c.shifts, shiftRef{t, s})
			}
		}
	}
	slices.SortStableFunc(c.shifts, func(a, b shiftRef) int {
		x, y := c.shiftOf(a), c.shiftOf(b)
		if x.Day != y.Day {
			return int(x.Day - y.Day)
		}
		return a.technician - b.technician
	})
	for _, ref := range c.shifts {
		c.in.Shifts = append(c.in.Shifts, c.shift(ref))
	}
}

func (c *compiled) shiftOf(ref shiftRef) *Shift {
	return &c.p.Technicians[ref.technician].Shifts[ref.shift]
}

func (c *compiled) hasFixed(technician int, shift *Shift) bool {
	return slices.ContainsFunc(c.p.Fixed, func(v Visit) bool { return c.fixedOn(&v, technician, shift) })
}

// fixedOn says whether a fixed visit is of a shift.
func (c *compiled) fixedOn(v *Visit, technician int, shift *Shift) bool {
	return v.Technician == c.p.Technicians[technician].ID && v.Arrives < shift.During.To && v.Leaves >= shift.During.From
}

func (c *compiled) shift(ref shiftRef) instance.Shift {
	technician, shift := &c.p.Technicians[ref.technician], c.shiftOf(ref)
	base := c.placeOf(technician.Base)
	out := instance.Shift{
		Technician: int32(ref.technician), Day: c.day(shift.Day),
		Start: c.second(max(shift.During.From, c.p.Now)), End: c.second(shift.During.To),
		From: base, Base: base, Departed: instance.Far, LastSite: instance.None,
		Busy: make([]bool, len(technician.Vessels)),
	}
	if !shift.BreakWindow.Empty() {
		out.BreakWindow = instance.Window{From: c.second(shift.BreakWindow.From), To: c.second(shift.BreakWindow.To)}
		out.BreakTakes = instance.Seconds(shift.BreakTakes.Seconds())
	}
	progress := c.progressOf(technician.ID, shift)
	if progress != nil {
		out.Start = max(out.Start, c.second(progress.FreeFrom))
		out.From = c.placeOf(progress.At)
		out.Worked = instance.Seconds(progress.Worked.Seconds())
	}
	c.addFixed(ref, &out, progress != nil)
	for v := range technician.Vessels {
		for m := range c.p.Mixes {
			mix := &c.p.Mixes[m]
			if mix.Technician != technician.ID || mix.Vessel != technician.Vessels[v].ID || mix.Begins < shift.During.From || mix.Begins >= shift.During.To {
				continue
			}
			if c.stillOpen(mix) {
				out.RinseAtBase += instance.Seconds(c.p.Rules.Rinsing.Seconds())
			}
			if mix.RinseAtBase && !c.stillOpen(mix) { // the technician is, or was last, at the base
				out.Start, out.From, out.LastSite = max(out.Start, c.second(mix.Rinse.To)), base, instance.None
			}
			out.Busy[v] = out.Busy[v] || c.stillOpen(mix) || c.second(mix.Rinse.To) > out.Start
		}
	}
	return out
}

func (c *compiled) progressOf(id TechnicianID, shift *Shift) *Progress {
	if c.p.Now < shift.During.From || c.p.Now >= shift.During.To {
		return nil
	}
	for i := range c.p.Progress {
		if c.p.Progress[i].Technician == id {
			return &c.p.Progress[i]
		}
	}
	return nil
}

// stillOpen says whether a begun mix is not rinsed out yet: a rinse at the base that lies ahead moves with the return.
func (c *compiled) stillOpen(m *Mix) bool {
	return m.Rinse.Empty() || m.RinseAtBase && m.Rinse.From >= c.p.Now
}

// addFixed puts the fixed visits of a shift into it. Those that began are over as far as planning goes: the day goes on after them.
func (c *compiled) addFixed(ref shiftRef, out *instance.Shift, underWay bool) {
	shift := c.shiftOf(ref)
	for i := range c.p.Fixed {
		v := &c.p.Fixed[i]
		if !c.fixedOn(v, ref.technician, shift) {
			continue
		}
		fixed := instance.FixedVisit{
			Index: i, Site: c.siteIndex[v.Site], Arrives: c.second(v.Arrives), Leaves: c.second(v.Leaves),
			Past: v.Arrives <= c.p.Now,
		}
		out.Fixed = append(out.Fixed, fixed)
	}
	slices.SortStableFunc(out.Fixed, func(a, b instance.FixedVisit) int { return int(a.Arrives - b.Arrives) })
	for i, fixed := range out.Fixed {
		if !fixed.Past {
			continue
		}
		place := c.in.Sites[fixed.Site].Place
		if i == 0 {
			out.Departed = fixed.Arrives - c.in.Travel[ref.technician][out.Base*c.in.Places+place]
			out.Worked = 0
		}
		out.Start = max(out.Start, fixed.Leaves)
		out.LastSite = fixed.Site
		if !underWay {
			out.From = place
		}
	}
}
