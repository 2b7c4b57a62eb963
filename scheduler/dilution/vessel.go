package dilution

import (
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
