package scheduler

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

// The words of premises and products, so that whoever holds a Problem can name its parts.
type (
	SiteID           = site.ID
	AreaID           = site.AreaID
	PlantID          = site.PlantID
	Site             = site.Site
	Area             = site.Area
	Service          = site.Service
	ServiceGroup     = site.Group
	Product          = catalogue.Product
	ProductID        = catalogue.ProductID
	Label            = catalogue.Label
	Pack             = catalogue.Pack
	MaterialID       = catalogue.MaterialID
	PlaceKind        = catalogue.PlaceKind
	JurisdictionCode = catalogue.JurisdictionCode
)

// The values of those words that the rules ask for.
const (
	harmed      = catalogue.MustNot
	tryFirst    = catalogue.PatchTest
	drench      = catalogue.Drench
	watering    = site.WateringService
	householdOf = catalogue.HouseholdRemedy
	registered  = catalogue.RegisteredProduct

	concentrateForm = catalogue.Concentrate
	readyToUseForm  = catalogue.ReadyToUse
	solidForm       = catalogue.Solid
	noSupplyForm    = catalogue.NoSupply

	entryHours    = catalogue.EntryHours
	entryUntilDry = catalogue.EntryUntilDry
	entryNone     = catalogue.EntryNone
)
