package firm

import (
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/mayapply"
)

// DayPack is what a technician carries where there is no signal: the day routes of today and of the next working days, and
// what answers about their sites depend on.
type DayPack struct {
	Technician scheduler.TechnicianID
	MadeAt     civil.Instant
	Routes     []DayRoute
	Shared     mayapply.Pack   // what is the same for every site
	Sites      []mayapply.Pack // of the routes' visits, each once
	// Tolerances are the business's own records of what its plants stood, which the packs' catalogue holds.
	Tolerances []catalogue.SpeciesTolerance
	Outcomes   []Follows // what follows from each outcome of an application
	Cautions   []string
}
