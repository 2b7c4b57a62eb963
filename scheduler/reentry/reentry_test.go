package reentry_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

func newYork(t testing.TB) civil.Zone {
	t.Helper()
	zone, err := civil.LoadZone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

func at(t testing.TB, text string) civil.Instant {
	t.Helper()
	instant, err := civil.ParseInstant(text)
	if err != nil {
		t.Fatal(err)
	}
	return instant
}

func between(t testing.TB, from, to string) civil.Interval {
	t.Helper()
	return civil.Interval{From: at(t, from), To: at(t, to)}
}

// weekly reads windows of five-character clock times on some days: "08:00-18:00".
func weekly(t testing.TB, window string, days ...civil.Weekday) civil.Weekly {
	t.Helper()
	opens, err := civil.ParseClock(window[:5])
	if err != nil {
		t.Fatal(err)
	}
	closes, err := civil.ParseClock(window[6:])
	if err != nil {
		t.Fatal(err)
	}
	return civil.Weekly{Days: days, Window: civil.Window{Opens: opens, Closes: closes}}
}

var (
	workdays = []civil.Weekday{1, 2, 3, 4, 5}
	everyDay = []civil.Weekday{0, 1, 2, 3, 4, 5, 6}
)

// office is an office whose floor has staff and cleaners on workdays and a floor crew on the Sunday on which the
// clocks go forward; its store has a door of its own.
func office(t testing.TB) site.Site {
	t.Helper()
	crew := civil.Exception{On: civil.NewDate(2026, time.March, 8), Windows: []civil.Window{{Opens: civil.NewClock(6, 0), Closes: civil.NewClock(10, 0)}}}
	return site.Site{
		ID: "office", Zone: newYork(t),
		Access: civil.Calendar{Weekly: []civil.Weekly{weekly(t, "06:00-23:00", workdays...), weekly(t, "20:00-32:00", 6)}},
		Areas: []site.Area{
			{
				ID:          "floor",
				People:      civil.Calendar{Weekly: []civil.Weekly{weekly(t, "08:00-18:00", workdays...), weekly(t, "17:30-19:30", workdays...)}, Exceptions: []civil.Exception{crew}},
				Ventilation: civil.Calendar{Weekly: []civil.Weekly{weekly(t, "06:00-20:00", everyDay...)}},
			},
			{ID: "store"},
		},
	}
}

func hotel(t testing.TB) site.Site {
	t.Helper()
	return site.Site{
		ID: "hotel", Zone: newYork(t),
		Access: civil.Calendar{Weekly: []civil.Weekly{weekly(t, "06:00-18:00", everyDay...)}},
		Areas: []site.Area{
			{ID: "lobby", People: civil.Calendar{Always: true}, Ventilation: civil.Calendar{Always: true}},
			{ID: "plant room", People: civil.Calendar{Weekly: []civil.Weekly{weekly(t, "07:00-09:00", workdays...)}}, Ventilation: civil.Calendar{Always: true}},
		},
	}
}

func TestResolve_KnowsTheFourIntervals(t *testing.T) {
	t.Parallel()
	dry := map[catalogue.Method]time.Duration{catalogue.WholePlantSpray: 3 * time.Hour, catalogue.SpotSpray: time.Second}
	for _, c := range []struct {
		name                      string
		entry                     catalogue.Entry
		method                    catalogue.Method
		factor                    int
		wantKeepOut, wantUnaired  time.Duration
		wantUnknown, wantAnyError bool
	}{
		{name: "hours, whatever the air", entry: catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * time.Hour}, method: catalogue.Drench, factor: 150, wantKeepOut: 4 * time.Hour, wantUnaired: 4 * time.Hour},
		{name: "no hours", entry: catalogue.Entry{Kind: catalogue.EntryHours}, factor: 150, wantAnyError: true},
		{name: "hours past the bound", entry: catalogue.Entry{Kind: catalogue.EntryHours, Hours: 61 * 24 * time.Hour}, factor: 150, wantAnyError: true},
		// 3 h x 150 / 100 = 4 h 30 min.
		{name: "until dry", entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}, method: catalogue.WholePlantSpray, factor: 150, wantKeepOut: 3 * time.Hour, wantUnaired: 4*time.Hour + 30*time.Minute},
		{name: "until dry without a factor", entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}, method: catalogue.WholePlantSpray, factor: 100, wantKeepOut: 3 * time.Hour, wantUnaired: 3 * time.Hour},
		// 1 s x 1.5 is rounded up to 2 s.
		{name: "until dry, rounded up", entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}, method: catalogue.SpotSpray, factor: 150, wantKeepOut: time.Second, wantUnaired: 2 * time.Second},
		{name: "until dry by a method without a time", entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}, method: catalogue.Drench, factor: 150, wantAnyError: true},
		{name: "until dry, a factor that shortens", entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}, method: catalogue.WholePlantSpray, factor: 99, wantAnyError: true},
		{name: "none needed", entry: catalogue.Entry{Kind: catalogue.EntryNone, Reason: "a card on a stick"}, method: catalogue.Trap, factor: 150},
		{name: "none needed without a reason", entry: catalogue.Entry{Kind: catalogue.EntryNone}, method: catalogue.Trap, factor: 150, wantAnyError: true},
		{name: "unknown", entry: catalogue.Entry{Kind: catalogue.EntryUnknown}, factor: 150, wantUnknown: true, wantAnyError: true},
		{name: "unset is unknown", factor: 150, wantUnknown: true, wantAnyError: true},
		{name: "a kind of one's own", entry: catalogue.Entry{Kind: "a while"}, factor: 150, wantAnyError: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			keepOut, unventilated, err := reentry.Resolve(c.entry, c.method, dry, c.factor)
			if keepOut != c.wantKeepOut || unventilated != c.wantUnaired || (err != nil) != c.wantAnyError || errors.Is(err, reentry.ErrUnknown) != c.wantUnknown {
				t.Errorf("Resolve = %v, %v, %v", keepOut, unventilated, err)
			}
		})
	}
}

func TestShutWith_FollowsWaysAndAir(t *testing.T) {
	t.Parallel()
	s := site.Site{ID: "house", Areas: []site.Area{
		{ID: "gallery", OpenTo: []site.AreaID{"hall"}},
		{ID: "hall"},
		{ID: "study", ReachedOnlyThrough: "hall"},
		{ID: "archive", ReachedOnlyThrough: "study"},
		{ID: "loft", ReachedOnlyThrough: "gallery"},
		{ID: "garage", OpenTo: []site.AreaID{"porch"}},
		{ID: "porch", OpenTo: []site.AreaID{"garage"}},
		// A ring, as wrong data may hold: the walk must end.
		{ID: "east", ReachedOnlyThrough: "west"},
		{ID: "west", ReachedOnlyThrough: "east"},
	}}
	for _, c := range []struct {
		area site.AreaID
		want []site.AreaID
	}{
		{"hall", []site.AreaID{"hall", "gallery", "study", "loft", "archive"}},    // the gallery says that it is open to the hall; the archive lies behind the study, the loft behind the gallery
		{"gallery", []site.AreaID{"gallery", "hall", "loft", "study", "archive"}}, // open both ways, though one says so; nobody may pass the hall to the study
		{"study", []site.AreaID{"study", "archive"}},
		{"archive", []site.AreaID{"archive"}},
		{"garage", []site.AreaID{"garage", "porch"}},
		{"east", []site.AreaID{"east", "west"}},
	} {
		if diff := cmp.Diff(c.want, reentry.ShutWith(s, c.area)); diff != "" {
			t.Errorf("%s: %s", c.area, diff)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("an area that does not exist shuts nothing, silently")
		}
	}()
	reentry.ShutWith(s, "cellar")
}

func TestInterval_CountsFromTheEndAndIsLongerWithoutAir(t *testing.T) {
	t.Parallel()
	s := office(t)
	spray := func(begins string) reentry.Treatment {
		return reentry.Treatment{
			Area: "floor", Begins: at(t, begins), Ends: at(t, begins).Add(32 * time.Minute),
			KeepOut: 3 * time.Hour, Unventilated: 4*time.Hour + 30*time.Minute,
		}
	}
	for _, c := range []struct{ name, begins, wantTo string }{
		// Ventilation 06-20 h. 16:28 EST + 32 min + 3 h = 20:00, just inside.
		{"ends as the air does", "2026-03-03T21:28:00Z", "2026-03-04T01:00:00Z"},
		// A second later any of it lies outside: 16:28:01 + 32 min + 4 h 30 = 21:30:01.
		{"a second outside", "2026-03-03T21:28:01Z", "2026-03-04T02:30:01Z"},
		// 05:28 EST + 32 min = 06:00: the time after the end begins with the air, though the work does not.
		{"ends with the air on", "2026-03-03T10:28:00Z", "2026-03-03T14:00:00Z"},
		{"ends a second before the air", "2026-03-03T10:27:59Z", "2026-03-03T15:29:59Z"},
		// Over midnight and the clock change: Sun 8 March 01:00 EST = 06:00Z; + 5 h 02 absolute = 11:02Z = 07:02 EDT.
		{"over the clock change", "2026-03-08T06:00:00Z", "2026-03-08T11:02:00Z"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			want := between(t, c.begins, c.wantTo)
			if got := reentry.Interval(s, spray(c.begins)); got != want {
				t.Errorf("Interval = %v to %v, want to %v", got.From, got.To, want.To)
			}
			outs := reentry.KeepOuts(s, spray(c.begins))
			if len(outs) != 1 || outs[0] != (reentry.KeepOut{Area: "floor", During: want}) {
				t.Errorf("KeepOuts = %v: want the floor alone, the store has a door of its own", outs)
			}
		})
	}
	cards := reentry.Treatment{Area: "floor", Begins: at(t, "2026-03-03T21:00:00Z"), Ends: at(t, "2026-03-03T21:03:00Z")}
	if got := reentry.Interval(s, cards); !got.Empty() || reentry.KeepOuts(s, cards) != nil {
		t.Errorf("a treatment that needs no interval shuts %v", got)
	}
}

func TestJoin_TakesTheLongestAndNeverTheSum(t *testing.T) {
	t.Parallel()
	// 40 CFR 170.112(a)(3), 1992 text: two applied at one time take the longest of the intervals, not the sum.
	first := reentry.Treatment{Area: "floor", Begins: at(t, "2026-03-03T14:00:00Z"), Ends: at(t, "2026-03-03T14:30:00Z"), KeepOut: 4 * time.Hour, Unventilated: 4 * time.Hour}
	second := reentry.Treatment{Area: "floor", Begins: at(t, "2026-03-03T14:30:00Z"), Ends: at(t, "2026-03-03T15:00:00Z"), KeepOut: 3 * time.Hour, Unventilated: 5 * time.Hour}
	want := reentry.Treatment{Area: "floor", Begins: first.Begins, Ends: second.Ends, KeepOut: 4 * time.Hour, Unventilated: 5 * time.Hour}
	for _, got := range []reentry.Treatment{reentry.Join(first, second), reentry.Join(second, first)} {
		if got != want {
			t.Errorf("Join = %+v, want %+v", got, want)
		}
	}
	cards := reentry.Treatment{Area: "floor", Begins: at(t, "2026-03-03T20:00:00Z"), Ends: at(t, "2026-03-03T20:03:00Z")}
	if got := reentry.Join(first, cards); got != first {
		t.Errorf("cards lengthen a keep-out to %+v", got)
	}
	if got := reentry.Join(cards, first); got != first {
		t.Errorf("cards lengthen a keep-out to %+v", got)
	}
}

// TestBeginnings_OverTheClockChange is worked by hand: a spray of 32 minutes and 3 hours shut, then a rinse of 5 minutes inside
// access, and a drench of 24 minutes and 4 hours shut, over the night on which US clocks go forward: 8 March 2026,
// 02:00 EST (15 U.S.C. 260a: the second Sunday of March). No longer interval without air here.
func TestBeginnings_OverTheClockChange(t *testing.T) {
	t.Parallel()
	spray := func(s site.Site, span civil.Interval) []civil.Interval {
		open := reentry.Fitting(s.Access.Open(s.Zone, span), 0, 37*time.Minute)
		return civil.Intersect(reentry.Beginnings(s, "floor", 32*time.Minute, 3*time.Hour, 3*time.Hour, span), open)
	}
	drench := func(area site.AreaID) func(site.Site, civil.Interval) []civil.Interval {
		return func(s site.Site, span civil.Interval) []civil.Interval {
			open := reentry.Fitting(s.Access.Open(s.Zone, span), 0, 24*time.Minute)
			return civil.Intersect(reentry.Beginnings(s, area, 24*time.Minute, 4*time.Hour, 4*time.Hour, span), open)
		}
	}
	quiet := office(t)
	quiet.Areas[0].People.Exceptions = nil
	for _, c := range []struct {
		name        string
		s           site.Site
		beginnings  func(site.Site, civil.Interval) []civil.Interval
		span        civil.Interval
		first, last string // both allowed; "" is none
	}{
		// Staff and cleaners until 19:30 EST; 23:00 - 37 min = 22:23 EST. In the morning it would have to begin by 04:28, before access.
		{"Tue 3", office(t), spray, between(t, "2026-03-03T05:00:00Z", "2026-03-04T05:00:00Z"), "2026-03-04T00:30:00Z", "2026-03-04T03:23:00Z"},
		{"Fri 6", office(t), spray, between(t, "2026-03-06T05:00:00Z", "2026-03-07T05:00:00Z"), "2026-03-07T00:30:00Z", "2026-03-07T03:23:00Z"},
		// Crew from Sun 06:00 EDT = 10:00Z, less 3 h 32 min = 06:28Z = 01:28 EST; by wall clock alone 02:28, which does not exist.
		{"Sat 7 over the change", office(t), spray, between(t, "2026-03-07T05:00:00Z", "2026-03-09T04:00:00Z"), "2026-03-08T01:00:00Z", "2026-03-08T06:28:00Z"},
		// No crew: access ends Sun 08:00 EDT = 12:00Z, less 37 min = 11:23Z.
		{"Sat 7 without the crew", quiet, spray, between(t, "2026-03-07T05:00:00Z", "2026-03-09T04:00:00Z"), "2026-03-08T01:00:00Z", "2026-03-08T11:23:00Z"},
		{"Mon 9", office(t), spray, between(t, "2026-03-09T04:00:00Z", "2026-03-10T04:00:00Z"), "2026-03-09T23:30:00Z", "2026-03-10T02:23:00Z"},
		{"Sat 14", office(t), spray, between(t, "2026-03-14T04:00:00Z", "2026-03-16T04:00:00Z"), "2026-03-15T00:00:00Z", "2026-03-15T11:23:00Z"},
		// People 07:00-09:00; 18:00 - 24 min = 17:36. Before 07:00 it would have to begin by 02:36.
		{"plant room, Wed 4", hotel(t), drench("plant room"), between(t, "2026-03-04T05:00:00Z", "2026-03-05T05:00:00Z"), "2026-03-04T14:00:00Z", "2026-03-04T22:36:00Z"},
		{"plant room, Sun 8", hotel(t), drench("plant room"), between(t, "2026-03-08T05:00:00Z", "2026-03-09T04:00:00Z"), "2026-03-08T10:00:00Z", "2026-03-08T21:36:00Z"},
		{"lobby, where people always are", hotel(t), drench("lobby"), between(t, "2026-03-02T05:00:00Z", "2026-03-16T04:00:00Z"), "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var want []civil.Interval
			if c.first != "" {
				want = []civil.Interval{{From: at(t, c.first), To: at(t, c.last) + 1}}
			}
			if diff := cmp.Diff(want, c.beginnings(c.s, c.span)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestBeginnings_ClientShutsWhatHeAgreedToShut(t *testing.T) {
	t.Parallel()
	s := hotel(t)
	s.Areas[0].OpenTo = []site.AreaID{"bar"}
	s.Areas = append(s.Areas, site.Area{ID: "bar", People: civil.Calendar{Always: true}})
	agreed := between(t, "2026-03-04T14:00:00Z", "2026-03-04T20:00:00Z")
	span := between(t, "2026-03-04T05:00:00Z", "2026-03-05T05:00:00Z")
	drench := func() []civil.Interval {
		return reentry.Beginnings(s, "lobby", 24*time.Minute, 4*time.Hour, 4*time.Hour, span)
	}
	s.Agreement.ShutAreas = []site.ShutArea{{Area: "lobby", From: agreed.From, To: agreed.To}}
	if got := drench(); got != nil {
		t.Errorf("the bar is open to the lobby and was not agreed: %v", got)
	}
	s.Agreement.ShutAreas = append(s.Agreement.ShutAreas, site.ShutArea{Area: "bar", From: agreed.From, To: agreed.To})
	// 20:00Z - 4 h 24 min = 15:36Z.
	want := []civil.Interval{{From: agreed.From, To: at(t, "2026-03-04T15:36:00Z") + 1}}
	if diff := cmp.Diff(want, drench()); diff != "" {
		t.Error(diff)
	}
}

// TestBeginnings_WaitForTheAir: people from 10:00, air from 06:00, 32 minutes of work, 3 hours in the air and 4 h 30
// without. Beginning at 05:28 or later it ends in the air: until 10:00 - 3 h 32 min = 06:28. Before 05:28 it
// takes 5 h 02 min: until 04:58. Between the two nothing is allowed.
func TestBeginnings_WaitForTheAir(t *testing.T) {
	t.Parallel()
	s := site.Site{ID: "shop", Zone: newYork(t), Areas: []site.Area{{
		ID:          "shop",
		People:      civil.Calendar{Weekly: []civil.Weekly{weekly(t, "10:00-18:00", everyDay...)}},
		Ventilation: civil.Calendar{Weekly: []civil.Weekly{weekly(t, "06:00-20:00", everyDay...)}},
	}}}
	got := reentry.Beginnings(s, "shop", 32*time.Minute, 3*time.Hour, 4*time.Hour+30*time.Minute, between(t, "2026-03-03T05:00:00Z", "2026-03-03T15:00:00Z"))
	want := []civil.Interval{
		{From: at(t, "2026-03-03T05:00:00Z"), To: at(t, "2026-03-03T09:58:00Z") + 1},
		{From: at(t, "2026-03-03T10:28:00Z"), To: at(t, "2026-03-03T11:28:00Z") + 1},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestBeginnings_NoneNeededMayBeginAtAnyTime(t *testing.T) {
	t.Parallel()
	span := between(t, "2026-03-02T05:00:00Z", "2026-03-16T04:00:00Z")
	if got := reentry.Beginnings(hotel(t), "lobby", 3*time.Minute, 0, 0, span); !slices.Equal(got, []civil.Interval{span}) {
		t.Errorf("cards in a lobby: %v", got)
	}
	if got := reentry.Beginnings(hotel(t), "lobby", 3*time.Minute, 0, 0, civil.Interval{From: 5, To: 5}); got != nil {
		t.Errorf("an empty span holds %v", got)
	}
}
