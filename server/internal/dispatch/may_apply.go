package dispatch

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// lookAhead is how far behind a wish keep-outs are read: as far as the answer looks for a later beginning.
const lookAhead = 15 * 24 * time.Hour

// MayApply answers whether something speaks against an application that a technician has in mind: from the label, the law,
// the agreement and everything that is recorded, as it stands now. It writes nothing.
//
// Fails with NotFound for the technician or the product, Refused (DELETED) for one who left or that was withdrawn, and Invalid (UNKNOWN_PLANT, OTHER_SITE, UNKNOWN_AREA,
// UNKNOWN_PEST, DUPLICATE, each with its field). What speaks against the application is no failure.
func MayApply(tx *store.Tx, w firm.Wish) (firm.WishAnswer, error) {
	if w.Begins.IsZero() {
		w.Begins = tx.Now()
	}
	a := asking{tx: tx, wish: w}
	for _, step := range []func() error{a.readFirm, a.readPlants, a.readAreas, a.readHistories, a.readRunning, a.readNotice} {
		if err := step(); err != nil {
			return firm.WishAnswer{}, err
		}
	}
	answer, err := mayapply.MayApply(a.question())
	if err != nil {
		return firm.WishAnswer{}, fault.New(fault.Invalid, "QUESTION_NOT_UNDERSTOOD", "the question cannot be understood: %v", err)
	}
	return firm.WishAnswer{Answer: answer, Site: a.site.ID, Zone: a.site.Zone}, nil
}

// asking gathers what an answer depends on.
type asking struct {
	tx       *store.Tx
	wish     firm.Wish
	business firm.Business
	known    *catalogue.Catalogue // with the business's own records
	member   firm.CrewMember
	crew     []firm.CrewMember
	product  catalogue.Product
	products []catalogue.Product

	site      site.Site
	plants    []site.Plant // asked for, in the order asked, with what patch tests showed
	cases     []firm.Case  // of the plants, that still need something
	histories []course.History
	running   []mayapply.Running
	notice    *civil.Instant
}

func (a *asking) readFirm() (err error) {
	if a.business, err = a.tx.Business(); err != nil {
		return err
	}
	if a.known, err = casework.Catalogue(a.tx); err != nil {
		return err
	}
	if a.crew, err = a.tx.Crew(); err != nil {
		return err
	}
	member, err := a.tx.KeptCrewMember(a.wish.Technician)
	if err != nil {
		return err
	}
	product, err := a.tx.KeptProduct(a.wish.Product)
	if err != nil {
		return err
	}
	if err := errors.Join(member.InUse("technician", string(a.wish.Technician)), product.InUse("product", string(a.wish.Product))); err != nil {
		return err
	}
	a.member, a.product = member.Value, catalogue.Shipped().InForce(product.Value)
	if a.products, err = a.tx.AllProducts(); err != nil {
		return err
	}
	for i, product := range a.products {
		a.products[i] = catalogue.Shipped().InForce(product)
	}
	return nil
}

func (a *asking) readPlants() error {
	var fields catalogue.FieldErrors
	for i, id := range a.wish.Plants {
		path := fmt.Sprintf("plants[%d]", i)
		p, err := a.tx.Plant(id)
		switch {
		case fault.Is(err, fault.NotFound):
			fields.Add(path, "UNKNOWN_PLANT", "plant %s is not of this business", id)
			continue
		case err != nil:
			return err
		case slices.Contains(a.wish.Plants[:i], id):
			fields.Add(path, catalogue.ReasonDuplicate, "plant %s is there twice", id)
		case len(a.plants) > 0 && p.Site != a.plants[0].Site:
			fields.Add(path, "OTHER_SITE", "plant %s stands at another site than plant %s: ask for each site by itself", id, a.plants[0].ID)
		}
		a.plants = append(a.plants, p)
	}
	if a.wish.Pest != "" {
		_, err := catalogue.Shipped().PestByID(a.wish.Pest)
		fields.AddUnknown("pest", catalogue.ReasonUnknownPest, err)
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	var err error
	if a.plants, err = casework.WithLearned(a.tx, a.plants...); err != nil {
		return err
	}
	a.site, err = a.tx.Site(a.plants[0].Site)
	return err
}

// readAreas holds the areas that are named against the site, and puts the plants where they would be treated.
func (a *asking) readAreas() error {
	var fields catalogue.FieldErrors
	judge := func(path string, id site.AreaID) {
		if !slices.ContainsFunc(a.site.Areas, func(area site.Area) bool { return area.ID == id }) {
			fields.Add(path, catalogue.ReasonUnknownArea, "%s is no area of %s", id, a.site.Name)
		}
	}
	if a.wish.Area != "" {
		judge("area", a.wish.Area)
		for i := range a.plants {
			a.plants[i].Area = a.wish.Area
		}
	}
	for i, reading := range a.wish.Readings {
		judge(fmt.Sprintf("readings[%d].area", i), reading.Area)
	}
	return fault.InvalidFields(fields)
}

// readHistories reads what was done to the plants, and the cases that they belong to now.
func (a *asking) readHistories() error {
	of, err := a.tx.CasesOfSite(a.site.ID)
	if err != nil {
		return err
	}
	told, err := casework.Histories(a.tx, of)
	if err != nil {
		return err
	}
	records, err := a.tx.PlantsOf(a.site.ID)
	if err != nil {
		return err
	}
	lineage, err := casework.Lineage(a.tx, a.site, records, told)
	if err != nil {
		return err
	}
	a.histories = lineage.Renamed(told)
	ids := make([]site.PlantID, len(a.plants))
	for i, p := range a.plants {
		ids[i] = p.ID
	}
	if a.cases, err = a.tx.CasesOfPlants(ids); err != nil {
		return err
	}
	a.cases = slices.DeleteFunc(a.cases, func(c firm.Case) bool {
		return c.Ending != nil && c.Ending.Kind != course.KeptLow || a.wish.Pest != "" && c.Pest != a.wish.Pest
	})
	return nil
}

// readRunning reads what is shut. What a plan shuts for this very application is no other one.
func (a *asking) readRunning() error {
	begins := a.wish.Begins
	shut, err := a.tx.KeepOuts(civil.Interval{From: begins, To: begins.Add(lookAhead)})
	if err != nil {
		return err
	}
	awaiting, err := a.tx.AwaitingDry()
	if err != nil {
		return err
	}
	made, err := a.tx.ReportedKeepOuts(a.site.ID, civil.Interval{From: begins.Add(-reentry.MaxKeepOut), To: begins.Add(lookAhead)})
	if err != nil {
		return err
	}
	during := civil.Interval{From: begins, To: begins.Add(a.wish.Takes)}
	for _, k := range append(awaiting, shut...) {
		reported := slices.ContainsFunc(made, func(fact firm.KeepOutFact) bool {
			return fact.Area == k.Area && fact.Item == k.Item && fact.During == k.During
		})
		itself := !reported && k.By == a.member.ID && k.Product == a.product.ID && k.During.Overlaps(during)
		running := mayapply.Running{KeepOut: reentry.KeepOut{Area: k.Area, During: k.During}, UntilDry: k.UntilDry, Confirmed: !k.ConfirmedDryAt.IsZero()}
		if !itself && !slices.Contains(a.running, running) {
			a.running = append(a.running, running)
		}
	}
	return nil
}

// readNotice reads when the client was told of an application to one of the plants' cases about then.
func (a *asking) readNotice() error {
	tolerance := a.business.Rules.NoticeTolerance
	notices, err := a.tx.Notices(civil.Interval{From: a.wish.Begins.Add(-tolerance), To: a.wish.Begins.Add(tolerance) + 1})
	for _, n := range notices {
		ours := slices.ContainsFunc(a.cases, func(c firm.Case) bool { return strings.HasPrefix(string(n.Item), string(c.ID)+"/") })
		if ours && n.Site == a.site.ID && !n.SentAt.IsZero() && !n.Used {
			sent := n.SentAt
			a.notice = &sent
		}
	}
	return err
}

func (a *asking) question() mayapply.Question {
	q := mayapply.Question{
		Catalogue: a.known, Site: a.site, Product: a.product, Products: a.products, Pest: a.pest(),
		Begins: a.wish.Begins, Takes: a.wish.Takes, PatchTest: a.wish.PatchTest, By: a.person(a.member), Approval: a.approval(),
		NoticeSent: a.notice, Celsius: map[site.AreaID]float64{}, Humidity: map[site.AreaID]float64{}, CarriesWater: a.wish.CarriesWater, CarriedHardnessMgL: a.wish.CarriedHardnessMgL,
		Running: a.running, Vessels: a.member.Vessels, Measures: a.member.Measures,
		Policy: mayapply.Policy{
			Policy:           reentry.Policy{UntilDry: a.business.Policy.UntilDry, UnventilatedFactorPercent: a.business.Policy.UnventilatedFactorPercent},
			LeastRatePercent: a.business.Rules.LeastRatePercent, ReservePercent: a.business.Policy.ReservePercent,
			NoticeLead: a.business.Policy.NoticeLead, LinerDrenchPercent: a.business.Policy.LinerDrenchPercent,
		},
	}
	for _, m := range a.crew {
		q.Crew = append(q.Crew, a.person(m))
	}
	for _, reading := range a.wish.Readings {
		q.Celsius[reading.Area] = reading.Celsius
		if percent := reading.HumidityPercent; percent != nil {
			q.Humidity[reading.Area] = *percent
		}
	}
	for _, p := range a.plants {
		q.Plants = append(q.Plants, a.plant(p))
	}
	return q
}

// pest is the one asked for, else the one of the plants' cases; "" where they have none or several.
func (a *asking) pest() catalogue.PestID {
	pest := a.wish.Pest
	for _, c := range a.cases {
		if pest != "" && c.Pest != pest {
			return ""
		}
		pest = c.Pest
	}
	return pest
}

func (a *asking) person(m firm.CrewMember) mayapply.Person {
	p := mayapply.Person{Name: a.nameOf(m.ID)}
	for _, l := range m.Licences {
		p.Licences = append(p.Licences, mayapply.Licence{Jurisdiction: l.Jurisdiction, Category: l.Category, From: l.From, To: l.To, Under: a.nameOf(l.Under)})
	}
	return p
}

// nameOf is what people call a technician, with the id where two are called alike: a licence names its supervisor by it.
func (a *asking) nameOf(id scheduler.TechnicianID) string {
	called := func(id scheduler.TechnicianID) string {
		if i := slices.IndexFunc(a.crew, func(m firm.CrewMember) bool { return m.ID == id }); i >= 0 {
			return a.crew[i].Name
		}
		return string(id)
	}
	name := called(id)
	if slices.ContainsFunc(a.crew, func(m firm.CrewMember) bool { return m.ID != id && m.Name == name }) {
		return fmt.Sprintf("%s (%s)", name, id)
	}
	return name
}

// approval is the responsible applicator's word on the product, where it stands for a case of each plant; of several
// rates the least.
func (a *asking) approval() *mayapply.Approval {
	var given *mayapply.Approval
	for _, p := range a.plants {
		var best *course.Approval
		for _, c := range a.cases {
			if !slices.Contains(c.Plants, string(p.ID)) {
				continue
			}
			if i := slices.IndexFunc(a.histories, func(h course.History) bool { return h.Case == c.ID }); i >= 0 {
				if word := casework.ApprovalBefore(a.histories[i], a.product.ID, a.tx.Now()+1); word != nil && !word.Withdrawn {
					best = word
				}
			}
		}
		if best == nil {
			return nil
		}
		if given == nil {
			given = &mayapply.Approval{By: best.By, MaxRate: best.MaxRate}
		} else if best.MaxRate != nil && (given.MaxRate == nil || best.MaxRate.Cmp(*given.MaxRate) < 0) {
			given.MaxRate = best.MaxRate
		}
	}
	if given != nil {
		given.By = a.nameOf(scheduler.TechnicianID(given.By))
	}
	return given
}

// plant is a plant with what was done to it over all its cases. One application that two cases tell counts once.
func (a *asking) plant(p site.Plant) mayapply.Plant {
	plant := mayapply.Plant{Plant: p}
	for _, h := range a.histories {
		for _, e := range h.Events {
			if made := e.Application; made != nil && slices.Contains(made.Plants, p.ID) {
				i := slices.IndexFunc(a.products, func(product catalogue.Product) bool { return product.ID == made.Product })
				applied := mayapply.Applied{Product: made.Product, Began: made.Began}
				if i >= 0 {
					applied.Material, applied.Group = a.products[i].Material, a.products[i].Label.ModeOfAction
				}
				if !slices.Contains(plant.Applied, applied) {
					plant.Applied = append(plant.Applied, applied)
				}
			}
			if a.tested(e, p.ID) {
				plant.PatchTested = append(plant.PatchTested, a.product.Material)
			}
		}
	}
	slices.SortFunc(plant.Applied, func(x, y mayapply.Applied) int { return int(x.Began - y.Began) })
	return plant
}

// tested says whether an event is a patch test of the product's material on a plant, long enough before the wish to be read.
func (a *asking) tested(e course.Event, id site.PlantID) bool {
	done := e.Done
	if done == nil || !strings.Contains(string(done.FollowUp), "/"+string(scheduler.KindPatchTest)+"/") || done.Material != "" && done.Material != a.product.Material {
		return false
	}
	readOn := a.site.Zone.DateOf(e.At).AddDays(a.business.Policy.PatchTestDays)
	return slices.Contains(done.Plants, id) && readOn <= a.site.Zone.DateOf(a.wish.Begins)
}
