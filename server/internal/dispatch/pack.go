package dispatch

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// packing gathers what answers depend on, site by site, for applications of a technician that begin in a span.
type packing struct {
	tx       *store.Tx
	span     civil.Interval
	business firm.Business
	known    *catalogue.Catalogue // with the business's own records
	member   firm.CrewMember
	crew     []firm.CrewMember
	products []catalogue.Product
	keepOuts []firm.KeepOutFact
	notices  []firm.Notice
}

// readPacking reads what is the same for every site.
func readPacking(tx *store.Tx, technician scheduler.TechnicianID, span civil.Interval) (packing, error) {
	p := packing{tx: tx, span: span}
	for _, step := range []func() error{
		func() (err error) { p.business, err = tx.Business(); return err },
		func() (err error) { p.known, err = casework.Catalogue(tx); return err },
		func() (err error) { p.member, err = tx.CrewMember(technician); return err },
		func() (err error) { p.crew, err = tx.Crew(); return err },
		func() (err error) { p.products, err = tx.AllProducts(); return err },
		p.readShut, p.readNotices,
	} {
		if err := step(); err != nil {
			return packing{}, err
		}
	}
	for i, product := range p.products {
		p.products[i] = catalogue.Shipped().InForce(product)
	}
	return p, nil
}

// readShut reads what is shut, or is to be, in the span and as far as answers look ahead; and what nobody has found dry yet.
func (p *packing) readShut() error {
	shut, err := p.tx.KeepOuts(civil.Interval{From: p.span.From, To: p.span.To.Add(mayapply.LookAhead)})
	if err != nil {
		return err
	}
	awaiting, err := p.tx.AwaitingDry()
	p.keepOuts = append(awaiting, shut...)
	return err
}

func (p *packing) readNotices() (err error) {
	tolerance := p.business.Rules.NoticeTolerance
	p.notices, err = p.tx.Notices(civil.Interval{From: p.span.From.Add(-tolerance), To: p.span.To.Add(tolerance) + 1})
	return err
}

// pack gathers what answers about one site depend on.
func (p *packing) pack(of site.ID) (mayapply.Pack, error) {
	at, err := p.tx.Site(of)
	if err != nil {
		return mayapply.Pack{}, err
	}
	records, err := p.tx.PlantsOf(of)
	if err != nil {
		return mayapply.Pack{}, err
	}
	histories, err := p.histories(at, records)
	if err != nil {
		return mayapply.Pack{}, err
	}
	plants, err := casework.WithLearned(p.tx, records...)
	if err != nil {
		return mayapply.Pack{}, err
	}
	pack := p.shared()
	pack.Site, pack.Notices = at, p.noticesOf(of)
	for _, plant := range plants {
		pack.Plants = append(pack.Plants, p.plant(at, plant, histories))
	}
	if pack.Cases, err = p.casesOf(plants, histories); err != nil {
		return mayapply.Pack{}, err
	}
	pack.KeepOuts, err = p.keepOutsOf(at)
	return pack, err
}

// shared is the part of a pack that is the same for every site.
func (p *packing) shared() mayapply.Pack {
	policy := p.business.Policy
	pack := mayapply.Pack{
		Catalogue: p.known, Products: p.products, By: p.person(p.member),
		Vessels: p.member.Vessels, Measures: p.member.Measures, Scales: p.member.Scales, NoticeTolerance: p.business.Rules.NoticeTolerance,
		Policy: mayapply.Policy{
			Policy:           reentry.Policy{UntilDry: policy.UntilDry, UnventilatedFactorPercent: policy.UnventilatedFactorPercent},
			LeastRatePercent: p.business.Rules.LeastRatePercent, ReservePercent: policy.ReservePercent,
			NoticeLead: policy.NoticeLead, LinerDrenchPercent: policy.LinerDrenchPercent,
		},
	}
	for _, m := range p.crew {
		pack.Crew = append(pack.Crew, p.person(m))
	}
	return pack
}

// histories are those of the site's cases, with the names that its plants bear now.
func (p *packing) histories(at site.Site, records []site.Plant) ([]course.History, error) {
	of, err := p.tx.CasesOfSite(at.ID)
	if err != nil {
		return nil, err
	}
	told, err := casework.Histories(p.tx, of)
	if err != nil {
		return nil, err
	}
	lineage, err := casework.Lineage(p.tx, at, records, told)
	if err != nil {
		return nil, err
	}
	return lineage.Renamed(told), nil
}

// casesOf are the cases that still need something, with the responsible applicator's words that stand for each.
func (p *packing) casesOf(plants []site.Plant, histories []course.History) ([]mayapply.PackedCase, error) {
	ids := make([]site.PlantID, len(plants))
	for i, plant := range plants {
		ids[i] = plant.ID
	}
	found, err := p.tx.CasesOfPlants(ids)
	var packed []mayapply.PackedCase
	for _, c := range found {
		if c.Ending != nil && c.Ending.Kind != course.KeptLow {
			continue
		}
		one := mayapply.PackedCase{ID: string(c.ID), Pest: c.Pest}
		for _, id := range c.Plants {
			one.Plants = append(one.Plants, site.PlantID(id))
		}
		if i := slices.IndexFunc(histories, func(h course.History) bool { return h.Case == c.ID }); i >= 0 {
			one.Approvals = p.approvals(histories[i])
		}
		packed = append(packed, one)
	}
	return packed, err
}

// approvals are the responsible applicator's words on products that stand now.
func (p *packing) approvals(of course.History) []mayapply.PackedApproval {
	var given []mayapply.PackedApproval
	for _, product := range p.products {
		if word := casework.ApprovalBefore(of, product.ID, p.tx.Now()+1); word != nil && !word.Withdrawn {
			given = append(given, mayapply.PackedApproval{Product: product.ID, By: p.nameOf(scheduler.TechnicianID(word.By)), MaxRate: word.MaxRate})
		}
	}
	return given
}

// noticesOf are those of a site that went out and are not used up.
func (p *packing) noticesOf(of site.ID) []mayapply.PackedNotice {
	var out []mayapply.PackedNotice
	for _, n := range p.notices {
		if n.Site == of && !n.SentAt.IsZero() && !n.Used {
			id, _, _ := strings.Cut(string(n.Item), "/")
			out = append(out, mayapply.PackedNotice{Case: id, Begins: n.Begins, SentAt: n.SentAt})
		}
	}
	return out
}

// keepOutsOf are those of a site's areas, each with whether it was really made.
func (p *packing) keepOutsOf(at site.Site) ([]mayapply.PackedKeepOut, error) {
	made, err := p.tx.ReportedKeepOuts(at.ID, civil.Interval{From: p.span.From.Add(-reentry.MaxKeepOut), To: p.span.To.Add(mayapply.LookAhead)})
	var packed []mayapply.PackedKeepOut
	for _, k := range p.keepOuts {
		if areaOf(at, k.Area) == nil {
			continue
		}
		one := mayapply.PackedKeepOut{
			Running: mayapply.Running{KeepOut: reentry.KeepOut{Area: k.Area, During: k.During}, UntilDry: k.UntilDry, Confirmed: !k.ConfirmedDryAt.IsZero()},
			Product: k.Product, Own: k.By == p.member.ID,
			Made: slices.ContainsFunc(made, func(fact firm.KeepOutFact) bool {
				return fact.Area == k.Area && fact.Item == k.Item && fact.During == k.During
			}),
		}
		if !slices.Contains(packed, one) {
			packed = append(packed, one)
		}
	}
	return packed, err
}

func (p *packing) person(m firm.CrewMember) mayapply.Person {
	person := mayapply.Person{Name: p.nameOf(m.ID)}
	for _, l := range m.Licences {
		person.Licences = append(person.Licences, mayapply.Licence{Jurisdiction: l.Jurisdiction, Category: l.Category, From: l.From, To: l.To, Under: p.nameOf(l.Under)})
	}
	return person
}

// nameOf is what people call a technician, with the id where two are called alike: a licence names its supervisor by it.
func (p *packing) nameOf(id scheduler.TechnicianID) string {
	called := func(id scheduler.TechnicianID) string {
		if i := slices.IndexFunc(p.crew, func(m firm.CrewMember) bool { return m.ID == id }); i >= 0 {
			return p.crew[i].Name
		}
		return string(id)
	}
	name := called(id)
	if slices.ContainsFunc(p.crew, func(m firm.CrewMember) bool { return m.ID != id && m.Name == name }) {
		return fmt.Sprintf("%s (%s)", name, id)
	}
	return name
}

// plant is a plant with what was done to it over all its cases. One application that two cases tell counts once.
func (p *packing) plant(at site.Site, plant site.Plant, histories []course.History) mayapply.PackedPlant {
	packed := mayapply.PackedPlant{Plant: plant}
	for _, h := range histories {
		for _, e := range h.Events {
			if made := e.Application; made != nil && slices.Contains(made.Plants, plant.ID) {
				i := slices.IndexFunc(p.products, func(product catalogue.Product) bool { return product.ID == made.Product })
				applied := mayapply.Applied{Product: made.Product, Began: made.Began}
				if i >= 0 {
					applied.Material, applied.Group = p.products[i].Material, p.products[i].Label.ModeOfAction
				}
				if !slices.Contains(packed.Applied, applied) {
					packed.Applied = append(packed.Applied, applied)
				}
			}
			patch := strings.Contains(doneItem(e), "/"+string(scheduler.KindPatchTest)+"/")
			if patch && slices.Contains(e.Done.Plants, plant.ID) {
				readOn := at.Zone.DateOf(e.At).AddDays(p.business.Policy.PatchTestDays)
				packed.Patches = append(packed.Patches, mayapply.PackedPatch{Material: e.Done.Material, ReadOn: readOn})
			}
		}
	}
	slices.SortFunc(packed.Applied, func(x, y mayapply.Applied) int { return int(x.Began - y.Began) })
	return packed
}

// doneItem is the item that an event tells as done, or "".
func doneItem(e course.Event) string {
	if e.Done == nil {
		return ""
	}
	return string(e.Done.FollowUp)
}
