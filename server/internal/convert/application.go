package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// WishFrom reads which application somebody has in mind.
func WishFrom(m *vernationv1.CheckApplicationRequest) firm.Wish {
	_, area := AreaID(m.GetArea())
	wish := firm.Wish{
		Technician: ID[scheduler.TechnicianID](m.GetName()), Product: ID[catalogue.ProductID](m.GetProduct()),
		Plants: IDs[site.PlantID](m.GetPlants()), Takes: DurationFrom(m.GetTakes()), Begins: InstantFrom(m.GetBegins()),
		Pest: catalogue.PestID(m.GetPest()), Area: area, PatchTest: m.GetPatchTest(),
		CarriesWater: m.GetCarriesWater(), CarriedHardnessMgL: m.CarriedHardnessMgL,
	}
	for _, reading := range m.GetReadings() {
		_, where := AreaID(reading.GetArea())
		wish.Readings = append(wish.Readings, firm.Reading{Area: where, Celsius: reading.GetCelsius(), HumidityPercent: copied(reading.HumidityPercent)})
	}
	return wish
}

// ApplicationAnswer writes whether something speaks against an application.
func ApplicationAnswer(names Names, told firm.WishAnswer) *vernationv1.ApplicationAnswer {
	a := told.Answer
	m := &vernationv1.ApplicationAnswer{
		Allowed: a.Allowed,
		Plants:  names.Plants(a.On),
		Words: each(a.Words, func(w mayapply.Word) *vernationv1.RuleWord {
			return &vernationv1.RuleWord{Rule: applicationRules.enum(w.Rule), Kind: ruleWordKinds.enum(w.Verdict), Plants: names.Plants(w.Plants), Text: w.Text}
		}),
		Amounts: each(a.Amounts, func(amount mayapply.Amount) *vernationv1.UsualAmount {
			return &vernationv1.UsualAmount{
				Plant: names.Plant(amount.Plant), Least: volumeText(amount.Least), Greatest: volumeText(amount.Greatest),
				LeastOrganisms: uint64(amount.LeastOrganisms), GreatestOrganisms: uint64(amount.GreatestOrganisms),
			}
		}),
		Need: volumeText(a.Need),
		Shut: each(a.Shut, func(s mayapply.Shut) *vernationv1.AreaShut {
			return &vernationv1.AreaShut{
				Area: names.Area(told.Site, s.Area), Begins: Timestamp(s.During.From), Ends: Timestamp(s.During.To), UntilDry: s.UntilDry, Because: s.Because,
			}
		}),
		NextBegins: Timestamp(a.Next),
		Cautions:   a.Cautions,
		Text:       a.Text(told.Zone),
	}
	if a.Limits != nil {
		m.LeastRate, m.GreatestRate = Rate(a.Limits.Min), Rate(a.Limits.Max)
	}
	if f := a.Filling; f != nil {
		m.Filling = &vernationv1.Filling{
			Vessel: a.Vessel, Water: volumeText(f.Water), Concentrate: volumeText(f.Concentrate), Volume: volumeText(f.Volume), Measure: f.Measure, Note: f.Note,
		}
	}
	return m
}
