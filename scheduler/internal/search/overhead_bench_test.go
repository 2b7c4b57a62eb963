package search_test

import (
	"math"
	"math/rand/v2"
	"syscall"
	"testing"
	"time"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/search"
)

// What is switched on in an instance of rounds: none of it binds, but that of courses.
type on int

const (
	plain   on = iota // windows of days, travel, breaks and prices
	ruled             // keep-outs where nobody is, several windows, lags that the days keep anyway, mixes of long life, caps far away
	courses           // days count from the look before as well, which moves and goes with it
)

const (
	hour       = instance.Seconds(3600)
	day        = 24 * hour
	weekDays   = 5
	places     = 61 // the base and one for each site
	crew       = 4
	servicesOf = 5 // services, and cases of a look and two applications, at each site
	casesOf    = 1
)

// BenchmarkOverhead tells what the hard rules cost where they do not bind: rounds a second of processor time on the same rounds,
// plain and with rules switched on, and how many percent of them the rules take. The plans of both are the same.
//
//	go test -run '^$' -bench Overhead ./scheduler/internal/search
func BenchmarkOverhead(b *testing.B) {
	rounds := 2000
	if testing.Short() {
		rounds = 50
	}
	var spent [courses + 1]time.Duration
	var costs [courses + 1]int64
	for b.Loop() {
		for o := plain; o <= courses; o++ {
			in := rounds60(o)
			began := processor(b)
			answer := search.Run(in, search.Limits{Seed: 1, Iterations: rounds})
			spent[o] += processor(b) - began
			costs[o] = int64(answer.State.Planned())
		}
	}
	if costs[plain] != costs[ruled] {
		b.Errorf("with rules that do not bind the plan costs %d, without %d: they do bind", costs[ruled], costs[plain])
	}
	rate := func(o on) float64 { return float64(rounds*b.N) / spent[o].Seconds() }
	b.ReportMetric(rate(plain), "plain/s")
	b.ReportMetric(rate(ruled), "ruled/s")
	b.ReportMetric(rate(courses), "courses/s")
	b.ReportMetric(100*(1-rate(ruled)/rate(plain)), "ruled-lost-%")
	b.ReportMetric(100*(1-rate(courses)/rate(plain)), "courses-lost-%")
}

// processor is the time that the process has spent computing.
func processor(b *testing.B) time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// rounds60 is a week of four technicians at 60 sites around a base: 300 services and 180 items of 60 cases, all invented.
func rounds60(o on) *instance.Instance {
	random := rand.New(rand.NewPCG(60, 60))
	in := &instance.Instance{
		Places: places, LastDay: weekDays - 1, BreakAfter: 6 * hour, MostWork: 10 * hour, MixLife: []instance.Seconds{day, day},
		Rates: instance.Rates{VehicleMinute: 40, Visit: 450, OtherTechnician: 300, SanitationMinute: 30, UnevenMinute: 1},
	}
	var travel []instance.Seconds
	var x, y [places]float64
	for p := range places {
		x[p], y[p] = 1200*random.Float64(), 1200*random.Float64()
	}
	for from := range places {
		for to := range places {
			travel = append(travel, instance.Seconds(math.Hypot(x[from]-x[to], y[from]-y[to])))
		}
	}
	for t := range int32(crew) {
		in.Crew = append(in.Crew, instance.Technician{PaidPerMinute: 50, Vessels: 2, Holds: [][]int64{{1 << 40, 1 << 40}, {1 << 40, 1 << 40}}})
		in.Travel = append(in.Travel, travel)
		for d := range instance.Day(weekDays) {
			start := instance.Seconds(d)*day + 7*hour
			in.Shifts = append(in.Shifts, instance.Shift{
				Technician: t, Day: d, Start: start, End: start + 9*hour, Departed: instance.Far, LastSite: instance.None, Busy: make([]bool, 2),
				BreakWindow: instance.Window{From: start + 3*hour, To: start + 7*hour}, BreakTakes: hour / 2,
			})
		}
	}
	for s := range int32(places - 1) {
		addSite(in, s, o, random)
	}
	return in
}

// daily is the same hours of every day.
func daily(from, to instance.Seconds) (windows []instance.Window) {
	for d := range instance.Seconds(weekDays) {
		windows = append(windows, instance.Window{From: d*day + from, To: d*day + to})
	}
	return windows
}

// addSite adds a site with the work there.
func addSite(in *instance.Instance, number int32, o on, random *rand.Rand) {
	site := instance.Site{Place: number + 1, SignIn: 4 * 60, WaterArea: instance.None, Usual: number % crew, UsualDay: -1, Access: []instance.Window{{From: 0, To: weekDays * day}}}
	for d := range instance.Seconds(weekDays + 2) {
		site.Midnights = append(site.Midnights, d*day)
	}
	if o >= ruled {
		site.Access = daily(hour, 23*hour)
	}
	in.Sites = append(in.Sites, site)
	first := int32(len(in.Areas)) // of all routine work; each follow-up has an area of its own behind it
	for k := range int32(1 + 3*casesOf) {
		area := instance.Area{Site: number, Shuts: []int32{first + k}}
		if o >= ruled {
			area.People, area.Aired = daily(23*hour, 24*hour), daily(8*hour, 18*hour)
		}
		in.Areas = append(in.Areas, area)
	}
	var services []int32
	for range servicesOf {
		from := instance.Day(random.IntN(2))
		services = append(services, addItem(in, number, o, from, from+3, instance.Block{Class: instance.ClassService, Area: first}, 300+instance.Seconds(random.IntN(900))))
		in.Items[len(in.Items)-1].Service = true
	}
	for k := range int32(casesOf) {
		var all [3]int32
		for step := range int32(3) {
			block := instance.Block{Class: instance.ClassInspection, Rank: instance.RankConfirmed, Area: first + 1 + 3*k + step}
			if step > 0 {
				block.Class = instance.ClassApplication
			}
			from := []instance.Day{0, 2, 4}[step]
			all[step] = addItem(in, number, o, from, min(from+1, weekDays-1), block, 300+instance.Seconds(random.IntN(1200)))
		}
		if o >= ruled {
			applyRules(in, all)
			for _, service := range services {
				spare(in, service, all[0])
			}
		}
		if o >= courses {
			count(in, all)
		}
	}
}

// addItem adds an item of one piece with its days.
func addItem(in *instance.Instance, site int32, o on, from, to instance.Day, block instance.Block, takes instance.Seconds) int32 {
	piece := instance.Piece{Area: block.Area, Takes: takes, Product: instance.None}
	if o >= ruled {
		piece.Windows = daily(hour, 23*hour)
	}
	block.Pieces = []instance.Piece{piece}
	every := make([]bool, len(in.Shifts))
	for t := range every {
		every[t] = true
	}
	in.Items = append(in.Items, instance.Item{
		Site: site, Price: []instance.Cost{0, 100, 250, 500}, LeftOut: 8000, Deferred: 8000, Hi: instance.Far, EndBy: instance.Far,
		Due:  instance.Due{After: instance.None, Earliest: from, Latest: to, Stands: to},
		Ways: []instance.Way{{Legs: []instance.Leg{{Blocks: []instance.Block{block}, On: every}}, HeldIn: instance.None}},
	})
	return int32(len(in.Items) - 1)
}

// applyRules lets a case's applications shut their areas, draw on mixes and count towards caps, and joins all by lags that their days keep.
func applyRules(in *instance.Instance, all [3]int32) {
	for step, item := range all {
		if step == 0 {
			continue
		}
		way := &in.Items[item].Ways[0]
		piece := &way.Legs[0].Blocks[0].Pieces[0]
		piece.Application, piece.KeepOut, piece.Unaired = true, 4*hour, 6*hour
		piece.Product, piece.Need = int32(step-1), 1<<20
		way.Wet = []int32{int32(len(in.Plants))}
		way.Caps = []instance.Cap{{Key: all[1], Plant: way.Wet[0], InRow: 9, AYear: 20, History: []instance.Day{-40, -30, -20}, Other: []instance.Day{-25}}}
		bond(in, instance.Bond{Kind: instance.DaysApart, From: all[step-1], To: item, Days: 1})
		bond(in, instance.Bond{Kind: instance.EndToBegin, From: all[step-1], To: item, Seconds: hour})
	}
	in.Plants = append(in.Plants, instance.Plant{Count: 3, DryFrom: instance.FarDay, DryLag: instance.FarDay})
	bond(in, instance.Bond{Kind: instance.NeverClose, From: all[1], To: all[2], Days: 1, WayFrom: 0, WayTo: 0})
	bond(in, instance.Bond{Kind: instance.Together, From: all[1], To: all[2]})
}

// spare lets a follow-up take plants out of a service where both are on one day; that they take no minutes leaves all as it is.
func spare(in *instance.Instance, service, by int32) {
	piece := &in.Items[service].Ways[0].Legs[0].Blocks[0].Pieces[0]
	if piece.Groups == nil {
		piece.Groups = []instance.Group{{Plant: int32(len(in.Plants) - 1), Takes: piece.Takes}, {Plant: int32(len(in.Plants) - 1)}}
	}
	piece.Groups[1].ReplacedBy = append(piece.Groups[1].ReplacedBy, by)
}

// count lets the days of each application count from the look or application before it.
func count(in *instance.Instance, all [3]int32) {
	for step, item := range all {
		if step == 0 {
			continue
		}
		in.Items[item].Due = instance.Due{After: all[step-1], Earliest: 1, Latest: 3, Stands: 4}
		in.Items[item].Before = []instance.Predecessor{{Item: all[step-1], Hard: true}}
		bond(in, instance.Bond{Kind: instance.DueAfter, From: all[step-1], To: item})
	}
}

// bond joins two items.
func bond(in *instance.Instance, b instance.Bond) {
	in.Items[b.From].Bonds = append(in.Items[b.From].Bonds, b)
	in.Items[b.To].Bonds = append(in.Items[b.To].Bonds, b)
}
