package casework

import (
	"vernation/scheduler/catalogue"
	"vernation/server/internal/store"
)

// Catalogue returns what the business knows: what is shipped, with its own records of what its plants stood laid over it.
func Catalogue(tx *store.Tx) (*catalogue.Catalogue, error) {
	own, err := tx.SpeciesTolerances()
	return catalogue.Shipped().WithTolerances(own), err
}
