package travel

import "fmt"

// Position is a point on the earth in degrees (WGS 84).
type Position struct {
	Latitude  float64 `json:"latitude"`
	Longitude float64 `json:"longitude"`
}

// Validate says what is wrong with the position, or nil: latitude -90 to 90, longitude -180 to 180.
func (p Position) Validate() error {
	// Written so that a NaN, which compares with nothing, is refused too.
	if !(p.Latitude >= -90 && p.Latitude <= 90) {
		return fmt.Errorf("latitude %v: want -90 to 90 degrees, north positive", p.Latitude)
	}
	if !(p.Longitude >= -180 && p.Longitude <= 180) {
		return fmt.Errorf("longitude %v: want -180 to 180 degrees, east positive", p.Longitude)
	}
	return nil
}

// PlaceID names a place of a matrix: a site's id or a technician's base.
type PlaceID string

// Place is a named position.
type Place struct {
	ID       PlaceID  `json:"id"`
	Position Position `json:"position"`
}
