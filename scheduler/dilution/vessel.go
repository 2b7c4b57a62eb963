package dilution

import (
	"fmt"
	"math/big"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

// VesselID names a vessel of a technician.
type VesselID string

// Vessel is what a technician applies from.
type Vessel struct {
	ID       VesselID        `json:"id"`
	Name     string          `json:"name"`
	Capacity quantity.Volume `json:"capacity"`
	Dead     quantity.Volume `json:"dead"`  // stays in pump and hose
	Marks    quantity.Volume `json:"marks"` // distance between graduations
	// Methods it can apply by.
	Methods []catalogue.Method `json:"methods"`
}

// Measure is what a technician doses concentrate with.
type Measure struct {
	Name     string          `json:"name"`
	Capacity quantity.Volume `json:"capacity"`
	Marks    quantity.Volume `json:"marks"`
}

// MaxMarks bounds the graduations of a vessel or a measure: nobody reads more off one scale.
const MaxMarks = 1_000

// Validate says what is wrong with the vessel, or nil.
func (v Vessel) Validate() error {
	if err := validateScale(v.Capacity, v.Marks); err != nil {
		return fmt.Errorf("vessel %q: %w", v.Name, err)
	}
	switch {
	case v.Dead.Sign() < 0 || v.Dead.Cmp(v.Capacity) >= 0:
		return fmt.Errorf("vessel %q: dead volume %v: want 0 or more and less than the capacity of %v", v.Name, v.Dead, v.Capacity)
	case !v.Dead.IsZero() && v.Dead.System() != v.Capacity.System():
		return fmt.Errorf("vessel %q: dead volume %v and capacity %v are in units of two systems: write both in one", v.Name, v.Dead, v.Capacity)
	}
	return nil
}

// Validate says what is wrong with the measure, or nil.
func (m Measure) Validate() error {
	if m.Name == "" {
		return fmt.Errorf("measure without a name: want what is written on it, such as cup")
	}
	if err := validateScale(m.Capacity, m.Marks); err != nil {
		return fmt.Errorf("measure %q: %w", m.Name, err)
	}
	return nil
}

func validateScale(capacity, marks quantity.Volume) error {
	switch {
	case capacity.Sign() <= 0:
		return fmt.Errorf("capacity %v: want more than nothing", capacity)
	case marks.Sign() <= 0:
		return fmt.Errorf("marks every %v: want more than nothing", marks)
	case marks.Cmp(capacity) > 0:
		return fmt.Errorf("marks every %v in a capacity of %v: want at least one mark", marks, capacity)
	case marks.System() != capacity.System():
		return fmt.Errorf("marks every %v and a capacity of %v are in units of two systems: write both in one", marks, capacity)
	case markBelow(capacity, marks) > MaxMarks:
		return fmt.Errorf("marks every %v in a capacity of %v: want %d marks at most", marks, capacity, MaxMarks)
	}
	return nil
}

// markBelow returns the number of the last mark at or below a volume, 0 when there is none.
func markBelow(volume, marks quantity.Volume) int64 {
	return floor(new(big.Rat).Quo(volume.Millilitres(), marks.Millilitres()))
}

// markAbove returns the number of the first mark at or above a volume.
func markAbove(volume, marks quantity.Volume) int64 {
	below := markBelow(volume, marks)
	if atMark(below, marks).Cmp(volume) < 0 {
		return below + 1
	}
	return below
}

func atMark(number int64, marks quantity.Volume) quantity.Volume {
	return marks.Times(big.NewRat(number, 1))
}
