package scheduler_test

import (
	"math/big"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// open says whether a change gives an opening.
func open(t asker, ready *scheduler.Prepared, plan scheduler.Plan, id scheduler.ItemID, change scheduler.Change) bool {
	t.Helper()
	applied, err := ready.WithForTest(change)
	if err != nil {
		return false
	}
	ranked, err := scheduler.Openings(t.Context(), applied, plan, id, scheduler.Asked{Most: 1})
	if err != nil {
		t.Errorf("%v", err)
	}
	return len(ranked.Openings) > 0
}

// ofKind returns the change of a kind, or nil.
func ofKind(changes []scheduler.Change, kind scheduler.ChangeKind) *scheduler.Change {
	at := slices.IndexFunc(changes, func(ch scheduler.Change) bool { return ch.Kind == kind })
	if at < 0 {
		return nil
	}
	return &changes[at]
}

// smaller lists every change of the kind of another that asks for less, whatever its day: fewer days, fewer minutes of an
// evening, or a consent that keeps people out of fewer hours.
func smaller(p scheduler.Problem, f scheduler.FollowUp, than scheduler.Change) []scheduler.Change {
	var all []scheduler.Change
	switch than.Kind {
	case scheduler.LaterDay:
		for days := 1; days < than.Days; days++ {
			all = append(all, scheduler.Change{Kind: than.Kind, FollowUp: f.ID, Days: days})
		}
	case scheduler.Evening:
		given := closes(p, than.Areas, than.On) - than.Leave
		for d := p.FirstDay; d < p.FirstDay.AddDays(p.Days); d++ {
			last := closes(p, than.Areas, d)
			for leave := (last - 1) / 900 * 900; leave >= 0 && last-leave < given; leave -= 900 {
				all = append(all, scheduler.Change{Kind: than.Kind, FollowUp: f.ID, Site: than.Site, Areas: than.Areas, On: d, Leave: leave})
			}
		}
	case scheduler.ConsentToShut:
		s := p.Sites[slices.IndexFunc(p.Sites, func(s site.Site) bool { return s.ID == f.Site })]
		given := lost(s, p, f, than.Shut.From)
		for at := p.Now / 900 * 900; at < p.Zone.At(p.FirstDay.AddDays(p.Days), 0); at += 900 {
			if lost(s, p, f, at) < given {
				shut := reentry.Interval(s, shutting(s, p, f, at))
				all = append(all, scheduler.Change{Kind: than.Kind, FollowUp: f.ID, Site: than.Site, Areas: than.Areas, Shut: shut})
			}
		}
	}
	return all
}

// closes is when the last people leave some areas on a day.
func closes(p scheduler.Problem, areas []site.AreaID, d civil.Date) civil.Clock {
	last := civil.Clock(0)
	for _, s := range p.Sites {
		for _, a := range s.Areas {
			if slices.Contains(areas, a.ID) {
				for _, w := range a.People.WindowsOn(d) {
					last = max(last, w.Closes)
				}
			}
		}
	}
	return last
}

// shutting is the first application of a follow-up's first way, begun at an instant.
func shutting(s site.Site, p scheduler.Problem, f scheduler.FollowUp, at civil.Instant) reentry.Treatment {
	for _, part := range f.Ways[0].Parts {
		if part.Use == nil {
			continue
		}
		least := time.Duration(0)
		for _, e := range p.Rules.LeastEntry {
			if e.Site == s.ID {
				least = e.Least
			}
		}
		keep := max(part.Use.KeepOut, least)
		return reentry.Treatment{Area: part.Area, Begins: at, Ends: at.Add(part.Takes), KeepOut: keep, Unventilated: max(keep, part.Use.KeepOutUnventilated)}
	}
	return reentry.Treatment{}
}

// lost is how long people are kept out by an application at an instant, added up over areas.
func lost(s site.Site, p scheduler.Problem, f scheduler.FollowUp, at civil.Instant) time.Duration {
	total := time.Duration(0)
	for _, people := range reentry.Occupied(s, shutting(s, p, f, at)) {
		total += people.During.Length()
	}
	return total
}

// Against every smaller change of its kind, tried one by one.
func TestExplain_NoSmallerChangeOfTheKindLetsItIn(t *testing.T) {
	t.Parallel()
	compared := map[scheduler.ChangeKind]int{}
	rapid.Check(t, func(t *rapid.T) {
		ready, plan, id := drawQuestion(t)
		p := ready.Problem()
		f := p.FollowUps[slices.IndexFunc(p.FollowUps, func(f scheduler.FollowUp) bool { return f.ID == id })]
		explained, err := scheduler.Explain(t.Context(), ready, plan, id)
		if err != nil {
			t.Fatal(err)
		}
		for _, change := range explained.Changes {
			if len(f.Ways) > 1 && change.Kind == scheduler.ConsentToShut {
				continue // areas differ by way
			}
			for _, less := range smaller(p, f, change) {
				compared[change.Kind]++
				if open(t, ready, plan, id, less) {
					t.Errorf("%s; but on %v by %v, or from %v to %v, is enough", change.Text, less.On, less.Leave, less.Shut.From, less.Shut.To)
					return
				}
			}
		}
		if t.Failed() {
			t.Log("\nnow " + newYork.Format(p.Now) + " " + string(id) + "\n" + planText(plan))
		}
	})
	t.Logf("smaller changes tried: %v", compared)
}

// asksOf explains a follow-up of the round.
func asksOf(t *testing.T, p scheduler.Problem, id scheduler.ItemID) (*scheduler.Prepared, scheduler.Plan, scheduler.Explanation) {
	t.Helper()
	plan := solved(t, p, 0)
	ready := prepared(t, p)
	explained, err := scheduler.Explain(t.Context(), ready, plan, id)
	if err != nil {
		t.Fatal(err)
	}
	for _, change := range explained.Changes {
		letsIn(t, ready, plan, id, change)
	}
	return ready, plan, explained
}

// Nobody may spray: the helper is licensed nowhere and the other's licence ran out on 1 March.
func TestExplain_ProposesALicenceForTheTechnicianWhoseOpeningAddsLeast(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.Technicians[0].Licences = slices.Clone(p.Technicians[0].Licences)
	for i := range p.Technicians[0].Licences {
		p.Technicians[0].Licences[i].To = march(1)
	}
	ready, plan, explained := asksOf(t, p, sprayID(1))
	change := ofKind(explained.Changes, scheduler.LicenceFor)
	if change == nil || len(explained.Changes) != 1 {
		t.Fatalf("proposed %+v: want a licence, and nothing else that is single", explained.Changes)
	}
	if !slices.ContainsFunc(explained.Obstacles, func(o scheduler.Obstacle) bool { return o.Rule == scheduler.RuleLicence }) {
		t.Errorf("obstacles %+v: want the licence named", explained.Obstacles)
	}
	for _, technician := range p.Technicians {
		other := *change
		other.Technician = technician.ID
		applied, err := ready.WithForTest(other)
		if err != nil {
			t.Fatal(err)
		}
		ranked, err := scheduler.Openings(t.Context(), applied, plan, sprayID(1), scheduler.Asked{Most: 1})
		if err != nil {
			t.Fatal(err)
		}
		if len(ranked.Openings) > 0 && ranked.Openings[0].Added.Total < change.Opening.Added.Total {
			t.Errorf("%s would add %v, proposed is %s", technician.ID, ranked.Openings[0].Added.Total, change.Text)
		}
	}
}

// Two vessels in one: the sprayer holds 8 US fl oz of the 32 that the spray needs.
func TestExplain_ProposesTheLeastVesselThatHoldsIt(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	sprayer := &p.Technicians[0].Vessels[0]
	sprayer.Capacity = sprayer.Marks
	ready, plan, explained := asksOf(t, p, sprayID(1))
	change := ofKind(explained.Changes, scheduler.LargerVessel)
	if change == nil {
		t.Fatalf("proposed %+v (%+v): want a larger vessel", explained.Changes, explained.Obstacles)
	}
	for marks := int64(1); ; marks++ {
		less := *change
		vessel := *change.Vessel
		if vessel.Capacity = vessel.Marks.Times(big.NewRat(marks, 1)); vessel.Capacity.Cmp(change.Vessel.Capacity) >= 0 {
			break
		}
		if less.Vessel = &vessel; open(t, ready, plan, sprayID(1), less) {
			t.Errorf("%s; but %v is enough", change.Text, vessel.Capacity)
		}
	}
}
