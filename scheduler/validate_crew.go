package scheduler

import (
	"cmp"
	"fmt"
	"slices"

	"vernation/scheduler/civil"
)

func (v *validator) technicians() {
	ids := unique[TechnicianID]{}
	for i := range v.p.Technicians {
		t, path := &v.p.Technicians[i], fmt.Sprintf("technicians[%d]", i)
		ids.add(v, t.ID, path+".id")
		known(v, v.place, t.Base, path+".base", "the matrix's place")
		v.within(t.SpeedPercent, 1, 1_000, path+".speed_percent")
		v.price(t.PaidPerMinute, path+".paid_per_minute")
		v.shifts(t, path)
		for k, l := range t.Licences {
			at := fmt.Sprintf("%s.licences[%d]", path, k)
			v.unless(l.To.IsZero() || l.From <= l.To, at, ReasonOrder, "from %v to %v: want a last day that is not before the first, or none", l.From, l.To)
			if l.Under != "" && known(v, v.crew, l.Under, at+".under", "technician") {
				v.unless(l.Under != t.ID, at+".under", ReasonCircle, "%q works under themselves: want another technician's name, or none", t.ID)
			}
		}
		for k, key := range t.Keys {
			v.unless(key.To.IsZero() || key.From <= key.To, fmt.Sprintf("%s.keys[%d]", path, k), ReasonOrder, "from %v to %v: want its last day later", key.From, key.To)
		}
		v.vessels(t, path)
	}
}

// shifts notes shifts that are empty, too long, on another day than they begin, or over one another.
func (v *validator) shifts(t *Technician, path string) {
	var spans []civil.Interval
	for k, s := range t.Shifts {
		at := fmt.Sprintf("%s.shifts[%d]", path, k)
		v.span(s.During, MaxShift, at+".during")
		if day := v.p.Zone.DateOf(s.During.From); day != s.Day {
			v.add(at+".day", ReasonOrder, "day %v but it begins on %v: want the day on which it begins in the business's zone", s.Day, day)
		}
		v.duration(s.BreakTakes, MaxShift, at+".break_takes")
		if s.BreakTakes > 0 {
			v.span(s.BreakWindow, MaxShift, at+".break_window")
			v.unless(s.BreakWindow.Length() >= s.BreakTakes, at+".break_window", ReasonRange, "%v long for a break of %v: want it as long or longer", s.BreakWindow.Length(), s.BreakTakes)
		}
		spans = append(spans, s.During)
	}
	slices.SortFunc(spans, func(a, b civil.Interval) int { return cmp.Compare(a.From, b.From) })
	for k := 1; k < len(spans); k++ {
		v.unless(spans[k-1].To <= spans[k].From, path+".shifts", ReasonOrder, "the shift from %v begins before the one from %v ends: want one after another", spans[k].From, spans[k-1].From)
	}
}

func (v *validator) vessels(t *Technician, path string) {
	ids := unique[VesselID]{}
	for k, vessel := range t.Vessels {
		at := fmt.Sprintf("%s.vessels[%d]", path, k)
		ids.add(v, vessel.ID, at+".id")
		v.unless(vessel.Capacity.Sign() > 0, at+".capacity", ReasonRange, "%v: want more than nothing", vessel.Capacity)
		v.unless(vessel.Dead.Sign() >= 0 && vessel.Dead.Cmp(vessel.Capacity) < 0, at+".dead", ReasonRange, "%v: want 0 or more, less than the capacity", vessel.Dead)
		for m, method := range vessel.Methods {
			v.method(method, fmt.Sprintf("%s.methods[%d]", at, m))
		}
		v.unless(vessel.Marks.Sign() > 0, at+".marks", ReasonRange, "%v: want the distance between two marks", vessel.Marks)
	}
	names := unique[string]{}
	for k, measure := range t.Measures {
		at := fmt.Sprintf("%s.measures[%d]", path, k)
		names.add(v, measure.Name, at+".name")
		v.unless(measure.Capacity.Sign() > 0, at+".capacity", ReasonRange, "%v: want more than nothing", measure.Capacity)
		v.unless(measure.Marks.Sign() > 0, at+".marks", ReasonRange, "%v: want the distance between two marks", measure.Marks)
	}
	for k, scale := range t.Scales {
		at := fmt.Sprintf("%s.scales[%d]", path, k)
		names.add(v, scale.Name, at+".name")
		v.read(scale.Validate(), at)
	}
}
