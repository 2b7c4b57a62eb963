package premises

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// lockedPlant returns a plant in use whose site nobody else changes until the transaction ends.
func lockedPlant(tx *store.Tx, id site.PlantID, version *int64) (firm.Kept[site.Plant], error) {
	p, err := tx.Plant(id)
	if err != nil {
		return firm.Kept[site.Plant]{}, err
	}
	if err := tx.LockSite(p.Site); err != nil {
		return firm.Kept[site.Plant]{}, err
	}
	standing, err := tx.KeptPlant(id) // as whoever held the site left it
	if err != nil {
		return standing, err
	}
	if err := standing.InUse("plant", string(id)); err != nil {
		return standing, err
	}
	return standing, standing.Fresh(version)
}

// PlantChange gives a plant and its services as they shall be from what stands.
type PlantChange func(standing firm.Kept[site.Plant], services []site.Service) (firm.Kept[site.Plant], []site.Service, error)

// ChangePlant sets the record of a plant right; the services told are of the plant alone. A nil version is whatever it is.
// It returns the plant and the services of its site.
//
// Fails with NotFound for the plant or one that it touches, Refused (DELETED), Stale (ETAG_STALE), Exists for an external
// id that is taken, Invalid as AddPlant does (OTHER_SITE for an area of another site, MOVE_TO_BE_TOLD for another area
// of a plant of which a case or an event knows where it stood), and as change does.
func ChangePlant(tx *store.Tx, id site.PlantID, version *int64, change PlantChange) (firm.Kept[site.Plant], []site.Service, error) {
	standing, err := lockedPlant(tx, id, version)
	if err != nil {
		return standing, nil, err
	}
	services, err := tx.Services(standing.Value.Site)
	if err != nil {
		return standing, nil, err
	}
	told, own, err := change(standing, services)
	if err != nil {
		return standing, nil, err
	}
	told.Value.GoneOn = standing.Value.GoneOn // which events tell
	if wateringStays(standing.Value, services, own) {
		told.Value.Watering = standing.Value.Watering // with the last time, which reports move on
	}
	if err := plantMayBecome(tx, standing.Value, told.Value, own); err != nil {
		return standing, nil, err
	}
	if err := tx.RewritePlant(told.Value, told.ExternalID); err != nil {
		return standing, nil, err
	}
	if err := serve(tx, told.Value, services, own); err != nil {
		return standing, nil, err
	}
	return keptPlant(tx, id)
}

// wateringStays says whether a plant's watering is as it was: the same work, or none before and after.
func wateringStays(p site.Plant, services, told []site.Service) bool {
	isWatering := func(s site.Service) bool { return s.Kind == site.WateringService }
	before := slices.IndexFunc(services, func(s site.Service) bool {
		return isWatering(s) && slices.ContainsFunc(s.Groups, func(g site.Group) bool { return g.Plant == p.ID })
	})
	after := slices.IndexFunc(told, isWatering)
	if before < 0 || after < 0 {
		return before < 0 && after < 0
	}
	return sameWork(services[before], told[after])
}

// plantMayBecome says what is wrong with a plant as it shall be, and with the way there.
func plantMayBecome(tx *store.Tx, stands, told site.Plant, services []site.Service) error {
	fields := catalogue.FieldErrors(slices.Concat(under("plant", told.Validate(catalogue.Shipped())), serviceFields(services)))
	at, err := tx.Site(stands.Site)
	if err != nil {
		return err
	}
	known := slices.ContainsFunc(at.Areas, func(a site.Area) bool { return a.ID == told.Area })
	switch {
	case told.Site != stands.Site:
		fields.Add("plant.area", "OTHER_SITE", "the plant stands at %s: tell that it is gone there, and create it at the other site", at.Name)
	case !known:
		fields.Add("plant.area", catalogue.ReasonUnknownArea, "%s has no area %q: want one of the site's", at.Name, told.Area)
	case told.Area != stands.Area:
		remembered, err := inHistory(tx, stands.Site, stands.ID)
		if err != nil {
			return err
		}
		if remembered {
			fields.Add("plant.area", "MOVE_TO_BE_TOLD", "cases or events know where the plant stood: tell when it was moved (CreatePlantEvent)")
		}
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	return touchedKnown(tx, told)
}

// inHistory says whether a case, or an event that counts, names a plant.
func inHistory(tx *store.Tx, at site.ID, id site.PlantID) (bool, error) {
	told, err := store.ToldOf(tx, at, []site.PlantID{id}, "")
	if err != nil || len(told) > 0 {
		return true, err
	}
	cases, err := tx.CasesOfPlants([]site.PlantID{id})
	return len(cases) > 0, err
}

// serve lets a plant be part of those services of its site that are told, and of no others. What it is part of with the
// same rhythm it stays part of, so that the id of the work holds.
func serve(tx *store.Tx, p site.Plant, services, told []site.Service) error {
	isOwn := func(g site.Group) bool { return g.Plant == p.ID }
	for _, s := range services {
		at := slices.IndexFunc(s.Groups, isOwn)
		if at < 0 {
			continue
		}
		groups := slices.Clone(s.Groups)
		if same := slices.IndexFunc(told, func(other site.Service) bool { return sameWork(s, other) }); same >= 0 {
			groups[at].Minutes = told[same].Groups[0].Minutes
			told = slices.Delete(slices.Clone(told), same, same+1)
		} else {
			groups = slices.DeleteFunc(groups, isOwn)
		}
		if slices.Equal(groups, s.Groups) {
			continue
		}
		if len(groups) == 0 { // nobody is left to be served
			if err := tx.DeleteService(s); err != nil {
				return err
			}
		}
		if err := tx.SetServiceGroups(s.ID, groups); err != nil {
			return err
		}
	}
	for _, s := range told {
		if err := addToSite(tx, p, s); err != nil {
			return err
		}
	}
	return nil
}

// sameWork says whether two services are one work item of their site: one kind, one rhythm, one last day.
func sameWork(a, b site.Service) bool {
	return a.Kind == b.Kind && a.Earliest == b.Earliest && a.Ideal == b.Ideal && a.Latest == b.Latest && a.Last == b.Last
}

// DeletePlant marks a plant as deleted, and as gone from today where it is not gone already. A nil version is whatever it
// is. It returns the plant and the services of its site.
//
// Fails with NotFound, Stale (ETAG_STALE) and Refused: DELETED when it is already, STILL_USED when a case that goes on
// has it.
func DeletePlant(tx *store.Tx, id site.PlantID, version *int64) (firm.Kept[site.Plant], []site.Service, error) {
	standing, err := lockedPlant(tx, id, version)
	if err != nil {
		return standing, nil, err
	}
	cases, err := tx.CasesOfPlants([]site.PlantID{id})
	if err != nil {
		return standing, nil, err
	}
	for _, c := range cases {
		if c.Ending == nil || c.Ending.Kind == course.KeptLow {
			f := fault.New(fault.Refused, "STILL_USED", "the case %s goes on and has the plant: end it, or tell that the plant is gone", c.ID)
			f.Subject = string(id)
			return standing, nil, f
		}
	}
	p := standing.Value
	if p.GoneOn.IsZero() {
		at, err := tx.Site(p.Site)
		if err != nil {
			return standing, nil, err
		}
		p.GoneOn = at.Zone.DateOf(tx.Now())
	}
	if err := tx.UpdatePlants([]site.Plant{p}); err != nil {
		return standing, nil, err
	}
	if err := tx.DeletePlant(id); err != nil {
		return standing, nil, err
	}
	return keptPlant(tx, id)
}
