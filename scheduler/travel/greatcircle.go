package travel

import (
	"fmt"
	"math"
)

// meanEarthRadiusMetres is R1 = (2a+b)/3 of the GRS 80 ellipsoid: H. Moritz, "Geodetic Reference System 1980",
// Journal of Geodesy 74:128-133 (2000).
const meanEarthRadiusMetres = 6_371_008.7714

// GreatCircle estimates travel by the shortest way over a sphere, lengthened by a factor and driven at one speed.
// It knows no road: a river, a one-way street and the hour of the day are outside it.
type GreatCircle struct {
	DetourPercent int `json:"detour_percent"` // 130 makes ten straight kilometres thirteen
	SpeedKMH      int `json:"speed_kmh"`      // kilometres an hour, stops at lights included
}

// Bounds of a GreatCircle. Within them no entry of a matrix overflows: half the earth's circumference
// of 20,016 km, five times lengthened, at 1 km/h is under 2^31 seconds.
const (
	MinDetourPercent = 100
	MaxDetourPercent = 500
	MaxSpeedKMH      = 200
)

// Validate says what is wrong with the estimate, or nil.
func (g GreatCircle) Validate() error {
	switch {
	case g.DetourPercent < MinDetourPercent || g.DetourPercent > MaxDetourPercent:
		return fmt.Errorf("detour of %d percent: want %d (straight) to %d", g.DetourPercent, MinDetourPercent, MaxDetourPercent)
	case g.SpeedKMH < 1 || g.SpeedKMH > MaxSpeedKMH:
		return fmt.Errorf("speed of %d km/h: want 1 to %d", g.SpeedKMH, MaxSpeedKMH)
	}
	return nil
}

// Matrix returns travel between all pairs of the places, in their order, rounded up to whole metres and seconds,
// so that rounding never makes a detour over a third place shorter than the direct way. It panics when the
// estimate or a position is not valid: both were checked where they came in.
func (g GreatCircle) Matrix(places []Place) Matrix {
	if err := g.Validate(); err != nil {
		panic("travel: " + err.Error())
	}
	n := len(places)
	m := Matrix{Places: make([]PlaceID, n), Seconds: make([]int32, n*n), Metres: make([]int32, n*n)}
	for i, place := range places {
		if err := place.Position.Validate(); err != nil {
			panic(fmt.Sprintf("travel: place %q: %v", place.ID, err))
		}
		m.Places[i] = place.ID
		for j, earlier := range places[:i] {
			metres := math.Ceil(Distance(place.Position, earlier.Position) * float64(g.DetourPercent) / 100)
			seconds := (int64(metres)*36 + int64(g.SpeedKMH)*10 - 1) / (int64(g.SpeedKMH) * 10)
			m.Metres[i*n+j], m.Metres[j*n+i] = int32(metres), int32(metres)
			m.Seconds[i*n+j], m.Seconds[j*n+i] = int32(seconds), int32(seconds)
		}
	}
	return m
}

// Distance returns the metres from one position to another along the great circle, on a sphere of the
// earth's mean radius, by the haversine formula (R. W. Sinnott, "Virtues of the Haversine", Sky and
// Telescope 68:159, 1984). The sphere is off the ellipsoid by about half a percent at most.
func Distance(from, to Position) float64 {
	const radian = math.Pi / 180
	north, east := (to.Latitude-from.Latitude)*radian, (to.Longitude-from.Longitude)*radian
	h := square(math.Sin(north/2)) + math.Cos(from.Latitude*radian)*math.Cos(to.Latitude*radian)*square(math.Sin(east/2))
	return 2 * meanEarthRadiusMetres * math.Asin(math.Sqrt(min(1, h))) // h may pass 1 by rounding, for antipodes
}

func square(x float64) float64 { return x * x }
