package premises

import (
	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AddSpeciesTolerance stores what the plants of a species stood of a material.
//
// Fails with Invalid (UNKNOWN_SPECIES, UNKNOWN_MATERIAL) and Exists for its id, its external id, or when one in use of that
// species and material is on record.
func AddSpeciesTolerance(tx *store.Tx, told firm.Kept[catalogue.SpeciesTolerance]) (firm.Kept[catalogue.SpeciesTolerance], error) {
	var fields catalogue.FieldErrors
	_, err := catalogue.Shipped().SpeciesByID(told.Value.Species)
	fields.AddUnknown("species_tolerance.species", catalogue.ReasonUnknownSpecies, err)
	_, err = catalogue.Shipped().MaterialByID(told.Value.Material)
	fields.AddUnknown("species_tolerance.material", catalogue.ReasonUnknownMaterial, err)
	if err := fault.InvalidFields(fields); err != nil {
		return told, err
	}
	if err := tx.InsertSpeciesTolerance(told.Value, told.ExternalID); err != nil {
		return told, err
	}
	return tx.KeptSpeciesTolerance(told.Value.ID)
}

// ChangeSpeciesTolerance changes verdict, source or external id of a tolerance: change gives it as it shall be from what
// stands. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED), Stale (ETAG_STALE), Exists for an external id that is taken, and as change does.
func ChangeSpeciesTolerance(tx *store.Tx, id string, version *int64,
	change func(standing firm.Kept[catalogue.SpeciesTolerance]) (firm.Kept[catalogue.SpeciesTolerance], error)) (firm.Kept[catalogue.SpeciesTolerance], error) {
	standing, err := lockedSpeciesTolerance(tx, id, version)
	if err != nil {
		return standing, err
	}
	told, err := change(standing)
	if err != nil {
		return standing, err
	}
	if err := tx.UpdateSpeciesTolerance(told.Value, told.ExternalID); err != nil {
		return standing, err
	}
	return tx.KeptSpeciesTolerance(id)
}

// lockedSpeciesTolerance returns a tolerance in use that nobody else changes until the transaction ends.
func lockedSpeciesTolerance(tx *store.Tx, id string, version *int64) (firm.Kept[catalogue.SpeciesTolerance], error) {
	if err := tx.LockSpeciesTolerance(id); err != nil {
		return firm.Kept[catalogue.SpeciesTolerance]{}, err
	}
	standing, err := tx.KeptSpeciesTolerance(id)
	if err != nil {
		return standing, err
	}
	if err := standing.InUse("species tolerance", id); err != nil {
		return standing, err
	}
	return standing, standing.Fresh(version)
}

// DeleteSpeciesTolerance marks a tolerance as deleted, so that what is shipped counts again. A nil version is whatever it
// is.
//
// Fails with NotFound, Stale (ETAG_STALE) and Refused (DELETED) when it is already.
func DeleteSpeciesTolerance(tx *store.Tx, id string, version *int64) (firm.Kept[catalogue.SpeciesTolerance], error) {
	standing, err := lockedSpeciesTolerance(tx, id, version)
	if err != nil {
		return standing, err
	}
	if err := tx.DeleteSpeciesTolerance(standing.Value); err != nil {
		return standing, err
	}
	return tx.KeptSpeciesTolerance(id)
}
