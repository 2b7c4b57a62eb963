package dilution

import (
	"fmt"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// Application is one application of a diluted product as it stands in a day route.
type Application struct {
	Need   quantity.Volume // reserve included
	Begins civil.Instant
	Ends   civil.Instant
}

// Using says from what, and for how long, the applications of one product on one day route are mixed.
type Using struct {
	Limits   Limits
	Vessel   Vessel
	Measures []Measure
	Mixing   time.Duration // to make one mix, right before its first use
	// MixLife is counted by the clock from the beginning of mixing; 0 is until ShiftEnds.
	MixLife   time.Duration
	ShiftEnds civil.Instant
}

// Mix is one filling for a run of applications.
type Mix struct {
	Filling
	First, Last int // the applications [First, Last] that draw on it, by index
	Begins      civil.Instant
	LastUse     civil.Instant // end of the last application
	UseBy       civil.Instant // end of mix life or shift, whichever is first
}

// Mixes decides which applications of one product, in order of time, share a mix: each mix takes as many as
// vessel and mix life allow, from the front. Since one vessel holds one mix at a time, a mix serves a run of
// neighbours; and since every part of a run that fits also fits (less volume, less time), no other division
// into runs has fewer mixes. Errors: those of Fill, or an application that outlives a fresh mix or the shift.
func Mixes(applications []Application, use Using) ([]Mix, error) {
	var mixes []Mix
	for first := 0; first < len(applications); {
		mix, err := mixFor(applications, first, first, use)
		if err != nil {
			return nil, fmt.Errorf("application %d: %w", first, err)
		}
		for last := first + 1; last < len(applications); last++ {
			longer, err := mixFor(applications, first, last, use)
			if err != nil {
				break
			}
			mix = longer
		}
		mixes = append(mixes, mix)
		first = mix.Last + 1
	}
	return mixes, nil
}

// mixFor returns the mix for the applications [first, last].
func mixFor(applications []Application, first, last int, use Using) (Mix, error) {
	var need quantity.Volume
	for _, a := range applications[first : last+1] {
		need = need.Add(a.Need)
	}
	begins := applications[first].Begins.Add(-use.Mixing)
	mix := Mix{First: first, Last: last, Begins: begins, LastUse: applications[last].Ends, UseBy: UseBy(begins, use.MixLife, use.ShiftEnds)}
	if mix.LastUse > mix.UseBy {
		return Mix{}, fmt.Errorf("ends %v, after its mix may be used (%v)", mix.LastUse, mix.UseBy)
	}
	filling, err := Fill(need, use.Limits, use.Vessel, use.Measures)
	mix.Filling = filling
	return mix, err
}

// UseBy returns the instant by which a mix begun at an instant must be used up: the end of its life (0 is no
// life of its own) or of the shift in which it was mixed, whichever is first.
func UseBy(begins civil.Instant, mixLife time.Duration, shiftEnds civil.Instant) civil.Instant {
	if mixLife <= 0 {
		return shiftEnds
	}
	return min(shiftEnds, begins.Add(mixLife))
}
