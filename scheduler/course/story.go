package course

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
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
	found      civil.Date   // of the first finding of this pest
	lastLiving civil.Date   // of the last find with living insects
	since      civil.Date   // from which the pest is what it is; earlier events are of a mistaken one
	mistaken   int          // times the pest was found to be another
	plants     []site.Plant // infested or suspected, by id
	neighbours []site.Plant // by id
	made       []made       // applications to plants of the case, of all cases, in order
	looks      []look       // at plants of the case, in order
	stated     *Ending      // an ending told by people that nothing later undid
}

// made is one application that was really made, as the course counts it.
type made struct {
	on         civil.Date // of the site's zone, when it began
	began      civil.Instant
	ended      civil.Instant
	product    catalogue.ProductID
	material   catalogue.MaterialID // "" when the product is not known
	plants     []site.PlantID       // of the case and its neighbours
	followUp   ItemID
	event      string
	own        bool // told in this case's history
	aboveLabel bool
}

// look is one inspection.
type look struct {
	on       civil.Date
	plants   []site.PlantID
	find     bool
	followUp ItemID
	event    string
	cards    *int
}

// read makes the story of a validated input in order.
func read(in Input) story {
	s := story{in: in, certainty: ClientCall}
	s.history = in.Histories[slices.IndexFunc(in.Histories, func(h History) bool { return h.Case == in.Case })]
	s.site = in.Sites[slices.IndexFunc(in.Sites, func(x site.Site) bool { return x.ID == s.history.Site })]
	pest := s.history.Pest
	if first := slices.IndexFunc(s.history.Events, func(e Event) bool { return e.Finding != nil }); first >= 0 {
		// The history may name the pest that it turned out to be: what was thought first is in the first finding.
		pest = s.history.Events[first].Finding.Pest
	}
	ids := slices.Clone(s.history.Plants)
	for _, event := range s.history.Events {
		if f := event.Finding; f != nil {
			if f.Pest != pest {
				pest, s.since = f.Pest, s.dateOf(event.At)
				s.mistaken++
				s.certainty, s.living, s.found, s.lastLiving, s.severity = ClientCall, false, 0, 0, 0
			}
			s.readFinding(event)
			ids = append(ids, f.Plants...)
		}
		ids = append(ids, s.readLook(event)...)
		s.readEnding(event)
	}
	s.pest = in.Catalogue.Pests[pest]
	s.plants = s.choosePlants(ids)
	s.neighbours = s.chooseNeighbours()
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
	s.looks = append(s.looks, look{on, i.Plants, find, i.FollowUp, event.ID, i.AdultsOnCards})
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
		if plant.Site != s.site.ID || s.hasPlant(plant.ID) {
			continue
		}
		if slices.ContainsFunc(s.plants, func(sick site.Plant) bool { return areNeighbours(sick, plant) }) {
			near = append(near, plant)
		}
	}
	return near
}

func areNeighbours(x, y site.Plant) bool {
	if slices.Contains(x.Touches, y.ID) || slices.Contains(y.Touches, x.ID) {
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
	slices.SortStableFunc(s.made, func(x, y made) int { return int(x.began - y.began) })
}

func (s *story) application(event Event) (made, bool) {
	m := made{event: event.ID}
	var plants []site.PlantID
	switch {
	case event.Application != nil:
		a := event.Application
		m.began, m.ended, m.product, m.followUp, m.aboveLabel = a.Began, a.Ended, a.Product, a.FollowUp, a.AboveLabel
		m.material = s.materialOf(a.Product)
		plants = a.Plants
	case event.Done != nil && kindOf(event.Done.FollowUp) == KindApplication:
		// Physical work done on a follow-up of application: no product was used.
		m.began, m.ended, m.followUp = event.At, event.At, event.Done.FollowUp
		m.material = s.materialOf("")
		plants = event.Done.Plants
	default:
		return made{}, false
	}
	if m.began.IsZero() {
		m.began = event.At
	}
	m.on = s.dateOf(m.began)
	for _, id := range plants {
		near := slices.ContainsFunc(s.neighbours, func(p site.Plant) bool { return p.ID == id })
		if near || s.hasPlant(id) {
			m.plants = append(m.plants, id)
		}
	}
	return m, len(m.plants) > 0 && m.on >= s.since
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
	for _, material := range sortedMaterials(s.in.Catalogue) {
		if material.Law == catalogue.PhysicalWork && meets(material, s.pest.ID) {
			return material.ID
		}
	}
	return ""
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

// season is the coldest, usual and warmest over the case's areas and the days ahead.
func (s *story) season() site.Season {
	var all site.Season
	first := true
	for _, area := range s.areas(s.plants) {
		for ahead := 0; ahead <= daysOfClimate; ahead += 7 {
			season, ok := area.Climate.On(s.today().AddDays(ahead))
			if !ok {
				continue
			}
			if first {
				all, first = season, false
			}
			all.Coldest = min(all.Coldest, season.Coldest)
			all.Warmest = max(all.Warmest, season.Warmest)
		}
	}
	return all
}

// daysOfClimate is how far ahead the temperatures of the seasons are looked up: the usual length of a course.
const daysOfClimate = 42

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
