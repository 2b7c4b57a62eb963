package travel_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler/travel"
)

// meanRadiusMetres is the published R1, written again so that a slip in the package shows.
const meanRadiusMetres = 6_371_008.7714

func TestDistance_AgreesWithPublishedExamples(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name         string
		from, to     travel.Position
		wantMetres   float64
		withinMetres float64
		source       string
	}{
		{
			// Printed for a sphere of 6371.0 km: 2886.444442837983 km; scaled to the mean radius.
			"Nashville to Los Angeles", travel.Position{36.12, -86.67}, travel.Position{33.94, -118.40},
			2_886_444.442837983 * meanRadiusMetres / 6_371_000, 0.01,
			"Rosetta Code, task \"Haversine formula\"",
		},
		{
			// 33 deg 57' N 118 deg 24' W to 40 deg 38' N 73 deg 47' W: printed 0.623585 radians, good to half of the last digit = 3.2 m.
			"Los Angeles to New York", travel.Position{33 + 57./60, -(118 + 24./60)}, travel.Position{40 + 38./60, -(73 + 47./60)},
			0.623585 * meanRadiusMetres, 3.2,
			"E. Williams, Aviation Formulary V1.46, worked examples",
		},
		{
			// A quarter of a great circle is pi/2 radii, whatever the formula.
			"equator to pole", travel.Position{0, 12}, travel.Position{90, -50}, math.Pi / 2 * meanRadiusMetres, 0.001, "definition of the radian",
		},
		{"antipodes", travel.Position{30, 20}, travel.Position{-30, -160}, math.Pi * meanRadiusMetres, 1, "definition of the radian"},
		{"over the date line", travel.Position{0, 179.5}, travel.Position{0, -179.5}, math.Pi / 180 * meanRadiusMetres, 0.001, "definition of the degree"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if got := travel.Distance(c.from, c.to); math.Abs(got-c.wantMetres) > c.withinMetres {
				t.Errorf("Distance = %.3f m, want %.3f within %g (%s)", got, c.wantMetres, c.withinMetres, c.source)
			}
		})
	}
}

func TestGreatCircle_CountsDetourAndSpeed(t *testing.T) {
	t.Parallel()
	// One degree of longitude on the equator is 6371008.7714 * pi/180 = 111195.08 m.
	// 130 % of it is 144553.6 m, up to 144554 m; at 40 km/h that is 144554 * 3.6 / 40 = 13009.86 s, up to 13010 s.
	places := []travel.Place{{"base", travel.Position{0, 0}}, {"site", travel.Position{0, 1}}}
	got := travel.GreatCircle{DetourPercent: 130, SpeedKMH: 40}.Matrix(places)
	want := travel.Matrix{
		Places:  []travel.PlaceID{"base", "site"},
		Seconds: []int32{0, 13_010, 13_010, 0},
		Metres:  []int32{0, 144_554, 144_554, 0},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if seconds, metres, ok := got.Between("site", "base"); seconds != 13_010 || metres != 144_554 || !ok {
		t.Errorf("Between = %d, %d, %v", seconds, metres, ok)
	}
	got.Metres = nil
	if seconds, metres, ok := got.Between("site", "base"); seconds != 13_010 || metres != 0 || !ok {
		t.Errorf("Between without metres = %d, %d, %v", seconds, metres, ok)
	}
	if _, _, ok := got.Between("site", "nowhere"); ok {
		t.Error("Between knows a place that is not in the matrix")
	}
}

func TestGreatCircle_MakesMetricMatrices(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		places := rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) travel.Place {
			return travel.Place{
				ID: travel.PlaceID(rapid.StringMatching(`[a-z]{1,6}`).Draw(t, "id")),
				Position: travel.Position{
					Latitude:  rapid.Float64Range(-90, 90).Draw(t, "latitude"),
					Longitude: rapid.Float64Range(-180, 180).Draw(t, "longitude"),
				},
			}
		}), 0, 6, func(p travel.Place) travel.PlaceID { return p.ID }).Draw(t, "places")
		m := travel.GreatCircle{
			DetourPercent: rapid.IntRange(travel.MinDetourPercent, travel.MaxDetourPercent).Draw(t, "detour"),
			SpeedKMH:      rapid.IntRange(1, travel.MaxSpeedKMH).Draw(t, "speed"),
		}.Matrix(places)
		if wrong := m.Validate(); wrong != nil {
			t.Fatal(wrong)
		}
		n := len(places)
		for i := range n * n * n {
			a, b, c := i/(n*n), i/n%n, i%n
			if m.Metres[a*n+b] != m.Metres[b*n+a] || m.Seconds[a*n+b] != m.Seconds[b*n+a] {
				t.Fatalf("there and back differ between %d and %d", a, b)
			}
			// A whole metre of slack: on a sphere of floats a detour over a point of the way itself may come out a hair shorter.
			if m.Metres[a*n+c] > m.Metres[a*n+b]+m.Metres[b*n+c]+1 {
				t.Fatalf("a detour over %d is shorter than the way from %d to %d", b, a, c)
			}
		}
	})
}

func TestMatrix_ValidateNamesTheEntry(t *testing.T) {
	t.Parallel()
	good := func() travel.Matrix {
		return travel.Matrix{Places: []travel.PlaceID{"a", "b"}, Seconds: []int32{0, 60, 90, 0}, Metres: []int32{0, 500, 700, 0}}
	}
	for _, c := range []struct {
		name         string
		spoil        func(*travel.Matrix)
		path, reason string
	}{
		{"place twice", func(m *travel.Matrix) { m.Places[1] = "a" }, "places[1]", "PLACE_TWICE"},
		{"place without id", func(m *travel.Matrix) { m.Places[0] = "" }, "places[0]", "PLACE_MISSING"},
		{"seconds too few", func(m *travel.Matrix) { m.Seconds = m.Seconds[:3] }, "seconds", "LENGTH"},
		{"metres missing", func(m *travel.Matrix) { m.Metres = nil }, "metres", "LENGTH"},
		{"negative seconds", func(m *travel.Matrix) { m.Seconds[2] = -1 }, "seconds[2]", "NEGATIVE"},
		{"way to itself", func(m *travel.Matrix) { m.Metres[3] = 4 }, "metres[3]", "DIAGONAL"},
		{"too many", func(m *travel.Matrix) { m.Places = make([]travel.PlaceID, travel.MaxPlaces+1) }, "places", "PLACES_TOO_MANY"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m := good()
			c.spoil(&m)
			wrong := m.Validate()
			if len(wrong) != 1 || wrong[0].Path != c.path || wrong[0].Reason != c.reason || wrong[0].Text == "" {
				t.Errorf("Validate = %v, want one %s at %s", wrong, c.reason, c.path)
			}
		})
	}
	if wrong := good().Validate(); wrong != nil {
		t.Errorf("an asymmetric matrix is refused: %v", wrong)
	}
	if wrong := (travel.Matrix{}).Validate(); wrong != nil {
		t.Errorf("an empty matrix is refused: %v", wrong)
	}
}

func TestPosition_Validate(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		in   travel.Position
		ok   bool
	}{
		{"town", travel.Position{40.44, -79.99}, true},
		{"corner of the map", travel.Position{-90, 180}, true},
		{"past the pole", travel.Position{90.0001, 0}, false},
		{"past the date line", travel.Position{0, -180.0001}, false},
		{"no number", travel.Position{math.NaN(), 0}, false},
		{"no number east", travel.Position{0, math.NaN()}, false},
		{"infinite", travel.Position{0, math.Inf(1)}, false},
	} {
		if err := c.in.Validate(); (err == nil) != c.ok {
			t.Errorf("%s: Validate(%v) = %v", c.name, c.in, err)
		}
	}
}

func TestGreatCircle_RefusesAbsurdEstimates(t *testing.T) {
	t.Parallel()
	for _, g := range []travel.GreatCircle{{99, 40}, {501, 40}, {130, 0}, {130, 201}} {
		if g.Validate() == nil {
			t.Errorf("Validate allows %+v", g)
		}
	}
	// The bounds hold what their comment says: no overflow at the worst.
	worst := travel.GreatCircle{DetourPercent: travel.MaxDetourPercent, SpeedKMH: 1}
	m := worst.Matrix([]travel.Place{{"here", travel.Position{0, 0}}, {"there", travel.Position{0, 180}}})
	if m.Seconds[1] <= 0 || m.Metres[1] <= 0 {
		t.Errorf("half around the earth overflows: %+v", m)
	}
}
