package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// SpeciesToleranceList declares by what the business's own tolerances may be filtered and put in order.
var SpeciesToleranceList = listing.Declare(
	named(listing.NameField), text("external_id"), text("species"), text("material"), word("verdict", verdicts), deleteTime,
)

// SpeciesTolerance writes what the plants of a species stood, as it is kept.
func SpeciesTolerance(names Names, kept firm.Kept[catalogue.SpeciesTolerance]) *vernationv1.SpeciesTolerance {
	return &vernationv1.SpeciesTolerance{
		Name:       names.SpeciesTolerance(kept.Value.ID),
		Species:    string(kept.Value.Species),
		Material:   string(kept.Value.Material),
		Verdict:    verdicts.enum(kept.Value.Verdict),
		Source:     kept.Value.Source,
		ExternalId: kept.ExternalID,
		Etag:       Etag(kept.Revision),
		DeleteTime: Timestamp(kept.DeletedAt),
	}
}

// SpeciesToleranceFrom reads a tolerance that shall have an id, with what another system calls it.
func SpeciesToleranceFrom(id string, m *vernationv1.SpeciesTolerance) firm.Kept[catalogue.SpeciesTolerance] {
	return firm.Kept[catalogue.SpeciesTolerance]{ExternalID: m.GetExternalId(), Value: catalogue.SpeciesTolerance{
		ID: id, Species: catalogue.SpeciesID(m.GetSpecies()), Tolerance: catalogue.Tolerance{
			Material: catalogue.MaterialID(m.GetMaterial()), Verdict: verdicts.word(m.GetVerdict()), Source: m.GetSource(), Standing: catalogue.OwnRecords,
		},
	}}
}
