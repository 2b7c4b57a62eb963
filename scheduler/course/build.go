package course

import (
	"slices"

	"vernation/scheduler/site"
)

// builder writes the follow-ups of a course.
type builder struct {
	s      *story
	p      *candidate // chosen; nil without applications
	course *Course
	ids    numbering
	run    int // of the items being written
}

func newBuilder(s *story, p *candidate, c *Course) *builder {
	b := &builder{s: s, p: p, course: c, run: c.Run, ids: numbering{of: s.history.Case, used: map[numbered]bool{}}}
	since := s.since
	if p != nil {
		whole, _ := p.whole()
		since = whole.since
	}
	b.ids.count(s, since, c.Run)
	return b
}

// lookKind is the kind of an inspection: that of its follow-up, else by the plants looked at.
func (s *story) lookKind(i *Inspection) FollowUpKind {
	if kind := kindOf(i.FollowUp); kind == KindInspectInfested || kind == KindInspectNeighbours {
		return kind
	}
	if slices.ContainsFunc(i.Plants, s.hasPlant) {
		return KindInspectInfested
	}
	return KindInspectNeighbours
}

// item starts a follow-up of the case.
func (b *builder) item(kind FollowUpKind, plants []site.Plant, ways []Way, due Due, reason string) FollowUp {
	return FollowUp{
		ID: b.ids.next(kind, b.run), Case: b.s.history.Case, Kind: kind, Pest: b.s.pest.ID, Certainty: b.s.certainty,
		Severity: b.s.severity, Site: b.s.site.ID, Plants: ids(plants), Ways: ways, Due: due,
		Approved: true, Expected: due.IdealOn, Reason: reason, LeftOutPrice: b.s.lookCost() + b.s.in.Policy.VisitCost, // a visit of its own
	}
}

func (b *builder) add(f FollowUp) ItemID {
	b.course.FollowUps = append(b.course.FollowUps, f)
	return f.ID
}

func (b *builder) link(kind LinkKind, from, to ItemID) {
	b.course.Links = append(b.course.Links, Link{Kind: kind, From: from, To: to})
}

// work is a way that shuts nothing, one part for each area of the plants.
func (s *story) work(plants []site.Plant, minutesOf func(plants []site.Plant) float64) []Way {
	way := Way{ID: WayID(ShutsNothing), Kind: ShutsNothing}
	for _, area := range s.areas(plants) {
		takes := minutes(minutesOf(inArea(plants, area.ID)))
		way.Parts = append(way.Parts, Part{Kind: WorkPart, Area: area.ID, Takes: takes, Persons: 1})
	}
	return []Way{way}
}

func (s *story) looking(plants []site.Plant) []Way {
	return s.work(plants, s.lookingMinutes)
}

// chain is a lag behind an item that has no bound.
func chain(after ItemID, earliest, ideal, latest int) Due {
	return Due{After: after, EarliestLag: earliest, IdealLag: ideal, LatestLag: max(ideal, latest), StandsUntilLag: alwaysStands}
}

// alwaysStands is a lag far beyond any horizon, for items behind another that stand whatever happens.
const alwaysStands = 365
