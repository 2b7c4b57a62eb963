package course

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// candidate is a material, as a product or as physical work, that might go on the plants of the case.
type candidate struct {
	product    catalogue.Product // zero for physical work without a record
	material   catalogue.Material
	reasons    []string     // why it may not be used at all
	unasked    bool         // the client's consent is missing
	plants     []site.Plant // on which it may go
	patch      []site.Plant // of those, the ones that want a patch test first
	notes      []string     // on plants on which it may not go, and on patch tests
	ways       []Way        // of the plants of one area, filled by listWays
	noWay      bool         // no way is lawful; the one listed is shown all the same
	wayNotes   []string
	conditions []string            // steps of the visit that make it lawful
	hand       *catalogue.Material // removal by hand of what a look shows; nil where none is lawful or known
	resting    bool                // its group was used in the generation before, and another is lawful
	next       civil.Date          // of its next application, ideally
	timing     timing
	cover      *candidate // the contact product that holds the pest until this one works, nil without
	sequences  []*sequence
	model      cohort
	grows      float64 // by the model, from one round to the next; 1 and more is outgrown
}

// isPhysical says that no product comes on the plants: by hand, devices, living organisms without a label.
func (p *candidate) isPhysical() bool { return isPhysical(p.material) }

func isPhysical(material catalogue.Material) bool {
	return material.Law == catalogue.PhysicalWork || material.Law == catalogue.DeviceOrOrganism
}

// candidates are the firm's products that are for the pest by material or label, physical work that needs no
// record, and the household remedies, which are shown with the reason of their refusal.
func (s *story) candidates() []*candidate {
	var all []*candidate
	recorded := map[catalogue.MaterialID]bool{}
	for _, product := range s.in.Products {
		material := s.in.Catalogue.Materials[product.Material]
		if meets(material, s.pest.ID) || slices.Contains(product.Label.Pests, s.pest.ID) {
			all = append(all, &candidate{product: product, material: material})
			recorded[material.ID] = true
		}
	}
	for _, material := range s.materials {
		withoutRecord := material.Law == catalogue.PhysicalWork || material.Law == catalogue.HouseholdRemedy ||
			material.Law == catalogue.DeviceOrOrganism && material.Living == nil // living goods come in a delivery, which is a record
		if withoutRecord && !recorded[material.ID] && meets(material, s.pest.ID) {
			all = append(all, &candidate{material: material, product: catalogue.Product{Material: material.ID, Form: catalogue.NoSupply}})
		}
	}
	return all
}

// judge lists every reason against a candidate, chooses its plants and lists its ways.
func (s *story) judge(p *candidate) {
	s.judgeLaw(p)
	s.judgeIncidents(p)
	s.judgeAgreement(p)
	s.judgeLabel(p)
	s.choosePlantsFor(p)
	if len(p.reasons) == 0 && p.material.Method != catalogue.Trap {
		s.listAreas(p)
	}
}

// listAreas lists the ways area by area; plants of an area in which it may not be used are left out, and with none
// left it is refused.
func (s *story) listAreas(p *candidate) {
	var barred []string
	var kept []site.Plant
	p.noWay = true
	for _, area := range s.areas(p.plants) {
		part := candidate{product: p.product, material: p.material, plants: inArea(p.plants, area.ID)}
		s.listWays(&part)
		p.wayNotes, p.conditions = append(p.wayNotes, part.wayNotes...), append(p.conditions, part.conditions...)
		if len(part.reasons) > 0 {
			barred = append(barred, part.reasons...)
			continue
		}
		p.noWay = p.noWay && part.noWay
		kept = append(kept, part.plants...)
	}
	if !slices.ContainsFunc(kept, func(plant site.Plant) bool { return s.hasPlant(plant.ID) }) {
		p.reasons = append(p.reasons, barred...)
		return
	}
	p.plants = sortedBy(kept, func(plant site.Plant) site.PlantID { return plant.ID })
	p.notes = append(p.notes, barred...)
}

// waysFor are the ways of the candidate for some of its plants, all of one area; never none.
func (s *story) waysFor(p *candidate, plants []site.Plant) []Way {
	part := candidate{product: p.product, material: p.material, plants: plants}
	s.listWays(&part)
	if len(part.ways) == 0 {
		return []Way{s.inPlace(&part)}
	}
	return part.ways
}

// codes are the site's jurisdiction and those around it.
func (s *story) codes() []catalogue.JurisdictionCode {
	codes := []catalogue.JurisdictionCode{s.site.Jurisdiction}
	for _, j := range s.in.Catalogue.Chain(s.site.Jurisdiction) {
		if j.Code != s.site.Jurisdiction {
			codes = append(codes, j.Code)
		}
	}
	return codes
}

func (p *candidate) refuse(format string, args ...any) {
	p.reasons = append(p.reasons, fmt.Sprintf(format, args...))
}

func (s *story) judgeLaw(p *candidate) {
	code := s.site.Jurisdiction
	if p.product.ID != "" && slices.Contains(s.in.Withdrawn, p.product.ID) {
		p.refuse("withdrawn: the business uses it no more")
	}
	switch p.material.Law {
	case catalogue.HouseholdRemedy:
		if strings.TrimSpace(p.product.LawfulBecause[code]) == "" {
			p.refuse("a household remedy: %s. Refused unless the responsible applicator records why it is lawful in %s", p.material.LawNote, code)
		}
	case catalogue.RegisteredProduct:
		if p.product.Registration == "" {
			p.refuse("no registration number is recorded: want that of the container")
		}
		// A registration elsewhere, or in the country around, is none here: the checker of plans reads it so too.
		if !slices.Contains(p.product.Jurisdictions, code) {
			p.refuse("not registered in %s by its record", code)
		}
	}
	s.judgeWater(p)
	if asked := p.product.Label.Categories; len(asked) > 0 && !s.licenceHeld(asked) {
		p.refuse("nobody holds a licence of category %s in %s that covers %s", strings.Join(asked, " or "), code, words(string(s.site.Kind)))
	}
}

// judgeWater refuses a mix with the site's water where the label states a limit and the water is harder, or unknown.
func (s *story) judgeWater(p *candidate) {
	most, water := p.product.Label.MaxHardness, s.site.Water
	if most == nil || !p.product.Diluted() || water.Area == "" {
		return
	}
	switch {
	case water.HardnessMgL == nil:
		p.refuse("the label allows water of %.0f mg/L at most, and the site's is not known: measure it, or carry soft water", *most)
	case *water.HardnessMgL > *most:
		p.refuse("the label allows water of %.0f mg/L at most, and the site's has %.0f: carry soft water", *most, *water.HardnessMgL)
	}
}

// licenceHeld says whether somebody holds one of the categories and it covers the site's kind of place. A category of
// which nothing is known covers nothing.
func (s *story) licenceHeld(asked []string) bool {
	for _, code := range s.codes() {
		for _, held := range s.in.Held[code] {
			if !slices.Contains(asked, held) {
				continue
			}
			at := slices.IndexFunc(s.in.Catalogue.Categories(code), func(c catalogue.LicenceCategory) bool { return c.ID == held })
			if at >= 0 && slices.Contains(s.in.Catalogue.Categories(code)[at].Covers, s.site.Kind) {
				return true
			}
		}
	}
	return false
}

// judgeIncidents refuses a product that an open incident bars from the site.
func (s *story) judgeIncidents(p *candidate) {
	if by, barred := s.site.Bars(p.product.ID); barred && p.product.ID != "" {
		p.refuse("barred here since incident %s on %s, until the responsible applicator allows it again", by.Incident, s.dateOf(by.Since).Short())
	}
}

func (s *story) judgeAgreement(p *candidate) {
	agreement := s.site.Agreement
	if slices.Contains(agreement.RefusedMaterials, p.material.ID) {
		p.refuse("the client refuses %s", p.material.Name)
	}
	if slices.Contains(agreement.RefusedMethods, p.material.Method) {
		p.refuse("the client refuses %s", words(string(p.material.Method)))
	}
	if !agreement.Consented(p.material.Method, p.material.ID, s.today()) {
		p.unasked = true
		p.refuse("the client is to be asked before each %s and has not consented", words(string(p.material.Method)))
	}
}

func (s *story) judgeLabel(p *candidate) {
	label := p.product.Label
	if !meets(p.material, s.pest.ID) {
		p.refuse("%s reaches no stage of the %s", p.material.Name, s.pest.Name)
	}
	if p.isPhysical() || p.product.ID == "" {
		return
	}
	if !slices.Contains(label.Pests, s.pest.ID) {
		p.refuse("the label does not list the %s", s.pest.Name)
	}
	if !s.entryKnown(p) {
		p.refuse("the interval before people may enter is unknown: read it from the label, none is assumed")
	}
	poured := p.material.Method == catalogue.Drench || p.material.Method.Sprays()
	switch form := p.product.Form; {
	case form == catalogue.Concentrate && label.MaxRate == nil,
		poured && (form == catalogue.Solid || form == catalogue.Living) && label.MaxPortion == nil:
		p.refuse("the label's rate is not recorded: no mix can be made without it")
	}
}

// choosePlantsFor keeps the plants that the candidate may go on; with none left it is refused.
func (s *story) choosePlantsFor(p *candidate) {
	var barred []string
	for _, plant := range s.treated() {
		if slices.Contains(s.replace, plant.ID) {
			continue // it is to be replaced, not treated
		}
		if reason := s.bars(p, plant); reason != "" {
			barred = append(barred, fmt.Sprintf("not on %s: %s", plantName(plant), reason))
			continue
		}
		if reason := s.capsBar(s.made, p, plant.ID, s.today()); reason != "" {
			barred = append(barred, fmt.Sprintf("not on %s: %s", plantName(plant), reason))
			continue
		}
		p.plants = append(p.plants, plant)
		if !s.isUnknown(p, plant) {
			continue
		}
		if on, tested := s.testedOn(plant.ID, p.material.ID); tested {
			p.notes = append(p.notes, fmt.Sprintf("the patch test of %s on %s has no result yet: look at the leaf on %s, before the first full treatment, and record what it shows",
				p.material.Name, plantName(plant), max(s.today(), on.AddDays(s.in.Policy.PatchTestDays)).Short()))
		} else {
			p.patch = append(p.patch, plant)
		}
	}
	sick := slices.ContainsFunc(p.plants, func(plant site.Plant) bool { return s.hasPlant(plant.ID) })
	if !sick {
		p.reasons = append(p.reasons, barred...)
		return
	}
	p.notes = append(p.notes, barred...)
	if len(p.patch) > 0 {
		p.notes = append(p.notes, fmt.Sprintf("patch test first on %s: what it stands is not known", plantNames(p.patch)))
	}
}

// treated are the plants that an application is for: those of the case, and by the policy's extent for the severity those in our
// care, or whose owner consents, that touch one of them, or all neighbours.
func (s *story) treated() []site.Plant {
	plants, extent := slices.Clone(s.plants), s.extent()
	for _, near := range s.neighbours {
		touches := slices.ContainsFunc(s.plants, func(sick site.Plant) bool { return touch(sick, near) })
		if near.MayBeTreated(s.today()) && (extent == catalogue.ExtentNeighbours || extent == catalogue.ExtentTouching && touches) {
			plants = append(plants, near)
		}
	}
	return sortedBy(plants, func(p site.Plant) site.PlantID { return p.ID })
}

// extent is on what a treatment goes at the case's severity.
func (s *story) extent() catalogue.Extent { return s.in.Policy.extent(s.in.Catalogue, s.severity) }

// bars says why a candidate may not go on a plant, or "".
func (s *story) bars(p *candidate, plant site.Plant) string {
	label := p.product.Label
	switch verdict := s.tolerance(plant, p.material.ID); {
	case !plant.MayBeTreated(s.today()):
		return "it is not in our care and its owner has not consented"
	case slices.Contains(label.MustNot, plant.Species):
		return "the label excludes the species"
	case verdict.Verdict == catalogue.MustNot:
		return fmt.Sprintf("it does not stand %s (%s)", p.material.Name, standingText(verdict.Source, verdict.Standing))
	case p.isPhysical():
		return ""
	case plant.InFlower && !label.OpenFlowers:
		return "it is in flower and the label does not allow open flowers"
	case plant.Edible && !label.EdiblePlants:
		return "it is edible and the label does not list edible plants"
	case p.material.Method == catalogue.Drench && plant.PotVolume.Sign() <= 0:
		return "its pot volume is not recorded, and a drench is measured by it"
	case label.MaxPortion != nil && label.MaxPortion.Basis() == quantity.ForSurface && plant.SoilSurface.Sign() <= 0:
		return "its soil surface is not recorded, and the label's rate is for a surface"
	case p.material.Method == catalogue.Drench && (plant.Planter == site.SubIrrigated || plant.Planter == site.Hydroculture):
		return fmt.Sprintf("a %s planter takes no drench", words(string(plant.Planter)))
	}
	return ""
}

// tolerance is what a patch test of the plant showed, else the business's own record of it, else what is known of its
// species. A record that it must not is never overruled by a test.
func (s *story) tolerance(plant site.Plant, material catalogue.MaterialID) catalogue.Tolerance {
	own := s.recorded(plant, material)
	result := s.reading(plant.ID, material)
	switch {
	case result == nil || own.Verdict == catalogue.MustNot:
		return own
	case result.Harmed:
		return catalogue.Tolerance{Material: material, Verdict: catalogue.MustNot, Source: "a patch test of this plant", Standing: catalogue.OwnRecords}
	}
	return catalogue.Tolerance{Material: material, Verdict: catalogue.Stands, Source: "a patch test of this plant", Standing: catalogue.OwnRecords}
}

// recorded is the business's own record of a plant, else what is known of its species.
func (s *story) recorded(plant site.Plant, material catalogue.MaterialID) catalogue.Tolerance {
	for _, own := range plant.Tolerance {
		if own.Material == material {
			return own
		}
	}
	return s.in.Catalogue.Tolerance(plant.Species, material)
}

// testedOn is the day of the latest patch test of a material on a plant, or of one told without its material; ok is false without one. It is read the policy's days later.
func (s *story) testedOn(plant site.PlantID, material catalogue.MaterialID) (on civil.Date, ok bool) {
	for _, e := range s.history.Events {
		if e.Done == nil || kindOf(e.Done.FollowUp) != KindPatchTest || e.Done.Material != "" && e.Done.Material != material {
			continue
		}
		if _, whole := s.met(plant, e.At, e.Done.Plants); whole {
			on, ok = s.dateOf(e.At), true
		}
	}
	return on, ok
}

// isUnknown says whether it is not known what a plant stands of a candidate.
func (s *story) isUnknown(p *candidate, plant site.Plant) bool {
	return s.tolerance(plant, p.material.ID).Verdict == catalogue.PatchTest && !p.isPhysical()
}

// fits says how well a method suits the policy's extent for the severity: 0 best.
func (s *story) fits(method catalogue.Method) int {
	gentle := method == catalogue.ByHand || method == catalogue.Wipe || method == catalogue.SpotSpray
	if gentle == (s.extent() == catalogue.ExtentSpot) {
		return 0
	}
	return 1
}

// choose judges all candidates and ranks the lawful ones: one whose group did not work in the generation before, the one
// whose run goes on, then what fits the severity, then what clears over what holds down, then what is not outgrown or by
// less, then the fewest applications of it alone, then what reaches the pests of other cases on the plants too, then by id.
// The sequence of the first is planned with its turns to the others.
func (s *story) choose() (lawful, refused []*candidate) {
	for _, p := range s.candidates() {
		s.judge(p)
		switch {
		case len(p.reasons) > 0:
			refused = append(refused, p)
		case p.material.Method != catalogue.Trap && !p.material.Beside:
			s.time(p)
			lawful = append(lawful, p)
		}
	}
	s.rest(lawful)
	running := s.runningProduct()
	rank := func(p *candidate) []int {
		wanted, lawfulWay, goesOn, able, rests := 1, 0, 1, 1, 0
		if p.product.ID == s.in.Prefer && s.in.Prefer != "" {
			wanted = 0
		}
		if p.noWay {
			lawfulWay = 1
		}
		if p.product.ID == running.product && p.material.ID == running.material && running.material != "" {
			goesOn = 0
		}
		if p.able() {
			able = 0
		}
		if p.resting {
			rests = 1
		}
		return []int{wanted, lawfulWay, rests, goesOn, s.fits(p.material.Method), able, p.outgrownBy(), p.longestNeed(), -s.meetsOthers(p.material)}
	}
	slices.SortStableFunc(lawful, func(x, y *candidate) int { return slices.Compare(rank(x), rank(y)) })
	if len(lawful) > 0 {
		for _, q := range lawful[0].sequences {
			q.planTurns(s, lawful[0], lawful[1:])
		}
		lawful[0].timing = lawful[0].slowest() // a row that turns may end on another day
		lawful[0].cover = s.coverOf(lawful[0], lawful[1:])
	}
	return lawful, refused
}

// able says whether a candidate alone ends the pest, by the proof and by the model.
func (p *candidate) able() bool { return p.timing.clears && !p.outgrown() }

// runningProduct is the last application that meets the pest and still counts; a sequence goes on with its product. One that
// only covered a slow systemic stands for that.
func (s *story) runningProduct() made {
	for _, m := range slices.Backward(s.made) {
		material, ok := s.in.Catalogue.Materials[m.material]
		if !ok || !meets(material, s.pest.ID) || !meetsPlants(m, s.plants) {
			continue
		}
		if systemic, ok := s.covered(m); ok {
			return systemic
		}
		return m
	}
	return made{}
}

// time computes a lawful candidate's sequence and model.
func (s *story) time(p *candidate) {
	p.sequences = s.sequences(p)
	for i, q := range p.sequences {
		next := s.window(p, q).ideal
		q.plan(s, p, nil, next)
		q.reach(s, p, nil)
		if i == 0 || next < p.next {
			p.next = next
		}
	}
	p.timing = p.slowest()
	p.hand = s.handWork(func(m catalogue.Material) bool {
		return !slices.Contains(s.site.Agreement.RefusedMaterials, m.ID) && !slices.Contains(s.site.Agreement.RefusedMethods, m.Method)
	})
	p.model = s.cohortOf(p.material, p.hand, s.caseLine(), s.today())
	p.grows = s.roundGrowth(p)
}

// refusal shows a refused candidate, with the dilution that a household would use.
func (p *candidate) refusal() Refusal {
	r := Refusal{Product: p.product.ID, Material: p.material.ID, Reasons: p.reasons, OnlyConsent: p.unasked && len(p.reasons) == 1}
	if d := p.material.Dilution; d != nil {
		rate := quantity.NewRatio(d.Parts, quantity.Convention(d.Convention))
		stock := decimal(d.StockPercent)
		finished := rate.Share()
		finished.Mul(finished, stock)
		r.Computed = fmt.Sprintf("1:%d of %s %%: %s %%", d.Parts, quantity.Decimal(stock, 2), quantity.Decimal(finished, 2))
	}
	return r
}

// approval says whether the responsible applicator's yes to a candidate stands and covers all of some ways, and why not.
func (s *story) approval(p *candidate, ways []Way) (approved bool, why string) {
	if p.isPhysical() && len(p.product.Label.Categories) == 0 {
		return true, ""
	}
	var standing *Approval
	var at int
	for i, event := range s.history.Events {
		if event.Approval != nil && event.Approval.Product == p.product.ID {
			standing, at = event.Approval, i
		}
	}
	switch {
	case standing == nil:
		return false, "the responsible applicator has not approved it yet"
	case standing.Withdrawn:
		return false, "the responsible applicator withdrew the approval"
	}
	for _, m := range s.made {
		if m.aboveLabel && m.product == p.product.ID && m.began >= s.history.Events[at].At {
			return false, "an application above the label's rate was made: the approval is to be given again"
		}
	}
	if top := p.product.Label.MaxRate; standing.MaxRate != nil && top != nil && standing.MaxRate.Cmp(*top) < 0 {
		return false, fmt.Sprintf("approved up to %v, the label's rate is %v: approve that rate", *standing.MaxRate, *top)
	}
	for _, way := range ways {
		if !slices.Contains(standing.Ways, way.Kind) {
			return false, fmt.Sprintf("the approval does not cover the way %s", words(string(way.Kind)))
		}
	}
	return true, ""
}

// leastDays is the label's least lag, at least one day.
func (p *candidate) leastDays() int { return max(1, p.product.Label.LeastDays) }

// longestNeed is the greatest number of applications that some plants still need.
func (p *candidate) longestNeed() int {
	most := 0
	for _, q := range p.sequences {
		most = max(most, q.needed)
	}
	return most
}

// whole sums up the sequences: the first and last day, the most applications on a plant, the newest run and its begin.
func (p *candidate) whole() (whole sequence, applications int) {
	whole.alive = map[int]bool{}
	for i, q := range p.sequences {
		if i == 0 || q.beganOn < whole.beganOn {
			whole.beganOn = q.beganOn
		}
		whole.lastOn, whole.needed = max(whole.lastOn, q.lastOn), max(whole.needed, q.needed)
		applications = max(applications, len(q.rounds)+q.needed)
		if q.run > whole.run {
			whole.run, whole.since = q.run, q.since
		}
		if q.capped != "" {
			whole.capped = q.capped
			maps.Copy(whole.alive, q.alive)
		}
	}
	whole.timing, whole.shown = p.timing, p.shown()
	return whole, applications
}
