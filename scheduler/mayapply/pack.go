package mayapply

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// LookAhead is how far behind a beginning keep-outs count: as far as an answer looks for a later one.
const LookAhead = 15 * 24 * time.Hour

// Pack is all that answers about one site depend on, as it was known at one moment, for one person who applies. It may be
// carried along and asked without signal: the answer is the one that would have been given while nothing changed.
type Pack struct {
	Catalogue *catalogue.Catalogue
	Site      site.Site
	Plants    []PackedPlant       // all of the site
	Products  []catalogue.Product // all of the business, as in force
	Cases     []PackedCase        // of the plants, that still need something
	Notices   []PackedNotice      // that went out and are not used up, by beginning
	KeepOuts  []PackedKeepOut     // by beginning
	By        Person
	Crew      []Person
	Vessels   []dilution.Vessel
	Measures  []dilution.Measure
	Scales    []dilution.Scale
	Policy    Policy
	// NoticeTolerance is how far the beginning may be from the one that a notice named.
	NoticeTolerance time.Duration
}

// PackedPlant is a plant with what was done to it over all its cases, and the patch tests that were made on it.
type PackedPlant struct {
	site.Plant
	Applied []Applied
	Patches []PackedPatch
}

// PackedPatch is a patch test of a material ("" any) that may be read from a day on.
type PackedPatch struct {
	Material catalogue.MaterialID
	ReadOn   civil.Date
}

// PackedCase is a case with the responsible applicator's words that stand for it, one for each product.
type PackedCase struct {
	ID        string
	Pest      catalogue.PestID
	Plants    []site.PlantID
	Approvals []PackedApproval
}

// PackedApproval is the responsible applicator's yes to a product.
type PackedApproval struct {
	Product catalogue.ProductID
	By      string
	MaxRate *quantity.Rate // nil: the label's
}

// PackedNotice is when the client was told of an application to a case at an instant.
type PackedNotice struct {
	Case           string
	Begins, SentAt civil.Instant
}

// PackedKeepOut is an area that is shut, or is to be.
type PackedKeepOut struct {
	Running
	Product catalogue.ProductID
	// Own says that it is to be shut by an application of the pack's own person; Made that the application was really made.
	Own, Made bool
}

// Wish is one application that the person of a pack has in mind.
type Wish struct {
	Product catalogue.ProductID
	Plants  []site.PlantID
	Now     civil.Instant // of who asks: what was to be shut until then awaits a confirmation that it is dry
	Begins  civil.Instant
	Takes   time.Duration    // from the beginning of the first plant to the end of the last
	Pest    catalogue.PestID // "" is that of the plants' cases
	Area    site.AreaID      // in which they would be treated; "" is where each stands
	// PatchTest says that it is itself a patch test.
	PatchTest         bool
	Celsius, Humidity map[site.AreaID]float64 // readings by area
	// CarriesWater says that the water comes along; CarriedHardnessMgL is its hardness, nil is unknown and counts as hard.
	CarriesWater       bool
	CarriedHardnessMgL *float64
}

// Ask answers a wish with every rule that speaks. Errors: *InvalidQuestion, where it names a plant, product or area that the
// pack does not hold or cannot be understood; never because a rule refuses.
func (p Pack) Ask(w Wish) (Answer, error) {
	if err := p.holds(w); err != nil {
		return Answer{}, err
	}
	product := p.product(w.Product)
	cases := p.casesOf(w)
	q := Question{
		Catalogue: p.Catalogue, Site: p.Site, Product: product, Products: p.Products, Pest: pestOf(w.Pest, cases), Begins: w.Begins, Takes: w.Takes,
		PatchTest: w.PatchTest, By: p.By, Crew: p.Crew, Approval: approvalOf(w, cases), NoticeSent: p.noticeOf(w, cases),
		Celsius: w.Celsius, Humidity: w.Humidity, CarriesWater: w.CarriesWater, CarriedHardnessMgL: w.CarriedHardnessMgL,
		Running: p.running(w), Vessels: p.Vessels, Measures: p.Measures, Scales: p.Scales, Policy: p.Policy,
	}
	for _, id := range w.Plants {
		q.Plants = append(q.Plants, p.plant(id, w, product.Material))
	}
	return MayApply(q)
}

// holds says which of the things that a wish names the pack does not hold.
func (p Pack) holds(w Wish) error {
	var l catalogue.FieldErrors
	if !slices.ContainsFunc(p.Products, func(x catalogue.Product) bool { return x.ID == w.Product }) {
		l.Add("product", catalogue.ReasonMissing, "product %q is not in the pack: want one of the business's", w.Product)
	}
	for i, id := range w.Plants {
		if !slices.ContainsFunc(p.Plants, func(x PackedPlant) bool { return x.ID == id }) {
			l.Add(fmt.Sprintf("plants[%d]", i), catalogue.ReasonMissing, "plant %q is not in the pack: want one of %s", id, p.Site.Name)
		}
	}
	if w.Area != "" && !slices.ContainsFunc(p.Site.Areas, func(a site.Area) bool { return a.ID == w.Area }) {
		l.Add("area", catalogue.ReasonUnknownArea, "%s is no area of %s", w.Area, p.Site.Name)
	}
	if len(l) > 0 {
		return &InvalidQuestion{l}
	}
	return nil
}

func (p Pack) product(id catalogue.ProductID) catalogue.Product {
	return p.Products[slices.IndexFunc(p.Products, func(x catalogue.Product) bool { return x.ID == id })]
}

// plant is a plant where it would be treated, with the patch tests that can be read by then.
func (p Pack) plant(id site.PlantID, w Wish, material catalogue.MaterialID) Plant {
	packed := p.Plants[slices.IndexFunc(p.Plants, func(x PackedPlant) bool { return x.ID == id })]
	plant := Plant{Plant: packed.Plant, Applied: packed.Applied}
	if w.Area != "" {
		plant.Area = w.Area
	}
	for _, patch := range packed.Patches {
		if (patch.Material == "" || patch.Material == material) && patch.ReadOn <= p.Site.Zone.DateOf(w.Begins) {
			plant.PatchTested = append(plant.PatchTested, material)
		}
	}
	return plant
}

// casesOf are the cases of the plants that the wish may be for.
func (p Pack) casesOf(w Wish) []PackedCase {
	var of []PackedCase
	for _, c := range p.Cases {
		ours := slices.ContainsFunc(w.Plants, func(id site.PlantID) bool { return slices.Contains(c.Plants, id) })
		if ours && (w.Pest == "" || c.Pest == w.Pest) {
			of = append(of, c)
		}
	}
	return of
}

// pestOf is the pest that was asked for, else that of the cases; "" where they have none or several.
func pestOf(asked catalogue.PestID, cases []PackedCase) catalogue.PestID {
	pest := asked
	for _, c := range cases {
		if pest != "" && c.Pest != pest {
			return ""
		}
		pest = c.Pest
	}
	return pest
}

// approvalOf is the responsible applicator's word on the product, where it stands for a case of each plant; of several rates
// the least.
func approvalOf(w Wish, cases []PackedCase) *Approval {
	var given *Approval
	for _, id := range w.Plants {
		var best *PackedApproval
		for _, c := range cases {
			i := slices.IndexFunc(c.Approvals, func(a PackedApproval) bool { return a.Product == w.Product })
			if i >= 0 && slices.Contains(c.Plants, id) {
				best = &c.Approvals[i]
			}
		}
		switch {
		case best == nil:
			return nil
		case given == nil:
			given = &Approval{By: best.By, MaxRate: best.MaxRate}
		case best.MaxRate != nil && (given.MaxRate == nil || best.MaxRate.Cmp(*given.MaxRate) < 0):
			given.MaxRate = best.MaxRate
		}
	}
	return given
}

// noticeOf is when the client was told of an application to one of the cases about then.
func (p Pack) noticeOf(w Wish, cases []PackedCase) (sent *civil.Instant) {
	from, to := w.Begins.Add(-p.NoticeTolerance), w.Begins.Add(p.NoticeTolerance)
	for _, n := range p.Notices {
		if n.Begins >= from && n.Begins <= to && slices.ContainsFunc(cases, func(c PackedCase) bool { return c.ID == n.Case }) {
			sent = &n.SentAt
		}
	}
	return sent
}

// running are the areas that are shut about then: what awaits a confirmation that it is dry, and what is shut or to be shut
// from the beginning on. What the person's own plan shuts for this very application is no other one.
func (p Pack) running(w Wish) []Running {
	ahead := civil.Interval{From: w.Begins, To: w.Begins.Add(LookAhead)}
	during := civil.Interval{From: w.Begins, To: w.Begins.Add(w.Takes)}
	var running []Running
	take := func(counts func(PackedKeepOut) bool) {
		for _, k := range p.KeepOuts {
			itself := k.Own && !k.Made && k.Product == w.Product && k.During.Overlaps(during)
			if counts(k) && !itself && !slices.Contains(running, k.Running) {
				running = append(running, k.Running)
			}
		}
	}
	take(func(k PackedKeepOut) bool { return k.UntilDry && !k.Confirmed && k.During.From <= w.Now })
	take(func(k PackedKeepOut) bool { return k.During.Overlaps(ahead) })
	return running
}
