package planning

import (
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// farAhead is how far beyond a horizon a visit may stand.
const farAhead = 2 * 366

// horizon is when the visits of a plan arrive: on its days, or in the night after the last of them.
func (g Gathered) horizon() civil.Interval {
	p := g.Problem
	return civil.Interval{From: p.Zone.At(p.FirstDay, 0), To: p.Zone.At(p.FirstDay.AddDays(p.Days+1), 0)}
}

// readRunning takes what runs already: keep-outs, visits that are fixed or were published, notices.
func (g *gathering) readRunning() error {
	horizon := Gathered{Problem: g.problem}.horizon()
	span := civil.Interval{From: min(g.problem.Now, horizon.From), To: g.business.Zone.At(g.lastDay().AddDays(farAhead), 0)}
	present, err := readPublished(g.tx, g.business.Zone, span)
	if err != nil {
		return err
	}
	g.takeBreaks(present.routes)
	g.problem.Fixed, g.problem.Mixes = present.fixed(horizon), present.mixes(horizon)
	ours := map[scheduler.VisitID]bool{} // whose keep-outs follow from the plan
	for _, v := range present.visits {
		within := horizon.From <= v.Arrives && v.Arrives < horizon.To
		_, fact := present.fact(v)
		switch {
		case v.State == scheduler.Done:
		case fact && within:
			ours[v.ID] = true
		case fact && (v.Arrives >= g.problem.Now || present.underWay(v) != nil):
			g.takeAsPlaced(v)
		case fact, v.Arrives < g.problem.Now: // its time has come, nothing is told of it yet
		case v.Arrives < horizon.From:
			g.takeAsPlaced(v)
		default:
			ours[v.ID] = true
			g.problem.Before = append(g.problem.Before, v)
		}
	}
	countOccurrences(pointers(g.problem.Fixed, g.problem.Before))
	keepOuts, err := g.tx.KeepOuts(civil.Interval{From: span.From.Add(-72 * time.Hour), To: span.To})
	if err != nil {
		return err
	}
	for _, k := range keepOuts {
		if !ours[k.Visit] && k.During.To > g.problem.Now {
			g.problem.KeepOuts = append(g.problem.KeepOuts, k.KeepOut)
		}
	}
	return g.readNotices(span)
}

// takeBreaks tells the Problem of breaks that were taken on day routes under way: no other one is due in that shift. The day's
// work is counted with them, which is the safe side of the longest work time.
func (g *gathering) takeBreaks(underWay []firm.Route) {
	for _, route := range underWay {
		if route.Break.Empty() || route.Break.To > g.problem.Now {
			continue
		}
		for t := range g.problem.Technicians {
			for s := range g.problem.Technicians[t].Shifts {
				if shift := &g.problem.Technicians[t].Shifts[s]; g.problem.Technicians[t].ID == route.Technician && shift.Day == route.Day {
					shift.BreakTakes, shift.BreakWindow = 0, civil.Interval{}
				}
			}
		}
	}
}

func (g *gathering) readNotices(span civil.Interval) error {
	notices, err := g.tx.Notices(civil.Interval{From: g.problem.Now, To: span.To})
	if err != nil {
		return err
	}
	for _, n := range notices {
		if !n.SentAt.IsZero() {
			g.problem.Notices = append(g.problem.Notices, scheduler.NoticeSent{Item: n.Item, Begins: n.Begins, SentAt: n.SentAt, Used: n.Used})
		}
	}
	return nil
}

// takeAsPlaced takes the work of a visit that the plan leaves alone as done on its day: follow-ups are not planned
// again, and services and waterings count from there.
func (g *gathering) takeAsPlaced(v scheduler.Visit) {
	day := g.zoneOf(v.Site).DateOf(v.Arrives)
	for _, w := range v.Work {
		if w.Service == "" {
			stands, known := g.placed[w.Item]
			if !known {
				stands = scheduler.DoneFollowUp{ID: w.Item, Site: v.Site, Began: w.Begins, Ended: w.Ends}
			}
			stands.Began, stands.Ended = min(stands.Began, w.Begins), max(stands.Ended, w.Ends)
			g.placed[w.Item] = stands
			continue
		}
		name := serviceOf(w.Item)
		for i, s := range g.problem.Services {
			if s.ID == name {
				g.problem.Services[i].Last = max(s.Last, day)
			}
		}
		for i, p := range g.plants {
			if w.Service == site.WateringService && slices.Contains(w.Plants, p.ID) {
				g.plants[i].Watering.Last = max(p.Watering.Last, day)
			}
		}
	}
}

func (g *gathering) zoneOf(id site.ID) civil.Zone {
	for _, s := range g.problem.Sites {
		if s.ID == id {
			return s.Zone
		}
	}
	return g.business.Zone
}
