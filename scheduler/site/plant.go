package site

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// PlantID names a plant or group of like plants of one business.
type PlantID string

// Bounds of a plant record.
const (
	MaxPlantCount = 10_000 // plants in one group
	MaxHeightCM   = 3_000
)

// Planter is what a plant stands in; it caps what may be poured.
type Planter string

// The planters.
const (
	Drained      Planter = "drained"
	Liner        Planter = "liner-without-drain"
	SubIrrigated Planter = "sub-irrigated"
	Hydroculture Planter = "hydroculture"
	Bed          Planter = "bed"
)

// Owner is whose plant it is.
type Owner string

// The owners.
const (
	OwnedByClient   Owner = "client"
	OwnedByBusiness Owner = "business"
	Leased          Owner = "leased"
)

// Plant is one plant or a group of like plants standing together.
type Plant struct {
	ID        PlantID             `json:"id"`
	Name      string              `json:"name"`
	Site      ID                  `json:"site"`
	Area      AreaID              `json:"area"`
	Species   catalogue.SpeciesID `json:"species"`
	Count     int                 `json:"count"`
	PotVolume quantity.Volume     `json:"pot_volume"` // of each plant
	// SoilSurface is of each plant's pot, or of the bed; unset is not known. Rates for a surface need it.
	SoilSurface quantity.Surface `json:"soil_surface,omitzero"`
	HeightCM    int              `json:"height_cm"`
	Planter     Planter          `json:"planter"`
	InFlower    bool             `json:"in_flower,omitempty"`
	Edible      bool             `json:"edible,omitempty"`
	Owner       Owner            `json:"owner"`
	// NotInCare: looked at with leave, never treated without the owner's consent.
	NotInCare bool `json:"not_in_care,omitempty"`
	// OwnerConsents are the owner's leaves to treat it where it is not in care, in any order.
	OwnerConsents []OwnerConsent `json:"owner_consents,omitempty"`
	Guaranteed    bool           `json:"guaranteed,omitempty"`
	// Replacement is the value of each plant; nil is the species' default by pot size.
	Replacement *quantity.Money `json:"replacement,omitempty"`
	// Touches are plants it touches in other areas, or the only neighbours in its own when set.
	Touches []PlantID `json:"touches,omitempty"`
	// Tolerance is the business's own record; it comes before the species' default and never loosens a label.
	Tolerance []catalogue.Tolerance `json:"tolerance,omitempty"`
	Watering  Watering              `json:"watering"`
	New       bool                  `json:"new,omitempty"` // received lately and still kept apart
	// GoneOn is the day on which it went, or joined another group: its record stays for the histories, and nothing more
	// is done to it. Unset while it is there.
	GoneOn civil.Date `json:"gone_on,omitempty"`
}

// Watering is a plant's rhythm in days since the last watering: not before Earliest, best at Ideal,
// priced after Latest, from which day on the plant counts as dry. All three 0: nobody of the business waters it.
type Watering struct {
	Earliest int        `json:"earliest"`
	Ideal    int        `json:"ideal"`
	Latest   int        `json:"latest"`
	Last     civil.Date `json:"last"` // last one done; unset is unknown, and then it is due
}

// Rhythmless says that nobody of the business waters the plant, so that nothing is known of when it is dry.
func (w Watering) Rhythmless() bool { return w.Earliest == 0 && w.Ideal == 0 && w.Latest == 0 }

// ServiceKind is a kind of routine work.
type ServiceKind string

// The kinds of service.
const (
	WateringService    ServiceKind = "watering"
	GroomingService    ServiceKind = "grooming"
	FertilisingService ServiceKind = "fertilising"
)

// Service is routine work at a site on a rhythm of its own: all its groups with one rhythm are one work item.
type Service struct {
	ID     string      `json:"id"`
	Site   ID          `json:"site"`
	Kind   ServiceKind `json:"kind"`
	Groups []Group     `json:"groups"`
	// Earliest, Ideal and Latest are lags in civil days from the last time done or planned:
	// not before Earliest (hard), best at Ideal, priced after Latest.
	Earliest int        `json:"earliest"`
	Ideal    int        `json:"ideal"`
	Latest   int        `json:"latest"`
	Last     civil.Date `json:"last"` // unset: never done, due on the first day
}

// Group is one plant (group) within a service with its minutes.
type Group struct {
	Plant   PlantID `json:"plant"`
	Minutes int     `json:"minutes"`
}
