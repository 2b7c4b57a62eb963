package course_test

import (
	"maps"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// Pests built in the tests from published constants, so that what the model says of them does not move with the shipped
// data.

func share(value float64) catalogue.Figure {
	return catalogue.Figure{Value: value, Unit: catalogue.UnitShare, Standing: catalogue.Published, Source: "test"}
}

// developing is a stage of so many degree-days above a temperature.
func developing(id catalogue.StageID, t0, k float64) catalogue.Stage {
	return catalogue.Stage{ID: id, Name: string(id), Habitat: catalogue.Leaf, Feeds: id != "egg",
		Thermal: &catalogue.Thermal{T0: t0, K: k, Source: "test", Standing: catalogue.Published}}
}

// lasting is a stage of so many days at any temperature.
func lasting(id catalogue.StageID, days float64) catalogue.Stage {
	stage := developing(id, 0, 0)
	stage.Thermal, stage.Practice = nil, &catalogue.Range{Near: days, Far: days, Unit: catalogue.UnitDays, Standing: catalogue.CommonPractice}
	return stage
}

// untimed is a stage that is known only together with others.
func untimed(id catalogue.StageID) catalogue.Stage {
	stage := lasting(id, 0)
	stage.Practice = nil
	return stage
}

// brood is a pest whose adult lays so many eggs over so many days.
func brood(id catalogue.PestID, eggs, layingDays, femaleShare, survival float64, stages ...catalogue.Stage) catalogue.Pest {
	adult := untimed("adult")
	adult.Lays = true
	once := catalogue.Range{Near: eggs, Far: eggs, Unit: catalogue.UnitEggs, Standing: catalogue.Published}
	laying := catalogue.Range{Near: layingDays, Far: layingDays, Unit: catalogue.UnitDays, Standing: catalogue.Published}
	limit := func(value float64) catalogue.Figure {
		return catalogue.Figure{Value: value, Unit: catalogue.UnitCelsius, Standing: catalogue.Published}
	}
	return catalogue.Pest{ID: id, Name: string(id), Scientific: string(id), Stages: append(stages, adult),
		LowerLimit: limit(5), UpperLimit: limit(35), EggsPerFemale: once, LayingDays: laying,
		FemaleShare: share(femaleShare), Survival: share(survival), Detection: share(0.6),
		Severity: map[int]string{0: "signs", 1: "a few", 2: "several", 3: "heavy"}, Signs: []string{"signs"}}
}

// together gives stages that are known only together their degree-days.
func together(pest catalogue.Pest, t0, k float64) catalogue.Pest {
	pest.Spans = []catalogue.Span{{From: pest.Stages[0].ID, To: pest.Stages[len(pest.Stages)-2].ID,
		Thermal: catalogue.Thermal{T0: t0, K: k, Source: "test", Standing: catalogue.Published}}}
	return pest
}

// contact is a material for a pest that reaches what it is told to, with one kill share for all that it reaches.
func contact(pest catalogue.Pest, kill, missed float64, reach ...catalogue.Reach) catalogue.Material {
	m := catalogue.Material{ID: "test-spray", Name: "test spray", Method: catalogue.WholePlantSpray, Law: catalogue.RegisteredProduct}
	m.MissedShare = &catalogue.Figure{Value: missed, Unit: catalogue.UnitShare, Standing: catalogue.Assumption}
	m.AmountBySize = []catalogue.AmountBySize{{UpToHeightCM: 300, Millilitres: catalogue.Range{Near: 100, Far: 100, Unit: catalogue.UnitMillilitres}}}
	for i, stage := range pest.Stages {
		effect := catalogue.Effect{Pest: pest.ID, Stage: stage.ID, Reach: reach[i], Kill: share(kill)}
		if reach[i] == catalogue.Spared {
			effect.Kill = share(0)
		}
		m.Effects = append(m.Effects, effect)
	}
	return m
}

// knowing is the shipped catalogue with a pest and a material more.
func knowing(pest catalogue.Pest, material catalogue.Material) *catalogue.Catalogue {
	c := *catalogue.Shipped()
	c.Pests, c.Materials = maps.Clone(c.Pests), maps.Clone(c.Materials)
	c.Pests[pest.ID], c.Materials[material.ID] = pest, material
	return &c
}

// treating is the office's case with another pest and with one material alone, as a product whose label repeats it from
// so many days on.
func treating(c *catalogue.Catalogue, pest catalogue.PestID, material catalogue.MaterialID, leastDays int, season site.Season) course.Input {
	in := week(officeCase)
	in.Catalogue = c
	in.Histories = []course.History{{Case: officeCase, Site: "O", Pest: pest, Plants: []site.PlantID{"O-a"}, Events: []course.Event{
		finding("f-1", "2026-03-02T14:30:00Z", course.Finding{Pest: pest, Certainty: course.Confirmed, Life: course.Living, Severity: 2, Plants: []site.PlantID{"O-a"}}),
	}}}
	in.Sites[0].Areas[0].Climate = climate(season.Coldest, season.Usual, season.Warmest)
	in.Plants[0].Tolerance = []catalogue.Tolerance{{Material: material, Verdict: catalogue.Stands, Standing: catalogue.OwnRecords}}
	product := soap()
	product.ID, product.Name, product.Material, product.Label.Pests, product.Label.LeastDays = "p", "product", material, []catalogue.PestID{pest}, leastDays
	product.LawfulBecause = map[catalogue.JurisdictionCode]string{"US-PA": "recorded for the test"}
	in.Products = []catalogue.Product{product}
	for id := range c.Materials {
		if id != material {
			in.Sites[0].Agreement.RefusedMaterials = append(in.Sites[0].Agreement.RefusedMaterials, id)
		}
	}
	return in
}

func steady(celsius float64) site.Season {
	return site.Season{Coldest: celsius, Usual: celsius, Warmest: celsius}
}
