package planning

import (
	"context"
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// lookBack is how far behind now a visit may lie whose name a plan could still bear.
const lookBack = 60 * 24 * time.Hour

// publishTries bounds how often a plan is checked again because what it touches moved meanwhile.
const publishTries = 3

// Publication asks for a plan to be made real.
type Publication struct {
	Plan string
	// Head is the version of the plan head that the caller saw.
	Head int64
}

// done says whether a head is what this publication makes: asked for again, it is answered and not done.
func (p Publication) done(head firm.Head) bool {
	return head.Plan == p.Plan && head.Version == p.Head+1
}

// Publish makes a plan's visits real. It gathers again and checks the plan against now outside any lock, then locks
// the plan head, compares the versions of what the plan touches, and swaps the visits that may move. A publication
// that was done already, with nothing published since, gives the head that it made.
//
// Fails with NotFound, Stale (PLAN_HEAD_MOVED), Refused (PLAN_BREAKS_RULES with every violation;
// FOLLOW_UPS_GONE naming those that no case needs any more) and Conflict (CASES_KEEP_MOVING).
func Publish(ctx context.Context, s *store.Store, caller firm.Caller, p Publication) (firm.Head, error) {
	for range publishTries {
		head, err := presentHead(ctx, s, caller)
		if err != nil || p.done(head) {
			return head, err
		}
		checked, err := checkAgain(ctx, s, caller, p.Plan)
		if err != nil {
			return firm.Head{}, err
		}
		moved := false
		err = s.In(ctx, caller, func(tx *store.Tx) error {
			head, moved, err = swap(tx, p, checked)
			return err
		})
		if err != nil || !moved {
			return head, err
		}
	}
	return firm.Head{}, fault.New(fault.Conflict, "CASES_KEEP_MOVING",
		"reports keep changing what plan %s touches: plan again, or publish in a quieter minute", p.Plan)
}

func presentHead(ctx context.Context, s *store.Store, caller firm.Caller) (head firm.Head, err error) {
	err = s.Reading(ctx, caller, func(tx *store.Tx) (err error) {
		head, err = tx.Head()
		return err
	})
	return head, err
}

// checked is a plan that was found to hold against what was gathered.
type checked struct {
	kept     firm.KeptPlan
	gathered Gathered
}

func checkAgain(ctx context.Context, s *store.Store, caller firm.Caller, id string) (checked, error) {
	var c checked
	err := s.Reading(ctx, caller, func(tx *store.Tx) (err error) {
		if c.kept, err = tx.Plan(id); err != nil {
			return err
		}
		c.gathered, err = Gather(tx, c.kept.FirstDay, c.kept.Days)
		return err
	})
	if err != nil {
		return checked{}, err
	}
	if gone := gone(c); len(gone) > 0 {
		return checked{}, fault.New(fault.Refused, "FOLLOW_UPS_GONE", "no case needs these any more: %s; plan again", strings.Join(gone, ", "))
	}
	for r := range c.kept.Plan.Routes {
		for v := range c.kept.Plan.Routes[r].Visits {
			visit := &c.kept.Plan.Routes[r].Visits[v]
			if visit.State == scheduler.Planned {
				visit.State = scheduler.Published
			}
		}
	}
	if broken := decided(scheduler.Check(c.gathered.Problem, c.kept.Plan)); len(broken) > 0 {
		f := fault.New(fault.Refused, "PLAN_BREAKS_RULES", "plan %s cannot be published: %s", id, broken[0])
		f.Subject, f.Violations = id, broken
		return checked{}, f
	}
	return c, nil
}

// gone lists the follow-ups of the plan that are no longer needed.
func gone(c checked) []string {
	present := map[scheduler.ItemID]bool{}
	for _, f := range c.gathered.Problem.FollowUps {
		present[f.ID] = true
	}
	var gone []string
	for _, route := range c.kept.Plan.Routes {
		for _, visit := range route.Visits {
			for _, work := range visit.Work {
				if work.Service == "" && !present[work.Item] && !slices.Contains(gone, string(work.Item)) {
					gone = append(gone, string(work.Item))
				}
			}
		}
	}
	return gone
}

// swap publishes under the lock of the plan head. moved says that something the plan touches has a newer version
// than what was checked; then nothing was changed.
func swap(tx *store.Tx, p Publication, c checked) (head firm.Head, moved bool, err error) {
	head, err = tx.LockHead()
	if err != nil {
		return head, false, err
	}
	if p.done(head) {
		return head, false, nil
	}
	if p.Head != head.Version {
		return head, false, fault.New(fault.Stale, "PLAN_HEAD_MOVED", "version %d was named, but %d is published: look at what changed and publish again", p.Head, head.Version)
	}
	for _, look := range []func(*store.Tx, checked) (bool, error){versionsMoved, fixedMoved} {
		if moved, err = look(tx, c); err != nil || moved {
			return head, moved, err
		}
	}
	s := swapping{checked: c, tx: tx}
	if err := s.run(); err != nil {
		return head, false, err
	}
	head = firm.Head{Version: head.Version + 1, Plan: c.kept.ID, PublishedAt: tx.Now()}
	return head, false, tx.SetHead(head)
}

// versionsMoved compares the versions of the sites, technicians and cases that the plan's visits touch.
func versionsMoved(tx *store.Tx, c checked) (bool, error) {
	was := c.gathered.Versions
	var touched firm.Versions
	touched.Cases, touched.Sites, touched.Technicians = was.Cases, map[site.ID]int64{}, map[scheduler.TechnicianID]int64{}
	for _, route := range c.kept.Plan.Routes {
		touched.Technicians[route.Technician] = was.Technicians[route.Technician]
		for _, visit := range route.Visits {
			touched.Sites[visit.Site] = was.Sites[visit.Site]
		}
	}
	now, err := tx.VersionsOf(keys(touched.Cases), keys(touched.Sites), keys(touched.Technicians))
	if err != nil {
		return false, err
	}
	return !same(touched.Cases, now.Cases) || !same(touched.Sites, now.Sites) || !same(touched.Technicians, now.Technicians), nil
}

// fixedMoved says whether a visit was pinned or begun, or moved while pinned, since the plan was checked.
func fixedMoved(tx *store.Tx, c checked) (bool, error) {
	horizon := c.gathered.horizon()
	now, err := tx.Visits(store.VisitFilter{From: horizon.From, To: horizon.To, States: []scheduler.VisitState{scheduler.Begun, scheduler.Pinned}})
	if err != nil {
		return false, err
	}
	now = slices.DeleteFunc(now, func(v scheduler.Visit) bool { return v.Arrives < horizon.From || v.Arrives >= horizon.To })
	return !slices.EqualFunc(c.gathered.Problem.Fixed, now, func(a, b scheduler.Visit) bool {
		return a.ID == b.ID && a.State == b.State && a.Arrives == b.Arrives && a.Technician == b.Technician
	}), nil
}

func keys[K ~string](m map[K]int64) []K {
	list := make([]K, 0, len(m))
	for k := range m {
		list = append(list, k)
	}
	slices.Sort(list)
	return list
}

func same[K ~string](was, now map[K]int64) bool {
	for k, version := range was {
		if now[k] != version {
			return false
		}
	}
	return true
}

// swapping replaces the visits that may move, from the first day of a plan on, by those of the plan. Visits of the days
// before are left alone; the plan was made around them.
type swapping struct {
	checked
	tx      *store.Tx
	before  []scheduler.Visit
	visits  []scheduler.Visit
	routes  []firm.Route
	ofItem  map[scheduler.ItemID]scheduler.VisitID
	removed []scheduler.VisitID
}

func (s *swapping) run() error {
	zone := s.gathered.Problem.Zone
	visits, err := s.tx.Visits(store.VisitFilter{From: s.tx.Now().Add(-lookBack), To: zone.At(s.kept.FirstDay.AddDays(farAhead), 0)})
	if err != nil {
		return err
	}
	begun := map[scheduler.VisitID]bool{}
	for _, v := range visits {
		switch v.State {
		case scheduler.Begun, scheduler.Done:
			begun[v.ID] = true
		case scheduler.Published, scheduler.Announced:
			if v.Arrives >= max(s.tx.Now(), zone.At(s.kept.FirstDay, 0)) {
				s.before = append(s.before, v)
			}
		}
	}
	stored, err := s.tx.Routes(store.RouteFilter{From: s.kept.FirstDay, To: s.kept.FirstDay.AddDays(s.kept.Days)})
	if err != nil {
		return err
	}
	for i := range stored {
		stored[i].Mixes = drawnOn(stored[i], visits)
	}
	s.takeVisits(begun, stored)
	if err := s.tx.ReplaceVisits(s.removed, s.visits, s.routes, s.keepOuts(), s.kept.ID); err != nil {
		return err
	}
	return s.sendNotices()
}

// takeVisits takes the plan's visits with the names that they were kept under. A name that a visit begun or done
// meanwhile bears is not taken from it. Fixed visits stay as they are stored, and so do the mixes that they draw on:
// the plan's own come after those of the stored day route.
func (s *swapping) takeVisits(begun map[scheduler.VisitID]bool, stored []firm.Route) {
	s.ofItem = map[scheduler.ItemID]scheduler.VisitID{}
	taken := map[scheduler.VisitID]bool{}
	for _, route := range s.kept.Plan.Routes {
		mixes := standingMixes(route, stored)
		for _, visit := range route.Visits {
			taken[visit.ID] = true
			if fixed(visit) {
				continue
			}
			if begun[visit.ID] {
				visit.ID += "-again"
			}
			visit.Work = slices.Clone(visit.Work)
			for w := range visit.Work {
				s.ofItem[visit.Work[w].Item] = visit.ID
				if visit.Work[w].MixIndex >= 0 {
					visit.Work[w].MixIndex += len(mixes)
				}
			}
			s.visits = append(s.visits, visit)
		}
		s.routes = append(s.routes, firm.Route{
			Technician: route.Technician, Day: route.Day, Departs: route.Departs, Returns: route.Returns, Break: route.Break,
			Mixes: append(mixes, route.Mixes...),
		})
	}
	for _, old := range s.before {
		if !taken[old.ID] {
			s.removed = append(s.removed, old.ID)
		}
	}
}

func fixed(v scheduler.Visit) bool {
	return v.State == scheduler.Begun || v.State == scheduler.Done || v.State == scheduler.Pinned
}

// drawnOn returns the mixes of a stored day route up to the last that a fixed visit draws on.
func drawnOn(route firm.Route, visits []scheduler.Visit) []scheduler.Mix {
	needed := 0
	for _, v := range visits {
		if fixed(v) && v.Technician == route.Technician && route.Departs <= v.Arrives && v.Arrives < route.Returns {
			for _, work := range v.Work {
				needed = max(needed, work.MixIndex+1)
			}
		}
	}
	return route.Mixes[:min(needed, len(route.Mixes))]
}

// standingMixes returns the mixes of the stored day route of a planned one that holds fixed visits.
func standingMixes(route scheduler.DayRoute, stored []firm.Route) []scheduler.Mix {
	if !slices.ContainsFunc(route.Visits, fixed) {
		return nil
	}
	for _, old := range stored {
		if old.Technician == route.Technician && old.Day == route.Day {
			return slices.Clone(old.Mixes)
		}
	}
	return nil
}

func (s *swapping) keepOuts() []firm.KeepOutFact {
	var facts []firm.KeepOutFact
	for _, k := range s.kept.Plan.KeepOuts {
		if visit := s.ofItem[k.Item]; visit != "" {
			facts = append(facts, firm.KeepOutFact{KeepOut: k, Visit: visit})
		}
	}
	return facts
}

// sendNotices sends what was not sent before for the same item and beginning.
func (s *swapping) sendNotices() error {
	known, err := s.tx.Notices(civil.Interval{From: s.tx.Now()})
	if err != nil {
		return err
	}
	return s.tx.InsertNotices(slices.DeleteFunc(s.notices(), func(n firm.Notice) bool {
		return n.Begins < s.tx.Now() || slices.ContainsFunc(known, func(k firm.Notice) bool { return k.ID == n.ID })
	}))
}

// notices are due for every application at a site that asks for a lead. Publishing sends them, within the policy's
// publishing delay.
func (s *swapping) notices() []firm.Notice {
	sent := s.tx.Now().Add(s.gathered.Problem.Rules.PublishingDelay)
	var notices []firm.Notice
	for _, visit := range s.visits {
		for _, lead := range s.gathered.Problem.Rules.NoticeLead {
			if lead.Site != visit.Site || lead.Lead <= time.Duration(0) {
				continue
			}
			for _, work := range visit.Work {
				if work.Use != nil {
					notices = append(notices, firm.Notice{
						ID: string(work.Item) + "@" + work.Begins.String(), Item: work.Item, Site: visit.Site,
						Begins: work.Begins, DueAt: work.Begins.Add(-lead.Lead), Known: lead.Known, SentAt: sent,
					})
				}
			}
		}
	}
	return notices
}
