package premises

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AddSite stores a site with its areas.
//
// Fails with Invalid (INVALID_FIELDS: every wrong field), NotFound for its client or its usual technician, Refused
// (DELETED) for a client that was deleted, and Exists for its id, its external id or the id of one of its areas.
func AddSite(tx *store.Tx, told firm.Kept[site.Site]) (firm.Kept[site.Site], error) {
	s := told.Value
	if err := siteRight(tx, s); err != nil {
		return firm.Kept[site.Site]{}, err
	}
	if err := tx.InsertSites([]site.Site{s}); err != nil {
		return firm.Kept[site.Site]{}, err
	}
	if err := tx.SetSiteExternalID(s.ID, told.ExternalID); err != nil {
		return firm.Kept[site.Site]{}, err
	}
	return tx.KeptSite(s.ID)
}

// siteRight says what is wrong with a site, and whether those whom it names are known and in use.
func siteRight(tx *store.Tx, s site.Site) error {
	if err := fault.InvalidFields(under("site", s.Validate(catalogue.Shipped()))); err != nil {
		return err
	}
	if err := tx.LockClient(string(s.Client)); err != nil { // so that nobody deletes it meanwhile
		return err
	}
	payer, err := tx.KeptClient(string(s.Client))
	if err != nil {
		return err
	}
	if err := payer.InUse("client", payer.Value.ID); err != nil {
		return err
	}
	if usual := s.Agreement.UsualTechnician; usual != "" {
		if _, err := tx.CrewMember(scheduler.TechnicianID(usual)); err != nil {
			return err
		}
	}
	return nil
}

// ChangeSite changes a site: change gives it as it shall be from what stands. A nil version is whatever it is.
//
// Fails with NotFound for the site, its client or its usual technician, Refused (DELETED; AREA_STILL_USED for an area that
// is left out though something on record names it), Stale (ETAG_STALE), Exists for an external id or an area's id that is
// taken, Invalid as AddSite does, and as change does.
func ChangeSite(tx *store.Tx, id site.ID, version *int64, change func(standing firm.Kept[site.Site]) (firm.Kept[site.Site], error)) (firm.Kept[site.Site], error) {
	standing, err := lockedSite(tx, id, version)
	if err != nil {
		return standing, err
	}
	told, err := change(standing)
	if err != nil {
		return standing, err
	}
	if err := siteRight(tx, told.Value); err != nil {
		return standing, err
	}
	var left []site.AreaID
	for _, area := range standing.Value.Areas {
		if !slices.ContainsFunc(told.Value.Areas, func(a site.Area) bool { return a.ID == area.ID }) {
			left = append(left, area.ID)
		}
	}
	if len(left) > 0 {
		toldOf, err := store.ToldOf(tx, id, left, "")
		if err != nil {
			return standing, err
		}
		if len(toldOf) > 0 {
			return standing, fault.New(fault.Refused, "AREA_STILL_USED", "history names the area %q: keep it among the areas", toldOf[0])
		}
	}
	if err := tx.UpdateSite(told.Value, told.ExternalID); err != nil {
		return standing, err
	}
	return tx.KeptSite(id)
}

// lockedSite returns a site in use that nobody else changes until the transaction ends.
func lockedSite(tx *store.Tx, id site.ID, version *int64) (firm.Kept[site.Site], error) {
	if err := tx.LockSite(id); err != nil {
		return firm.Kept[site.Site]{}, err
	}
	standing, err := tx.KeptSite(id)
	if err != nil {
		return standing, err
	}
	if err := standing.InUse("site", string(id)); err != nil {
		return standing, err
	}
	return standing, standing.Fresh(version)
}

// siteInUse returns a site that is not deleted (Refused, DELETED), and that nobody deletes until the transaction ends.
func siteInUse(tx *store.Tx, id site.ID) (site.Site, error) {
	kept, err := lockedSite(tx, id, nil)
	return kept.Value, err
}

// DeleteSite marks a site as deleted. A nil version is whatever it is.
//
// Fails with NotFound, Stale (ETAG_STALE) and Refused: DELETED when it is already, STILL_USED when plants stand there, a
// case there is open or a visit to it is ahead.
func DeleteSite(tx *store.Tx, id site.ID, version *int64) (firm.Kept[site.Site], error) {
	standing, err := lockedSite(tx, id, version)
	if err != nil {
		return standing, err
	}
	needs, err := siteNeeds(tx, id)
	if err != nil {
		return standing, err
	}
	if len(needs) > 0 {
		f := fault.New(fault.Refused, "STILL_USED", "the site %q is still needed: %s", id, strings.Join(needs, "; "))
		f.Subject = string(id)
		return standing, f
	}
	if err := tx.DeleteSite(id); err != nil {
		return standing, err
	}
	return tx.KeptSite(id)
}

// siteNeeds says in words what still needs a site.
func siteNeeds(tx *store.Tx, id site.ID) ([]string, error) {
	var needs []string
	plants, err := tx.PlantsOf(id)
	if err != nil {
		return nil, err
	}
	if there := slices.DeleteFunc(plants, func(p site.Plant) bool { return !p.GoneOn.IsZero() }); len(there) > 0 {
		needs = append(needs, fmt.Sprintf("%d plants or groups stand there: tell that they are gone, or delete them first", len(there)))
	}
	open := true
	cases, err := tx.Cases(store.CaseFilter{Open: &open, Site: id}, store.Page{Size: 1})
	if err != nil {
		return nil, err
	}
	if len(cases) > 0 {
		needs = append(needs, fmt.Sprintf("the case %s is open: end it first", cases[0].ID))
	}
	visits, err := tx.Visits(store.VisitFilter{From: tx.Now(), Site: id})
	if err != nil {
		return nil, err
	}
	if len(visits) > 0 {
		needs = append(needs, fmt.Sprintf("the visit %s is ahead: publish a plan without it first", visits[0].ID))
	}
	return needs, nil
}
