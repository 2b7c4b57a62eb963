package week

import (
	"maps"
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// within keeps the follow-ups whose time meets the horizon with everything before them at its earliest, in their order.
func (g *generator) within(all []course.FollowUp, zone civil.Zone) []course.FollowUp {
	last := g.problem.FirstDay.AddDays(g.problem.Days - 1)
	earliest := map[course.ItemID]civil.Date{}
	var kept []course.FollowUp
	for _, f := range all {
		day := max(f.Due.EarliestOn, g.problem.FirstDay)
		if f.Due.After != "" {
			before, ok := earliest[f.Due.After]
			if !ok {
				continue
			}
			day = before.AddDays(f.Due.EarliestLag)
		}
		if day <= last {
			earliest[f.ID] = day
			kept = append(kept, f)
		}
	}
	return kept
}

// carry takes a case on: its follow-ups within the horizon, the links between what is carried or was done, and what it makes of
// the plants.
func (g *generator) carry(c *story, today course.Course, carried []course.FollowUp) {
	names := map[course.ItemID]bool{}
	for _, s := range g.servicesAt[c.site.ID] {
		names[course.ItemID(s.ID)] = true
	}
	for _, f := range carried {
		names[f.ID] = true
	}
	done := map[course.ItemID]scheduler.DoneFollowUp{}
	for _, d := range c.done {
		done[d.ID] = d
	}
	referred := map[course.ItemID]scheduler.DoneFollowUp{}
	for _, link := range today.Links {
		before, was := done[link.From]
		if !names[link.To] || !names[link.From] && !was {
			continue
		}
		if was && !names[link.From] {
			referred[link.From] = before
		}
		g.problem.Links = append(g.problem.Links, link)
	}
	for _, id := range slices.Sorted(maps.Keys(referred)) {
		g.problem.Done = append(g.problem.Done, referred[id])
	}
	g.problem.FollowUps = append(g.problem.FollowUps, carried...)
	for _, id := range c.plants {
		g.health[id] = scheduler.ConfirmedInfested
		if c.suspected {
			g.health[id] = scheduler.SuspectedInfested
		}
	}
	for _, a := range c.applied {
		product := g.product(a.Product)
		for _, plant := range a.Plants {
			g.applied[plant] = append(g.applied[plant], scheduler.Applied{
				Product: product.ID, Material: product.Material, Group: product.Label.ModeOfAction, Began: a.Began, Ended: a.Ended,
			})
		}
	}
	for _, e := range c.history.Events {
		if e.Patch != nil {
			for _, plant := range e.Patch.Plants {
				g.tested[plant] = append(g.tested[plant], e.Patch.Material)
			}
		}
	}
}

// finish adds to the Problem what follows from the rest: plants with what the rules ask of them, products, travel, rules.
func (g *generator) finish() {
	seen := map[catalogue.MaterialID]bool{}
	for _, product := range g.products {
		g.problem.Products = append(g.problem.Products, g.catalogue.InForce(product))
		if material := g.catalogue.Materials[product.Material]; !seen[material.ID] {
			seen[material.ID] = true
			g.problem.Materials = append(g.problem.Materials, scheduler.MaterialFacts{ID: material.ID, Law: material.Law, Name: material.Name})
		}
	}
	g.plantStates()
	g.rules()
	var places []travel.Place
	for _, s := range g.problem.Sites {
		places = append(places, travel.Place{ID: travel.PlaceID(s.ID), Position: s.Position})
	}
	for _, base := range g.bases {
		if !slices.Contains(places, base) {
			places = append(places, base)
		}
	}
	g.problem.Travel = travel.GreatCircle{DetourPercent: g.places.DetourPercent, SpeedKMH: g.places.SpeedKMH}.Matrix(places)
}

func (g *generator) plantStates() {
	infested := map[site.AreaID]bool{}
	for _, plant := range g.plants {
		infested[plant.Area] = infested[plant.Area] || g.health[plant.ID] != ""
	}
	for _, plant := range g.plants {
		state := scheduler.PlantState{Plant: plant, Health: g.health[plant.ID], Applied: g.applied[plant.ID], PatchTested: g.tested[plant.ID]}
		switch {
		case state.Health != "":
		case infested[plant.Area]:
			state.Health = scheduler.Neighbour
		default:
			state.Health = scheduler.Clean
		}
		for _, material := range g.problem.Materials {
			state.Tolerance = append(state.Tolerance, g.tolerance(plant, material.ID))
		}
		slices.SortStableFunc(state.Applied, func(a, b scheduler.Applied) int { return int(a.Began - b.Began) })
		g.problem.Plants = append(g.problem.Plants, state)
	}
}

// tolerance is the business's own record of a plant, else its species'.
func (g *generator) tolerance(plant site.Plant, material catalogue.MaterialID) catalogue.Tolerance {
	for _, own := range plant.Tolerance {
		if own.Material == material {
			return own
		}
	}
	return g.catalogue.Tolerance(plant.Species, material)
}

// rules resolves notices, least intervals, licence categories and supervision from the catalogue, as a business does.
func (g *generator) rules() {
	rules := &g.problem.Rules
	for _, s := range g.problem.Sites {
		notice := scheduler.SiteNotice{Site: s.ID, Lead: *s.Agreement.NoticeLead}
		if lead, known, _ := g.catalogue.NoticeLead(s.Jurisdiction, s.Kind); known {
			notice.Lead, notice.Known = max(notice.Lead, lead), true
		}
		rules.NoticeLead = append(rules.NoticeLead, notice)
		if least, known, _ := g.catalogue.LeastEntry(s.Jurisdiction, s.Kind); known && least > 0 {
			rules.LeastEntry = append(rules.LeastEntry, scheduler.SiteEntry{Site: s.ID, Least: least})
		}
	}
	code := g.places.Jurisdiction
	for _, c := range g.catalogue.Categories(code) {
		rules.Categories = append(rules.Categories, scheduler.CategoryCover{Jurisdiction: code, Category: c.ID, Covers: c.Covers})
	}
	if _, known := g.catalogue.Supervision(code); known {
		rules.Supervision = append(rules.Supervision, code)
	}
}
