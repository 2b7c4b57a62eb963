package premises

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
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
