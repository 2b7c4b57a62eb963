package scheduler

import (
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// TechnicianID names a technician of one business.
type TechnicianID string

// Technician is one member of the crew over the horizon.
type Technician struct {
	ID       TechnicianID   `json:"id"`
	Name     string         `json:"name"`
	Base     travel.PlaceID `json:"base"`
	Shifts   []Shift        `json:"shifts"`
	Licences []Licence      `json:"licences,omitempty"`
	Skills   []string       `json:"skills,omitempty"` // ladder, lift
	Keys     []KeyHeld      `json:"keys,omitempty"`
	Vessels  []Vessel       `json:"vessels,omitempty"`
	Measures []Measure      `json:"measures,omitempty"`
	Scales   []Scale        `json:"scales,omitempty"`
	// PaidPerMinute is in minor units; OvertimePercent is added past the shift's own length.
	PaidPerMinute quantity.Money `json:"paid_per_minute"`
	// SpeedPercent scales travel times: 100 is the matrix's.
	SpeedPercent int `json:"speed_percent"`
}

// Shift is one working stretch of a technician. It belongs to the day on which it begins, in the business's zone.
type Shift struct {
	Day    civil.Date     `json:"day"`
	During civil.Interval `json:"during"`
	// BreakWindow is where the break must lie when one is due; BreakTakes its length. Zero: no break.
	BreakWindow civil.Interval `json:"break_window"`
	BreakTakes  time.Duration  `json:"break_takes"`
}

// Licence is the right to apply in a jurisdiction.
type Licence struct {
	Jurisdiction catalogue.JurisdictionCode `json:"jurisdiction"`
	Category     string                     `json:"category"`
	Number       string                     `json:"number"`
	From         civil.Date                 `json:"from"`
	To           civil.Date                 `json:"to"` // last day; unset is until further notice
	// Under names the supervising licence holder of an unlicensed technician; "" is a licence of one's own.
	Under TechnicianID `json:"under,omitempty"`
}

// KeyHeld is a key or badge held from-to; an unset To is until further notice.
type KeyHeld struct {
	Key  site.KeyID `json:"key"`
	From civil.Date `json:"from"`
	To   civil.Date `json:"to"`
}

// Vessels, measures and scales are the dilution's words.
type (
	Vessel   = dilution.Vessel
	VesselID = dilution.VesselID
	Measure  = dilution.Measure
	Scale    = dilution.Scale
)

// Kit is what a technician takes the dose of a product with.
func (t *Technician) Kit(product *catalogue.Product) dilution.Kit {
	return dilution.Kit{Measures: t.Measures, Scales: t.Scales, Packs: product.Packs}
}

// PouredBy says how much mix a use puts on each of its plants, and on how much pot and soil. Plants that are not known are left
// out: a rate for the pot or the soil is then judged by the others.
func PouredBy(use *Use, plant func(site.PlantID) (site.Plant, bool)) []dilution.Poured {
	var on []dilution.Poured
	for _, dose := range use.Doses {
		if p, known := plant(dose.Plant); known {
			on = append(on, dilution.PouredOn(p, dose.Amount))
		}
	}
	return on
}
