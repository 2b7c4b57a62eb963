package travel

import (
	"fmt"
	"slices"
)

// Matrix holds travel between places, row-major: entry from*len(Places)+to. It may be asymmetric;
// the diagonal is zero. A Matrix is read only after it is made.
type Matrix struct {
	Places  []PlaceID `json:"places"`
	Seconds []int32   `json:"seconds"`
	Metres  []int32   `json:"metres"`
}

// MaxPlaces bounds a matrix; its memory grows with the square.
const MaxPlaces = 5_000

// FieldError is one wrong field of a matrix by its path, such as "seconds[7]". It has the shape of the
// field errors of the packages above and converts to them.
type FieldError struct {
	Path   string `json:"path"`
	Reason string `json:"reason"` // stable, UPPER_SNAKE
	Text   string `json:"text"`   // what is wrong and what would be right
}

// Error writes the path and the text.
func (e FieldError) Error() string { return e.Path + ": " + e.Text }

// Validate returns everything that is wrong with the matrix, or nil. The reasons are PLACES_TOO_MANY,
// PLACE_MISSING, PLACE_TWICE, LENGTH, NEGATIVE and DIAGONAL.
func (m Matrix) Validate() []FieldError {
	if len(m.Places) > MaxPlaces {
		return []FieldError{{"places", "PLACES_TOO_MANY", fmt.Sprintf("%d places: want %d at most", len(m.Places), MaxPlaces)}}
	}
	var wrong []FieldError
	seen := make(map[PlaceID]int, len(m.Places))
	for i, id := range m.Places {
		path := fmt.Sprintf("places[%d]", i)
		if first, twice := seen[id]; twice {
			wrong = append(wrong, FieldError{path, "PLACE_TWICE", fmt.Sprintf("place %q stands at %d already: want each place once", id, first)})
			continue
		}
		seen[id] = i
		if id == "" {
			wrong = append(wrong, FieldError{path, "PLACE_MISSING", "no id: want a site's id or a technician's base"})
		}
	}
	wrong = append(wrong, m.wrongEntries("seconds", m.Seconds)...)
	return append(wrong, m.wrongEntries("metres", m.Metres)...)
}

func (m Matrix) wrongEntries(path string, entries []int32) []FieldError {
	n := len(m.Places)
	if len(entries) != n*n {
		return []FieldError{{path, "LENGTH", fmt.Sprintf("%d entries: want %d, one for each pair of the %d places", len(entries), n*n, n)}}
	}
	var wrong []FieldError
	for i, entry := range entries {
		at := fmt.Sprintf("%s[%d]", path, i)
		switch {
		case entry < 0:
			wrong = append(wrong, FieldError{at, "NEGATIVE", fmt.Sprintf("%d: want 0 or more", entry)})
		case i/n == i%n && entry != 0:
			wrong = append(wrong, FieldError{at, "DIAGONAL", fmt.Sprintf("%d from %q to itself: want 0", entry, m.Places[i/n])})
		}
	}
	return wrong
}

// Index returns the row and column of a place, or -1. It takes time in proportion to the number of places.
func (m Matrix) Index(place PlaceID) int { return slices.Index(m.Places, place) }

// Between returns the travel from one place to another; ok is false when the matrix lacks one of them, and the metres are 0
// in a matrix that holds none.
// It searches the places: whoever asks often keeps the indices.
func (m Matrix) Between(from, to PlaceID) (seconds, metres int32, ok bool) {
	row, column := m.Index(from), m.Index(to)
	if row < 0 || column < 0 {
		return 0, 0, false
	}
	entry := row*len(m.Places) + column
	if len(m.Metres) > 0 {
		metres = m.Metres[entry]
	}
	return m.Seconds[entry], metres, true
}
