package bound

import (
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
)

// facts is what day routes cost by what does not move, in grains, at a level of pay: the price and the time of visits ahead,
// and what is paid for the time before the start of a shift that is under way. Days on which these visits leave no lawful walk
// cost nothing, for the plan takes them as they are.
func (b *bounding) facts(level Cost) Cost {
	total := Cost(0)
	for t := range b.in.Shifts {
		shift := &b.in.Shifts[t]
		if b.frozen[t] {
			continue
		}
		if shift.Departed != instance.Far {
			total += Cost(max(0, shift.Start-shift.Departed)) * grainsPerPay * b.in.Crew[shift.Technician].PaidPerMinute
		}
		for _, visit := range shift.Fixed {
			if !visit.Past {
				total += grain*b.in.Rates.Visit + Cost(visit.Leaves-visit.Arrives)*max(level, b.pay[shift.Technician])
			}
		}
	}
	return total
}

// frozen says by shift whether its fixed visits leave no lawful walk.
func frozen(in *instance.Instance) []bool {
	frozen := make([]bool, len(in.Shifts))
	for t, tour := range schedule.New(in).Tours {
		frozen[t] = tour.Frozen
	}
	return frozen
}
