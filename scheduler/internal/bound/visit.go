package bound

import (
	"slices"

	"vernation/scheduler/internal/instance"
)

// drives are the least drives of a technician by place: into it and out of it, from and to any other place.
type drives struct{ in, out []Seconds }

// leastDrives returns them by technician. Those of one speed share their matrix, and so their drives.
func leastDrives(in *instance.Instance) []drives {
	least := make([]drives, len(in.Crew))
	for t := range in.Crew {
		if same := slices.IndexFunc(in.Travel[:t], func(m []Seconds) bool { return len(m) > 0 && &m[0] == &in.Travel[t][0] }); same >= 0 {
			least[t] = least[same]
			continue
		}
		least[t] = drives{make([]Seconds, in.Places), make([]Seconds, in.Places)}
		for i := range in.Places {
			least[t].in[i], least[t].out[i] = instance.Far, instance.Far
		}
		for from := range in.Places {
			row := in.Travel[t][from*in.Places : (from+1)*in.Places]
			for to, takes := range row {
				if int32(to) != from {
					least[t].out[from] = min(least[t].out[from], takes)
					least[t].in[to] = min(least[t].in[to], takes)
				}
			}
		}
	}
	return least
}

// drives returns the least drives into a site and out of it in a shift. Two visits to one site never follow one another, but
// a day may begin or end there.
func (b *bounding) drives(t, place int32) (into, out Seconds) {
	shift := &b.in.Shifts[t]
	into, out = b.least[shift.Technician].in[place], b.least[shift.Technician].out[place]
	stay := b.stay(t, place)
	if shift.From == place {
		into = min(into, stay)
	}
	if shift.Base == place {
		out = min(out, stay)
	}
	return into, out
}

// stay is what a technician takes from a place to itself.
func (b *bounding) stay(t, place int32) Seconds {
	return b.in.Travel[b.in.Shifts[t].Technician][place*b.in.Places+place]
}

// coming is a shift in which somebody may visit a site.
type coming struct {
	shift, group int32
	into, out    Seconds
	runs         []instance.Window // stretches of access from the first possible arrival to the last possible leaving
	otherDay     bool              // no arrival lies on the usual weekday
}

// comings lists the shifts in which a site can be visited at all, by their days.
func (b *bounding) comings(number int32, may func(t int32) bool) []coming {
	var comings []coming
	where := &b.in.Sites[number]
	for t := range b.in.Shifts {
		if !may(int32(t)) || b.frozen[t] {
			continue
		}
		shift := &b.in.Shifts[t]
		c := coming{shift: int32(t), otherDay: where.UsualDay >= 0}
		c.into, c.out = b.drives(int32(t), where.Place)
		for _, access := range where.Access {
			run := instance.Window{From: max(access.From, shift.Start+c.into), To: min(access.To, shift.End-c.out)}
			if run.From+where.SignIn > run.To {
				continue
			}
			c.runs = append(c.runs, run)
			for day := where.DayOf(run.From); day <= where.DayOf(run.To); day++ {
				c.otherDay = c.otherDay && int8((int(where.Weekday0)+int(day)%7+7)%7) != where.UsualDay
			}
		}
		if len(c.runs) > 0 {
			comings = append(comings, c)
		}
	}
	slices.SortStableFunc(comings, func(a, c coming) int { return int(b.in.Shifts[a.shift].Day - b.in.Shifts[c.shift].Day) })
	return comings
}

// price is the least that a visit of a shift costs beside its work, in grains; serving is the same where routine work is done.
//
// Paid are the sign-in and the visit's parts of the drives; the vehicle costs by begun minutes of each drive.
func (b *bounding) price(number int32, c *coming, level Cost) (plain, serving Cost) {
	where, rates := &b.in.Sites[number], &b.in.Rates
	technician := b.in.Shifts[c.shift].Technician
	pay := max(level, b.pay[technician])
	road, driven := b.parts(c.shift, where.Place)
	plain = grain*rates.Visit + Cost(where.SignIn)*pay + road*pay/2 + grain/2*rates.VehicleMinute*driven
	serving = plain
	if where.Usual != instance.None && where.Usual != technician {
		serving += grain * rates.OtherTechnician
	}
	if c.otherDay {
		serving += grain * rates.OtherWeekday
	}
	return plain, serving
}

// minutes are the minutes begun.
func minutes(s Seconds) Cost { return Cost((s + secondsPerMinute - 1) / secondsPerMinute) }
