package travel

// Position is a point on the earth in degrees (WGS 84).
type Position struct {
	Latitude  float64 `json:"latitude"`
	Longitude float64 `json:"longitude"`
}

// PlaceID names a place of a matrix: a site's id or a technician's base.
type PlaceID string

// Matrix holds travel between places, row-major: entry from*len(Places)+to. It may be asymmetric;
// the diagonal is zero. A Matrix is read only after it is made.
type Matrix struct {
	Places  []PlaceID `json:"places"`
	Seconds []int32   `json:"seconds"`
	Metres  []int32   `json:"metres"`
}
