package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// ServiceRoundList declares by what service rounds may be filtered and put in order.
var ServiceRoundList = listing.Declare(
	named(listing.NameField), text("external_id"), named("site"), word("kind", serviceKinds),
	listing.Field{Name: "earliest_days", Kind: listing.Number}, listing.Field{Name: "ideal_days", Kind: listing.Number},
	listing.Field{Name: "latest_days", Kind: listing.Number}, listing.Field{Name: "last_on", Kind: listing.Day, Unordered: true}, deleteTime,
)

// ServiceRound writes routine work at a site, as it is kept.
func ServiceRound(names Names, kept firm.Kept[site.Service]) *vernationv1.ServiceRound {
	s := kept.Value
	return &vernationv1.ServiceRound{
		Name: names.ServiceRound(s.ID),
		Site: names.Site(s.Site),
		Kind: serviceKinds.enum(s.Kind),
		Plants: each(s.Groups, func(g site.Group) *vernationv1.ServedPlant {
			return &vernationv1.ServedPlant{Plant: names.Plant(g.Plant), Minutes: int32(g.Minutes)}
		}),
		EarliestDays: int32(s.Earliest),
		IdealDays:    int32(s.Ideal),
		LatestDays:   int32(s.Latest),
		LastOn:       s.Last.String(),
		ExternalId:   kept.ExternalID,
		Etag:         Etag(kept.Revision),
		DeleteTime:   Timestamp(kept.DeletedAt),
	}
}

// ServiceRoundFrom reads routine work that shall have an id, with what another system calls it; path is where the message
// stands in its request.
func ServiceRoundFrom(path, id string, m *vernationv1.ServiceRound) (firm.Kept[site.Service], error) {
	r := &reading{}
	s := site.Service{
		ID:   id,
		Site: ID[site.ID](m.GetSite()),
		Kind: serviceKinds.word(m.GetKind()),
		Groups: each(m.GetPlants(), func(p *vernationv1.ServedPlant) site.Group {
			return site.Group{Plant: ID[site.PlantID](p.GetPlant()), Minutes: int(p.GetMinutes())}
		}),
		Earliest: int(m.GetEarliestDays()),
		Ideal:    int(m.GetIdealDays()),
		Latest:   int(m.GetLatestDays()),
		Last:     r.date(path+".last_on", m.GetLastOn()),
	}
	return firm.Kept[site.Service]{Value: s, ExternalID: m.GetExternalId()}, fault.InvalidFields(r.wrong)
}
