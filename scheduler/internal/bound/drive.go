package bound

import (
	"slices"

	"vernation/scheduler/internal/instance"
)

// shares part each drive of a day between the halt that it leaves and the one that it comes to: by place, in half seconds and
// half minutes begun, so that nothing is lost in halving.
//
// Any parts do for which the part of the one and that of the other come to no more than the drive between them: then the parts of
// all halts of a day route come to no more than its drives. None is negative, so that a halt may also be left out. Halves of the
// least drives do; from there each part is raised as far as all drives allow. Only places count at which a day route of that day
// may halt at all.
type shares struct{ in, out, minutesIn, minutesOut []Seconds }

// sharesOf returns them by shift. Shifts of one day and speed have the same.
func (b *bounding) sharesOf() []*shares {
	by := make([]*shares, len(b.in.Shifts))
	for t := range b.in.Shifts {
		same := slices.IndexFunc(b.in.Shifts[:t], func(other instance.Shift) bool {
			return other.Day == b.in.Shifts[t].Day && b.speed(other.Technician) == b.speed(b.in.Shifts[t].Technician)
		})
		if same >= 0 {
			by[t] = by[same]
			continue
		}
		by[t] = b.share(int32(t))
	}
	return by
}

// speed is the first technician with the same matrix.
func (b *bounding) speed(technician int32) int {
	return slices.IndexFunc(b.in.Travel, func(m []Seconds) bool { return len(m) > 0 && &m[0] == &b.in.Travel[technician][0] })
}

// share finds the parts of the day of a shift, for those of its speed.
func (b *bounding) share(t int32) *shares {
	halts := make([]bool, b.in.Places)
	for other := range b.in.Shifts {
		if shift := &b.in.Shifts[other]; shift.Day == b.in.Shifts[t].Day && b.speed(shift.Technician) == b.speed(b.in.Shifts[t].Technician) {
			halts[shift.From], halts[shift.Base] = true, true
			for _, fixed := range shift.Fixed {
				halts[b.in.Sites[fixed.Site].Place] = true
			}
			for n := range b.in.Sites {
				if site := &b.in.Sites[n]; b.may[other][n] {
					halts[site.Place] = true
				}
			}
		}
	}
	var places []int32
	for place := range b.in.Places {
		if halts[place] {
			places = append(places, place)
		}
	}
	matrix := b.in.Travel[b.in.Shifts[t].Technician]
	s := &shares{}
	s.in, s.out = parted(b.in.Places, places, func(from, to int32) Seconds { return 2 * matrix[from*b.in.Places+to] })
	s.minutesIn, s.minutesOut = parted(b.in.Places, places, func(from, to int32) Seconds { return 2 * Seconds(minutes(matrix[from*b.in.Places+to])) })
	return s
}

// parted parts what lies between places: in[to] + out[from] <= between(from, to) for any two of them, and none is negative.
func parted(n int32, places []int32, between func(from, to int32) Seconds) (in, out []Seconds) {
	in, out = make([]Seconds, n), make([]Seconds, n)
	// raise raises the parts of one side by a fraction of what the other side leaves. Those of one side never meet, so that all
	// of them may be raised at once.
	raise := func(side []Seconds, room func(place, other int32) Seconds, fraction Seconds) {
		for _, place := range places {
			least := instance.Far
			for _, other := range places {
				if other != place {
					least = min(least, room(place, other))
				}
			}
			if least < instance.Far { // there is another place
				side[place] += max(0, least) / fraction
			}
		}
	}
	intoRoom := func(place, other int32) Seconds { return between(other, place) - out[other] - in[place] }
	outRoom := func(place, other int32) Seconds { return between(place, other) - out[place] - in[other] }
	half := make([]Seconds, n)
	raise(half, outRoom, 2)
	raise(in, intoRoom, 2)
	copy(out, half) // half of the least drive, both ways
	raise(in, intoRoom, 2)
	raise(out, outRoom, 1)
	raise(in, intoRoom, 1)
	return in, out
}

// parts returns what of the drives belongs to a visit of a shift: in half seconds, and in half minutes of the vehicle. A day may
// begin or end at the place of the site itself, and then the drive there is the stay.
func (b *bounding) parts(t, place int32) (road, driven Cost) {
	shift, of := &b.in.Shifts[t], b.shares[t]
	in, out, minutesIn, minutesOut := of.in[place], of.out[place], of.minutesIn[place], of.minutesOut[place]
	stay := b.stay(t, place)
	if shift.From == place {
		in, minutesIn = min(in, 2*stay), min(minutesIn, 2*Seconds(minutes(stay)))
	}
	if shift.Base == place {
		out, minutesOut = min(out, 2*stay), min(minutesOut, 2*Seconds(minutes(stay)))
	}
	return Cost(in) + Cost(out), Cost(minutesIn) + Cost(minutesOut)
}
