package anneal_test

import (
	"math"
	"os"
	"runtime"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler/internal/anneal"
	"vernation/scheduler/internal/route"
	"vernation/scheduler/internal/vrptw"
)

// published reads an instance; the sources of the files are named in package vrptw's tests.
func published(t testing.TB, name string) *vrptw.Instance {
	t.Helper()
	file, err := os.Open("../vrptw/testdata/" + name + ".txt")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	in, err := vrptw.Read(file)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// routesOf are the routes of a solution as the judge reads them.
func routesOf(s anneal.Solution) (routes [][]int) {
	for _, stops := range s.Routes {
		var route []int
		for _, stop := range stops {
			route = append(route, int(stop)+1)
		}
		if len(route) > 0 {
			routes = append(routes, route)
		}
	}
	return routes
}

// best are, by number of vehicles, the least costs that serve all stops, found by walking every order of every set of stops and
// then, as a dynamic programme over sets, every way to share them out. Vehicles are alike. It is exact, for eight stops or so.
func best(in *route.Instance) []int64 {
	all := 1<<len(in.Stops) - 1
	single := slices.Repeat([]int64{math.MaxInt64 / 4}, all+1)
	vehicle := in.Vehicles[0]
	var walk func(set int, at, now, load int32, cost int64)
	walk = func(set int, at, now, load int32, cost int64) {
		if now+in.Time[0][at*in.Places+vehicle.Base] <= vehicle.End && set > 0 {
			single[set] = min(single[set], cost+int64(in.Cost[0][at*in.Places+vehicle.Base]))
		}
		for u, stop := range in.Stops {
			begins := max(now+in.Time[0][at*in.Places+stop.Place], stop.Windows[0].From)
			if set>>u&1 == 0 && load+stop.Load <= vehicle.Capacity && begins <= stop.Windows[0].To {
				walk(set|1<<u, stop.Place, begins+stop.Takes, load+stop.Load, cost+int64(in.Cost[0][at*in.Places+stop.Place]))
			}
		}
	}
	walk(0, vehicle.From, vehicle.Start, 0, 0)
	least := slices.Repeat([]int64{math.MaxInt64 / 4}, all+1)
	least[0] = 0
	var byVehicles []int64
	for range in.Vehicles {
		next := slices.Clone(least)
		for set := 1; set <= all; set++ {
			for part := set; part > 0; part = (part - 1) & set {
				next[set] = min(next[set], least[set&^part]+single[part])
			}
		}
		least = next
		byVehicles = append(byVehicles, least[all])
	}
	return byVehicles
}

// first is an instance's first so many customers, with so many vehicles.
func first(in *vrptw.Instance, customers, vehicles int) *vrptw.Instance {
	return &vrptw.Instance{Name: in.Name, Vehicles: vehicles, Capacity: in.Capacity, Customers: in.Customers[:customers+1]}
}

func TestSolve_FirstEightOfR101CostWhatExactSolversFind(t *testing.T) {
	t.Parallel()
	// Four independent exact solvers agree on 2165 tenths for the first eight customers of R101 with four vehicles, arcs cut to
	// one decimal; the dynamic programme here is a fifth.
	in := first(published(t, "R101"), 8, 4).Compile(vrptw.Dimacs, 0)
	if exact := best(in); exact[3] != 2165 {
		t.Errorf("the dynamic programme finds %v by number of vehicles, want 2165 with 4", exact)
	}
	if found := anneal.Solve(in, anneal.Options{Seed: 1, Iterations: 2000}); found.Cost != 2165 || len(found.Out) > 0 {
		t.Errorf("found %+v, want a cost of 2165", found)
	}
}

// drawn draws a small instance in the manner of the published ones, at times one that cannot be served.
func drawn(t *rapid.T, most int) *vrptw.Instance {
	in := &vrptw.Instance{Vehicles: rapid.IntRange(1, 4).Draw(t, "vehicles"), Capacity: 20}
	number := func(name string, most int) float64 { return float64(rapid.IntRange(0, most).Draw(t, name)) }
	for c := range rapid.IntRange(2, most+1).Draw(t, "customers") {
		ready := number("ready", 80)
		customer := vrptw.Customer{X: number("x", 30), Y: number("y", 30), Demand: number("demand", 9), Ready: ready, Due: ready + number("width", 60), Service: number("service", 10)}
		if c == 0 {
			customer = vrptw.Customer{X: 15, Y: 15, Due: 160}
		}
		in.Customers = append(in.Customers, customer)
	}
	return in
}

func TestSolve_SmallInstancesCostWhatTheDynamicProgrammeFinds(t *testing.T) {
	t.Parallel()
	served := 0
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t, 7)
		compiled := in.Compile(vrptw.Dimacs, 0)
		exact := best(compiled)
		fewest := slices.IndexFunc(exact, func(cost int64) bool { return cost < math.MaxInt64/8 })
		if fewest < 0 {
			if found := anneal.Solve(compiled, anneal.Options{Seed: 1, Iterations: 500}); len(found.Out) == 0 {
				t.Fatalf("%+v serves what cannot be served", found)
			}
			return
		}
		served++
		if found := anneal.Solve(compiled, anneal.Options{Seed: 1, Iterations: 3000}); found.Cost != exact[len(exact)-1] {
			t.Fatalf("cost %d, the least is %d", found.Cost, exact[len(exact)-1])
		}
		found := anneal.Solve(compiled, anneal.Options{Seed: 1, Iterations: 3000, Fewest: true})
		if found.Vehicles() != fewest+1 || found.Cost != exact[fewest] {
			t.Fatalf("%d vehicles cost %d, the fewest are %d and cost %d", found.Vehicles(), found.Cost, fewest+1, exact[fewest])
		}
	})
	if served == 0 {
		t.Error("no instance drawn could be served")
	}
}

func TestSolve_EveryStopHasOnePlaceOrNoneAndTheJudgeAccepts(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t, 25)
		convention := rapid.SampledFrom([]vrptw.Convention{vrptw.Dimacs, vrptw.Double}).Draw(t, "convention")
		options := anneal.Options{Seed: rapid.Uint64().Draw(t, "seed"), Islands: rapid.IntRange(1, 3).Draw(t, "islands"), Iterations: 300, Fewest: rapid.Bool().Draw(t, "fewest")}
		found := anneal.Solve(in.Compile(convention, 0), options)
		var places, all []int32
		for _, stops := range append(found.Routes, found.Out) {
			places = append(places, stops...)
		}
		for stop := range in.Customers[1:] {
			all = append(all, int32(stop))
		}
		slices.Sort(places)
		if !slices.Equal(places, all) {
			t.Fatalf("stops %v, want each once of %d", places, len(all))
		}
		// The judge wants every customer served, so those that are out become customers of routes of their own, of an instance in
		// which that is possible: what is asked is whether the routes hold.
		easy := *in
		easy.Customers = slices.Clone(in.Customers)
		easy.Vehicles += len(found.Out)
		routes := routesOf(found)
		for _, out := range found.Out {
			easy.Customers[out+1] = vrptw.Customer{X: easy.Customers[0].X, Y: easy.Customers[0].Y, Due: 160}
			routes = append(routes, []int{int(out) + 1})
		}
		if _, err := easy.Judge(convention, routes); err != nil {
			t.Fatalf("%v: %v", routes, err)
		}
	})
}

func TestSolve_PublishedInstancesReachTheBestKnown(t *testing.T) {
	t.Parallel()
	// Distances: arcs cut to one decimal, proven optimal (12th DIMACS Implementation Challenge, as listed by
	// github.com/laser-ufpb/VRPTWController). Vehicles: the tables of best-known heuristic solutions kept by SINTEF, as listed by
	// github.com/VROOM-Project/vroom-scripts.
	for _, c := range []struct {
		name       string
		seed       uint64
		iterations int
		tenths     int64
		vehicles   int // 0: distance alone counts
	}{
		{"C101", 1, 5_000, 8273, 0},
		{"R101", 1, 50_000, 16377, 0},
		{"RC105", 2, 100_000, 15137, 0},
		{"C101", 1, 5_000, 8273, 10},
		{"R101", 1, 10_000, 0, 19},
		{"RC105", 1, 20_000, 0, 13},
	} {
		in := published(t, c.name)
		found := anneal.Solve(in.Compile(vrptw.Dimacs, 0), anneal.Options{Seed: c.seed, Islands: 2, Iterations: c.iterations, Fewest: c.vehicles > 0})
		if _, err := in.Judge(vrptw.Dimacs, routesOf(found)); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if c.tenths > 0 && found.Cost != c.tenths {
			t.Errorf("%s costs %d after %d iterations, best known is %d", c.name, found.Cost, c.iterations, c.tenths)
		}
		if c.vehicles > 0 && found.Vehicles() != c.vehicles {
			t.Errorf("%s takes %d vehicles after %d iterations, best known is %d", c.name, found.Vehicles(), c.iterations, c.vehicles)
		}
	}
}

func TestSolve_ALargeInstanceInPartsComesNearTheBestKnown(t *testing.T) {
	t.Parallel()
	// C1_4_1 of Gehring and Homberger, arcs cut to one decimal: 7138.8 is proven optimal (same source).
	in := published(t, "c1_4_1")
	found := anneal.Solve(in.Compile(vrptw.Dimacs, 0), anneal.Options{Seed: 1, Islands: 2, Iterations: 20_000})
	if _, err := in.Judge(vrptw.Dimacs, routesOf(found)); err != nil {
		t.Fatal(err)
	}
	if gap := float64(found.Cost)/71388 - 1; gap < 0 || gap > 0.01 {
		t.Errorf("cost %d is %.2f %% above the best known", found.Cost, 100*gap)
	}
}

// It changes the number of processors of the whole process, so that it does not run beside others.
func TestSolve_SameSeedAndIterationsGiveTheSameOnOneAndTwoCores(t *testing.T) {
	small, large := published(t, "RC105"), published(t, "c1_4_1")
	for _, options := range []anneal.Options{
		{Seed: 3, Islands: 3, Iterations: 2000},
		{Seed: 3, Islands: 2, Iterations: 2000, Fewest: true},
	} {
		for _, in := range []*vrptw.Instance{small, large} {
			var answers []anneal.Solution
			for _, cores := range []int{1, 2, 2} {
				before := runtime.GOMAXPROCS(cores)
				answers = append(answers, anneal.Solve(in.Compile(vrptw.Dimacs, 0), options))
				runtime.GOMAXPROCS(before)
			}
			for _, other := range answers[1:] {
				if diff := cmp.Diff(answers[0], other); diff != "" {
					t.Errorf("%s, %+v: %s", in.Name, options, diff)
				}
			}
			options.Seed++
			if other := anneal.Solve(in.Compile(vrptw.Dimacs, 0), options); cmp.Equal(answers[0].Routes, other.Routes) {
				t.Errorf("%s: another seed gives the same routes", in.Name)
			}
		}
	}
}

func TestSolution_CloneSharesNothing(t *testing.T) {
	t.Parallel()
	whole := anneal.Solution{Routes: [][]int32{{1, 2}, {}}, Out: []int32{3}, Cost: 7}
	clone := whole.Clone()
	clone.Routes[0][0], clone.Out[0] = 9, 9
	if whole.Routes[0][0] != 1 || whole.Out[0] != 3 || clone.Vehicles() != 1 || clone.Cost != 7 {
		t.Errorf("%+v, its clone %+v", whole, clone)
	}
}

func BenchmarkSolve_ThousandRounds(b *testing.B) {
	for _, name := range []string{"R101", "c1_4_1"} {
		in := published(b, name).Compile(vrptw.Dimacs, 0)
		b.Run(name, func(b *testing.B) {
			anneal.Solve(in, anneal.Options{Seed: 1, Iterations: 1000 * max(1, b.N)})
		})
	}
}
