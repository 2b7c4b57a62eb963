package planning

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
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
	// Within lets the caller make the swap a part of a larger deed; nil is the swap alone.
	Within Within[firm.Head]
}

// Within runs a deed inside a larger one, in the one transaction of both, so that it may look first whether the deed was
// done already and then leave it undone. It may be run several times, of which at most the last is kept, and must hand
// on the deed's error. nil is the deed alone.
type Within[A any] func(tx *store.Tx, deed func() (A, error)) error

// run runs a deed by itself or within what the caller asked for.
func (w Within[A]) run(tx *store.Tx, deed func() (A, error)) error {
	if w == nil {
		_, err := deed()
		return err
	}
	return w(tx, deed)
}

// done says whether a head is what this publication makes: asked for again, it is answered and not done.
func (p Publication) done(head firm.Head) bool {
	return head.Plan == p.Plan && head.Version == p.Head+1
}

// errMoved says that something has a newer version than what was judged; nothing was changed.
var errMoved = errors.New("what was judged has moved meanwhile")

// Publish makes a plan's visits real. It gathers again and checks the plan against now outside any lock, then locks
// the plan head, compares the versions of what the plan touches, and swaps the visits that may move. A publication
// that was done already, with nothing published since, gives the head that it made.
//
// Fails with NotFound, Stale (PLAN_HEAD_MOVED), Refused (PLAN_BREAKS_RULES with every violation;
// FOLLOW_UPS_GONE naming those that no case needs any more) and Conflict (HELD_ALREADY naming what holds the time or
// the area of a visit and does not move; CASES_KEEP_MOVING).
func Publish(ctx context.Context, s *store.Store, caller firm.Caller, p Publication) (firm.Head, error) {
	for range publishTries {
		head, err := presentHead(ctx, s, caller)
		if err != nil {
			return head, err
		}
		var c checked
		if !p.done(head) {
			if c, err = checkAgain(ctx, s, caller, p.Plan); err != nil {
				return firm.Head{}, err
			}
		}
		err = s.In(ctx, caller, func(tx *store.Tx) error {
			return p.Within.run(tx, func() (firm.Head, error) {
				made, err := swap(tx, p, c)
				head = made
				return made, err
			})
		})
		switch {
		case errors.Is(err, errMoved):
		case err != nil && fault.Of(err).Reason == heldAlready:
			return firm.Head{}, c.held(ctx, s, caller, err)
		default:
			return head, err
		}
	}
	return firm.Head{}, keepsMoving("what plan " + p.Plan + " touches")
}

func keepsMoving(what string) *fault.Fault {
	return fault.New(fault.Conflict, "CASES_KEEP_MOVING", "reports and bookings keep changing %s: plan again, or try again in a quieter minute", what)
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
		if c.gathered, err = Gather(tx, c.kept.FirstDay, c.kept.Days); err != nil || c.kept.Run == "" {
			return err
		}
		run, err := tx.PlanRun(c.kept.Run) // what it was told holds for its plan
		c.gathered = c.gathered.with(run.Events)
		return err
	})
	if err != nil {
		return checked{}, err
	}
	c.takePresent()
	var visits []*scheduler.Visit
	for r := range c.kept.Plan.Routes {
		visits = append(visits, pointers(c.kept.Plan.Routes[r].Visits)...)
	}
	countOccurrences(visits) // as what was gathered now does
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

// takePresent lets the plan's visits that had begun when it was made be as they are known now: a report that came since
// changes what is known of them, and nothing that the plan decides.
func (c checked) takePresent() {
	for r := range c.kept.Plan.Routes {
		for v := range c.kept.Plan.Routes[r].Visits {
			visit := &c.kept.Plan.Routes[r].Visits[v]
			i := slices.IndexFunc(c.gathered.Problem.Fixed, func(f scheduler.Visit) bool { return f.ID == visit.ID })
			if i < 0 {
				continue
			}
			present := c.gathered.Problem.Fixed[i]
			if visit.State == scheduler.Begun || fixed(*visit) && present.State == scheduler.Done {
				visit.State, visit.Work = present.State, present.Work
			}
		}
	}
}

// gone lists the follow-ups of the plan that are no longer needed. Visits that do not move are no decision of it.
func gone(c checked) []string {
	present := map[scheduler.ItemID]bool{}
	for _, f := range c.gathered.Problem.FollowUps {
		present[f.ID] = true
	}
	var gone []string
	for _, route := range c.kept.Plan.Routes {
		for _, visit := range route.Visits {
			if fixed(visit) {
				continue
			}
			for _, work := range visit.Work {
				if work.Service == "" && !present[work.Item] && !slices.Contains(gone, string(work.Item)) {
					gone = append(gone, string(work.Item))
				}
			}
		}
	}
	return gone
}

// swap publishes under the lock of the plan head. It fails with errMoved when something that the plan touches has a
// newer version than what was checked.
func swap(tx *store.Tx, p Publication, c checked) (firm.Head, error) {
	head, err := tx.LockHead()
	if err != nil || p.done(head) {
		return head, err
	}
	if p.Head != head.Version {
		return head, fault.New(fault.Stale, "PLAN_HEAD_MOVED", "version %d was named, but %d is published: look at what changed and publish again", p.Head, head.Version)
	}
	for _, unmoved := range []func(*store.Tx) error{c.versionsUnmoved, c.gathered.fixedUnmoved} {
		if err := unmoved(tx); err != nil {
			return head, err
		}
	}
	s := swapping{checked: c, tx: tx}
	if _, err := s.run(); err != nil {
		return head, err
	}
	head = firm.Head{Version: head.Version + 1, Plan: c.kept.ID, PublishedAt: tx.Now()}
	return head, tx.SetHead(head)
}

// versionsUnmoved compares the versions of the technicians and sites of the plan's visits, and of the cases there.
func (c checked) versionsUnmoved(tx *store.Tx) error {
	var sites []site.ID
	var crew []scheduler.TechnicianID
	for _, route := range c.kept.Plan.Routes {
		crew = append(crew, route.Technician)
		for _, visit := range route.Visits {
			sites = append(sites, visit.Site)
		}
	}
	return c.gathered.unmoved(tx, sites, crew)
}

// unmoved fails with errMoved when one of some sites, a case there, one of some technicians, the policy or a product has another
// version now than when it was gathered.
func (g Gathered) unmoved(tx *store.Tx, sites []site.ID, crew []scheduler.TechnicianID) error {
	was := firm.Versions{Cases: map[course.CaseID]int64{}, Sites: map[site.ID]int64{}, Technicians: map[scheduler.TechnicianID]int64{}}
	for _, id := range sites {
		was.Sites[id] = g.Versions.Sites[id]
	}
	for _, id := range crew {
		was.Technicians[id] = g.Versions.Technicians[id]
	}
	for id, at := range g.siteOf {
		if _, touched := was.Sites[at]; touched {
			was.Cases[id] = g.Versions.Cases[id]
		}
	}
	now, err := tx.VersionsOf(keys(was.Cases), keys(was.Sites), keys(was.Technicians))
	if err != nil {
		return err
	}
	if g.Versions.Policy != now.Policy || g.Versions.Products != now.Products || !same(was.Cases, now.Cases) || !same(was.Sites, now.Sites) || !same(was.Technicians, now.Technicians) {
		return errMoved
	}
	return nil
}

// fixedUnmoved fails with errMoved when a visit was pinned or has begun since, was reported, or moved while pinned.
func (g Gathered) fixedUnmoved(tx *store.Tx) error {
	horizon := g.horizon()
	present, err := readPublished(tx, g.Problem.Zone, horizon)
	if err != nil {
		return err
	}
	if !slices.EqualFunc(g.Problem.Fixed, present.fixed(horizon), func(a, b scheduler.Visit) bool {
		return a.ID == b.ID && a.State == b.State && a.Arrives == b.Arrives && a.Technician == b.Technician
	}) {
		return errMoved
	}
	return nil
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

// swapping replaces the visits that give way to a plan by those of the plan. All others are left alone; the plan was made
// around them.
type swapping struct {
	checked
	tx *store.Tx
	// gives says whether a published visit that may move gives way; nil is every one from the plan's first day on.
	gives func(scheduler.Visit) bool
	// holds are the visits of the plan that become pinned.
	holds   []scheduler.VisitID
	before  []scheduler.Visit
	visits  []scheduler.Visit
	routes  []firm.Route
	ofItem  map[scheduler.ItemID]scheduler.VisitID
	removed []scheduler.VisitID
}

// run writes the plan's visits, and returns them.
func (s *swapping) run() ([]scheduler.Visit, error) {
	zone := s.gathered.Problem.Zone
	visits, err := s.tx.Visits(store.VisitFilter{From: s.tx.Now().Add(-lookBack), To: zone.At(s.kept.FirstDay.AddDays(farAhead), 0)})
	if err != nil {
		return nil, err
	}
	begun := map[scheduler.VisitID]bool{}
	for _, v := range visits {
		switch v.State {
		case scheduler.Begun, scheduler.Done:
			begun[v.ID] = true
		case scheduler.Published, scheduler.Announced:
			if v.Arrives >= max(s.tx.Now(), zone.At(s.kept.FirstDay, 0)) && (s.gives == nil || s.gives(v)) {
				s.before = append(s.before, v)
			}
		}
	}
	stored, err := s.tx.Routes(store.RouteFilter{From: s.kept.FirstDay, To: s.kept.FirstDay.AddDays(s.kept.Days)})
	if err != nil {
		return nil, err
	}
	for i := range stored {
		stored[i].Mixes = standingMixes(stored[i], visits, s.tx.Now())
	}
	s.takeVisits(begun, stored)
	if err := s.tx.ReplaceVisits(s.removed, s.visits, s.routes, s.keepOuts(), s.kept.ID); err != nil {
		return nil, err
	}
	return s.visits, sendNotices(s.tx, s.gathered.Problem.Rules, s.visits)
}

// takeVisits takes the plan's visits with the names that they were kept under. A name that a visit begun or done
// meanwhile bears is not taken from it. Fixed visits stay as they are stored, and so do the mixes that they draw on:
// the plan's own come after those of the stored day route.
func (s *swapping) takeVisits(begun map[scheduler.VisitID]bool, stored []firm.Route) {
	s.ofItem = map[scheduler.ItemID]scheduler.VisitID{}
	taken := map[scheduler.VisitID]bool{}
	for _, route := range s.kept.Plan.Routes {
		published, mixAt := s.join(route, stored)
		for _, visit := range route.Visits {
			taken[visit.ID] = true
			if s.stays(visit) {
				continue
			}
			if begun[visit.ID] {
				visit.ID += "-again"
			}
			if slices.Contains(s.holds, visit.ID) {
				visit.State = scheduler.Pinned
			}
			visit.Work = slices.Clone(visit.Work)
			for w := range visit.Work {
				s.ofItem[visit.Work[w].Item] = visit.ID
				if at := visit.Work[w].MixIndex; at >= 0 {
					visit.Work[w].MixIndex = mixAt[at]
				}
			}
			s.visits = append(s.visits, visit)
		}
		s.routes = append(s.routes, published)
	}
	for _, old := range s.before {
		if !taken[old.ID] {
			s.removed = append(s.removed, old.ID)
		}
	}
}

// stays says whether a visit of the plan is one that stays as it is stored.
func (s *swapping) stays(v scheduler.Visit) bool {
	return fixed(v) || slices.ContainsFunc(s.gathered.Problem.Fixed, func(f scheduler.Visit) bool { return f.ID == v.ID })
}

func fixed(v scheduler.Visit) bool {
	return v.State == scheduler.Begun || v.State == scheduler.Done || v.State == scheduler.Pinned
}

// join makes a day route of the plan the published one and says where each of its mixes stands in it: after the mixes
// that stand in the stored day route, unless it is one of them. A day that runs has set out and paused as it did.
func (s *swapping) join(route scheduler.DayRoute, stored []firm.Route) (joined firm.Route, mixAt []int) {
	joined = firm.Route{Technician: route.Technician, Day: route.Day, Departs: route.Departs, Returns: route.Returns, Break: route.Break}
	for _, old := range stored {
		if old.Technician != route.Technician || old.Day != route.Day {
			continue
		}
		joined.Mixes = slices.Clone(old.Mixes)
		if old.Departs < s.tx.Now() {
			joined.Departs = min(old.Departs, route.Departs)
		}
		if route.Break.Empty() && !old.Break.Empty() && old.Break.To <= s.tx.Now() {
			joined.Break = old.Break
		}
	}
	for _, mix := range route.Mixes {
		at := slices.IndexFunc(joined.Mixes, func(m scheduler.Mix) bool {
			return m.Vessel == mix.Vessel && m.Begins == mix.Begins && m.Product == mix.Product
		})
		if at < 0 {
			at = len(joined.Mixes)
			joined.Mixes = append(joined.Mixes, mix)
		}
		joined.Mixes[at] = mix // its rinse may have moved
		mixAt = append(mixAt, at)
	}
	return joined, mixAt
}

// standingMixes returns the mixes of a stored day route up to the last that was begun or that a visit which stays draws
// on.
func standingMixes(route firm.Route, visits []scheduler.Visit, now civil.Instant) []scheduler.Mix {
	needed := 0
	for _, v := range visits {
		if (fixed(v) || v.Arrives < now) && v.Technician == route.Technician && route.Departs <= v.Arrives && v.Arrives < route.Returns {
			for _, work := range v.Work {
				needed = max(needed, work.MixIndex+1)
			}
		}
	}
	for i, mix := range route.Mixes {
		if mix.Begins < now {
			needed = max(needed, i+1)
		}
	}
	return route.Mixes[:min(needed, len(route.Mixes))]
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
