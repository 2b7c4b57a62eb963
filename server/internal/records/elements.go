package records

import (
	"slices"

	"vernation/server/internal/firm"
)

// holding says, for each element that a jurisdiction of the catalogue asks for, whether a record holds it. An element
// that no record of ours can hold is never there, so that it is always named as missing.
var holding = map[string]func(firm.Record) bool{
	// When.
	"date of application":          began,
	"time of application":          began,
	"date and time of application": began,
	"start and stop time":          func(r firm.Record) bool { return !r.Began.IsZero() && !r.Ended.IsZero() },
	"re-entry date and time":       entry,
	// Where no re-entry time applies no hour is asked for; one that nobody knows is missing.
	"hour completed where a re-entry time applies": func(r firm.Record) bool { return !r.Ended.IsZero() },

	// For whom and where.
	"customer name and address":            func(r firm.Record) bool { return r.Client != "" && r.ClientAddress != "" },
	"name of the operator of the property": func(r firm.Record) bool { return r.Client != "" },
	"location of application":              place,
	"place of application":                 place,
	"site address":                         never, // a site has a position and a name, and no postal address
	"size of area treated":                 never, // plants are counted, floors and beds are not measured
	"area and place of application":        never, // asks for a measured area too
	"crop, commodity or site":              plants,
	"crop or plants treated":               plants,
	"type of plant":                        plants,

	// What.
	"brand or product name":               product,
	"product name":                        product,
	"product and formulation":             func(r firm.Record) bool { return product(r) && r.Form != "" },
	"product and rate":                    func(r firm.Record) bool { return product(r) && rate(r) },
	"registration number":                 registration,
	"common name and registration number": func(r firm.Record) bool { return product(r) && registration(r) },
	"active ingredients":                  func(r firm.Record) bool { return r.ActiveIngredient != "" },
	"kind and amount of pesticide":        func(r firm.Record) bool { return product(r) && amount(r) },
	"target pest":                         pest,
	"purpose of application":              pest,

	// How much and how.
	"total amount applied":                 amount,
	"amount used":                          amount,
	"amount of concentrate and of diluent": func(r firm.Record) bool { return amount(r) && rate(r) },
	"dosage or rate":                       rate,
	"dose":                                 rate,
	"dilution":                             rate,
	"method of application":                func(r firm.Record) bool { return r.Method != "" },
	"type of equipment":                    func(r firm.Record) bool { return r.Vessel != "" },
	"pesticides disposed of, and how":      never, // the report tells it, the record does not
	"anything unexpected, such as a spill, an exposure or drift, and what was done": never,

	// By whom.
	"applicator name":                        applicator,
	"applicator number":                      licence,
	"applicator name and certificate number": func(r firm.Record) bool { return applicator(r) && licence(r) },
	"applicator name and licence number":     func(r firm.Record) bool { return applicator(r) && licence(r) },
	"name and certificate number of supervisor and operator": func(r firm.Record) bool {
		return applicator(r) && licence(r) && (r.Supervisor == "" || r.SupervisorName != "")
	},
	"trainee and supervisor":                              supervised,
	"supervised noncertified person":                      supervised,
	"instructions given to technicians under supervision": func(r firm.Record) bool { return r.Supervisor == "" }, // kept elsewhere where there are any
}

func never(firm.Record) bool          { return false }
func began(r firm.Record) bool        { return !r.Began.IsZero() }
func entry(r firm.Record) bool        { return !r.EntryFrom.IsZero() }
func place(r firm.Record) bool        { return r.SiteName != "" && r.AreaName != "" }
func plants(r firm.Record) bool       { return len(r.Plants) > 0 }
func product(r firm.Record) bool      { return r.ProductName != "" }
func registration(r firm.Record) bool { return r.Registration != "" }
func pest(r firm.Record) bool         { return r.Pest != "" }
func rate(r firm.Record) bool         { return r.RatePercent != "" }
func applicator(r firm.Record) bool   { return r.TechnicianName != "" }
func licence(r firm.Record) bool      { return r.Licence != "" }

func amount(r firm.Record) bool {
	return !r.Applied.IsZero() || !r.Concentrate.IsZero() || r.Mass.Sign() > 0 || r.Organisms > 0
}

// supervised holds where nobody worked under another's licence, or both are named.
func supervised(r firm.Record) bool {
	return r.Supervisor == "" || r.SupervisorName != "" && applicator(r)
}

// Missing returns what the jurisdiction asks for and the record does not hold, in the jurisdiction's order. Of an
// application that was not made nothing is asked. An element of another catalogue that is not known here is missing.
func Missing(r firm.Record) []string {
	if r.NotMade != "" {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(r.Elements), func(element string) bool {
		holds, known := holding[element]
		return known && holds(r)
	})
}
