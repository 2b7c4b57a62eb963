package convert

import (
	"slices"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// Plant writes a plant, as it is kept, with those services of its site that it belongs to.
func Plant(names Names, kept firm.Kept[site.Plant], services []site.Service) *vernationv1.Plant {
	p := kept.Value
	return &vernationv1.Plant{
		Name:             names.Plant(p.ID),
		DisplayName:      p.Name,
		Area:             names.Area(p.Site, p.Area),
		Species:          string(p.Species),
		Count:            int32(p.Count),
		PotVolume:        volumeText(p.PotVolume),
		SoilSurface:      surfaceText(p.SoilSurface),
		HeightCm:         int32(p.HeightCM),
		Planter:          planters.enum(p.Planter),
		InFlower:         p.InFlower,
		Edible:           p.Edible,
		Owner:            owners.enum(p.Owner),
		NotInCare:        p.NotInCare,
		Guaranteed:       p.Guaranteed,
		ReplacementMinor: amount[int64](p.Replacement),
		Touches:          names.Plants(p.Touches),
		Tolerances:       each(p.Tolerance, tolerance),
		Services:         servicesOf(p, services),
		New:              p.New,
		OwnerConsents: each(p.OwnerConsents, func(c site.OwnerConsent) *vernationv1.OwnerConsent {
			return &vernationv1.OwnerConsent{ConsentedBy: c.By, ConsentedOn: c.On.String(), WithdrawnOn: c.WithdrawnOn.String()}
		}),
		GoneOn:     p.GoneOn.String(),
		ExternalId: kept.ExternalID,
		Etag:       Etag(kept.Revision),
		DeleteTime: Timestamp(kept.DeletedAt),
	}
}

// PlantList declares by what plants may be filtered and put in order.
var PlantList = listing.Declare(
	named(listing.NameField), text("display_name"), text("external_id"), named("site"), named("area"), text("species"),
	listing.Field{Name: "count", Kind: listing.Number}, listing.Field{Name: "height_cm", Kind: listing.Number},
	word("planter", planters), word("owner", owners), truth("in_flower"), truth("edible"), truth("not_in_care"), truth("guaranteed"), truth("new"),
	listing.Field{Name: "gone_on", Kind: listing.Day, Unordered: true}, deleteTime,
)

// tolerance writes what a plant stands.
func tolerance(t catalogue.Tolerance) *vernationv1.Tolerance {
	return &vernationv1.Tolerance{Material: string(t.Material), Verdict: verdicts.enum(t.Verdict), Source: t.Source}
}

// OwnerConsentFrom reads an owner's consent; path is where it stands in its request.
func OwnerConsentFrom(path string, m *vernationv1.OwnerConsent) (site.OwnerConsent, error) {
	r := &reading{}
	consent := r.ownerConsent(path, m)
	return consent, fault.InvalidFields(r.wrong)
}

func (r *reading) ownerConsent(path string, m *vernationv1.OwnerConsent) site.OwnerConsent {
	return site.OwnerConsent{
		By: m.GetConsentedBy(), On: r.date(path+".consented_on", m.GetConsentedOn()), WithdrawnOn: r.date(path+".withdrawn_on", m.GetWithdrawnOn()),
	}
}

// servicesOf writes the services that a plant belongs to, in the order given.
func servicesOf(p site.Plant, services []site.Service) []*vernationv1.Service {
	var written []*vernationv1.Service
	for _, s := range services {
		at := slices.IndexFunc(s.Groups, func(g site.Group) bool { return g.Plant == p.ID })
		if at < 0 || s.Site != p.Site {
			continue
		}
		written = append(written, &vernationv1.Service{
			Kind:         serviceKinds.enum(s.Kind),
			EarliestDays: int32(s.Earliest),
			IdealDays:    int32(s.Ideal),
			LatestDays:   int32(s.Latest),
			LastOn:       s.Last.String(),
			Minutes:      int32(s.Groups[at].Minutes),
		})
	}
	return written
}

// PlantFrom reads a plant that shall have an id, with what another system calls it and its services: each of the plant alone and without an id, for
// the premises decide which work item it becomes part of. Path is where the message stands in its request.
func PlantFrom(path string, id site.PlantID, m *vernationv1.Plant) (firm.Kept[site.Plant], []site.Service, error) {
	r := &reading{}
	at, area := AreaID(m.GetArea())
	p := site.Plant{
		ID:            id,
		Name:          m.GetDisplayName(),
		Site:          at,
		Area:          area,
		Species:       catalogue.SpeciesID(m.GetSpecies()),
		Count:         int(m.GetCount()),
		PotVolume:     r.volume(path+".pot_volume", m.GetPotVolume()),
		SoilSurface:   r.surface(path+".soil_surface", m.GetSoilSurface()),
		HeightCM:      int(m.GetHeightCm()),
		Planter:       planters.word(m.GetPlanter()),
		InFlower:      m.GetInFlower(),
		Edible:        m.GetEdible(),
		Owner:         owners.word(m.GetOwner()),
		NotInCare:     m.GetNotInCare(),
		Guaranteed:    m.GetGuaranteed(),
		Replacement:   amount[quantity.Money](m.ReplacementMinor),
		Touches:       IDs[site.PlantID](m.GetTouches()),
		Tolerance:     each(m.GetTolerances(), toleranceFrom),
		New:           m.GetNew(),
		OwnerConsents: eachAt(path+".owner_consents", m.GetOwnerConsents(), r.ownerConsent),
	}
	services := eachAt(path+".services", m.GetServices(), func(path string, s *vernationv1.Service) site.Service {
		return site.Service{
			Site:     p.Site,
			Kind:     serviceKinds.word(s.GetKind()),
			Groups:   []site.Group{{Plant: id, Minutes: int(s.GetMinutes())}},
			Earliest: int(s.GetEarliestDays()),
			Ideal:    int(s.GetIdealDays()),
			Latest:   int(s.GetLatestDays()),
			Last:     r.date(path+".last_on", s.GetLastOn()),
		}
	})
	for _, s := range services {
		if s.Kind == site.WateringService {
			p.Watering = site.Watering{Earliest: s.Earliest, Ideal: s.Ideal, Latest: s.Latest, Last: s.Last}
		}
	}
	return firm.Kept[site.Plant]{Value: p, ExternalID: m.GetExternalId()}, services, fault.InvalidFields(r.wrong)
}

// toleranceFrom reads the business's own record of what a plant stood.
func toleranceFrom(m *vernationv1.Tolerance) catalogue.Tolerance {
	return catalogue.Tolerance{
		Material: catalogue.MaterialID(m.GetMaterial()), Verdict: verdicts.word(m.GetVerdict()),
		Source: m.GetSource(), Standing: catalogue.OwnRecords,
	}
}
