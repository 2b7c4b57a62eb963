package course

import (
	"cmp"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// passage is one change of what plants are or of where they stand, told in any case.
type passage struct {
	at     civil.Instant
	event  string
	moved  *Moved
	split  *Split
	joined *Joined
	gone   *Gone
	// first and last are the days between which a move happened.
	first, last civil.Date
}

// readPassages gathers what happened to the plants of the site from all histories, in order of time. The same
// passage may stand in several histories: telling it twice changes nothing.
func (s *story) readPassages() {
	for _, history := range s.in.Histories {
		if history.Site != s.site.ID {
			continue
		}
		for _, event := range history.Events {
			if p, ok := s.passage(event); ok {
				s.passages = append(s.passages, p)
			}
			if event.Patch != nil {
				s.patches = append(s.patches, event)
			}
		}
	}
	slices.SortStableFunc(s.passages, func(x, y passage) int {
		return cmp.Or(cmp.Compare(x.at, y.at), cmp.Compare(x.event, y.event))
	})
	slices.SortStableFunc(s.patches, func(x, y Event) int { return cmp.Or(cmp.Compare(x.At, y.At), cmp.Compare(x.ID, y.ID)) })
}

func (s *story) passage(event Event) (p passage, ok bool) {
	p = passage{at: event.At, event: event.ID, moved: event.Moved, split: event.Split, joined: event.Joined, gone: event.Gone}
	switch {
	case p.moved != nil:
		p.first, p.last = s.dateOf(event.At), s.dateOf(event.At)
		if after := p.moved.NotAfter; !after.IsZero() {
			p.last = after
			p.at = s.site.Zone.At(after, 0)
		}
		if before := p.moved.NotBefore; !before.IsZero() {
			p.first = before
		}
		p.first = min(p.first, p.last)
		return p, true
	case event.Done != nil && kindOf(event.Done.FollowUp) == KindReplacement:
		// Replaced by a follow-up: the infested plants are gone, whatever stands in their place under the same name.
		p.gone = &Gone{Plants: event.Done.Plants, Kind: Swapped}
		return p, true
	}
	if p.split != nil {
		// Into what is not on record nothing is followed.
		into := slices.DeleteFunc(slices.Clone(p.split.Into), func(id site.PlantID) bool { return !s.isKnown(id) })
		p.split = &Split{From: p.split.From, Into: into}
		return p, len(into) > 0
	}
	return p, p.joined != nil && s.isKnown(p.joined.Into) || p.gone != nil
}

// isKnown says whether a plant has a record.
func (s *story) isKnown(id site.PlantID) bool {
	return slices.ContainsFunc(s.in.Plants, func(p site.Plant) bool { return p.ID == id })
}

// became is what plants of an instant are today: the groups into which they split or that they joined, without
// those that are gone.
func (s *story) became(plants []site.PlantID, at civil.Instant) []site.PlantID {
	now := slices.Clone(plants)
	for _, p := range s.passages {
		if p.at <= at {
			continue
		}
		switch {
		case p.split != nil:
			now = exchanged(now, []site.PlantID{p.split.From}, p.split.Into)
		case p.joined != nil:
			now = exchanged(now, p.joined.From, []site.PlantID{p.joined.Into})
		case p.gone != nil:
			now = exchanged(now, p.gone.Plants, nil)
		}
	}
	return now
}

// were is what a plant of today was at an instant: one group before it split, several before they were joined.
func (s *story) were(plant site.PlantID, at civil.Instant) []site.PlantID {
	then := []site.PlantID{plant}
	for _, p := range slices.Backward(s.passages) {
		if p.at <= at {
			break
		}
		then = p.undone(then)
	}
	return then
}

// undone is what plants were before a passage.
func (p passage) undone(plants []site.PlantID) []site.PlantID {
	switch {
	case p.split != nil:
		return exchanged(plants, p.split.Into, []site.PlantID{p.split.From})
	case p.joined != nil:
		return exchanged(plants, []site.PlantID{p.joined.Into}, p.joined.From)
	}
	return plants
}

// exchanged puts others in the place of those plants that are among the ones that go; each stands once.
func exchanged(plants, gone, others []site.PlantID) []site.PlantID {
	if !slices.ContainsFunc(plants, func(id site.PlantID) bool { return slices.Contains(gone, id) }) {
		return plants
	}
	var all []site.PlantID
	add := func(id site.PlantID) {
		if !slices.Contains(all, id) {
			all = append(all, id)
		}
	}
	for _, id := range plants {
		if !slices.Contains(gone, id) {
			add(id)
			continue
		}
		for _, other := range others {
			add(other)
		}
	}
	return all
}

// met says whether what was done to some plants at an instant met a plant of today: at all, and the whole of it.
func (s *story) met(plant site.PlantID, at civil.Instant, plants []site.PlantID) (some, whole bool) {
	if len(s.passages) == 0 {
		some = slices.Contains(plants, plant)
		return some, some
	}
	whole = true
	for _, was := range s.were(plant, at) {
		if slices.Contains(plants, was) {
			some = true
		} else {
			whole = false
		}
	}
	return some, some && whole
}

// goneOn is the last day on which plants of the case were told to be gone, unset when none were.
func (s *story) goneOn() (on civil.Date, kind GoneKind) {
	for _, p := range s.passages {
		if p.gone != nil {
			on, kind = s.dateOf(p.at), p.gone.Kind
		}
	}
	return on, kind
}

// stood are the areas in which a plant of today may stand on a day: one, or two while it is not known when it moved or will
// be. It stays where it is but for a move that the course asks for.
func (s *story) stood(plant site.Plant, on civil.Date) []site.AreaID {
	then, in := []site.PlantID{plant.ID}, []site.AreaID{plant.Area}
	if plants, place, due := s.toIsolate(); on >= due.EarliestOn && slices.ContainsFunc(plants, func(p site.Plant) bool { return p.ID == plant.ID }) {
		if on > due.LatestOn {
			return []site.AreaID{place.ID}
		}
		return append(in, place.ID)
	}
	for _, p := range slices.Backward(s.passages) {
		if p.moved == nil {
			then = p.undone(then)
			continue
		}
		moved := slices.ContainsFunc(then, func(id site.PlantID) bool { return slices.Contains(p.moved.Plants, id) })
		switch {
		case moved && on < p.first:
			in = []site.AreaID{p.moved.From}
		case moved && on <= p.last:
			in = append(in, p.moved.From)
		}
	}
	return in
}

// movedElsewhere says where the record of a plant and the last move told of it disagree, for people.
func (s *story) movedElsewhere(plant site.Plant) (told site.AreaID, other bool) {
	for _, p := range slices.Backward(s.passages) {
		if p.moved != nil && slices.Contains(p.moved.Plants, plant.ID) {
			return p.moved.To, p.moved.To != plant.Area
		}
	}
	return "", false
}

// reading is what a patch test showed of a plant and a material, nil without one; of several the latest holds. One that showed
// nothing within a day of the test was read too soon and is none: harm shows after 24 to 48 hours (common practice).
func (s *story) reading(plant site.PlantID, material catalogue.MaterialID) *PatchResult {
	for _, event := range slices.Backward(s.patches) {
		if event.Patch.Material != material {
			continue
		}
		if some, _ := s.met(plant, event.At, event.Patch.Plants); some && (event.Patch.Harmed || !s.readTooSoon(plant, event.At)) {
			return event.Patch
		}
	}
	return nil
}

func (s *story) readTooSoon(plant site.PlantID, read civil.Instant) bool {
	return slices.ContainsFunc(s.history.Events, func(e Event) bool {
		if e.Done == nil || kindOf(e.Done.FollowUp) != KindPatchTest || e.At > read || read >= e.At.Add(24*time.Hour) {
			return false
		}
		some, _ := s.met(plant, e.At, e.Done.Plants)
		return some
	})
}
