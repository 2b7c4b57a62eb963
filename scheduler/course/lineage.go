package course

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// Lineage follows the plants of one site through what histories tell of them: groups that split and joined, plants that
// moved and went, and what patch tests showed. It answers for whoever keeps records of plants or of what was done to
// them, as a course is computed by the same reading.
type Lineage struct{ story story }

// NewLineage reads the histories of a site, in any order. A history without a case tells of the site's plants whatever
// their cases. Plants are the site's records, those that are gone included: into what is not on record nothing is followed.
func NewLineage(c *catalogue.Catalogue, at site.Site, plants []site.Plant, histories []History) Lineage {
	s := story{in: Input{Catalogue: c, Plants: plants, Histories: histories}, site: at}
	for _, h := range histories {
		if h.Site == at.ID {
			s.history.Events = append(s.history.Events, h.Events...)
		}
	}
	s.readPassages()
	return Lineage{s}
}

// Became is what plants of an instant are today: the groups into which they split or that they joined, without those
// that are gone.
func (l Lineage) Became(plants []site.PlantID, at civil.Instant) []site.PlantID {
	return l.story.became(plants, at)
}

// MovedTo is the area to which a plant of today went last, under whatever name it had then; told is false for one of
// which no move is told.
func (l Lineage) MovedTo(plant site.PlantID) (to site.AreaID, told bool) {
	then := []site.PlantID{plant}
	for _, p := range slices.Backward(l.story.passages) {
		if p.moved != nil && slices.ContainsFunc(then, func(id site.PlantID) bool { return slices.Contains(p.moved.Plants, id) }) {
			return p.moved.To, true
		}
		then = p.undone(then)
	}
	return "", false
}

// StoodIn is the area in which a plant stood on a day, by its record and the moves told since.
func (l Lineage) StoodIn(plant site.Plant, on civil.Date) site.AreaID {
	return l.story.stood(plant, on)[0]
}

// Tolerance is what a plant stands of a material: what a patch test showed, else the business's own record of it, else
// what is known of its species. A record that it must not is never overruled by a test.
func (l Lineage) Tolerance(plant site.Plant, material catalogue.MaterialID) catalogue.Tolerance {
	return l.story.tolerance(plant, material)
}

// Learned is what patch tests showed of some plants: the business's own record from then on.
func (l Lineage) Learned(plants []site.Plant) []Learned {
	s, c := l.story, Course{}
	s.plants = plants
	s.learn(&c)
	return c.Learned
}

// Renamed returns histories in which what was done names plants as they are called today, so that caps and waiting times
// follow them. What happened to plants themselves stays as it was told.
func (l Lineage) Renamed(histories []History) []History {
	renamed := slices.Clone(histories)
	for i, h := range renamed {
		renamed[i].Events = slices.Clone(h.Events)
		for j, e := range h.Events {
			event := &renamed[i].Events[j]
			switch {
			case e.Application != nil:
				a := *e.Application
				a.Plants = l.Became(a.Plants, a.Began)
				event.Application = &a
			case e.Inspection != nil:
				look := *e.Inspection
				look.Plants, look.Found = l.Became(look.Plants, e.At), l.Became(look.Found, e.At)
				event.Inspection = &look
			case e.Done != nil:
				done := *e.Done
				done.Plants = l.Became(done.Plants, e.At)
				event.Done = &done
			}
		}
	}
	return renamed
}
