package premises

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// RecordOwnerConsent keeps that the owner of a plant consents to its treatment, or has withdrawn that, and returns the
// plant. A consent of the same person and first day takes the place of the one on record; another is added.
//
// Fails with NotFound for the plant, Refused (DELETED) and Invalid (CONTRADICTION for one that is withdrawn before it holds, OUT_OF_RANGE for
// one more than the record takes).
func RecordOwnerConsent(tx *store.Tx, id site.PlantID, consent site.OwnerConsent) (firm.Kept[site.Plant], error) {
	standing, err := lockedPlant(tx, id, nil)
	if err != nil {
		return standing, err
	}
	p := standing.Value
	same := func(other site.OwnerConsent) bool { return other.By == consent.By && other.On == consent.On }
	p.OwnerConsents = append(slices.DeleteFunc(slices.Clone(p.OwnerConsents), same), consent)
	var fields catalogue.FieldErrors
	if !consent.WithdrawnOn.IsZero() && consent.WithdrawnOn < consent.On {
		fields.Add("owner_consent.withdrawn_on", catalogue.ReasonContradiction, "withdrawn on %v, given on %v: want the days in sequence", consent.WithdrawnOn, consent.On)
	}
	if len(p.OwnerConsents) > site.MaxOwnerConsents {
		fields.Add("owner_consent", catalogue.ReasonOutOfRange, "%s has %d consents on record: want %d at most", p.Name, len(p.OwnerConsents)-1, site.MaxOwnerConsents)
	}
	if err := fault.InvalidFields(fields); err != nil {
		return standing, err
	}
	if err := tx.UpdatePlants([]site.Plant{p}); err != nil {
		return standing, err
	}
	return tx.KeptPlant(id)
}
