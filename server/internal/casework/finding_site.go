package casework

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/store"
)

// siteOfFinding returns where the plants of a finding stand.
//
// Fails with Invalid: UNKNOWN_PLANT for each that is not known, OTHER_SITE for each that stands elsewhere than the
// first one that is.
func siteOfFinding(tx *store.Tx, f course.Finding) (site.ID, error) {
	var fields catalogue.FieldErrors
	var at site.ID
	var here []site.Plant
	for i, id := range f.Plants {
		if slices.ContainsFunc(here, func(p site.Plant) bool { return p.ID == id }) {
			continue
		}
		path := fmt.Sprintf("finding.plants[%d]", i)
		plant, err := tx.Plant(id)
		switch {
		case fault.Is(err, fault.NotFound):
			fields.Add(path, "UNKNOWN_PLANT", "plant %s is not known in this business", id)
		case err != nil:
			return "", err
		case at == "":
			at = plant.Site
			if here, err = tx.PlantsOf(at); err != nil {
				return "", err
			}
		default:
			fields.Add(path, "OTHER_SITE", "plant %s stands at %s, others at %s: want one finding for each site", id, plant.Site, at)
		}
	}
	return at, fault.InvalidFields(fields)
}
