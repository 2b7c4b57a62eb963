package convert

import (
	"maps"
	"slices"
	"strings"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// dayPackOf is the last part of the name of a technician's day pack.
const dayPackOf = "/dayPack"

// TechnicianOfDayPack reads whose day pack a name speaks of.
func TechnicianOfDayPack(name string) scheduler.TechnicianID {
	return ID[scheduler.TechnicianID](strings.TrimSuffix(name, dayPackOf))
}

// DayPack writes what a technician carries where there is no signal.
func DayPack(names Names, p firm.DayPack) *vernationv1.DayPack {
	shared := p.Shared
	return &vernationv1.DayPack{
		Name:             names.Technician(p.Technician) + dayPackOf,
		Technician:       names.Technician(p.Technician),
		CreateTime:       Timestamp(p.MadeAt),
		DayRoutes:        each(p.Routes, func(d firm.DayRoute) *vernationv1.DayRoute { return DayRoute(names, d) }),
		Sites:            each(p.Sites, func(s mayapply.Pack) *vernationv1.SitePack { return sitePack(names, s) }),
		Products:         each(shared.Products, func(p catalogue.Product) *vernationv1.Product { return packedProduct(names, p) }),
		Applicator:       packedPerson(shared.By),
		Crew:             each(shared.Crew, packedPerson),
		Vessels:          each(shared.Vessels, vessel),
		Measures:         each(shared.Measures, measure),
		Scales:           each(shared.Scales, scale),
		Policy:           packPolicy(shared),
		Outcomes:         each(p.Outcomes, Consequence),
		CatalogueVersion: catalogue.Shipped().Version,
		SpeciesTolerances: each(p.Tolerances, func(s catalogue.SpeciesTolerance) *vernationv1.SpeciesTolerance {
			written := SpeciesTolerance(names, firm.Kept[catalogue.SpeciesTolerance]{Value: s})
			written.Etag = "" // what is carried along is not changed
			return written
		}),
		Cautions: p.Cautions,
	}
}

func packedProduct(names Names, p catalogue.Product) *vernationv1.Product {
	packed := Product(names, firm.Kept[catalogue.Product]{Value: p})
	packed.Etag = "" // what is carried along is not changed
	return packed
}

func sitePack(names Names, p mayapply.Pack) *vernationv1.SitePack {
	at := p.Site.ID
	packed := Site(names, firm.Kept[site.Site]{Value: p.Site})
	packed.Etag = "" // what is carried along is not changed
	return &vernationv1.SitePack{
		Site:   packed,
		Plants: each(p.Plants, func(plant mayapply.PackedPlant) *vernationv1.PackedPlant { return packedPlant(names, plant) }),
		Cases:  each(p.Cases, func(c mayapply.PackedCase) *vernationv1.PackedCase { return packedCase(names, c) }),
		Notices: each(p.Notices, func(n mayapply.PackedNotice) *vernationv1.PackedNotice {
			return &vernationv1.PackedNotice{Case: names.Case(course.CaseID(n.Case)), Begins: Timestamp(n.Begins), SentTime: Timestamp(n.SentAt)}
		}),
		KeepOuts: each(p.KeepOuts, func(k mayapply.PackedKeepOut) *vernationv1.PackedKeepOut {
			return &vernationv1.PackedKeepOut{
				Area: names.Area(at, k.Area), Begins: Timestamp(k.During.From), Ends: Timestamp(k.During.To), UntilDry: k.UntilDry,
				Confirmed: k.Confirmed, Product: names.Product(k.Product), Own: k.Own, Made: k.Made,
			}
		}),
	}
}

func packedPlant(names Names, p mayapply.PackedPlant) *vernationv1.PackedPlant {
	var rhythm []site.Service
	if w := p.Watering; w != (site.Watering{}) {
		rhythm = []site.Service{{
			Site: p.Site, Kind: site.WateringService, Groups: []site.Group{{Plant: p.ID}}, Earliest: w.Earliest, Ideal: w.Ideal, Latest: w.Latest, Last: w.Last,
		}}
	}
	plant := Plant(names, firm.Kept[site.Plant]{Value: p.Plant}, rhythm)
	plant.Etag = ""
	return &vernationv1.PackedPlant{
		Plant: plant,
		Applications: each(p.Applied, func(a mayapply.Applied) *vernationv1.PackedApplication {
			return &vernationv1.PackedApplication{
				Product: names.Product(a.Product), Material: string(a.Material), ModeOfAction: a.Group, BegunTime: Timestamp(a.Began),
			}
		}),
		Patches: each(p.Patches, func(t mayapply.PackedPatch) *vernationv1.PackedPatch {
			return &vernationv1.PackedPatch{Material: string(t.Material), ReadOn: t.ReadOn.String()}
		}),
	}
}

func packedCase(names Names, c mayapply.PackedCase) *vernationv1.PackedCase {
	return &vernationv1.PackedCase{
		Case: names.Case(course.CaseID(c.ID)), Pest: string(c.Pest), Plants: names.Plants(c.Plants),
		Approvals: each(c.Approvals, func(a mayapply.PackedApproval) *vernationv1.PackedApproval {
			return &vernationv1.PackedApproval{Product: names.Product(a.Product), ApprovedBy: a.By, MaxRate: Rate(a.MaxRate)}
		}),
	}
}

func packedPerson(p mayapply.Person) *vernationv1.PackedPerson {
	return &vernationv1.PackedPerson{DisplayName: p.Name, Licences: each(p.Licences, func(l mayapply.Licence) *vernationv1.PackedLicence {
		return &vernationv1.PackedLicence{Jurisdiction: string(l.Jurisdiction), Category: l.Category, FromOn: l.From.String(), ToOn: l.To.String(), Under: l.Under}
	})}
}

func packPolicy(p mayapply.Pack) *vernationv1.PackPolicy {
	written := &vernationv1.PackPolicy{
		UnventilatedFactorPercent: int32(p.Policy.UnventilatedFactorPercent), LeastRatePercent: int32(p.Policy.LeastRatePercent),
		ReservePercent: int32(p.Policy.ReservePercent), NoticeLead: Duration(p.Policy.NoticeLead), NoticeTolerance: Duration(p.NoticeTolerance),
		LinerDrenchPercent: int32(p.Policy.LinerDrenchPercent),
	}
	for _, method := range slices.Sorted(maps.Keys(p.Policy.UntilDry)) {
		written.Drying = append(written.Drying, &vernationv1.DryingTime{Method: methods.enum(method), Takes: Duration(p.Policy.UntilDry[method])})
	}
	return written
}
