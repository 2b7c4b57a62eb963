package course

import (
	"cmp"
	"math/big"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// story is a history as it is read: what is known of the case today, from its events in order of time.
type story struct {
	in         Input
	history    History
	site       site.Site
	pest       catalogue.Pest
	certainty  Certainty
	living     bool // some finding or look showed living insects or was not sure
	severity   int
	found      civil.Date           // of the first finding of this pest
	lastLiving civil.Date           // of the last find with living insects
	since      civil.Date           // from which the pest is what it is; earlier events are of a mistaken one
	mistaken   int                  // times the pest was found to be another
	plants     []site.Plant         // infested or suspected, by id
	neighbours []site.Plant         // by id
	made       []made               // applications to plants of the case, of all cases, in order
	looks      []look               // at plants of the case, in order
	stated     *Ending              // an ending told by people that nothing later undid
	passages   []passage            // what became of plants and where they went, in order
	patches    []Event              // results of patch tests of all cases, in order
	replace    []site.PlantID       // of the case, that people decided to replace
	removal    bool                 // replace is the policy's, people have not decided
	spread     []spread             // to plants that were not of the case before
	materials  []catalogue.Material // of the catalogue, by id
	others     []History            // other cases that go on and share plants with this one
	reopened   civil.Date           // of the find that ended a watch
	known      *known               // what was computed before
}

// spread is a find on plants that were not of the case before.
type spread struct {
	on     civil.Date
	plants []site.PlantID
}

// made is one application that was really made, as the course counts it.
type made struct {
	on         civil.Date // of the site's zone, when it began
	began      civil.Instant
	ended      civil.Instant
	product    catalogue.ProductID
	material   catalogue.MaterialID // "" when the product is not known
	plants     []site.PlantID       // of the case and its neighbours
	partly     []site.PlantID       // of those, the ones of which only a part was met, before it was joined with others
	followUp   ItemID
	event      string
	own        bool // told in this case's history
	aboveLabel bool
	weak       bool // mixed below the label's least rate: it counts for lag and caps, and not for the proof
}

// look is one inspection.
type look struct {
	on       civil.Date
	at       civil.Instant
	plants   []site.PlantID
	find     bool
	followUp ItemID
	event    string
	cards    *int
}

// read makes the story of a validated input in order.
func read(in Input) story {
	s := story{in: in, certainty: ClientCall, known: newKnown()}
	s.history = in.Histories[slices.IndexFunc(in.Histories, func(h History) bool { return h.Case == in.Case })]
	s.site = in.Sites[slices.IndexFunc(in.Sites, func(x site.Site) bool { return x.ID == s.history.Site })]
	pest := s.history.Pest
	if first := slices.IndexFunc(s.history.Events, func(e Event) bool { return e.Finding != nil }); first >= 0 {
		// The history may name the pest that it turned out to be: what was thought first is in the first finding.
		pest = s.history.Events[first].Finding.Pest
	}
	s.materials = sortedMaterials(in.Catalogue)
	s.readPassages()
	var opened civil.Instant
	if len(s.history.Events) > 0 {
		opened = s.history.Events[0].At
	}
	known := slices.Clone(s.history.Plants)
	ids := s.became(known, opened)
	for _, event := range s.history.Events {
		if f := event.Finding; f != nil {
			if f.Pest != pest {
				pest, s.since = f.Pest, s.dateOf(event.At)
				s.mistaken++
				s.certainty, s.living, s.found, s.lastLiving, s.severity = ClientCall, false, 0, 0, 0
			}
			s.readFinding(event)
			ids = append(ids, s.became(f.Plants, event.At)...)
			known = s.joins(known, s.dateOf(event.At), f.Plants)
		}
		found := s.readLook(event)
		ids = append(ids, s.became(found, event.At)...)
		known = s.joins(known, s.dateOf(event.At), found)
		s.readEnding(event)
	}
	s.pest = in.Catalogue.Pests[pest]
	s.plants = s.choosePlants(ids)
	s.neighbours = s.chooseNeighbours()
	s.resolveLooks()
	s.others, _ = s.shared()
	s.readDecisions()
	s.readApplications()
	if s.found.IsZero() {
		s.found = in.Today
	}
	return s
}

func (s *story) dateOf(at civil.Instant) civil.Date { return s.site.Zone.DateOf(at) }

// today is the day of the site: the business's clock in the site's zone where it is given.
func (s *story) today() civil.Date {
	if s.in.Now.IsZero() {
		return s.in.Today
	}
	return s.dateOf(s.in.Now)
}

func (s *story) readFinding(event Event) {
	f, on := event.Finding, s.dateOf(event.At)
	if s.found.IsZero() {
		s.found = on
	}
	if certaintyRank(f.Certainty) > certaintyRank(s.certainty) {
		s.certainty = f.Certainty
	}
	s.severity = f.Severity
	if f.Life != Dead {
		s.living, s.lastLiving = true, max(s.lastLiving, on)
	}
	s.stated = nil
}

func certaintyRank(c Certainty) int {
	return slices.Index([]Certainty{ClientCall, Suspected, Confirmed}, c)
}

// readLook returns the plants on which living insects were found: they are of the case from then on.
func (s *story) readLook(event Event) []site.PlantID {
	i := event.Inspection
	if i == nil {
		return nil
	}
	on := s.dateOf(event.At)
	caught := i.AdultsOnCards != nil && *i.AdultsOnCards > 0
	find := len(i.Found) > 0 || caught
	s.looks = append(s.looks, look{on, event.At, i.Plants, find, i.FollowUp, event.ID, i.AdultsOnCards})
	if s.stated != nil && s.stated.Kind == KeptLow && len(i.Found) > 0 && i.Severity > mostKeptLow {
		s.stated, s.reopened = nil, on
	}
	if !find {
		return nil
	}
	s.living, s.lastLiving = true, max(s.lastLiving, on)
	if i.Severity > 0 {
		s.severity = i.Severity
	}
	if len(i.Found) > 0 {
		s.certainty = Confirmed
	}
	return i.Found
}

// mostKeptLow is the worst severity at which a case still counts as kept low: a few insects on one part.
const mostKeptLow = 1

// joins adds plants that were not of the case before and notes that it spread to them; those of the first finding are
// no spread.
func (s *story) joins(known []site.PlantID, on civil.Date, plants []site.PlantID) []site.PlantID {
	fresh := slices.DeleteFunc(slices.Clone(plants), func(id site.PlantID) bool { return slices.Contains(known, id) })
	if len(fresh) > 0 && on > s.found {
		s.spread = append(s.spread, spread{on, fresh})
	}
	return append(known, fresh...)
}

// resolveLooks writes looks at groups of their time as looks at the plants that they became; a look at a part of what is
// one group today is none at the whole.
func (s *story) resolveLooks() {
	if len(s.passages) == 0 {
		return
	}
	for i, look := range s.looks {
		var plants []site.PlantID
		for _, all := range [][]site.Plant{s.plants, s.neighbours} {
			for _, plant := range all {
				if _, whole := s.met(plant.ID, look.at, look.plants); whole {
					plants = append(plants, plant.ID)
				}
			}
		}
		s.looks[i].plants = plants
	}
}

// readDecisions reads which plants are to be replaced: those that policy removes at the severity of a confirmed pest, until people
// decide otherwise; a later decision takes an earlier one back.
func (s *story) readDecisions() {
	if s.certainty == Confirmed && s.living && s.extent() == catalogue.ExtentRemoval {
		s.replace, s.removal = ids(s.plants), true
	}
	for _, event := range s.history.Events {
		if event.Decision == nil {
			continue
		}
		s.removal = false
		of := s.became(event.Decision.Plants, event.At)
		if len(event.Decision.Plants) == 0 {
			of = ids(s.plants)
		}
		s.replace = slices.DeleteFunc(s.replace, func(id site.PlantID) bool { return slices.Contains(of, id) })
		if event.Decision.Kind == DecideReplace {
			s.replace = append(s.replace, of...)
		}
	}
}

func (s *story) readEnding(event Event) {
	if event.Ending != nil {
		s.stated = event.Ending
	}
}

// choosePlants resolves ids, each once, and leaves out what is not at the case's site.
func (s *story) choosePlants(ids []site.PlantID) []site.Plant {
	var plants []site.Plant
	for _, plant := range s.in.Plants {
		if plant.Site == s.site.ID && slices.Contains(ids, plant.ID) {
			plants = append(plants, plant)
		}
	}
	return plants
}

// chooseNeighbours are the plants that touch one of the case, or stand in its area where neither names what
// it touches; plants that are not in the business's care are among them.
func (s *story) chooseNeighbours() []site.Plant {
	var near []site.Plant
	for _, plant := range s.in.Plants {
		if plant.Site != s.site.ID || s.hasPlant(plant.ID) || !plant.GoneOn.IsZero() {
			continue
		}
		if slices.ContainsFunc(s.plants, func(sick site.Plant) bool { return areNeighbours(sick, plant) }) {
			near = append(near, plant)
		}
	}
	return near
}

// touch says whether the leaves of two plants touch by their records.
func touch(x, y site.Plant) bool {
	return slices.Contains(x.Touches, y.ID) || slices.Contains(y.Touches, x.ID)
}

func areNeighbours(x, y site.Plant) bool {
	if touch(x, y) {
		return true
	}
	return x.Area == y.Area && len(x.Touches) == 0 && len(y.Touches) == 0
}

func (s *story) hasPlant(id site.PlantID) bool {
	return slices.ContainsFunc(s.plants, func(p site.Plant) bool { return p.ID == id })
}

// readApplications gathers what was applied to the case's plants in any case: two cases on one plant share
// retreatment, caps and rotation.
func (s *story) readApplications() {
	for _, history := range s.in.Histories {
		own := history.Case == s.history.Case
		for _, event := range history.Events {
			if m, ok := s.application(event); ok {
				m.own = own
				s.made = append(s.made, m)
			}
		}
	}
	slices.SortStableFunc(s.made, func(x, y made) int {
		if by := cmp.Compare(x.began, y.began); by != 0 {
			return by
		}
		switch {
		case x.own == y.own:
			return 0
		case x.own:
			return -1
		}
		return 1
	})
	s.made = slices.CompactFunc(s.made, func(x, y made) bool {
		// One application told in two cases counts once, as this case's own.
		return x.began == y.began && x.own != y.own && x.product == y.product && x.material == y.material && slices.Equal(x.plants, y.plants)
	})
}

func (s *story) application(event Event) (made, bool) {
	m := made{event: event.ID}
	var plants []site.PlantID
	switch {
	case event.Application != nil:
		a := event.Application
		m.began, m.ended, m.product, m.followUp, m.aboveLabel = a.Began, a.Ended, a.Product, a.FollowUp, a.AboveLabel
		m.material = s.materialOf(a.Product)
		m.judgeRate(s, a)
		plants = a.Plants
	case event.Done != nil && kindOf(event.Done.FollowUp) == KindApplication:
		// Physical work done on a follow-up of application: no product was used.
		m.began, m.ended, m.followUp = event.At, event.At, event.Done.FollowUp
		m.material = event.Done.Material
		if m.material == "" {
			m.material = s.materialOf("")
		}
		plants = event.Done.Plants
	default:
		return made{}, false
	}
	if m.began.IsZero() {
		m.began = event.At
	}
	m.on = s.dateOf(m.began)
	for _, all := range [][]site.Plant{s.plants, s.neighbours} {
		for _, plant := range all {
			some, whole := s.met(plant.ID, m.began, plants)
			if some {
				m.plants = append(m.plants, plant.ID)
			}
			if some && !whole {
				m.partly = append(m.partly, plant.ID)
			}
		}
	}
	return m, len(m.plants) > 0 && m.on >= s.since
}

// judgeRate compares the mix as it was made with the label's rate, where both are known. Above the greatest rate it is above
// the label whatever was reported; below the least it is too weak to count on.
func (m *made) judgeRate(s *story, a *Application) {
	product, ok := s.productOf(a.Product)
	if ok && product.Form != catalogue.Concentrate && product.Label.MaxPortion != nil {
		m.judgePortion(s, a, product.Label)
		return
	}
	if !ok || a.Concentrate.Sign() <= 0 || a.Volume.Sign() <= 0 || product.Label.MaxRate == nil {
		return
	}
	mixed := quantity.Rate{Concentrate: a.Concentrate, Per: a.Volume, Convention: quantity.MadeUpTo}.Share()
	most := product.Label.MaxRate.Share()
	least := new(big.Rat).Mul(most, big.NewRat(int64(s.in.Policy.LeastRatePercent), 100))
	if low := product.Label.MinRate; low != nil {
		least = low.Share()
	}
	m.aboveLabel = m.aboveLabel || mixed.Cmp(most) > 0
	m.weak = mixed.Cmp(least) < 0
}

// judgePortion does the same for what is weighed or counted, where the plants' pots or soil are known.
func (m *made) judgePortion(s *story, a *Application, label catalogue.Label) {
	var plants []site.Plant
	for _, id := range a.Plants {
		at := slices.IndexFunc(s.in.Plants, func(p site.Plant) bool { return p.ID == id })
		if at < 0 {
			return
		}
		plants = append(plants, s.in.Plants[at])
	}
	dosed := dilution.Dosed{Mass: a.Mass, Organisms: a.Organisms, Volume: a.Volume, Applied: a.Applied}
	times, known := dosed.TimesRate(*label.MaxPortion, plants)
	if !known {
		return
	}
	least := big.NewRat(int64(s.in.Policy.LeastRatePercent), 100)
	if low := label.MinPortion; low != nil {
		least = new(big.Rat).Quo(low.Each(), label.MaxPortion.Each())
	}
	m.aboveLabel = m.aboveLabel || times.Cmp(big.NewRat(1, 1)) > 0
	m.weak = times.Cmp(least) < 0
}

// counts is the material by which the proof counts an application to a plant: none where the mix was too weak or only a part
// of the plant's group was met.
func (m made) counts(plant site.PlantID) catalogue.MaterialID {
	if m.weak || slices.Contains(m.partly, plant) {
		return ""
	}
	return m.material
}

func (s *story) productOf(id catalogue.ProductID) (catalogue.Product, bool) {
	at := slices.IndexFunc(s.in.Products, func(p catalogue.Product) bool { return p.ID == id })
	if id == "" || at < 0 {
		return catalogue.Product{}, false
	}
	return s.in.Products[at], true
}

// materialOf is the material of a product; without a product it is the physical work that meets the pest.
func (s *story) materialOf(id catalogue.ProductID) catalogue.MaterialID {
	for _, product := range s.in.Products {
		if product.ID == id && id != "" {
			return product.Material
		}
	}
	if id != "" {
		return ""
	}
	if hand := s.handWork(func(catalogue.Material) bool { return true }); hand != nil {
		return hand.ID
	}
	return ""
}

// handWork is the physical work against the pest that passes a test: what is done at every look comes before the rest, what
// goes only beside other treatments last; nil where none is known.
func (s *story) handWork(passes func(catalogue.Material) bool) *catalogue.Material {
	var best *catalogue.Material
	rank := func(m catalogue.Material) int {
		switch {
		case m.AtLooks:
			return 0
		case m.Beside:
			return 2
		}
		return 1
	}
	for _, material := range s.materials {
		fits := material.Law == catalogue.PhysicalWork && material.Method != catalogue.Trap && meets(material, s.pest.ID) && passes(material)
		if fits && (best == nil || rank(material) < rank(*best)) {
			best = &material
		}
	}
	return best
}

// meets says whether a material is listed for a pest at all.
func meets(material catalogue.Material, pest catalogue.PestID) bool {
	return slices.ContainsFunc(material.Effects, func(e catalogue.Effect) bool {
		return e.Pest == pest && e.Reach != catalogue.Spared
	})
}

func sortedMaterials(c *catalogue.Catalogue) []catalogue.Material {
	all := make([]catalogue.Material, 0, len(c.Materials))
	for _, material := range c.Materials {
		all = append(all, material)
	}
	return sortedBy(all, func(m catalogue.Material) catalogue.MaterialID { return m.ID })
}

// areas are those in which the plants stand, each once, in the site's order.
func (s *story) areas(plants []site.Plant) []site.Area {
	var areas []site.Area
	for _, area := range s.site.Areas {
		if slices.ContainsFunc(plants, func(p site.Plant) bool { return p.Area == area.ID }) {
			areas = append(areas, area)
		}
	}
	return areas
}

func ids(plants []site.Plant) []site.PlantID {
	all := make([]site.PlantID, len(plants))
	for i, p := range plants {
		all[i] = p.ID
	}
	return all
}

func count(plants []site.Plant) int {
	n := 0
	for _, p := range plants {
		n += p.Count
	}
	return n
}
