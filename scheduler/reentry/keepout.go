package reentry

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// Treatment is the applications of one visit in one area taken together.
type Treatment struct {
	Area   site.AreaID
	Begins civil.Instant // of the first application
	Ends   civil.Instant // of the last
	// KeepOut is the longest interval before entry among the applications, counted from Ends, where all of it
	// lies in ventilation hours; Unventilated where any of it does not. 0 needs none and shuts nothing.
	KeepOut      time.Duration
	Unventilated time.Duration
}

// KeepOut is an area shut from the beginning of an application until people may enter.
type KeepOut struct {
	Area   site.AreaID
	During civil.Interval
}

// Join returns the one treatment that two make in one area: from the first beginning until the longest interval
// after the last end (40 CFR 170.112(a)(3), 1992 text: of several applied together the longest interval holds).
// Where the air goes off between the ends of the two intervals, the longer one without air holds for both: the safe
// side. Applications that need no interval take no part. It panics when the areas differ.
func Join(a, b Treatment) Treatment {
	switch {
	case a.Area != b.Area:
		panic(fmt.Sprintf("reentry: treatments of %q and %q are not one", a.Area, b.Area))
	case a.KeepOut == 0:
		return b
	case b.KeepOut == 0:
		return a
	}
	return Treatment{
		Area: a.Area, Begins: min(a.Begins, b.Begins), Ends: max(a.Ends, b.Ends),
		KeepOut: max(a.KeepOut, b.KeepOut), Unventilated: max(a.Unventilated, b.Unventilated),
	}
}

// Interval returns the instants at which nobody may be in the areas that the treatment shuts, the technician
// making it apart: from its beginning until KeepOut after its end when all of the time after the end lies in one run
// of the area's ventilation hours, else until Unventilated after its end. It is empty when none is needed.
func Interval(s site.Site, t Treatment) civil.Interval {
	if t.KeepOut <= 0 {
		return civil.Interval{From: t.Begins, To: t.Begins}
	}
	after := civil.Interval{From: t.Ends, To: t.Ends.Add(wholeSeconds(t.KeepOut))}
	for _, run := range areaOf(s, t.Area).Ventilation.Open(s.Zone, after) {
		if run.Covers(after) {
			return civil.Interval{From: t.Begins, To: after.To}
		}
	}
	return civil.Interval{From: t.Begins, To: t.Ends.Add(wholeSeconds(max(t.KeepOut, t.Unventilated)))}
}

// KeepOuts returns what a treatment shuts: its area first, then the others in the site's order; nil when none is needed.
func KeepOuts(s site.Site, t Treatment) []KeepOut {
	during := Interval(s, t)
	if during.Empty() {
		return nil
	}
	var shut []KeepOut
	for _, area := range ShutWith(s, t.Area) {
		shut = append(shut, KeepOut{area, during})
	}
	return shut
}

// ShutWith returns the areas that a treatment of one area shuts: the area itself first, then those open to it,
// whichever of the two says so, in the site's order, then those that are reached only through any of these: nobody
// may pass a shut area. It panics when the site has no such area.
func ShutWith(s site.Site, area site.AreaID) []site.AreaID {
	treated := areaOf(s, area)
	shut := []site.AreaID{area}
	for _, other := range s.Areas {
		open := slices.Contains(treated.OpenTo, other.ID) || slices.Contains(other.OpenTo, area)
		if open && other.ID != area {
			shut = append(shut, other.ID)
		}
	}
	// The list grows while it is walked; each area enters it once, so that a ring in the data ends.
	for i := 0; i < len(shut); i++ {
		for _, other := range s.Areas {
			if other.ReachedOnlyThrough == shut[i] && !slices.Contains(shut, other.ID) {
				shut = append(shut, other.ID)
			}
		}
	}
	return shut
}

func areaOf(s site.Site, id site.AreaID) site.Area {
	for _, area := range s.Areas {
		if area.ID == id {
			return area
		}
	}
	panic(fmt.Sprintf("reentry: site %q has no area %q: validate the site first", s.ID, id))
}
