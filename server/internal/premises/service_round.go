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

// AddServiceRound stores routine work at a site. The plants of a watering take its rhythm over.
//
// Fails with Invalid (UNKNOWN_PLANT, DUPLICATE for a plant that has a service of that kind, and what the service's own
// validation says), NotFound and Refused (DELETED) for the site, and Exists for its id or external id.
func AddServiceRound(tx *store.Tx, told firm.Kept[site.Service]) (firm.Kept[site.Service], error) {
	s := told.Value
	if _, err := lockedSite(tx, s.Site, nil); err != nil {
		return told, err
	}
	if err := roundRight(tx, s); err != nil {
		return told, err
	}
	if err := tx.InsertServices([]site.Service{s}); err != nil {
		return told, err
	}
	if err := tx.SetServiceExternalID(s.ID, told.ExternalID); err != nil {
		return told, err
	}
	if err := waterBy(tx, s, nil); err != nil {
		return told, err
	}
	return tx.KeptService(s.ID)
}

// roundRight says what is wrong with routine work at a site.
func roundRight(tx *store.Tx, s site.Service) error {
	fields := catalogue.FieldErrors(under("service_round", s.Validate()))
	plants, err := tx.PlantsOf(s.Site)
	if err != nil {
		return err
	}
	services, err := tx.Services(s.Site)
	if err != nil {
		return err
	}
	for i, g := range s.Groups {
		path := fmt.Sprintf("service_round.groups[%d].plant", i)
		if !slices.ContainsFunc(plants, func(p site.Plant) bool { return p.ID == g.Plant && p.GoneOn.IsZero() }) {
			fields.Add(path, "UNKNOWN_PLANT", "plant %q does not stand at the site %q: want a plant that does and is not gone", g.Plant, s.Site)
		}
		for _, other := range services {
			if other.ID != s.ID && other.Kind == s.Kind && slices.ContainsFunc(other.Groups, func(o site.Group) bool { return o.Plant == g.Plant }) {
				fields.Add(path, catalogue.ReasonDuplicate, "plant %q has its %s in %q already: take it out there first", g.Plant, s.Kind, other.ID)
			}
		}
	}
	return fault.InvalidFields(fields)
}

// waterBy lets plants follow a watering, and those that were in it before and are no longer be without rhythm. Services
// of another kind change no plant.
func waterBy(tx *store.Tx, s site.Service, before []site.Group) error {
	if s.Kind != site.WateringService {
		return nil
	}
	var in, out []site.PlantID
	for _, g := range s.Groups {
		in = append(in, g.Plant)
	}
	for _, g := range before {
		if !slices.Contains(in, g.Plant) {
			out = append(out, g.Plant)
		}
	}
	if err := tx.SetPlantsRhythm(out, site.Watering{}); err != nil {
		return err
	}
	return tx.SetPlantsRhythm(in, site.Watering{Earliest: s.Earliest, Ideal: s.Ideal, Latest: s.Latest, Last: s.Last})
}

// ChangeServiceRound changes routine work: change gives it as it shall be from what stands. A nil version is whatever it
// is.
//
// Fails with NotFound, Refused (DELETED), Stale (ETAG_STALE), Exists for an external id that is taken, Invalid as
// AddServiceRound does, and as change does.
func ChangeServiceRound(tx *store.Tx, id string, version *int64, change func(standing firm.Kept[site.Service]) (firm.Kept[site.Service], error)) (firm.Kept[site.Service], error) {
	standing, err := lockedRound(tx, id, version)
	if err != nil {
		return standing, err
	}
	told, err := change(standing)
	if err != nil {
		return standing, err
	}
	if err := roundRight(tx, told.Value); err != nil {
		return standing, err
	}
	if err := tx.UpdateService(told.Value, told.ExternalID); err != nil {
		return standing, err
	}
	if err := waterBy(tx, told.Value, standing.Value.Groups); err != nil {
		return standing, err
	}
	return tx.KeptService(id)
}

// lockedRound returns a service in use whose site nobody else changes until the transaction ends.
func lockedRound(tx *store.Tx, id string, version *int64) (firm.Kept[site.Service], error) {
	s, err := tx.KeptService(id)
	if err != nil {
		return s, err
	}
	if err := tx.LockSite(s.Value.Site); err != nil {
		return s, err
	}
	standing, err := tx.KeptService(id) // as whoever held the site left it
	if err != nil {
		return standing, err
	}
	if err := standing.InUse("service round", id); err != nil {
		return standing, err
	}
	return standing, standing.Fresh(version)
}

// DeleteServiceRound marks routine work as deleted, so that nothing of it is due. A nil version is whatever it is.
//
// Fails with NotFound, Stale (ETAG_STALE) and Refused (DELETED) when it is already.
func DeleteServiceRound(tx *store.Tx, id string, version *int64) (firm.Kept[site.Service], error) {
	standing, err := lockedRound(tx, id, version)
	if err != nil {
		return standing, err
	}
	if err := tx.DeleteService(standing.Value); err != nil {
		return standing, err
	}
	nobody := standing.Value
	nobody.Groups = nil
	if err := waterBy(tx, nobody, standing.Value.Groups); err != nil {
		return standing, err
	}
	return tx.KeptService(id)
}
