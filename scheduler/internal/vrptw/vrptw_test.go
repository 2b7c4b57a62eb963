package vrptw_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"vernation/scheduler/internal/vrptw"
)

// The files of testdata are published: R101, C101 and RC105 of M. M. Solomon, Operations Research 35 (1987) 254-265, and C1_4_1 of
// H. Gehring and J. Homberger, EUROGEN99 (1999) 57-64, as github.com/VROOM-Project/vroom-scripts redistributes them.
func published(t testing.TB, name string) *vrptw.Instance {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", name+".txt"))
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

// The depot at (0, 0) is open from 0 to 100; three customers of demand 2 lie at (3, 4), (6, 8) and (0, 7) and take 10 each.
const three = `three

VEHICLE
NUMBER     CAPACITY
  2          4

CUSTOMER
CUST NO.  XCOORD.  YCOORD.  DEMAND  READY TIME  DUE DATE  SERVICE TIME

 0  0  0  0   0  100   0
 1  3  4  2  10   20  10
 2  6  8  2   0   60  10
 3  0  7  2  50   90  10
`

func read(t testing.TB, text string) *vrptw.Instance {
	t.Helper()
	in, err := vrptw.Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func TestRead_PublishedFilesAreReadWhole(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name               string
		customers, fleet   int
		capacity           float64
		first, last, depot vrptw.Customer
	}{
		{"R101", 100, 25, 200, vrptw.Customer{41, 49, 10, 161, 171, 10}, vrptw.Customer{18, 18, 17, 185, 195, 10}, vrptw.Customer{35, 35, 0, 0, 230, 0}},
		{"c1_4_1", 400, 100, 200, vrptw.Customer{}, vrptw.Customer{}, vrptw.Customer{}},
	} {
		in := published(t, c.name)
		if len(in.Customers) != c.customers+1 || in.Vehicles != c.fleet || in.Capacity != c.capacity {
			t.Errorf("%s: %d customers, %d vehicles of %g", c.name, len(in.Customers)-1, in.Vehicles, in.Capacity)
		}
		if c.depot != (vrptw.Customer{}) && (in.Customers[0] != c.depot || in.Customers[1] != c.first || in.Customers[100] != c.last) {
			t.Errorf("%s: depot %v, first %v, last %v", c.name, in.Customers[0], in.Customers[1], in.Customers[100])
		}
	}
}

func TestRead_WhatIsWrongIsRefusedWithItsLine(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, old, new, want string }{
		{"nothing", three, "", "are missing"},
		{"no customers", three, "three\n 2 4\n 0 0 0 0 0 100 0\n", "are missing"},
		{"customers before the fleet", "  2          4\n", "\n", "line 10: [0 0 0 0 0 100 0]: want vehicles"},
		{"no vehicle", "  2          4\n", "  0  4\n", "line 5: [0 4]: want vehicles (1 or more)"},
		{"half a vehicle", "  2          4\n", "  1.5  4\n", "whole numbers"},
		{"a row too short", " 2  6  8  2   0   60  10", " 2  6  8  2   0   60", "line 12: 6 numbers: want 7"},
		{"a row too long", " 2  6  8  2   0   60  10", " 2  6  8  2   0   60  10 1", "line 12: 8 numbers: want 7"},
		{"a word in a row", " 2  6  8  2   0   60  10", " 2  6  x  2   0   60  10", "line 12: \"x\": want a number"},
		{"a heading among the rows", " 2  6  8  2   0   60  10", "CUSTOMER", "line 12: \"CUSTOMER\": want a number"},
		{"a last row that is no number", " 3  0  7", "x3  0  7", "line 13: \"x3\""},
		{"no number", "60", "NaN", "line 12: \"NaN\""},
		{"no end", "60", "Inf", "line 12: \"Inf\""},
		{"too late", "60", "50001", "line 12: \"50001\": want a number of at most 50000"},
		{"too far", " 2  6  8", " 2  6  20001", "want coordinates of at most 20000"},
		{"a customer missing", " 2  6  8", " 3  6  8", "line 12: customer 3: want 2 next"},
		{"a customer twice", " 2  6  8", " 1  6  8", "line 12: customer 1: want 2 next"},
		{"half a demand", " 2  6  8  2", " 2  6  8  2.5", "demand of 2.5: want a whole number"},
		{"less than no demand", " 2  6  8  2", " 2  6  8  -2", "demand of -2"},
		{"due before ready", "0   60", "61   60", "ready at 61, due at 60"},
		{"ready before the beginning", "0   60", "-1   60", "want 0 <= ready"},
		{"less than no service", "60  10", "60  -10", "service not below 0"},
		{"a line without end", three, "three\n" + strings.Repeat("1", 1<<17), "read instance"},
	} {
		text := strings.Replace(three, c.old, c.new, 1)
		if text == three {
			t.Fatalf("%s: nothing is changed", c.name)
		}
		if _, err := vrptw.Read(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want an error with %q", c.name, err, c.want)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(three)
	f.Add("name\n1 1\n0 0 0 0 0 0 0\n1 20000 -20000 50000 0 50000 50000\n")
	f.Add("name\n1e1 2e0\n0 .5 0x1p4 0 0 1e2 0\n1 0 0 0 0 1 1_0\n")
	f.Fuzz(func(t *testing.T, text string) {
		in, err := vrptw.Read(strings.NewReader(text))
		if err != nil || len(in.Customers) > 40 {
			return
		}
		// What is read can be searched, and what is found and whole is accepted by the judge.
		for _, c := range []vrptw.Convention{vrptw.Dimacs, vrptw.Double} {
			answer := vrptw.Solve(in, vrptw.Options{Convention: c, Iterations: 64})
			served := 0
			for _, route := range answer.Routes {
				served += len(route)
			}
			if _, err := in.Judge(c, answer.Routes); err != nil && served == len(in.Customers)-1 {
				t.Errorf("%s: routes %v: %v", c, answer.Routes, err)
			}
		}
	})
}

func TestJudge_LengthsAndTimesByHand(t *testing.T) {
	t.Parallel()
	// 0-1 is 5, 1-2 is 5, 2-0 is 10; 0-3 is 7 there and back. 1 is begun at 10 (ready), left at 20; 2 from 25 to 35; back at 45.
	got, err := read(t, three).Judge(vrptw.Double, [][]int{{1, 2}, {3}})
	if err != nil || got != 34 {
		t.Errorf("length %g, %v; want 34", got, err)
	}
	// From (0, 0) to (1, 1) are 1.41421...: cut to 1.4 it is due at 1.4 and there in time; in double precision it is late.
	in := read(t, "cut\n1 1\n0 0 0 0 0 10 0\n1 1 1 1 0 1.4 0\n")
	if got, err := in.Judge(vrptw.Dimacs, [][]int{{1}}); err != nil || math.Abs(got-2.8) > 1e-12 {
		t.Errorf("dimacs: length %g, %v; want 2.8", got, err)
	}
	if _, err := in.Judge(vrptw.Double, [][]int{{1}}); err == nil {
		t.Error("double: a beginning at 1.414 is accepted where 1.4 is due")
	}
}

func TestJudge_EachWrongAnswerIsRefused(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		change [2]string // of the instance
		routes [][]int
		want   string
	}{
		{"one is missing", [2]string{}, [][]int{{1, 2}}, "customer 3 is not served"},
		{"one twice", [2]string{}, [][]int{{1, 2}, {3, 1}}, "route 2: customer 1 is served already"},
		{"one unknown", [2]string{}, [][]int{{1, 2}, {3, 4}}, "route 2: customer 4 is unknown"},
		{"the depot as a customer", [2]string{}, [][]int{{1, 0, 2}, {3}}, "route 1: customer 0 is unknown"},
		{"too many routes", [2]string{}, [][]int{{1}, {2}, {3}}, "3 routes: there are 2"},
		{"late at a customer", [2]string{}, [][]int{{2, 1}, {3}}, "customer 1 is begun at 25.0000, due is 20.0000"},
		{"late at the depot", [2]string{"0  100   0", "0  60   0"}, [][]int{{1, 2}, {3}}, "route 2: back at 67.0000, due is 60.0000"},
		{"too great a load", [2]string{"  2          4", "  2  3"}, [][]int{{1, 2}, {3}}, "route 1: a load of 4, the capacity is 3"},
	} {
		text := three
		if c.change[0] != "" {
			text = strings.Replace(text, c.change[0], c.change[1], 1)
		}
		if _, err := read(t, text).Judge(vrptw.Double, c.routes); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want an error with %q", c.name, err, c.want)
		}
	}
}

func TestDistance_WholeLengthsLoseNoTenth(t *testing.T) {
	t.Parallel()
	for x := range 60 {
		for y := range 60 {
			in := &vrptw.Instance{Customers: []vrptw.Customer{{}, {X: float64(x), Y: float64(y)}}}
			tenths := 0 // the greatest whole number of tenths whose square is not above 100 (x² + y²)
			for (tenths+1)*(tenths+1) <= 100*(x*x+y*y) {
				tenths++
			}
			if got := in.Distance(vrptw.Dimacs, 0, 1); got != float64(tenths)/10 {
				t.Fatalf("(%d, %d) lies at %v, want %v", x, y, got, float64(tenths)/10)
			}
		}
	}
}

func TestWrite_RoutesOneALineThenTheCost(t *testing.T) {
	t.Parallel()
	answer := vrptw.Answer{Routes: [][]int{{5, 3, 7}, {1}}, Cost: 827.25}
	for convention, want := range map[vrptw.Convention]string{vrptw.Dimacs: "Cost 827.2\n", vrptw.Double: "Cost 827.25\n"} {
		var b bytes.Buffer
		if err := answer.Write(&b, convention); err != nil || b.String() != "Route #1: 5 3 7\nRoute #2: 1\n"+want {
			t.Errorf("%s: %v, %q", convention, err, b.String())
		}
	}
}

func TestSolve_SmallInstancesAreServed(t *testing.T) {
	t.Parallel()
	answer := vrptw.Solve(read(t, three), vrptw.Options{Convention: vrptw.Double, Iterations: 1000})
	// 0-1-0 is 10, 0-2-3-0 is 10 + sqrt(37) + 7: less than the 34 of 0-1-2-0 and 0-3-0.
	want := vrptw.Answer{Routes: [][]int{{1}, {2, 3}}, Cost: 27 + math.Sqrt(37)}
	if diff := cmp.Diff(want, answer, cmpopts.EquateApprox(0, 1e-9)); diff != "" {
		t.Error(diff)
	}
	// One vehicle cannot carry three: what is left out is told by the judge.
	in := read(t, strings.Replace(three, "  2          4", "  1  4", 1))
	answer = vrptw.Solve(in, vrptw.Options{Convention: vrptw.Double, Iterations: 1000})
	if _, err := in.Judge(vrptw.Double, answer.Routes); err == nil || !strings.Contains(err.Error(), "is not served") {
		t.Errorf("%+v: %v", answer, err)
	}
}
