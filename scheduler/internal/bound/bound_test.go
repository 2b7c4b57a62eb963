package bound_test

import (
	"testing"

	"vernation/scheduler/internal/bound"
	"vernation/scheduler/internal/instance"
)

const (
	minute = instance.Seconds(60)
	hour   = 60 * minute
	day    = 24 * hour
)

// sites is how many a town has.
const sites = 7

// town is a base (place 0) and sites (places 1 on), 10 minutes from one another and 20 from the base; two technicians, at
// 75 and 45 a minute, with shifts of 8 hours from 8:00 on three days. A visit costs 500, signing in takes 5 minutes. There is
// one more site at the base itself, so that a day may begin and end with a visit without a drive.
func town(items ...instance.Item) *instance.Instance {
	in := &instance.Instance{
		Crew: []instance.Technician{{PaidPerMinute: 75}, {PaidPerMinute: 45}}, Places: sites + 1, LastDay: 2,
		Rates: instance.Rates{Visit: 500}, BreakAfter: instance.Far,
	}
	var matrix []instance.Seconds
	for from := range in.Places {
		for to := range in.Places {
			takes := 10 * minute
			if from == to {
				takes = 0
			} else if from == 0 || to == 0 {
				takes = 20 * minute
			}
			matrix = append(matrix, takes)
		}
	}
	in.Travel = [][]instance.Seconds{matrix, matrix}
	var midnights []instance.Seconds
	for d := range instance.Seconds(8) {
		midnights = append(midnights, (d-2)*day)
	}
	for place := int32(1); place < in.Places; place++ {
		in.Sites = append(in.Sites, instance.Site{
			Place: place, SignIn: 5 * minute, Access: []instance.Window{{From: -2 * day, To: 5 * day}}, Midnights: midnights, FirstMidnight: -2,
			Usual: instance.None, UsualDay: -1, WaterArea: instance.None,
		})
	}
	atBase := in.Sites[0]
	atBase.Place = 0
	in.Sites = append(in.Sites, atBase)
	for d := range instance.Seconds(3) {
		for t := range in.Crew {
			in.Shifts = append(in.Shifts, instance.Shift{
				Technician: int32(t), Day: instance.Day(d), Start: d*day + 8*hour, End: d*day + 16*hour, Departed: instance.Far, LastSite: instance.None,
			})
		}
	}
	// Work that costs nothing when it is left: somebody may drive on to the site beside, so that half of 10 minutes is the part
	// of a drive.
	in.Items = append(items, work(func(i *instance.Item) { i.Site, i.LeftOut, i.Deferred = sites-1, 0, 0 }))
	return in
}

// work is an item of 20 minutes that costs 9,000 when it is not planned; change makes it another.
func work(change func(*instance.Item)) instance.Item {
	piece := instance.Piece{Takes: 20 * minute, Product: instance.None}
	item := instance.Item{
		Ways:    []instance.Way{{HeldIn: instance.None, Legs: []instance.Leg{{On: []bool{true, true, true, true, true, true}, Blocks: []instance.Block{{Pieces: []instance.Piece{piece}}}}}}},
		LeftOut: 9_000, Deferred: 9_000, Lo: 0, Hi: instance.Far, EndBy: instance.Far,
		Due: instance.Due{After: instance.None, Latest: instance.FarDay, Stands: instance.FarDay}, DeferredDay: 3,
	}
	if change != nil {
		change(&item)
	}
	return item
}

// on lets a leg be done by the first, the second technician.
func on(first, second bool) func(*instance.Item) {
	return func(i *instance.Item) {
		i.Ways[0].Legs[0].On = []bool{first, second, first, second, first, second}
	}
}

// The price of the cheaper technician's visit: 500, and 5 minutes of sign-in and half of 10 minutes in and out at 45.
const visit = 500 + 15*45

func TestOf_IsTheLeastOfASite(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		items []instance.Item
		want  instance.Cost
	}{
		{"the cheaper technician does it", []instance.Item{work(nil)}, visit + 20*45},
		{"only the dearer one may", []instance.Item{work(on(true, false))}, 500 + 35*75},
		{"two items of a site share a visit", []instance.Item{work(nil), work(nil)}, visit + 40*45},
		{"items of two sites do not", []instance.Item{work(nil), work(func(i *instance.Item) { i.Site = 1 })}, 2*visit + 40*45},
		{"a visit for one item is dearer than leaving it out", []instance.Item{work(func(i *instance.Item) { i.LeftOut, i.Deferred = 9_000, 2_000 })}, 2_000},
		{"for two it is not", []instance.Item{
			work(func(i *instance.Item) { i.Deferred = 2_000 }), work(func(i *instance.Item) { i.Deferred = 2_000 }),
		}, visit + 40*45},
		{"nobody may: deferring, with the price of the first day after", []instance.Item{
			work(func(i *instance.Item) { on(false, false)(i); i.Price = []instance.Cost{0, 10, 20, 30} }),
		}, 9_030},
		{"its window ends inside the horizon: it is left out, which is dearer", []instance.Item{
			work(func(i *instance.Item) { on(false, false)(i); i.Due.Stands, i.Deferred = 1, 100 }),
		}, 9_000},
		{"what lies past the horizon is not asked for", []instance.Item{work(func(i *instance.Item) { i.Outside = true })}, 0},
		{"it begins when it is too late for its first day", []instance.Item{
			work(func(i *instance.Item) { i.Lo = day; i.Price = []instance.Cost{0, 40, 90} }),
		}, visit + 20*45 + 40},
		{"its hours lie outside all shifts", []instance.Item{
			work(func(i *instance.Item) {
				i.Ways[0].Legs[0].Blocks[0].Pieces[0].Windows = []instance.Window{{From: 16 * hour, To: day + 8*hour}}
			}),
		}, 9_000},
		{"sanitation once a visit with infested plants", []instance.Item{
			work(func(i *instance.Item) { i.Ways[0].Legs[0].Blocks[0].Rank = instance.RankConfirmed }), work(nil),
		}, visit + 40*45 + 10*30},
	} {
		in := town(c.items...)
		in.Sanitation, in.Rates.SanitationMinute = 10*minute, 30
		if got := bound.Of(in); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// One that follows another by a day asks for a visit of its own; on the same day both share one.
func TestOf_ChainsAskForAVisitADay(t *testing.T) {
	t.Parallel()
	for lag, want := range map[instance.Day]instance.Cost{0: visit + 40*45, 1: 2*visit + 40*45} {
		if got := bound.Of(town(work(nil), work(follows(0, lag)))); got != want {
			t.Errorf("a lag of %d days: %d, want %d", lag, got, want)
		}
	}
}

func follows(item int32, lag instance.Day) func(*instance.Item) {
	return func(i *instance.Item) {
		i.Due = instance.Due{After: item, Earliest: lag, Latest: instance.FarDay, Stands: instance.FarDay}
	}
}

// What counts from an item that nobody can do shares its fate, and one that would lie behind the horizon is deferred.
func TestOf_NothingIsPlannedBehindWhatIsNot(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		change func(first, second *instance.Item)
		want   instance.Cost
	}{
		{"deferred with it", func(first, second *instance.Item) { on(false, false)(first); second.Deferred = 700 }, 9_000 + 700},
		{"left out with it", func(first, second *instance.Item) {
			on(false, false)(first)
			first.Due.Stands, first.LeftOut, second.LeftOut, second.Deferred = 2, 800, 900, 700
		}, 800 + 900},
		{"behind the horizon", func(_, second *instance.Item) { second.Due.Earliest, second.Deferred = 3, 700 }, visit + 20*45 + 700},
	} {
		first, second := work(nil), work(follows(0, 1))
		c.change(&first, &second)
		if got := bound.Of(town(first, second)); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// A service costs 600 more by another technician than the usual one and 200 on another weekday. Day 0 is a Monday (1).
func TestOf_ServicesKeepTheirTechnicianAndWeekdayOrPay(t *testing.T) {
	t.Parallel()
	const other, weekday = 600, 200
	for _, c := range []struct {
		name  string
		usual int32
		day   int8
		want  instance.Cost
	}{
		{"whoever, whenever", instance.None, -1, visit + 20*45},
		{"the usual one is the cheaper", 1, 1, visit + 20*45},
		{"the usual one is dearer by 30 for the 15 minutes of a visit", 0, 1, visit + 15*30 + 20*45},
		{"no shift on the usual weekday", 1, 5, visit + weekday + 20*45},
	} {
		in := town(work(func(i *instance.Item) { i.Service = true }))
		in.Rates.OtherTechnician, in.Rates.OtherWeekday = other, weekday
		in.Sites[0].Usual, in.Sites[0].UsualDay, in.Sites[0].Weekday0 = c.usual, c.day, 1
		if got := bound.Of(in); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// A shift over midnight may do on one visit what its days keep apart.
func TestOf_AVisitOverMidnightIsOne(t *testing.T) {
	t.Parallel()
	in := town(work(nil), work(follows(0, 1)))
	for t := range in.Shifts {
		in.Shifts[t].Start += 12 * hour
		in.Shifts[t].End += 12 * hour
	}
	if got, want := bound.Of(in), instance.Cost(visit+40*45); got != want {
		t.Errorf("two items either side of midnight: %d, want %d", got, want)
	}
}

// Where the cheaper technician has no time left the dearer one's pay counts, and where nobody has, what is not planned.
func TestOf_TimeIsBounded(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name         string
		items        int
		least, above instance.Cost
	}{
		// A visit with 450 minutes of work takes 465; three shifts of 480 minutes of the cheaper one hold no four of them.
		{"the fourth is the dearer one's", 4, 4*500 + 3*480*45 + (4*465-3*480)*75, 4*500 + 3*465*45 + 465*75},
		{"the seventh is not planned", 7, 300_000, 6*500 + 3*465*(45+75) + 200_000},
	} {
		var items []instance.Item
		for n := range c.items {
			items = append(items, work(func(i *instance.Item) {
				i.Site, i.LeftOut, i.Deferred = int32(n), 200_000, 200_000
				i.Ways[0].Legs[0].Blocks[0].Pieces[0].Takes = 450 * minute
			}))
		}
		in := town(items...)
		if got := bound.Of(in); got < c.least || got > c.above {
			t.Errorf("%s: %d, want %d to %d", c.name, got, c.least, c.above)
		}
	}
}

// A mix and its rinse count by the part of the largest filling that an application needs; a vessel with an open mix may hold
// enough already.
func TestOf_MixesAreShared(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		busy bool
		want instance.Cost
	}{{false, visit + 20*45 + 15*45/4}, {true, visit + 20*45}} {
		in := town(work(func(i *instance.Item) {
			piece := &i.Ways[0].Legs[0].Blocks[0].Pieces[0]
			piece.Product, piece.Need, piece.Application = 0, 250, true
		}))
		in.Mixing, in.Rinsing, in.MixLife = 10*minute, 5*minute, []instance.Seconds{0}
		for t := range in.Crew {
			in.Crew[t].Holds, in.Crew[t].Vessels = [][]int64{{1_000, 400}}, 2
		}
		for t := range in.Shifts {
			in.Shifts[t].Busy = []bool{false, c.busy}
		}
		if got := bound.Of(in); got != c.want {
			t.Errorf("busy %t: %d, want %d", c.busy, got, c.want)
		}
	}
}

// A visit that does not move is paid, and so is the time since a technician under way set out.
func TestOf_FactsArePaid(t *testing.T) {
	t.Parallel()
	in := town()
	in.Shifts[0].Fixed = []instance.FixedVisit{{Site: 0, Arrives: 10 * hour, Leaves: 11 * hour}}
	if got, want := bound.Of(in), instance.Cost(500+60*75); got != want {
		t.Errorf("a fixed visit: %d, want %d", got, want)
	}
	in.Shifts[1].Departed = in.Shifts[1].Start - 30*minute
	if got, want := bound.Of(in), instance.Cost(500+60*75+30*45); got != want {
		t.Errorf("with half an hour under way: %d, want %d", got, want)
	}
	in.Shifts[0].Fixed[0].Arrives = 8 * hour // before anybody can be there: nothing is added to that day
	if got, want := bound.Of(in), instance.Cost(30*45); got != want {
		t.Errorf("without a lawful walk: %d, want %d", got, want)
	}
}

// Sites bear 5 minutes of each drive, as they lie 10 from one another, so the base bears 15 of the 20 out and 15 of the 20 back. A
// shift of 480 minutes whose ends are no sites has 450 for visits beside those, which cost 30 minutes of pay: 35 minutes of a
// visit and its work bear 35/450 of them.
func TestOf_VisitsBearTheDrivesFromAndToTheBase(t *testing.T) {
	t.Parallel()
	in := town(work(nil))
	in.Sites = in.Sites[:sites]
	want := instance.Cost(visit + 20*45 + 30*45*35/450)
	if got := bound.Of(in); got < want-2 || got > want {
		t.Errorf("%d, want %d, or a little less where it is rounded", got, want)
	}
}

// carried is work of the first technician with a carry back of so many minutes by the second.
func carried(minutes instance.Seconds) func(*instance.Item) {
	return func(i *instance.Item) {
		on(true, false)(i)
		piece := i.Ways[0].Legs[0].Blocks[0].Pieces[0]
		piece.Takes = minutes * minute
		i.Ways[0].Legs = append(i.Ways[0].Legs, instance.Leg{
			On: []bool{false, true, false, true, false, true}, Blocks: []instance.Block{{Pieces: []instance.Piece{piece}}},
		})
	}
}

// The second leg of a way is paid at the least pay of those who may do it.
func TestOf_CarriesBackArePaid(t *testing.T) {
	t.Parallel()
	if got, want := bound.Of(town(work(carried(30)))), instance.Cost(500+35*75+30*45); got != want {
		t.Errorf("%d, want %d", got, want)
	}
}

// Three of four items fit into the first technician's shifts, and their carries back into the second's: the price on time counts
// the time of both, so that the bound stays below the plan that leaves the fourth out.
func TestOf_CarriesBackHaveTimeOfTheirOwn(t *testing.T) {
	t.Parallel()
	var items []instance.Item
	for n := range int32(4) {
		items = append(items, work(func(i *instance.Item) {
			i.Site, i.LeftOut, i.Deferred = n, 200_000, 200_000
			carried(100)(i)
			i.Ways[0].Legs[0].Blocks[0].Pieces[0].Takes = 450 * minute
		}))
	}
	const most = 3*(500+465*75+100*45) + 200_000
	if got := bound.Of(town(items...)); got > most || got < most/3 {
		t.Errorf("%d, want at most %d, and more than a third of it", got, most)
	}
}
