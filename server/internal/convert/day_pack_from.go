package convert

import (
	"fmt"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
)

// PacksFrom reads what answers depend on from a day pack, site by site, for whoever holds a catalogue of the version that the
// day pack names.
//
// Fails with Invalid for what cannot be read, all at once.
func PacksFrom(m *vernationv1.DayPack, data *catalogue.Catalogue) ([]mayapply.Pack, error) {
	r := &reading{}
	own := each(m.GetSpeciesTolerances(), func(s *vernationv1.SpeciesTolerance) catalogue.SpeciesTolerance {
		return SpeciesToleranceFrom(ID[string](s.GetName()), s).Value
	})
	shared := mayapply.Pack{
		Catalogue: data.WithTolerances(own),
		By:        r.packedPerson("applicator", m.GetApplicator()),
		Crew:      eachAt("crew", m.GetCrew(), r.packedPerson),
		Vessels:   eachAt("vessels", m.GetVessels(), r.vessel),
		Measures:  eachAt("measures", m.GetMeasures(), r.measure),
		Scales: eachAt("scales", m.GetScales(), func(path string, v *vernationv1.Scale) dilution.Scale {
			return dilution.Scale{Name: v.GetDisplayName(), Capacity: r.mass(path+".capacity", v.GetCapacity()), Marks: r.mass(path+".mark_spacing", v.GetMarkSpacing())}
		}),
		NoticeTolerance: DurationFrom(m.GetPolicy().GetNoticeTolerance()),
		Policy:          packPolicyFrom(m.GetPolicy()),
	}
	for i, product := range m.GetProducts() {
		p, err := ProductFrom(fmt.Sprintf("products[%d]", i), ID[catalogue.ProductID](product.GetName()), product)
		r.take(err)
		shared.Products = append(shared.Products, p.Value)
	}
	packs := eachAt("sites", m.GetSites(), func(path string, s *vernationv1.SitePack) mayapply.Pack { return r.sitePack(path, shared, s) })
	return packs, fault.InvalidFields(r.wrong)
}

// take adds the fields of a failed reading to those that are wrong.
func (r *reading) take(err error) {
	if err != nil {
		r.wrong = append(r.wrong, fault.Of(err).Fields...)
	}
}

func (r *reading) sitePack(path string, pack mayapply.Pack, m *vernationv1.SitePack) mayapply.Pack {
	at, err := SiteFrom(path+".site", ID[site.ID](m.GetSite().GetName()), m.GetSite())
	r.take(err)
	pack.Site = at.Value
	pack.Plants = eachAt(path+".plants", m.GetPlants(), r.packedPlant)
	pack.Cases = eachAt(path+".cases", m.GetCases(), r.packedCase)
	pack.Notices = each(m.GetNotices(), func(n *vernationv1.PackedNotice) mayapply.PackedNotice {
		return mayapply.PackedNotice{Case: ID[string](n.GetCase()), Begins: InstantFrom(n.GetBegins()), SentAt: InstantFrom(n.GetSentTime())}
	})
	pack.KeepOuts = each(m.GetKeepOuts(), func(k *vernationv1.PackedKeepOut) mayapply.PackedKeepOut {
		_, area := AreaID(k.GetArea())
		during := civil.Interval{From: InstantFrom(k.GetBegins()), To: InstantFrom(k.GetEnds())}
		return mayapply.PackedKeepOut{
			Running: mayapply.Running{KeepOut: reentry.KeepOut{Area: area, During: during}, UntilDry: k.GetUntilDry(), Confirmed: k.GetConfirmed()},
			Product: ID[catalogue.ProductID](k.GetProduct()), Own: k.GetOwn(), Made: k.GetMade(),
		}
	})
	return pack
}

func (r *reading) packedPlant(path string, m *vernationv1.PackedPlant) mayapply.PackedPlant {
	kept, _, err := PlantFrom(path+".plant", ID[site.PlantID](m.GetPlant().GetName()), m.GetPlant())
	r.take(err)
	plant := kept.Value
	plant.GoneOn = r.date(path+".plant.gone_on", m.GetPlant().GetGoneOn())
	return mayapply.PackedPlant{
		Plant: plant,
		Applied: each(m.GetApplications(), func(a *vernationv1.PackedApplication) mayapply.Applied {
			return mayapply.Applied{
				Product: ID[catalogue.ProductID](a.GetProduct()), Material: catalogue.MaterialID(a.GetMaterial()), Group: a.GetModeOfAction(),
				Began: InstantFrom(a.GetBegunTime()),
			}
		}),
		Patches: eachAt(path+".patches", m.GetPatches(), func(path string, t *vernationv1.PackedPatch) mayapply.PackedPatch {
			return mayapply.PackedPatch{Material: catalogue.MaterialID(t.GetMaterial()), ReadOn: r.date(path+".read_on", t.GetReadOn())}
		}),
	}
}

func (r *reading) packedCase(path string, m *vernationv1.PackedCase) mayapply.PackedCase {
	return mayapply.PackedCase{
		ID: ID[string](m.GetCase()), Pest: catalogue.PestID(m.GetPest()), Plants: IDs[site.PlantID](m.GetPlants()),
		Approvals: eachAt(path+".approvals", m.GetApprovals(), func(path string, a *vernationv1.PackedApproval) mayapply.PackedApproval {
			return mayapply.PackedApproval{Product: ID[catalogue.ProductID](a.GetProduct()), By: a.GetApprovedBy(), MaxRate: r.rate(path+".max_rate", a.GetMaxRate())}
		}),
	}
}

func (r *reading) packedPerson(path string, m *vernationv1.PackedPerson) mayapply.Person {
	return mayapply.Person{Name: m.GetDisplayName(), Licences: eachAt(path+".licences", m.GetLicences(), func(path string, l *vernationv1.PackedLicence) mayapply.Licence {
		return mayapply.Licence{
			Jurisdiction: catalogue.JurisdictionCode(l.GetJurisdiction()), Category: l.GetCategory(), From: r.date(path+".from_on", l.GetFromOn()),
			To: r.date(path+".to_on", l.GetToOn()), Under: l.GetUnder(),
		}
	})}
}

func packPolicyFrom(m *vernationv1.PackPolicy) mayapply.Policy {
	policy := mayapply.Policy{
		Policy:           reentry.Policy{UntilDry: map[catalogue.Method]time.Duration{}, UnventilatedFactorPercent: int(m.GetUnventilatedFactorPercent())},
		LeastRatePercent: int(m.GetLeastRatePercent()), ReservePercent: int(m.GetReservePercent()), NoticeLead: DurationFrom(m.GetNoticeLead()),
		LinerDrenchPercent: int(m.GetLinerDrenchPercent()),
	}
	for _, drying := range m.GetDrying() {
		policy.UntilDry[methods.word(drying.GetMethod())] = DurationFrom(drying.GetTakes())
	}
	return policy
}
