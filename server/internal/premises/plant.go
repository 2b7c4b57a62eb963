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

// AddPlant stores one plant (group) with its own services. Each becomes part of the site's work of the same kind,
// rhythm and last day, or begins one. It returns the plant and the services of its site.
//
// Fails as AddPlants does, with Invalid (DUPLICATE) when two services are of one kind, and NotFound for a plant that
// it touches.
func AddPlant(tx *store.Tx, told firm.Kept[site.Plant], services []site.Service) (firm.Kept[site.Plant], []site.Service, error) {
	p := told.Value
	if err := fault.InvalidFields(serviceFields(services)); err != nil {
		return told, nil, err
	}
	if err := touchedKnown(tx, p); err != nil {
		return told, nil, err
	}
	if err := AddPlants(tx, []site.Plant{p}); err != nil {
		return told, nil, err
	}
	if err := tx.SetPlantExternalID(p.ID, told.ExternalID); err != nil {
		return told, nil, err
	}
	for _, s := range services {
		if err := addToSite(tx, p, s); err != nil {
			return told, nil, err
		}
	}
	return keptPlant(tx, p.ID)
}

// keptPlant returns a plant and the services of its site.
func keptPlant(tx *store.Tx, id site.PlantID) (firm.Kept[site.Plant], []site.Service, error) {
	kept, err := tx.KeptPlant(id)
	if err != nil {
		return kept, nil, err
	}
	services, err := tx.Services(kept.Value.Site)
	return kept, services, err
}

// serviceFields says which services repeat a kind.
func serviceFields(services []site.Service) []catalogue.FieldError {
	var fields catalogue.FieldErrors
	for i, s := range services {
		if slices.ContainsFunc(services[:i], func(other site.Service) bool { return other.Kind == s.Kind }) {
			fields.Add(fmt.Sprintf("plant.services[%d].kind", i), catalogue.ReasonDuplicate, "%s is there twice: want one service of a kind", s.Kind)
		}
	}
	return fields
}

// touchedKnown asks for the plants that a plant touches; they may stand at another site.
func touchedKnown(tx *store.Tx, p site.Plant) error {
	here, err := tx.PlantsOf(p.Site)
	if err != nil {
		return err
	}
	for _, id := range p.Touches {
		if slices.ContainsFunc(here, func(other site.Plant) bool { return other.ID == id }) || id == p.ID {
			continue
		}
		if _, err := tx.Plant(id); err != nil {
			return err
		}
	}
	return nil
}

// addToSite makes a plant's service part of the site's work. The site's row is locked by the plant's own insertion,
// so that two plants do not begin the same work twice.
func addToSite(tx *store.Tx, p site.Plant, s site.Service) error {
	all, err := tx.Services(p.Site)
	if err != nil {
		return err
	}
	for _, same := range all {
		if sameWork(same, s) {
			return tx.AddServiceGroups(same.ID, s.Groups)
		}
	}
	if s.ID, err = freeServiceID(tx, fmt.Sprintf("%s-%s", p.ID, s.Kind)); err != nil {
		return err
	}
	return AddServices(tx, []site.Service{s})
}

// freeServiceID is an id that no service has or had: the one wished for, or that with a number behind it.
func freeServiceID(tx *store.Tx, wished string) (string, error) {
	for n, id := 2, wished; ; n++ {
		_, err := tx.KeptService(id)
		if fault.Is(err, fault.NotFound) {
			return id, nil
		}
		if err != nil {
			return "", err
		}
		id = fmt.Sprintf("%s-%d", wished, n)
	}
}
