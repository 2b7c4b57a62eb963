package scheduler

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/civil"
	"vernation/scheduler/internal/instance"
)

// TechnicianDay is one shift of one technician.
type TechnicianDay struct {
	Technician TechnicianID `json:"technician"`
	Day        civil.Date   `json:"day"`
}

// Obstacle is a reason that keeps a follow-up out, and where.
type Obstacle struct {
	Reason
	// Way is the way that it speaks against; "" is every way.
	Way WayID `json:"way,omitempty"`
	// On are the technician-days on which it does, by day, then technician; empty is all of them.
	On []TechnicianDay `json:"on,omitempty"`
	// Where says On for people: "Technician 1 on Tue 3 and Thu 5 Mar"; "" where On is empty.
	Where string `json:"where,omitempty"`
}

// Explanation says what keeps a follow-up out of a plan, and what would let it in.
type Explanation struct {
	FollowUp ItemID `json:"follow_up"`
	// Obstacles are grouped by way and reason, in the order in which they speak; of technician-days on which it could
	// go in nothing is said.
	Obstacles []Obstacle `json:"obstacles"`
	// Changes are the smallest single changes that would let it in, at most one of each kind but for the ways, in the order
	// of ChangeKinds. Where it can go in as things are, only ways are named. Empty: no single change of these kinds does it.
	Changes []Change `json:"changes"`
}

// Explain says which rules keep a follow-up out of a plan, on which technician-days, and the smallest single change that
// would let it in: first the other lawful ways, which change nothing; then a later day until which it stands and what that
// costs the case, people's hours of one evening, consent to shut an area, a licence for a technician, a larger vessel. Every
// change named is one that was tried: applied to the Problem it gives an opening.
//
// What it proposes is a question to those who may decide it. A day until which a course stands is set by its proof, and the
// label in hand, local codes and the responsible applicator outrank every proposal.
//
// It fails as Openings does.
func Explain(ctx context.Context, p *Prepared, plan Plan, followUp ItemID) (Explanation, error) {
	c := p.compiled
	f, err := c.asks(followUp, Asked{})
	if err != nil {
		return Explanation{}, err
	}
	out := Explanation{FollowUp: followUp, Obstacles: []Obstacle{}, Changes: []Change{}}
	item, planned := c.itemOf(followUp)
	if !planned {
		out.Obstacles = append(out.Obstacles, Obstacle{Reason: c.standsFixed(f, Asked{}).None[0]})
		return out, nil
	}
	seek, err := c.seek(ctx, &plan, item, false)
	if err != nil {
		return Explanation{}, err
	}
	if seek.stuck != nil {
		out.Obstacles = append(out.Obstacles, Obstacle{Reason: seek.stuck[0]})
		return out, nil
	}
	out.Obstacles = append(out.Obstacles, seek.obstacles(true)...)
	if c.waits(seek.state, item) == nil {
		x := &explainer{ctx: ctx, p: p, plan: &plan, f: f, item: item, seek: seek}
		out.Changes = append(out.Changes, x.changes()...)
	}
	return out, ctx.Err()
}

// obstacles lists what speaks against the item on each technician-day of its days, grouped. Without walks only what speaks
// whatever else stands in the days.
func (s *seeker) obstacles(walks bool) []Obstacle {
	if waits := s.c.waits(s.state, s.item); waits != nil {
		return []Obstacle{{Reason: waits[0]}}
	}
	if s.c.in.Items[s.item].Outside {
		return []Obstacle{{Reason: Reason{RuleTiming, "its days fall behind the horizon"}}}
	}
	var all []Obstacle
	for way := range s.c.items[s.item].follow.Ways {
		all = append(all, s.obstaclesOf(way, walks)...)
	}
	for i := range all {
		all[i].Where = s.c.whereText(all[i].On)
	}
	return all
}

// obstaclesOf lists what speaks against one way.
func (s *seeker) obstaclesOf(way int, walks bool) []Obstacle {
	id := s.c.items[s.item].follow.Ways[way].ID
	var all []Obstacle
	note := func(reason Reason, on ...TechnicianDay) {
		for i := range all {
			if all[i].Reason == reason {
				all[i].On = append(all[i].On, on...)
				return
			}
		}
		all = append(all, Obstacle{Reason: reason, Way: id, On: on})
	}
	refused := s.c.refusedWay(s.item, way)
	for _, reason := range once(refused) {
		note(reason)
	}
	days := s.days()
	any := false
	for t, ref := range s.c.shifts {
		span := civil.Intersect([]civil.Interval{s.c.beginningsIn(s.item, way, int32(t))}, []civil.Interval{days})
		if !s.onItsDays(int32(t)) {
			continue
		}
		any = true
		day := TechnicianDay{s.c.p.Technicians[ref.technician].ID, s.c.shiftOf(ref).Day}
		reasons := s.onDay(way, int32(t), span, walks)
		for _, reason := range reasons {
			if !slices.Contains(refused, reason) {
				note(reason, day)
			}
		}
	}
	if !any && len(refused) == 0 {
		note(Reason{RuleTiming, fmt.Sprintf("no shift of these days lies in its own, %s", s.daysText())})
	}
	return all
}

// onDay says what speaks against a way on one technician-day; nil where nothing does.
func (s *seeker) onDay(way int, t int32, span []civil.Interval, walks bool) []Reason {
	if len(span) == 0 {
		f := s.c.items[s.item].follow
		return []Reason{{RuleShift, fmt.Sprintf("the shift leaves no time to drive to %s, do it and drive back", s.c.p.Sites[s.c.siteIndex[f.Site]].Name)}}
	}
	if len(s.c.refusedWay(s.item, way)) > 0 {
		return s.c.refusedThen(s.item, way, span[0])
	}
	if reasons := s.c.beforeAnyWalk(s.item, way, t, span[0]); len(reasons) > 0 || !walks {
		return reasons
	}
	kernel := int16(s.c.kernelWay(s.item, way))
	for _, place := range s.sieve.Places(s.item, kernel, 0, t) {
		if _, ok := s.try(place); ok {
			return nil
		}
	}
	reasons := s.walked(way, t)
	if len(s.c.in.Items[s.item].Ways[kernel].Legs) > 1 && len(reasons) == 0 {
		reasons = []Reason{{RuleTiming, "nobody can carry the plants back in time"}}
	}
	if len(reasons) == 0 {
		reasons = []Reason{{RuleTiming, "its days, or what other work counts from it, leave no time for it"}}
	}
	return reasons
}

// onItsDays says whether a technician-day meets the days of the item.
func (s *seeker) onItsDays(t int32) bool {
	earliest, _, stands, known := s.state.Days(s.item)
	if !known {
		return false
	}
	shift, site := &s.c.in.Shifts[t], &s.c.in.Sites[s.c.in.Items[s.item].Site]
	return shift.End > s.c.second(s.c.p.Now) && site.DayOf(shift.End-1) >= earliest && site.DayOf(shift.Start) <= stands
}

// days are the instants at which the item may begin by its days, and by what was done before or stands fixed after.
func (s *seeker) days() civil.Interval {
	it := &s.c.in.Items[s.item]
	zone := s.c.zoneOf(s.c.items[s.item].follow.Site)
	span := civil.Interval{From: s.c.instant(it.Lo), To: s.c.span.To}
	if it.Hi < instance.Far {
		span.To = min(span.To, s.c.instant(it.Hi)+1)
	}
	if earliest, _, stands, known := s.state.Days(s.item); known {
		if earliest > 0 {
			span.From = max(span.From, zone.At(s.c.date(earliest), 0))
		}
		if stands <= s.c.in.LastDay+1 {
			span.To = min(span.To, zone.At(s.c.date(stands+1), 0))
		}
	}
	return span
}

func (s *seeker) daysText() string {
	earliest, _, stands, _ := s.state.Days(s.item)
	from := s.c.date(max(earliest, 0)).Short()
	if stands > s.c.in.LastDay {
		return "from " + from + " on"
	}
	return "from " + from + " to " + s.c.date(stands).Short()
}

// whereText writes technician-days for people, technician by technician.
func (c *compiled) whereText(on []TechnicianDay) string {
	var texts []string
	for _, technician := range c.p.Technicians {
		var days []string
		for _, at := range on {
			if at.Technician == technician.ID && !slices.Contains(days, at.Day.Short()) {
				days = append(days, at.Day.Short())
			}
		}
		if len(days) > 0 {
			name := technician.Name
			if name == "" {
				name = string(technician.ID)
			}
			texts = append(texts, name+" on "+strings.Join(days, ", "))
		}
	}
	return strings.Join(texts, "; ")
}
