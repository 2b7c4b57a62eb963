package premises

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AddPlants stores plants (groups) that stand at sites.
//
// Fails with Invalid (INVALID_FIELDS: unknown species, count, pot volume, an area that its site does not have ...)
// naming each plant by its place in the list, NotFound for a site and Exists for an id.
func AddPlants(tx *store.Tx, plants []site.Plant) error {
	var fields []catalogue.FieldError
	sites := map[site.ID]site.Site{}
	for i, p := range plants {
		path := fmt.Sprintf("plants[%d]", i)
		if len(plants) == 1 {
			path = "plant"
		}
		fields = append(fields, under(path, p.Validate(catalogue.Shipped()))...)
		s, read := sites[p.Site]
		if !read {
			var err error
			if s, err = siteInUse(tx, p.Site); err != nil {
				return err
			}
			sites[p.Site] = s
		}
		if !slices.ContainsFunc(s.Areas, func(a site.Area) bool { return a.ID == p.Area }) {
			fields = append(fields, catalogue.FieldError{Path: path + ".area", Reason: "UNKNOWN_AREA",
				Text: fmt.Sprintf("%s has no area %q: want one of the site's", s.Name, p.Area)})
		}
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	return tx.InsertPlants(plants)
}

// AddProducts stores the business's records of its containers.
//
// Fails with Invalid (INVALID_FIELDS: every wrong field), Exists for an id, and Forbidden (RIGHT_NEEDED) when one says
// why a household remedy is lawful and the caller is not the responsible applicator.
func AddProducts(tx *store.Tx, products []catalogue.Product) error {
	var fields []catalogue.FieldError
	for i, p := range products {
		path := fmt.Sprintf("products[%d]", i)
		if len(products) == 1 {
			path = "product"
		}
		fields = append(fields, under(path, p.Validate(catalogue.Shipped()))...)
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	if slices.ContainsFunc(products, func(p catalogue.Product) bool { return len(p.LawfulBecause) > 0 }) && !tx.Caller().ResponsibleApplicator {
		f := fault.New(fault.Forbidden, "RIGHT_NEEDED", "only the responsible applicator records why a household remedy is lawful: ask one of them")
		f.Needs = []string{"responsible_applicator"}
		return f
	}
	return tx.InsertProducts(products)
}

// AddCrew stores technicians.
//
// Fails with Invalid (INVALID_FIELDS) and Exists for an id.
func AddCrew(tx *store.Tx, crew []firm.CrewMember) error {
	var fields []catalogue.FieldError
	for i, m := range crew {
		fields = append(fields, under(fmt.Sprintf("technicians[%d]", i), crewFields(m))...)
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	return tx.InsertCrew(crew)
}

func crewFields(m firm.CrewMember) []catalogue.FieldError {
	var fields []catalogue.FieldError
	wrong := func(path, reason, text string, args ...any) {
		fields = append(fields, catalogue.FieldError{Path: path, Reason: reason, Text: fmt.Sprintf(text, args...)})
	}
	if m.ID == "" || m.Name == "" {
		wrong("id", "REQUIRED", "id and name are needed")
	}
	if err := m.Shifts.Validate(); err != nil {
		wrong("shifts", "INVALID_CALENDAR", "%v", err)
	}
	if m.Shifts.Always {
		wrong("shifts.always", "INVALID_CALENDAR", "nobody works always: want windows by weekday")
	}
	if m.BreakTakes < 0 || (m.BreakTakes > 0 && m.BreakTo <= m.BreakFrom) {
		wrong("break_to", "WINDOW_ORDER", "break from %v to %v: want it to end later", m.BreakFrom, m.BreakTo)
	}
	if m.PaidPerMinute < 0 {
		wrong("paid_per_minute", "OUT_OF_RANGE", "%d: want 0 or more minor units", m.PaidPerMinute)
	}
	if m.SpeedPercent < 10 || m.SpeedPercent > 300 {
		wrong("speed_percent", "OUT_OF_RANGE", "%d: want 10 to 300 (100 is the usual speed)", m.SpeedPercent)
	}
	for i, v := range m.Vessels {
		if err := v.Validate(); err != nil {
			wrong(fmt.Sprintf("vessels[%d]", i), "INVALID_VESSEL", "%v", err)
		}
	}
	for i, scale := range m.Scales {
		if err := scale.Validate(); err != nil {
			wrong(fmt.Sprintf("scales[%d]", i), "INVALID_SCALE", "%v", err)
		}
	}
	for i, measure := range m.Measures {
		if err := measure.Validate(); err != nil {
			wrong(fmt.Sprintf("measures[%d]", i), "INVALID_MEASURE", "%v", err)
		}
	}
	for i, l := range m.Licences {
		if _, err := catalogue.Shipped().JurisdictionByCode(l.Jurisdiction); err != nil {
			wrong(fmt.Sprintf("licences[%d].jurisdiction", i), "UNKNOWN_JURISDICTION", "%v", err)
		}
		if !l.To.IsZero() && l.To < l.From {
			wrong(fmt.Sprintf("licences[%d].to", i), "WINDOW_ORDER", "licence ends on %v before it begins on %v", l.To, l.From)
		}
	}
	return fields
}

// AddServices stores routine work.
//
// Fails with Invalid (INVALID_FIELDS), NotFound for a site and Exists for an id.
func AddServices(tx *store.Tx, services []site.Service) error {
	var fields []catalogue.FieldError
	for i, s := range services {
		fields = append(fields, under(fmt.Sprintf("services[%d]", i), s.Validate())...)
		if _, err := siteInUse(tx, s.Site); err != nil {
			return err
		}
		plants, err := tx.PlantsOf(s.Site)
		if err != nil {
			return err
		}
		for j, g := range s.Groups {
			if !slices.ContainsFunc(plants, func(p site.Plant) bool { return p.ID == g.Plant }) {
				fields = append(fields, catalogue.FieldError{Path: fmt.Sprintf("services[%d].groups[%d].plant", i, j), Reason: "UNKNOWN_PLANT",
					Text: fmt.Sprintf("plant %q does not stand at the service's site", g.Plant)})
			}
		}
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	return tx.InsertServices(services)
}

// under puts a path before those of fields.
func under(path string, fields []catalogue.FieldError) []catalogue.FieldError {
	for i := range fields {
		fields[i].Path = path + "." + fields[i].Path
	}
	return fields
}
