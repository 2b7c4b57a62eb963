package catalogue

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// SpeciesTolerance is a business's own record of what its plants of a species stood of a material.
type SpeciesTolerance struct {
	ID      string    `json:"id"`
	Species SpeciesID `json:"species"`
	Tolerance
}

// WithTolerances returns the catalogue of a business that has own records of what its plants stood: each comes before what
// is shipped for its species and material. What is not of a species that is known has no effect. The argument's order does
// not matter; the version differs from the shipped one, so that what was computed from it is computed anew.
func (c *Catalogue) WithTolerances(own []SpeciesTolerance) *Catalogue {
	if len(own) == 0 {
		return c
	}
	own = slices.SortedFunc(slices.Values(own), func(a, b SpeciesTolerance) int {
		return strings.Compare(string(a.Species)+"\n"+string(a.Material), string(b.Species)+"\n"+string(b.Material))
	})
	with := *c
	with.Species = maps.Clone(c.Species)
	for _, record := range own {
		species, known := with.Species[record.Species]
		if !known {
			continue
		}
		others := slices.DeleteFunc(slices.Clone(species.Tolerance), func(t Tolerance) bool { return t.Material == record.Material })
		species.Tolerance = append(others, record.Tolerance)
		with.Species[record.Species] = species
	}
	text, err := json.Marshal(own)
	if err != nil {
		panic(fmt.Sprintf("catalogue: own tolerances cannot be written: %v", err))
	}
	sum := sha256.Sum256(text)
	with.Version = c.Version + "+" + hex.EncodeToString(sum[:6])
	return &with
}
