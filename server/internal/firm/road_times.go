package firm

import (
	"math"

	"vernation/scheduler/civil"
	"vernation/scheduler/travel"
)

// RoadPoint is a position in hundred-thousandths of a degree (WGS 84), 1.1 m or less: as near as road times are asked for.
type RoadPoint struct {
	Latitude, Longitude int32
}

// RoadPointOf rounds a position to the nearest point.
func RoadPointOf(p travel.Position) RoadPoint {
	return RoadPoint{Latitude: int32(math.Round(p.Latitude * pointsPerDegree)), Longitude: int32(math.Round(p.Longitude * pointsPerDegree))}
}

const pointsPerDegree = 100_000

// Degrees returns the point in degrees.
func (p RoadPoint) Degrees() (latitude, longitude float64) {
	return float64(p.Latitude) / pointsPerDegree, float64(p.Longitude) / pointsPerDegree
}

// RoadTime is how long and how far it is by road from one point to another.
type RoadTime struct {
	Seconds, Metres int32
}

// NoRoad stands where a matrix service was asked and knows no way by road.
var NoRoad = RoadTime{Seconds: -1, Metres: -1}

// RoadTimes are the road times from one point to others, as a matrix service told them and a business keeps them.
type RoadTimes struct {
	From RoadPoint
	// Provider names the service that told them, and how it was asked.
	Provider string
	// Attribution is the notice that the service's data ask for.
	Attribution string
	// AskedAt is when the first of them was told; by the firm's clock.
	AskedAt civil.Instant
	// To and Times are as long as one another.
	To    []RoadPoint
	Times []RoadTime
}

// TravelSource says where the travel times of a plan come from.
type TravelSource struct {
	// Provider names the matrix service that told road times; "" where the great circle alone estimates them.
	Provider string `json:"provider,omitempty"`
	// Attribution is the notice that the service's data ask for, to be shown with the plan.
	Attribution string `json:"attribution,omitempty"`
	// AskedAt is when the oldest of the road times was told; by the firm's clock.
	AskedAt civil.Instant `json:"asked_at,omitempty"`
	// Ways counts the ways between different places, there and back apart; Estimated those of them that the great circle
	// estimates, and NoRoad those estimated because the service knows no road.
	Ways      int `json:"ways"`
	Estimated int `json:"estimated"`
	NoRoad    int `json:"no_road,omitempty"`
	// Failure says why the service did not tell all that it was asked; "" when it did, or was not asked.
	Failure string `json:"failure,omitempty"`
}
