package dispatch

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
)

func (d *explaining) explainVisits() error {
	for i := range d.route.Visits {
		v := &d.route.Visits[i]
		v.WaterText = waterText(v.Site)
		for _, work := range v.Visit.Work {
			v.Work = append(v.Work, d.explainWork(v.Site, work))
		}
		for _, k := range d.awaiting {
			if k.During.To <= v.Visit.Arrives && areaOf(v.Site, k.Area) != nil {
				v.DryAsked = append(v.DryAsked, k)
			}
		}
	}
	return nil
}

func waterText(s site.Site) string {
	if s.Water.Area == "" {
		return "no water at the site: carry it"
	}
	hardness := "hardness unknown: counts as hard"
	if s.Water.HardnessMgL != nil {
		hardness = fmt.Sprintf("hardness %.0f mg/L as CaCO3", *s.Water.HardnessMgL)
	}
	return fmt.Sprintf("water at %s, %s", nameOf(s, s.Water.Area), hardness)
}

func areaOf(s site.Site, id site.AreaID) *site.Area {
	for i := range s.Areas {
		if s.Areas[i].ID == id {
			return &s.Areas[i]
		}
	}
	return nil
}

func nameOf(s site.Site, id site.AreaID) string {
	if a := areaOf(s, id); a != nil {
		return a.Name
	}
	return string(id)
}

func (d *explaining) explainWork(s site.Site, work scheduler.WorkItem) firm.DayWork {
	explained := firm.DayWork{Text: d.workText(s, work)}
	if work.Use == nil {
		return explained
	}
	product := d.products[work.Use.Product]
	explained.Equipment = product.Label.Equipment
	explained.Conditions = casework.Conditions(s, work.Area, product)
	explained.Readings = casework.Readings(s, work.Area, s.Zone.DateOf(work.Begins), product)
	return explained
}

func (d *explaining) workText(s site.Site, work scheduler.WorkItem) string {
	what := string(work.Service)
	if work.Service == "" {
		what = strings.ReplaceAll(string(work.Kind), "-", " ")
	}
	if work.Use != nil {
		what = fmt.Sprintf("%s of %s, %s", what, d.products[work.Use.Product].Name, strings.ReplaceAll(string(work.Use.Method), "-", " "))
	}
	text := d.barred(s, work) + fmt.Sprintf("%s in %s: %s", what, nameOf(s, work.Area), d.plantsText(work))
	if work.Marked {
		text += "; water sparingly, nothing may run through (a systemic is taking effect)"
	}
	if f, ok := d.reasons[work.Item]; ok && f.Reason != "" {
		text += ". " + f.Reason
	}
	return text
}

// barred warns of an application that was published before an incident barred its product from the site.
func (d *explaining) barred(s site.Site, work scheduler.WorkItem) string {
	if work.Use == nil {
		return ""
	}
	by, barred := s.Bars(work.Use.Product)
	if !barred {
		return ""
	}
	return fmt.Sprintf("DO NOT APPLY %s here: it is barred since incident %s until the responsible applicator allows it again. ", d.products[work.Use.Product].Name, by.Incident)
}

// mostNamed is how many plants a line of routine work names one by one; a follow-up names all of its plants.
const mostNamed = 4

func (d *explaining) plantsText(work scheduler.WorkItem) string {
	var names []string
	count := 0
	for _, id := range work.Plants {
		p := d.plants[id]
		count += p.Count
		names = append(names, fmt.Sprintf("%s (%d)", p.Name, p.Count))
	}
	if work.Service != "" && len(names) > mostNamed {
		return fmt.Sprintf("%d plants in %d groups, %s and others", count, len(names), strings.Join(names[:mostNamed], ", "))
	}
	return strings.Join(names, ", ")
}

func (d *explaining) explainMixes() error {
	for i, mix := range d.route.Route.Mixes {
		sheet, err := d.sheet(i, mix)
		if err != nil {
			return fmt.Errorf("mix sheet of %s: %w", mix.Product, err)
		}
		d.route.Sheets = append(d.route.Sheets, firm.DaySheet{Mix: mix, Sheet: sheet})
	}
	return nil
}

func (d *explaining) sheet(i int, mix scheduler.Mix) (dilution.Sheet, error) {
	product := d.products[mix.Product]
	dosing, err := dilution.LabelDosing(product, d.business.Rules.LeastRatePercent, d.pouredFrom(i))
	if err != nil {
		return dilution.Sheet{}, err
	}
	s, ok := d.sites[mix.Site]
	if !ok {
		if s, err = d.tx.Site(mix.Site); err != nil {
			return dilution.Sheet{}, err
		}
	}
	making := dilution.Making{
		Product: product, Cautions: catalogue.Shipped().Materials[product.Material].Cautions,
		Place: nameOf(s, mix.Area), HardnessMgL: s.Water.HardnessMgL, Zone: s.Zone,
		Begins: mix.Begins, UseBy: mix.UseBy, Technician: d.member.Name,
	}
	if s.Water.Area == "" {
		making.Place = ""
	}
	for _, vessel := range d.member.Vessels {
		if vessel.ID == mix.Vessel {
			making.Vessel = vessel
		}
	}
	if err := dosed(&making, dosing, mix); err != nil {
		return dilution.Sheet{}, err
	}
	d.placeShut(i, &making)
	return dilution.MakeSheet(making), nil
}

// dosed tells the sheet what comes into the mix, as the plan says it: poured, weighed or counted.
func dosed(making *dilution.Making, dosing dilution.Dosing, mix scheduler.Mix) error {
	switch {
	case dosing.Organisms != nil:
		packs := making.Product.Packs
		k := slices.IndexFunc(packs, func(p catalogue.Pack) bool { return p.Name == mix.Measure })
		if k < 0 {
			return fmt.Errorf("pack %q: %s does not come in it any more", mix.Measure, making.Product.Name)
		}
		filling, ok := dilution.Counted(packs[k], mix.Organisms, mix.Need, mix.Volume, mix.Note)
		if !ok {
			return fmt.Errorf("%d organisms are no whole parts of %s", mix.Organisms, mix.Measure)
		}
		making.Organisms = &dilution.Organisms{OrganismFilling: filling, Limits: *dosing.Organisms}
	case dosing.Weight != nil:
		making.Powder = &dilution.Powder{Limits: *dosing.Weight, PowderFilling: dilution.PowderFilling{
			Need: mix.Need, Volume: mix.Volume, Powder: mix.Mass, Scale: mix.Measure, Note: mix.Note,
		}}
	default:
		making.Limits = *dosing.Liquid
		making.Filling = dilution.Filling{
			Need: mix.Need, Volume: mix.Volume, Concentrate: mix.Concentrate, Water: mix.Volume.Sub(mix.Concentrate),
			Measure: mix.Measure, Share: dilution.Strength(mix.Concentrate, mix.Volume), Note: mix.Note,
		}
	}
	return nil
}

// pouredFrom lists what a mix of the day goes on, which a label's rate for the pot or the soil is judged by.
func (d *explaining) pouredFrom(i int) []dilution.Poured {
	var on []dilution.Poured
	for _, v := range d.route.Visits {
		for _, work := range v.Visit.Work {
			if work.MixIndex == i && work.Use != nil {
				on = append(on, scheduler.PouredBy(work.Use, func(id site.PlantID) (site.Plant, bool) { p, known := d.plants[id]; return p, known })...)
			}
		}
	}
	return on
}

// placeShut tells the sheet which areas its applications shut, and on which other plants of the visit the rest may go.
func (d *explaining) placeShut(i int, making *dilution.Making) {
	for _, v := range d.route.Visits {
		draws := map[scheduler.ItemID]bool{}
		for _, work := range v.Visit.Work {
			if work.MixIndex == i {
				draws[work.Item] = true
			}
		}
		if len(draws) == 0 {
			continue
		}
		making.LeftoverOn = d.leftoverOn(making.Product, v.Visit, i)
		for _, k := range d.keepOuts {
			if draws[k.Item] && (civil.Interval{From: v.Visit.Arrives, To: v.Visit.Leaves}).Overlaps(k.During) {
				making.Shut = append(making.Shut, dilution.Shut{Area: nameOf(v.Site, k.Area), During: k.During, UntilDry: k.UntilDry})
			}
		}
	}
}

// leftoverOn names the plants of a visit onto which the label lets what is left of a mix go: of a listed species, in our
// care, and not treated from that mix already.
func (d *explaining) leftoverOn(product catalogue.Product, visit scheduler.Visit, mix int) []string {
	treated := map[site.PlantID]bool{}
	for _, work := range visit.Work {
		for _, plant := range work.Plants {
			treated[plant] = treated[plant] || work.MixIndex == mix
		}
	}
	var names []string
	for id, already := range treated {
		plant := d.plants[id]
		if !already && !plant.NotInCare && slices.Contains(product.Label.LeftoverOn, plant.Species) {
			names = append(names, plant.Name)
		}
	}
	slices.Sort(names)
	return names
}

func (d *explaining) explainKeepOuts() error {
	ours := map[scheduler.ItemID]bool{}
	for _, v := range d.route.Visits {
		for _, work := range v.Visit.Work {
			ours[work.Item] = true
		}
	}
	for _, k := range d.keepOuts {
		for _, s := range d.sites {
			if a := areaOf(s, k.Area); a != nil && (ours[k.Item] || k.During.To > d.route.Route.Departs) {
				d.route.KeepOuts = append(d.route.KeepOuts, shown(s, *a, k.KeepOut))
			}
		}
	}
	slices.SortFunc(d.route.KeepOuts, func(a, b firm.DayKeepOut) int {
		return strings.Compare(fmt.Sprint(a.KeepOut.During.From, a.KeepOut.Area), fmt.Sprint(b.KeepOut.During.From, b.KeepOut.Area))
	})
	return nil
}

// shown says a keep-out with the clock times of its site.
func shown(s site.Site, a site.Area, k scheduler.KeepOut) firm.DayKeepOut {
	return firm.DayKeepOut{KeepOut: k, Site: s.ID, Zone: s.Zone, Text: keepOutText(s, a, k)}
}

func keepOutText(s site.Site, a site.Area, k scheduler.KeepOut) string {
	text := fmt.Sprintf("%s, %s: nobody in from %s to %s", s.Name, a.Name, s.Zone.Format(k.During.From), s.Zone.Format(k.During.To))
	if k.UntilDry {
		text += ", and until somebody has confirmed that it is dry"
	}
	return text
}

// cautions are those of every material that the day uses, each once, and those of every day.
func (d *explaining) cautions() []string {
	var visits []scheduler.Visit
	for _, v := range d.route.Visits {
		visits = append(visits, v.Visit)
	}
	return append(materialCautions(d.products, visits),
		"The label in hand, local codes and the responsible applicator outrank this day route.",
		"Eyes and skin: rinse at once; first aid is on the label. Poison line: "+lineOr(d.business.PoisonLine)+". Emergency: "+lineOr(d.business.EmergencyLine)+".",
		"Wash hands and change or brush clothes before the next site; infested plants come last.",
		"Alone after hours: check in and out; no ladder work alone.",
	)
}

// materialCautions are those of every material that visits use, each once.
func materialCautions(products map[catalogue.ProductID]catalogue.Product, visits []scheduler.Visit) []string {
	var cautions []string
	for _, v := range visits {
		for _, work := range v.Work {
			if work.Use == nil {
				continue
			}
			for _, text := range catalogue.Shipped().Materials[products[work.Use.Product].Material].Cautions {
				if !slices.Contains(cautions, text) {
					cautions = append(cautions, text)
				}
			}
		}
	}
	return cautions
}

func lineOr(line string) string {
	if line == "" {
		return "not set, ask the office"
	}
	return line
}
