package dispatch

import (
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Plan returns a kept plan with what people need to read it.
//
// Fails with NotFound.
func Plan(tx *store.Tx, id string) (firm.ShownPlan, error) {
	kept, err := tx.Plan(id)
	if err != nil {
		return firm.ShownPlan{}, err
	}
	var s showing
	if err := s.read(tx); err != nil {
		return firm.ShownPlan{}, err
	}
	plan := s.plan(kept)
	s.explain(&plan)
	if plan.State == firm.PlanPublished {
		err = nameVisits(tx, &plan)
	}
	return plan, err
}

// Plans returns kept plans with what people need to read a list of them, without the explanations of their parts.
func Plans(tx *store.Tx, kept []firm.KeptPlan) ([]firm.ShownPlan, error) {
	var s showing
	if err := s.read(tx); err != nil {
		return nil, err
	}
	plans := make([]firm.ShownPlan, len(kept))
	for i := range kept {
		plans[i] = s.plan(kept[i])
	}
	return plans, nil
}

// showing is what every plan of a business is read beside.
type showing struct {
	business firm.Business
	head     firm.Head
	products map[catalogue.ProductID]catalogue.Product
	sites    []site.Site
	services []site.Service
}

func (s *showing) read(tx *store.Tx) (err error) {
	if s.business, err = tx.Business(); err != nil {
		return err
	}
	if s.head, err = tx.Head(); err != nil {
		return err
	}
	products, err := tx.AllProducts()
	if err != nil {
		return err
	}
	s.products = map[catalogue.ProductID]catalogue.Product{}
	for _, p := range products {
		s.products[p.ID] = p
	}
	if s.sites, err = tx.AllSites(); err != nil {
		return err
	}
	s.services, err = tx.Services()
	return err
}

// plan says where a plan stands and what to beware of.
func (s *showing) plan(kept firm.KeptPlan) firm.ShownPlan {
	shown := firm.ShownPlan{Kept: kept, State: firm.PlanDraft, Head: s.head.Version, Zone: s.business.Zone, Currency: s.business.Currency}
	switch {
	case s.head.Plan == kept.ID:
		shown.State = firm.PlanPublished
	case !kept.PublishedAt.IsZero():
		shown.State = firm.PlanSuperseded
	}
	var visits []scheduler.Visit
	for _, route := range kept.Plan.Routes {
		visits = append(visits, route.Visits...)
	}
	shown.Cautions = append(materialCautions(s.products, visits),
		"Costs, dates and chances are estimates from laboratory figures and the business's rates. The label in hand, local codes and the responsible applicator outrank this plan.")
	return shown
}

// explain says the keep-outs with clock times and where the items that the plan does not hold would be.
func (s *showing) explain(p *firm.ShownPlan) {
	for _, k := range p.Kept.Plan.KeepOuts {
		for _, at := range s.sites {
			if a := areaOf(at, k.Area); a != nil {
				p.KeepOuts = append(p.KeepOuts, shown(at, *a, k))
			}
		}
	}
	p.SiteOf = map[scheduler.ItemID]site.ID{}
	for _, f := range p.Kept.FollowUps {
		p.SiteOf[f.ID] = f.Site
	}
	for _, u := range p.Kept.Plan.Unplanned {
		name, _, _ := strings.Cut(string(u.Item), "#")
		if i := slices.IndexFunc(s.services, func(service site.Service) bool { return service.ID == name }); i >= 0 {
			p.SiteOf[u.Item] = s.services[i].Site
		}
	}
}

// nameVisits gives the visits of the published plan the ids and states under which they are known now.
func nameVisits(tx *store.Tx, p *firm.ShownPlan) error {
	visits, err := tx.Visits(store.VisitFilter{
		From: p.Zone.At(p.Kept.FirstDay, civil.NewClock(0, 0)), To: p.Zone.At(p.Kept.FirstDay.AddDays(p.Kept.Days+2), civil.NewClock(0, 0)),
	})
	if err != nil {
		return err
	}
	type placed struct {
		technician scheduler.TechnicianID
		site       site.ID
		arrives    civil.Instant
	}
	present := map[placed]scheduler.Visit{}
	for _, v := range visits {
		present[placed{v.Technician, v.Site, v.Arrives}] = v
	}
	for r := range p.Kept.Plan.Routes {
		for v := range p.Kept.Plan.Routes[r].Visits {
			visit := &p.Kept.Plan.Routes[r].Visits[v]
			if now, ok := present[placed{visit.Technician, visit.Site, visit.Arrives}]; ok {
				visit.ID, visit.State = now.ID, now.State
			}
		}
	}
	return nil
}
