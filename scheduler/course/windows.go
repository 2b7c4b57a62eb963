package course

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// window is when the next item may begin, in dates of the site.
type window struct {
	earliest, ideal, latest civil.Date
	stands                  civil.Date // unset: it always stands
}

func (w window) due() Due {
	return Due{EarliestOn: w.earliest, IdealOn: w.ideal, LatestOn: w.latest, StandsUntilOn: w.stands}
}

// noticeDay is the first day on which an application's notice can have run out, when it is published now.
func (s *story) noticeDay(p *candidate) civil.Date {
	if p.product.ID == "" || s.in.Now.IsZero() {
		return s.today()
	}
	lead, _ := s.noticeLead()
	return s.dateOf(s.in.Now.Add(s.in.Policy.PublishingDelay + lead))
}

// window is that of the next application. The first of a run is earliest today, ideal when notice and patch test allow,
// latest by severity or the agreement's response time, and always stands. A later one counts from the round really made.
func (s *story) window(p *candidate, q *sequence) window {
	w := window{earliest: s.earliest(p, q)}
	w.ideal = w.earliest
	last, going := q.last()
	if !going {
		w.ideal = max(w.ideal, s.noticeDay(p))
	}
	if len(p.patchOf(q)) > 0 {
		w.ideal = max(w.ideal, s.today().AddDays(s.in.Policy.PatchTestDays))
	}
	switch {
	case !going:
		from := s.foundOn(q.plants)
		if q.expired {
			from = s.today()
		}
		days := s.in.Policy.FirstDaysBySeverity[min(max(s.severity, 0), worstSeverity)]
		if response := s.site.Agreement.ResponseDays; response > 0 {
			days = min(days, response)
		}
		w.latest = max(w.ideal, from.AddDays(days))
		if q.expired {
			w.latest = w.ideal
		}
		w.ideal = s.together(p, q, w)
	default:
		w.stands = max(w.earliest, last.AddDays(q.lags.stands))
		w.ideal = min(max(w.ideal, last.AddDays(q.lags.ideal)), w.stands)
		w.latest = min(max(w.ideal, last.AddDays(q.lags.latest)), w.stands)
		w.ideal = q.bestDay(s, w.earliest, w.ideal, w.latest)
	}
	return s.onWatering(p, q, s.keepWithin(p, w))
}

// together is the ideal day of plants that no round met yet: the day on which the others of the area are due anyway, where the
// window reaches so far; from then on they are treated on one visit.
func (s *story) together(p *candidate, q *sequence, w window) civil.Date {
	for _, other := range p.sequences {
		last, going := other.last()
		if !going || other == q || other.plants[0].Area != q.plants[0].Area || other.finished(s) {
			continue
		}
		if due := max(s.earliest(p, other), last.AddDays(other.lags.ideal)); w.ideal <= due && due <= w.latest {
			return due
		}
	}
	return w.ideal
}

// foundOn is the day on which the pest was found on plants: of those to which it spread, the day of that.
func (s *story) foundOn(plants []site.Plant) civil.Date {
	from := s.found
	for _, spread := range s.spread {
		reached := func(p site.Plant) bool { return slices.Contains(spread.plants, p.ID) }
		if !slices.ContainsFunc(plants, func(p site.Plant) bool { return !reached(p) }) {
			from = max(from, spread.on)
		}
	}
	return from
}

// onWatering moves the ideal day of what leaves a film to the next day on which the plants are due for watering, if the
// window reaches so far: there it is rinsed off with the watering.
func (s *story) onWatering(p *candidate, q *sequence, w window) window {
	if !p.material.LeavesFilm {
		return w
	}
	for _, service := range s.waters(q.plants) {
		if service.Last.IsZero() {
			continue // due now: nothing to wait for
		}
		if due := service.Last.AddDays(service.Ideal); w.ideal <= due && due <= w.latest {
			w.ideal = due
			break
		}
	}
	return w
}

// rinse takes the film of an application off again, when it has done its work: the day after, or with the next watering. While
// no water may run through the pots, before a day, it is wiped off.
func (b *builder) rinse(by *candidate, f FollowUp, plants []site.Plant, dry civil.Date) {
	if !by.material.LeavesFilm {
		return
	}
	lag := 1
	for _, service := range b.s.waters(plants) {
		lag = max(lag, service.Ideal)
	}
	reason := fmt.Sprintf("rinse the film of %s off the leaves, not before it has dried, best with the watering", by.material.Name)
	if f.Expected < dry {
		reason = fmt.Sprintf("wipe the film of %s off the leaves with a damp cloth, not before it has dried, and rinse nothing: no water may run through the pots before %s", by.material.Name, dry.Short())
	}
	rinse := b.item(KindLeafWashing, plants, b.s.work(plants, b.s.lookingMinutes), chain(f.ID, 1, 1, lag), reason)
	rinse.Expected = f.Expected.AddDays(1)
	b.add(rinse)
}

// earliest is the first day on which the labels and what really happened allow the next application.
func (s *story) earliest(p *candidate, q *sequence) civil.Date {
	earliest := s.today()
	for _, m := range s.made {
		if meetsPlants(m, q.plants) {
			days, _ := s.apart(p, m)
			earliest = max(earliest, m.on.AddDays(days))
		}
	}
	for _, plant := range q.plants {
		if on, tested := s.testedOn(plant.ID, p.material.ID); tested && s.isUnknown(p, plant) {
			earliest = max(earliest, on.AddDays(s.in.Policy.PatchTestDays))
		}
	}
	if last, going := q.last(); going {
		earliest = max(earliest, last.AddDays(q.lags.least))
	}
	earliest = max(earliest, s.dueAgain(KindApplication))
	return max(earliest, s.delivered(p))
}

// patchOf are the plants of a sequence that want a patch test first.
func (p *candidate) patchOf(q *sequence) []site.Plant {
	var plants []site.Plant
	for _, plant := range p.patch {
		in := slices.ContainsFunc(q.plants, func(x site.Plant) bool { return x.ID == plant.ID })
		used := slices.ContainsFunc(q.rounds, func(r round) bool { return r.used == p.material.ID })
		if in && !used {
			plants = append(plants, plant)
		}
	}
	return plants
}

// dueAgain is the first day on which an item of a kind may be tried again: today, or later by what came of it last.
func (s *story) dueAgain(kind FollowUpKind) civil.Date {
	again := s.today()
	for _, event := range s.history.Events {
		if event.NotDone == nil || kindOf(event.NotDone.FollowUp) != kind {
			continue
		}
		follows, _ := Consequences(event.NotDone.Outcome, kind)
		again = max(again, s.dateOf(event.At).AddDays(follows.AfterDays))
	}
	return again
}

func meetsPlants(m made, plants []site.Plant) bool {
	return slices.ContainsFunc(plants, func(p site.Plant) bool { return slices.Contains(m.plants, p.ID) })
}

// dated is something that is still needed, by the day on which it falls; writing it gives its id where it is an application
// of a sequence.
type dated struct {
	on    civil.Date
	write func() ItemID
}

// need is one application that a sequence still needs.
type need struct {
	planned
	in *chained
	i  int // from 0 within the sequence
}

// chained is a sequence in the making of its follow-ups.
type chained struct {
	q           *sequence
	window      window
	ways        map[*candidate][]Way
	prices      pricing
	due         Due // of the next
	idealOffset int
	last        ItemID              // of the application before
	patched     map[*candidate]bool // whose patch test is written
}

// applications writes what the sequences still need, each behind a look at the plants, in order of time; it returns the id
// of the last of them, "" when nothing is needed.
func (b *builder) applications() ItemID {
	s, p := b.s, b.p
	var needs []dated
	for _, q := range p.sequences {
		in := &chained{q: q, ways: map[*candidate][]Way{}, patched: map[*candidate]bool{}}
		if q.needed > 0 {
			in.window, in.prices = s.window(p, q), newPricing(s, q, p)
			in.due, in.idealOffset = in.window.due(), in.window.ideal.DaysSince(in.window.earliest)
		}
		for i, one := range q.planned {
			if in.ways[one.by] == nil {
				in.ways[one.by] = s.waysFor(one.by, q.plants)
			}
			needs = append(needs, dated{one.on, func() ItemID { return b.application(need{one, in, i}) }})
		}
		needs = append(needs, b.covers(in)...)
	}
	slices.SortStableFunc(needs, func(x, y dated) int { return int(x.on - y.on) })
	var last ItemID
	for _, n := range needs {
		if id := n.write(); id != "" {
			last = id
		}
	}
	return last
}

// application writes one application, the look before it, and a patch test where one comes first.
func (b *builder) application(n need) ItemID {
	in, q := n.in, n.in.q
	b.run = q.run
	defer func() { b.run = b.course.Run }()
	if n.i > 0 {
		l := n.lags
		if l.stands == 0 {
			l.stands = max(l.latest, n.timing.standsAfter(q.planned[n.i-1].on))
		}
		in.due = Due{After: in.last, EarliestLag: l.least, IdealLag: l.ideal, LatestLag: l.latest, StandsUntilLag: l.stands}
		in.idealOffset = l.ideal - l.least
	}
	patched := b.patchFirst(n)
	look := b.lookBefore(n)
	approved, why := b.s.approval(n.by, in.ways[n.by])
	f := b.item(KindApplication, q.plants, in.ways[n.by], in.due, b.applicationReason(n, why))
	f.Approved, f.Expected = approved, n.on
	f.PricePerDay = b.s.promised(in.prices.table(n.i, in.idealOffset, priceLength(in.due)), in.due)
	f.LeftOutPrice = in.prices.leftOut(f.PricePerDay)
	in.last = b.add(f)
	b.link(Order, look, f.ID)
	if patched != "" {
		b.course.Links = append(b.course.Links, Link{Kind: LeastLag, From: patched, To: f.ID, Days: max(1, b.s.in.Policy.PatchTestDays)}, Link{Kind: Needs, From: patched, To: f.ID})
	}
	b.instead(n.by, f, q.plants)
	b.noLeaching(n.by, f, q.plants)
	b.rinse(n.by, f, q.plants, b.s.dryUntil(q.plants))
	return f.ID
}

// patchFirst writes the patch test of the product of an application that is the first of it, where one comes first. Before the first
// of a sequence the test begins it; one of a later product only comes in time, and its id is returned.
func (b *builder) patchFirst(n need) ItemID {
	in := n.in
	patch := n.by.patchOf(in.q)
	if len(patch) == 0 || in.patched[n.by] {
		return ""
	}
	in.patched[n.by] = true
	if n.i == 0 {
		b.patchTest(in, n.by, patch)
		return ""
	}
	again, days := b.s.dueAgain(KindPatchTest), b.s.in.Policy.PatchTestDays
	ideal := max(again, n.on.AddDays(-n.lags.ideal)) // with the application before
	due := window{earliest: again, ideal: ideal, latest: max(ideal, n.on.AddDays(-days))}.due()
	return b.add(b.patchItem(in, n.by, patch, due))
}

// promised adds what the business's promise of a course in time is worth: so much for each day past the latest. Where
// the model sees little harm in a delay the promise still stands.
func (s *story) promised(prices []quantity.Money, due Due) []quantity.Money {
	latest := due.LatestLag - due.EarliestLag
	if due.After == "" {
		latest = due.LatestOn.DaysSince(due.EarliestOn)
	}
	for k := max(0, latest+1); k < len(prices); k++ {
		prices[k] += s.in.Policy.LateApplicationDay * quantity.Money(k-latest)
	}
	return prices
}

// pricedDays is how many days after the latest an item that always stands is priced on.
const pricedDays = 14

// priceLength is how many days from the earliest on a table prices: to the last that stands.
func priceLength(due Due) int {
	var days int
	switch {
	case due.After == "" && due.StandsUntilOn.IsZero():
		days = due.LatestOn.DaysSince(due.EarliestOn) + pricedDays
	case due.After == "":
		days = due.StandsUntilOn.DaysSince(due.EarliestOn)
	case due.StandsUntilLag >= alwaysStands:
		days = due.LatestLag - due.EarliestLag + pricedDays
	default:
		days = due.StandsUntilLag - due.EarliestLag
	}
	return max(1, days+1)
}

// patchTest puts a test before the first application of a sequence and its window behind it.
func (b *builder) patchTest(in *chained, by *candidate, patch []site.Plant) {
	s := b.s
	days, w := s.in.Policy.PatchTestDays, in.window
	again := s.dueAgain(KindPatchTest)
	ideal := max(again, min(max(s.today(), s.noticeDay(by)), w.ideal))
	due := window{earliest: again, ideal: ideal, latest: max(ideal, s.noticeDay(by), w.latest.AddDays(-days))}.due()
	id := b.add(b.patchItem(in, by, patch, due))
	lag := max(days, w.ideal.DaysSince(due.IdealOn))
	in.due, in.idealOffset = chain(id, days, lag, max(lag, w.latest.DaysSince(due.IdealOn))), lag-days
}

// patchItem is a patch test: an application itself, to one plant of each group; label, licence and approval hold for it too.
func (b *builder) patchItem(in *chained, by *candidate, patch []site.Plant, due Due) FollowUp {
	single := slices.Clone(patch)
	for i := range single {
		single[i].Count = 1
	}
	f := b.item(KindPatchTest, patch, b.s.waysFor(by, single), due, fmt.Sprintf(
		"patch test of %s on one leaf of %s, read after %s: what it stands is not known; the label's own words on testing outrank this",
		by.material.Name, plantNames(patch), plural(b.s.in.Policy.PatchTestDays, "day")))
	f.Approved, _ = b.s.approval(by, in.ways[by])
	return f
}

// lookBefore is the look at the plants before an application: what is seen is taken off by hand.
func (b *builder) lookBefore(n need) ItemID {
	s, due := b.s, n.in.due
	if due.After == "" {
		for _, m := range s.made {
			if m.on == s.today() && meetsPlants(m, n.in.q.plants) {
				// What a contact material did shows from the next day on.
				due.EarliestOn = max(due.EarliestOn, m.on.AddDays(1))
			}
		}
		due.IdealOn, due.LatestOn = max(due.IdealOn, due.EarliestOn), max(due.LatestOn, due.EarliestOn)
		if !due.StandsUntilOn.IsZero() {
			due.StandsUntilOn = max(due.StandsUntilOn, due.LatestOn)
		}
	}
	reason := fmt.Sprintf("look at the infested plants before application %d", len(n.in.q.rounds)+n.i+1)
	if b.p.hand != nil {
		reason += ", and take off by hand what is seen"
	}
	f := b.item(KindInspectInfested, n.in.q.plants, s.looking(n.in.q.plants), due, reason)
	f.Expected = n.on
	return b.add(f)
}

// instead takes the drenched plants out of their watering of that day.
func (b *builder) instead(by *candidate, f FollowUp, plants []site.Plant) {
	if by.material.Method != catalogue.Drench {
		return
	}
	for _, service := range b.s.in.Services {
		if service.Site != b.s.site.ID || service.Kind != site.WateringService {
			continue
		}
		in := slices.ContainsFunc(service.Groups, func(g site.Group) bool {
			return slices.ContainsFunc(plants, func(p site.Plant) bool { return p.ID == g.Plant })
		})
		if in {
			b.link(InsteadOf, f.ID, ItemID(service.ID))
		}
	}
}
