package reentry_test

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler/civil"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// TestBeginnings_AgreesWithEverySecond tries every second of short spans, most of them over a change of clocks or midnight,
// and looks at the wall clock of every second that the interval touches.
func TestBeginnings_AgreesWithEverySecond(t *testing.T) {
	t.Parallel()
	// 02:00 EST on 8 March and 02:00 EDT on 1 November 2026 (15 U.S.C. 260a), a night without a change and a midnight; 01:00 UTC
	// on 29 March and 25 October 2026 (Directive 2000/84/EC, kept in UK law: the Summer Time Order 2002).
	nights := []struct {
		zone   civil.Zone
		change civil.Instant
	}{
		{newYork(t), at(t, "2026-03-08T07:00:00Z")}, {newYork(t), at(t, "2026-11-01T06:00:00Z")},
		{newYork(t), at(t, "2026-06-03T06:00:00Z")}, {newYork(t), at(t, "2026-06-03T04:00:00Z")},
		{london(t), at(t, "2026-03-29T01:00:00Z")}, {london(t), at(t, "2026-10-25T01:00:00Z")},
	}
	rapid.Check(t, func(t *rapid.T) {
		night := rapid.SampledFrom(nights).Draw(t, "night")
		zone, change := night.zone, night.change
		s := smallSite(t, zone, change)
		span := civil.Interval{From: change.Add(-seconds(t, "before", 0, 7200)), To: change.Add(seconds(t, "after", 1, 7200))}
		takes, keepOut := seconds(t, "takes", 1, 1800), seconds(t, "keepOut", 1, 5400)
		unventilated := keepOut + seconds(t, "longer", 0, 3600)
		got := reentry.Beginnings(s, "treated", takes, keepOut, unventilated, span)

		length := int(span.Length()/time.Second) + int((takes+unventilated)/time.Second)
		occupied := countSeconds(span.From, length, func(i civil.Instant) bool { return peopleAt(s, i) })
		airless := countSeconds(span.From, length, func(i civil.Instant) bool { return !inWindows(s.Areas[0].Ventilation, zone, i) })
		for begin := 0; span.From+civil.Instant(begin) < span.To; begin++ {
			end := begin + int((takes+keepOut)/time.Second)
			if airless[end] > airless[begin+int(takes/time.Second)] {
				end = begin + int((takes+unventilated)/time.Second)
			}
			want := occupied[end] == occupied[begin]
			instant := span.From + civil.Instant(begin)
			if contains(got, instant) != want {
				t.Fatalf("beginning at %v: allowed %v, want %v (keep-out until %v)", instant, !want, want, span.From+civil.Instant(end))
			}
			if begin%97 != 0 {
				continue
			}
			treatment := reentry.Treatment{Area: "treated", Begins: instant, Ends: instant.Add(takes), KeepOut: keepOut, Unventilated: unventilated}
			if during := reentry.Interval(s, treatment); during.To != span.From+civil.Instant(end) {
				t.Fatalf("Interval from %v ends %v, want %v", instant, during.To, span.From+civil.Instant(end))
			}
			if people := reentry.Occupied(s, treatment); (len(people) == 0) != want {
				t.Fatalf("beginning at %v is allowed %v, and Occupied says %v", instant, want, people)
			}
		}
	})
}

// seconds draws evenly from a range: rapid's own integers prefer small ones, and then most nights look alike.
func seconds(t *rapid.T, label string, least, most int) time.Duration {
	const parts = 60
	part := rapid.SampledFrom(sixty[:]).Draw(t, label+", sixtieth part")
	within := rapid.IntRange(0, (most-least)/parts).Draw(t, label+", within it")
	return time.Duration(min(most, least+part*(most-least)/parts+within)) * time.Second
}

var sixty = func() (parts [60]int) {
	for i := range parts {
		parts[i] = i
	}
	return parts
}()

// smallSite has the treated area, one open to it, one behind that, one behind the treated, and one that has nothing to do with it.
func smallSite(t *rapid.T, zone civil.Zone, change civil.Instant) site.Site {
	calendar := func(label string, longest int) civil.Calendar {
		var c civil.Calendar
		for i := range rapid.SampledFrom([]int{0, 0, 1, 1, 2}).Draw(t, label) {
			// Opening within the hours that are looked at, so that most windows matter.
			near := change.Add(seconds(t, fmt.Sprint(label, i, " opens"), 0, 6*3600) - 3*time.Hour)
			opens := int(zone.ClockOf(near)) / 60
			closes := opens + int(seconds(t, fmt.Sprint(label, i, " for"), 60, longest)/time.Minute)
			day := zone.DateOf(near).Weekday()
			c.Weekly = append(c.Weekly, civil.Weekly{Days: []civil.Weekday{day}, Window: civil.Window{Opens: civil.NewClock(0, opens), Closes: civil.NewClock(0, closes)}})
		}
		return c
	}
	s := site.Site{ID: "small", Zone: zone, Areas: []site.Area{
		{ID: "treated", People: calendar("treated", 3600), Ventilation: calendar("air", 24*3600)},
		{ID: "open", OpenTo: []site.AreaID{"treated"}, People: calendar("open", 3600)},
		{ID: "behind", ReachedOnlyThrough: "treated", People: calendar("behind", 3600)},
		{ID: "furthest", ReachedOnlyThrough: "further"},
		{ID: "further", ReachedOnlyThrough: "open", People: calendar("further", 3600)},
		{ID: "beside", OpenTo: []site.AreaID{"open"}, People: civil.Calendar{Always: true}},
		{ID: "apart", People: civil.Calendar{Always: true}},
	}}
	s.Areas[0].Ventilation.Always = len(s.Areas[0].Ventilation.Weekly) == 0 && rapid.Bool().Draw(t, "always aired")
	// Now and then there are always people, once behind two areas.
	if at := rapid.IntRange(0, 9).Draw(t, "always people"); at < 2 {
		s.Areas[[]int{3, 1}[at]].People = civil.Calendar{Always: true}
	}
	for _, area := range rapid.SliceOfN(rapid.SampledFrom([]site.AreaID{"treated", "open", "behind", "further", "furthest"}), 0, 3).Draw(t, "agreed") {
		from := change.Add(seconds(t, "agreed from", 0, 7200) - time.Hour)
		s.Agreement.ShutAreas = append(s.Agreement.ShutAreas, site.ShutArea{Area: area, From: from, To: from.Add(seconds(t, "agreed for", 0, 7200))})
	}
	return s
}

// countSeconds returns at [i] how many of the first i seconds have a property.
func countSeconds(from civil.Instant, length int, has func(civil.Instant) bool) []int {
	counts := make([]int, length+1)
	for i := range length {
		counts[i+1] = counts[i]
		if has(from + civil.Instant(i)) {
			counts[i+1]++
		}
	}
	return counts
}

func peopleAt(s site.Site, i civil.Instant) bool {
	for _, area := range s.Areas {
		// What is open to an area that is only open to the treated one shares no air with that.
		if area.ID == "apart" || area.ID == "beside" || !inWindows(area.People, s.Zone, i) {
			continue
		}
		agreed := false
		for _, shut := range s.Agreement.ShutAreas {
			agreed = agreed || shut.Area == area.ID && shut.From <= i && i < shut.To
		}
		if !agreed {
			return true
		}
	}
	return false
}

// inWindows reads the wall clock and compares it with the windows of its day and of the day before.
func inWindows(c civil.Calendar, zone civil.Zone, i civil.Instant) bool {
	if c.Always {
		return true
	}
	if len(c.Weekly) == 0 {
		return false
	}
	wall := time.Unix(int64(i), 0).In(zone.Location())
	clock := civil.Clock(wall.Hour()*3600 + wall.Minute()*60 + wall.Second())
	for _, weekly := range c.Weekly {
		for _, day := range weekly.Days {
			since := (int(wall.Weekday()) - int(day) + 7) % 7
			reading := clock + civil.Clock(since)*24*3600
			if weekly.Opens <= reading && reading < weekly.Closes {
				return true
			}
		}
	}
	return false
}

func london(t testing.TB) civil.Zone {
	t.Helper()
	zone, err := civil.LoadZone("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

func contains(intervals []civil.Interval, i civil.Instant) bool {
	for _, v := range intervals {
		if v.From <= i && i < v.To {
			return true
		}
	}
	return false
}
