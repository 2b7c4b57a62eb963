package planning

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Gathered is a Problem with what it was made from.
type Gathered struct {
	Problem  scheduler.Problem
	Rates    scheduler.Rates
	Versions firm.Versions
	// Travel says where the Problem's travel times come from.
	Travel firm.TravelSource
	siteOf map[course.CaseID]site.ID // of the cases that still need something
}

// Gather reads everything that a plan over a horizon depends on. It wants a transaction that sees one state of the
// store, and writes nothing.
//
// Fails with Invalid (INVALID_FIELDS) when the horizon is not 1 to scheduler.MaxHorizonDays days.
func Gather(tx *store.Tx, first civil.Date, days int) (Gathered, error) {
	g := gathering{tx: tx}
	if days < 1 || days > scheduler.MaxHorizonDays {
		return Gathered{}, fault.InvalidFields([]catalogue.FieldError{{Path: "days", Reason: "OUT_OF_RANGE",
			Text: fmt.Sprintf("a horizon of %d days: want 1 to %d", days, scheduler.MaxHorizonDays)}})
	}
	g.problem.FirstDay, g.problem.Days, g.problem.Now = first, days, tx.Now()
	g.placed = map[scheduler.ItemID]scheduler.DoneFollowUp{}
	for _, read := range []func() error{g.readFirm, g.readPlaces, g.readRunning, g.readCases, g.readVersions} {
		if err := read(); err != nil {
			return Gathered{}, err
		}
	}
	g.problem.Plants = g.plantStates()
	g.problem.Rules = g.rules()
	siteOf := map[course.CaseID]site.ID{}
	for _, c := range g.cases {
		siteOf[c.ID] = site.ID(c.Site)
	}
	return Gathered{Problem: g.problem, Rates: g.business.Rates, Versions: g.versions, Travel: g.travel, siteOf: siteOf}, nil
}

type gathering struct {
	tx        *store.Tx
	business  firm.Business
	crew      []firm.CrewMember
	records   []site.Plant // of all plants
	plants    []site.Plant // of those that are there
	cases     []firm.Case
	histories []course.History // what was done names plants as they are called today
	lineages  map[site.ID]course.Lineage
	placed    map[scheduler.ItemID]scheduler.DoneFollowUp // by visits that no plan over the horizon touches
	problem   scheduler.Problem
	versions  firm.Versions
	travel    firm.TravelSource
}

// lastDay is the last day of the horizon.
func (g *gathering) lastDay() civil.Date { return g.problem.FirstDay.AddDays(g.problem.Days - 1) }

func (g *gathering) readFirm() (err error) {
	if g.business, err = g.tx.Business(); err != nil {
		return err
	}
	g.problem.Zone = g.business.Zone
	if err := g.readCrew(); err != nil {
		return err
	}
	g.problem.Products, err = g.tx.AllProducts()
	if err != nil {
		return err
	}
	for i, product := range g.problem.Products {
		g.problem.Products[i] = catalogue.Shipped().InForce(product)
	}
	seen := map[catalogue.MaterialID]bool{}
	for _, product := range g.problem.Products {
		if material, ok := catalogue.Shipped().Materials[product.Material]; ok && !seen[material.ID] {
			seen[material.ID] = true
			g.problem.Materials = append(g.problem.Materials, scheduler.MaterialFacts{ID: material.ID, Law: material.Law, Name: material.Name})
		}
	}
	return nil
}

func (g *gathering) readPlaces() (err error) {
	if g.problem.Sites, err = g.tx.AllSites(); err != nil {
		return err
	}
	if g.records, err = g.tx.AllPlants(); err != nil {
		return err
	}
	g.plants = slices.DeleteFunc(slices.Clone(g.records), func(p site.Plant) bool { return !p.GoneOn.IsZero() })
	services, err := g.tx.Services()
	if err != nil {
		return err
	}
	g.problem.Services = g.withoutGone(services)
	return g.readTravel()
}

// readCases takes the follow-ups of every case that still needs something whose window meets the horizon with everything
// before it at its earliest, and the links between what is carried or was done. What stands in a visit that no plan over
// the horizon touches is not carried: what follows counts from it.
func (g *gathering) readCases() (err error) {
	if g.cases, err = g.tx.GoingCases(); err != nil {
		return err
	}
	if err := g.readHistories(); err != nil {
		return err
	}
	carried := map[scheduler.ItemID]bool{}
	for _, s := range g.problem.Services {
		carried[scheduler.ItemID(s.ID)] = true
	}
	var links []scheduler.Link
	for _, c := range g.cases {
		_, present, err := casework.Course(g.tx, c.ID)
		if err != nil {
			return err
		}
		for _, f := range g.within(present.FollowUps) {
			carried[f.ID] = true
			if stands, ok := g.placed[f.ID]; ok {
				g.problem.Done = append(g.problem.Done, stands)
			} else {
				g.problem.FollowUps = append(g.problem.FollowUps, f)
			}
		}
		links = append(links, present.Links...)
	}
	g.readLinks(links, carried)
	g.keepNamed()
	return nil
}

// keepNamed takes plants that are told to be gone among the others where a follow-up is for them all the same: something
// was found on them since, and somebody is to look.
func (g *gathering) keepNamed() {
	for _, p := range g.records {
		named := !p.GoneOn.IsZero() && slices.ContainsFunc(g.problem.FollowUps, func(f scheduler.FollowUp) bool { return slices.Contains(f.Plants, p.ID) })
		if named {
			g.plants = append(g.plants, p)
		}
	}
}

// readLinks takes the links between what is carried, and those from what was really done: it is done in the Problem too,
// so that its lags run on and nothing is leached after it.
func (g *gathering) readLinks(links []scheduler.Link, carried map[scheduler.ItemID]bool) {
	done := g.doneItems()
	for _, link := range links {
		if !carried[link.To] {
			continue
		}
		if fact, really := done[link.From]; really && !carried[link.From] {
			carried[link.From] = true
			g.problem.Done = append(g.problem.Done, fact)
		}
		if carried[link.From] {
			g.problem.Links = append(g.problem.Links, link)
		}
	}
}

// doneItems are the follow-ups that the histories tell to be done.
func (g *gathering) doneItems() map[scheduler.ItemID]scheduler.DoneFollowUp {
	done := map[scheduler.ItemID]scheduler.DoneFollowUp{}
	for _, h := range g.histories {
		for _, e := range h.Events {
			fact := scheduler.DoneFollowUp{Site: h.Site, Began: e.At, Ended: e.At}
			switch {
			case e.Application != nil:
				fact.ID, fact.Plants, fact.Began, fact.Ended = e.Application.FollowUp, e.Application.Plants, e.Application.Began, e.Application.Ended
			case e.Inspection != nil:
				fact.ID, fact.Plants = e.Inspection.FollowUp, e.Inspection.Plants
			case e.Done != nil:
				fact.ID, fact.Plants = e.Done.FollowUp, e.Done.Plants
			}
			if fact.ID != "" {
				done[fact.ID] = fact
			}
		}
	}
	return done
}

// readHistories reads what is known of the plants of the cases.
func (g *gathering) readHistories() error {
	var plants []site.PlantID
	for _, c := range g.cases {
		for _, plant := range c.Plants {
			plants = append(plants, site.PlantID(plant))
		}
	}
	// Ended ones too: what was applied belongs to the plant.
	all, err := g.tx.CasesOfPlants(plants)
	if err != nil {
		return err
	}
	ids := make([]course.CaseID, len(all))
	for i, c := range all {
		ids[i] = c.ID
	}
	histories, err := casework.Histories(g.tx, ids)
	if err != nil {
		return err
	}
	return g.followPlants(histories)
}

// followPlants reads what happened to plants themselves, so that what was done to them, and what patch tests showed,
// follows them under their names of today.
func (g *gathering) followPlants(histories []course.History) error {
	var sites []site.ID
	for _, s := range g.problem.Sites {
		sites = append(sites, s.ID)
	}
	ofPlants, err := g.tx.PlantHistories(sites...)
	if err != nil {
		return err
	}
	known, err := casework.Catalogue(g.tx)
	if err != nil {
		return err
	}
	g.lineages = map[site.ID]course.Lineage{}
	for _, s := range g.problem.Sites {
		lineage := course.NewLineage(known, s, g.records, slices.Concat(histories, ofPlants))
		g.lineages[s.ID] = lineage
		g.histories = append(g.histories, lineage.Renamed(slices.DeleteFunc(slices.Clone(histories), func(h course.History) bool { return h.Site != s.ID }))...)
	}
	return nil
}

// withoutGone takes plants that are there no longer out of the routine work.
func (g *gathering) withoutGone(services []site.Service) []site.Service {
	gone := map[site.PlantID]bool{}
	for _, p := range g.records {
		gone[p.ID] = !p.GoneOn.IsZero()
	}
	var kept []site.Service
	for _, s := range services {
		s.Groups = slices.DeleteFunc(s.Groups, func(group site.Group) bool { return gone[group.Plant] })
		if len(s.Groups) > 0 {
			kept = append(kept, s)
		}
	}
	return kept
}

// within keeps follow-ups that can begin by the last day, in their order.
func (g *gathering) within(all []scheduler.FollowUp) []scheduler.FollowUp {
	earliest := map[scheduler.ItemID]civil.Date{}
	var kept []scheduler.FollowUp
	for _, f := range all {
		day := max(f.Due.EarliestOn, g.problem.FirstDay)
		if f.Due.After != "" {
			before, ok := earliest[f.Due.After]
			if !ok {
				continue
			}
			day = before.AddDays(f.Due.EarliestLag)
		}
		if stands, ok := g.placed[f.ID]; ok {
			earliest[f.ID] = g.zoneOf(f.Site).DateOf(stands.Began)
			kept = append(kept, f)
			continue
		}
		if day <= g.lastDay() {
			earliest[f.ID] = day
			kept = append(kept, f)
		}
	}
	return kept
}

// plantStates says of each plant how healthy it is, what it stands and what was applied to it, over all its cases.
func (g *gathering) plantStates() []scheduler.PlantState {
	health := g.health()
	applied, tested := g.applied(), g.patchTested()
	states := make([]scheduler.PlantState, 0, len(g.plants))
	for _, p := range g.plants {
		state := scheduler.PlantState{Plant: p, Health: health[p.ID], Applied: applied[p.ID]}
		if state.Health == "" {
			state.Health = scheduler.Clean
		}
		state.PatchTested = tested[p.ID]
		for _, material := range g.problem.Materials {
			state.Tolerance = append(state.Tolerance, g.lineages[p.Site].Tolerance(p, material.ID))
		}
		states = append(states, state)
	}
	return states
}

// health marks the plants of open cases, and as neighbours those that stand in their areas or touch them.
func (g *gathering) health() map[site.PlantID]scheduler.Health {
	health := map[site.PlantID]scheduler.Health{}
	areas := map[site.AreaID]bool{}
	for _, c := range g.cases {
		worst := scheduler.SuspectedInfested
		for _, h := range g.histories {
			for _, e := range h.Events {
				if h.Case == c.ID && e.Finding != nil && e.Finding.Certainty == course.Confirmed {
					worst = scheduler.ConfirmedInfested
				}
			}
		}
		for _, p := range g.plants {
			if slices.Contains(c.Plants, string(p.ID)) {
				areas[p.Area] = true
				if health[p.ID] != scheduler.ConfirmedInfested {
					health[p.ID] = worst
				}
			}
		}
	}
	for _, p := range g.plants {
		touches := slices.ContainsFunc(p.Touches, func(id site.PlantID) bool { return health[id] != "" && health[id] != scheduler.Neighbour })
		if health[p.ID] == "" && (areas[p.Area] || touches) {
			health[p.ID] = scheduler.Neighbour
		}
	}
	return health
}

// patchTested are the materials that were tried on plants in tests that are read by the end of the horizon, the policy's
// days later; before that the course asks for no application. What harm they showed is in the plants' tolerance.
func (g *gathering) patchTested() map[site.PlantID][]catalogue.MaterialID {
	tested := map[site.PlantID][]catalogue.MaterialID{}
	for _, h := range g.histories {
		for _, e := range h.Events {
			if e.Done == nil || !strings.Contains(string(e.Done.FollowUp), "/"+string(course.KindPatchTest)+"/") ||
				g.zoneOf(h.Site).DateOf(e.At).AddDays(g.business.Policy.PatchTestDays) > g.lastDay() {
				continue
			}
			for _, id := range e.Done.Plants {
				for _, material := range g.problem.Materials {
					// A test that does not say with what it was made was made with what the course asked for: any.
					if e.Done.Material == "" || e.Done.Material == material.ID {
						tested[id] = append(tested[id], material.ID)
					}
				}
			}
		}
	}
	return tested
}

func (g *gathering) applied() map[site.PlantID][]scheduler.Applied {
	materials := map[catalogue.ProductID]catalogue.Product{}
	for _, p := range g.problem.Products {
		materials[p.ID] = p
	}
	applied := map[site.PlantID][]scheduler.Applied{}
	seen := map[string]bool{}
	for _, h := range g.histories {
		for _, e := range h.Events {
			if e.Application == nil {
				continue
			}
			product := materials[e.Application.Product]
			for _, plant := range e.Application.Plants {
				key := strings.Join([]string{string(plant), string(product.ID), e.Application.Began.String()}, "|")
				if seen[key] {
					continue
				}
				seen[key] = true
				applied[plant] = append(applied[plant], scheduler.Applied{
					Product: product.ID, Material: product.Material, Group: product.Label.ModeOfAction,
					Began: e.Application.Began, Ended: e.Application.Ended,
				})
			}
		}
	}
	for _, list := range applied {
		slices.SortFunc(list, func(a, b scheduler.Applied) int { return int(a.Began - b.Began) })
	}
	return applied
}
