package course

import (
	"fmt"
	"math"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
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
func (s *story) window(p *candidate) window {
	q := &p.sequence
	w := window{earliest: s.earliest(p)}
	w.ideal = w.earliest
	last, going := q.last()
	if !going {
		w.ideal = max(w.ideal, s.noticeDay(p))
	}
	if len(p.patch) > 0 {
		w.ideal = max(w.ideal, s.today().AddDays(s.in.Policy.PatchTestDays))
	}
	switch {
	case !going:
		from := s.found
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
	case len(q.missed) > 0:
		w.latest = max(w.ideal, last.AddDays(q.timing.latestLag))
		w.stands = max(w.latest, last.AddDays(q.stands()))
	default:
		w.stands = max(w.earliest, last.AddDays(q.stands()))
		w.ideal = min(max(w.ideal, last.AddDays(q.timing.lag)), w.stands)
		w.latest = min(max(w.ideal, last.AddDays(q.timing.latestLag)), w.stands)
	}
	return w
}

// earliest is the first day on which the label and what really happened allow the next application.
func (s *story) earliest(p *candidate) civil.Date {
	earliest := s.today()
	var lastOn civil.Date
	for _, m := range s.made {
		if len(p.sequence.missed) > 0 && !meetsPlants(m, p.sequence.missed) {
			continue
		}
		if m.product == p.product.ID && m.material == p.material.ID {
			earliest = max(earliest, m.on.AddDays(p.leastDays()))
		}
		for _, bad := range p.product.Label.Incompatible {
			if bad.Material == m.material {
				earliest = max(earliest, m.on.AddDays(bad.Days))
			}
		}
	}
	if last, ok := p.sequence.last(); ok {
		lastOn = last
	}
	for _, event := range s.history.Events {
		if event.NotDone == nil || kindOf(event.NotDone.FollowUp) != KindApplication || s.dateOf(event.At) < lastOn {
			continue
		}
		follows, _ := Consequences(event.NotDone.Outcome, KindApplication)
		earliest = max(earliest, s.dateOf(event.At).AddDays(follows.AfterDays))
	}
	return earliest
}

func meetsPlants(m made, plants []site.Plant) bool {
	return slices.ContainsFunc(plants, func(p site.Plant) bool { return slices.Contains(m.plants, p.ID) })
}

// builder writes the follow-ups of a course.
type builder struct {
	s      *story
	p      *candidate // chosen; nil without applications
	course *Course
	ids    numbering
}

func newBuilder(s *story, p *candidate, c *Course) *builder {
	b := &builder{s: s, p: p, course: c}
	since := s.since
	if p != nil {
		since = p.sequence.since
	}
	b.ids = numbering{s.history.Case, c.Run, b.done(since)}
	return b
}

// done counts the items of each kind really done in the run: each follow-up once, and each unplanned one.
func (b *builder) done(since civil.Date) map[FollowUpKind]int {
	done, seen := map[FollowUpKind]int{}, map[string]bool{}
	add := func(kind FollowUpKind, followUp ItemID, event string, at civil.Instant) {
		name := string(followUp)
		if name == "" {
			name = "event " + event
		}
		if seen[name] || b.s.dateOf(at) < since {
			return
		}
		seen[name] = true
		done[kind]++
	}
	for _, event := range b.s.history.Events {
		switch {
		case event.Inspection != nil:
			add(b.s.lookKind(event.Inspection), event.Inspection.FollowUp, event.ID, event.At)
		case event.Done != nil && kindOf(event.Done.FollowUp) != KindApplication:
			add(kindOf(event.Done.FollowUp), event.Done.FollowUp, event.ID, event.At)
		}
	}
	if b.p != nil {
		for _, round := range b.p.sequence.rounds {
			if round.own {
				done[KindApplication]++
			}
		}
	}
	return done
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
		ID: b.ids.next(kind), Case: b.s.history.Case, Kind: kind, Pest: b.s.pest.ID, Certainty: b.s.certainty,
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
	return s.work(plants, func(in []site.Plant) float64 { return float64(s.in.Policy.InspectMinutes * count(in)) })
}

// alwaysStands is a lag far beyond any horizon, for items behind another that stand whatever happens.
const alwaysStands = 365

// chain is a lag behind an item that has no bound.
func chain(after ItemID, earliest, ideal, latest int) Due {
	return Due{After: after, EarliestLag: earliest, IdealLag: ideal, LatestLag: max(ideal, latest), StandsUntilLag: alwaysStands}
}

// applications writes what the sequence still needs, each behind a look at the plants, and returns the ids.
func (b *builder) applications() []ItemID {
	s, p, q := b.s, b.p, &b.p.sequence
	if q.needed == 0 {
		return nil
	}
	w := s.window(p)
	approved, why := s.approval(p)
	due, idealOffset := w.due(), w.ideal.DaysSince(w.earliest)
	if len(p.patch) > 0 && len(q.rounds) == 0 {
		due, idealOffset = b.patchTest(w)
	}
	prices := newPricing(s, q, p)
	var all []ItemID
	for i := range q.needed {
		plants, ways := p.plants, p.ways
		if i == 0 && len(q.missed) > 0 {
			plants = q.missed
			part := *p
			part.plants, part.ways, part.wayNotes, part.conditions = plants, nil, nil, nil
			s.listWays(&part)
			ways = part.ways
		}
		look := b.lookBefore(i, due)
		f := b.item(KindApplication, plants, ways, due, b.applicationReason(i, w, why))
		f.Approved = approved
		f.Expected = w.ideal.AddDays(i * q.timing.lag)
		f.PricePerDay = prices.table(i, idealOffset, priceLength(due))
		f.LeftOutPrice = prices.leftOut(f.PricePerDay)
		all = append(all, b.add(f))
		b.link(Order, look, f.ID)
		b.instead(f, plants)
		t := q.timing
		due = Due{After: f.ID, EarliestLag: t.least, IdealLag: t.lag, LatestLag: t.latestLag, StandsUntilLag: t.standsLag}
		idealOffset = t.lag - t.least
	}
	return all
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

// patchTest puts a test before the first application and returns the application's window behind it.
func (b *builder) patchTest(w window) (Due, int) {
	s, p := b.s, b.p
	days := s.in.Policy.PatchTestDays
	due := window{earliest: s.today(), ideal: s.today(), latest: max(s.today(), w.latest.AddDays(-days))}.due()
	ways := s.work(p.patch, func(in []site.Plant) float64 { return p.material.MinutesPerPlant.Value * float64(len(in)) })
	f := b.item(KindPatchTest, p.patch, ways, due, fmt.Sprintf(
		"patch test of %s on one leaf of %s, read after %s: what it stands is not known; the label's own words on testing outrank this",
		p.material.Name, plantNames(p.patch), plural(days, "day")))
	id := b.add(f)
	ideal := max(days, w.ideal.DaysSince(s.today()))
	return chain(id, days, ideal, max(ideal, w.latest.DaysSince(s.today()))), ideal - days
}

// lookBefore is the look at the infested plants before an application: what is seen is taken off by hand.
func (b *builder) lookBefore(i int, due Due) ItemID {
	s := b.s
	if due.After == "" {
		for _, m := range s.made {
			if m.on == s.today() {
				// Soap kills within hours: a look shows what it did from the next day on.
				due.EarliestOn = max(due.EarliestOn, m.on.AddDays(1))
			}
		}
		due.IdealOn, due.LatestOn = max(due.IdealOn, due.EarliestOn), max(due.LatestOn, due.EarliestOn)
		if !due.StandsUntilOn.IsZero() {
			due.StandsUntilOn = max(due.StandsUntilOn, due.LatestOn)
		}
	}
	reason := fmt.Sprintf("look at the infested plants before application %d", len(b.p.sequence.rounds)+i+1)
	if b.p.hand != nil {
		reason += ", and take off by hand what is seen"
	}
	f := b.item(KindInspectInfested, s.plants, s.looking(s.plants), due, reason)
	f.Expected = s.window(b.p).ideal.AddDays(i * b.p.sequence.timing.lag)
	return b.add(f)
}

// instead takes the drenched plants out of their watering of that day.
func (b *builder) instead(f FollowUp, plants []site.Plant) {
	if b.p.material.Method != catalogue.Drench {
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

// neighbourLooks are at most the policy's days apart while the course runs.
func (b *builder) neighbourLooks(until civil.Date, ideal civil.Date) {
	s := b.s
	if len(s.neighbours) == 0 {
		return
	}
	every := max(1, s.in.Policy.NeighbourDays)
	var last civil.Date
	for _, look := range s.looks {
		if slices.ContainsFunc(s.neighbours, func(p site.Plant) bool { return slices.Contains(look.plants, p.ID) }) {
			last = max(last, look.on)
		}
	}
	w := window{earliest: s.today(), ideal: max(s.today(), ideal)}
	w.latest = max(w.ideal, s.found.AddDays(every))
	if !last.IsZero() {
		w.earliest = max(s.today(), last.AddDays(1))
		w.ideal = max(w.earliest, last.AddDays(every))
		w.latest = w.ideal
	}
	reason := fmt.Sprintf("look at the neighbours (%s): same area or touching, at most %s apart", plantNames(s.neighbours), plural(every, "day"))
	due := w.due()
	for on, n := w.ideal, 0; n < mostApplications && (n == 0 || on <= until); on, n = on.AddDays(every), n+1 {
		f := b.item(KindInspectNeighbours, s.neighbours, s.looking(s.neighbours), due, reason)
		f.Expected = on
		due = chain(b.add(f), 1, every, every)
	}
}

// traps hang cards beside the course and change them at the practice's rhythm.
func (b *builder) traps(until civil.Date, ideal civil.Date) {
	s := b.s
	material, every, ok := s.trap()
	if !ok {
		return
	}
	var last civil.Date
	for _, event := range s.history.Events {
		if event.Done != nil && kindOf(event.Done.FollowUp) == KindTrapChange {
			last = max(last, s.dateOf(event.At))
		}
	}
	w := window{earliest: s.today(), ideal: max(s.today(), ideal)}
	if !last.IsZero() {
		w.earliest = max(s.today(), last.AddDays(1))
		w.ideal = max(w.earliest, last.AddDays(every))
	}
	w.latest = max(w.ideal, s.found.AddDays(every))
	ways := s.work(s.plants, func([]site.Plant) float64 { return float64(s.in.Policy.CardMinutes) })
	due := w.due()
	for on, n := w.ideal, 0; n < mostApplications && (n == 0 || on <= until); on, n = on.AddDays(every), n+1 {
		f := b.item(KindTrapChange, s.plants, ways, due, fmt.Sprintf("%s: hang or change every %s, and count what they caught; they show and thin out, they do not end an infestation", material.Name, plural(every, "day")))
		f.Expected = on
		due = chain(b.add(f), 1, every, every)
	}
}

// trap is the trap for the pest that the client does not refuse, and its rhythm.
func (s *story) trap() (material catalogue.Material, everyDays int, ok bool) {
	for _, p := range s.candidates() {
		if p.material.Method != catalogue.Trap {
			continue
		}
		s.judgeLaw(p)
		s.judgeAgreement(p)
		if len(p.reasons) > 0 {
			continue
		}
		every := s.in.Policy.LookEveryDays
		if ceiling, known := p.material.Ceilings[s.pest.ID]; known {
			every = int(math.Floor(ceiling.Near))
		}
		return p.material, max(1, every), true
	}
	return catalogue.Material{}, 0, false
}

// closingLooks lead to the ending after the last application.
func (b *builder) closingLooks(l Looks, lastApplication ItemID) {
	s := b.s
	every := max(1, s.in.Policy.LookEveryDays)
	on := max(s.today(), l.FirstOn)
	for _, look := range s.looks {
		if l.Made > 0 && s.looked(look) > 0 && look.on >= l.FirstOn {
			on = max(on, look.on.AddDays(every))
		}
	}
	due := window{earliest: on, ideal: on, latest: on.AddDays(every)}.due()
	if lastApplication != "" {
		lag := max(1, l.FirstOn.DaysSince(b.p.sequence.lastOn))
		due = chain(lastApplication, lag, lag, lag+every)
		on = l.FirstOn
	}
	needed := max(l.Needed, leastLooks)
	if !l.Reachable {
		needed = l.Made + leastLooks // more do not end it; these are the watch
	}
	for n := l.Made; n < needed; n++ {
		f := b.item(KindInspectInfested, s.plants, s.looking(s.plants), due, fmt.Sprintf(
			"inspection %d of %d after the last application, hoped to be without a find; the first not before %s, when what was spared has shown itself", n+1, needed, l.FirstOn.Short()))
		f.Expected = on
		on = on.AddDays(every)
		due = chain(b.add(f), every, every, 2*every)
	}
}

// isolation is asked for suspected and new plants below the policy's height, to the place that the agreement names.
func (b *builder) isolation() {
	s := b.s
	var apart []site.Plant
	for _, plant := range s.plants {
		if (s.certainty != Confirmed || plant.New) && plant.HeightCM < s.in.Policy.IsolateBelowCM && plant.Planter != site.Bed && !s.isolated(plant.ID) {
			apart = append(apart, plant)
		}
	}
	if len(apart) == 0 {
		return
	}
	place, ok := areaOf(s.site, s.site.Agreement.IsolationArea)
	if !ok {
		b.course.Advice = append(b.course.Advice, fmt.Sprintf("no isolation: %s should stand apart, but the agreement names no area for it", plantNames(apart)))
		return
	}
	apart = slices.DeleteFunc(apart, func(p site.Plant) bool { return p.Area == place.ID })
	if len(apart) == 0 {
		return
	}
	days := s.in.Policy.FirstDaysBySeverity[min(max(s.severity, 0), worstSeverity)]
	due := window{earliest: s.today(), ideal: s.today(), latest: max(s.today(), s.found.AddDays(days))}.due()
	ways := s.work(apart, func(in []site.Plant) float64 { return float64(s.in.Policy.CarryMinutesPerPlant * count(in)) })
	b.add(b.item(KindIsolation, apart, ways, due, fmt.Sprintf("keep %s apart in %s until it is known to be clear; touch clean plants first", plantNames(apart), place.Name)))
}

func (s *story) isolated(plant site.PlantID) bool {
	return slices.ContainsFunc(s.history.Events, func(e Event) bool {
		return e.Done != nil && kindOf(e.Done.FollowUp) == KindIsolation && slices.Contains(e.Done.Plants, plant)
	})
}

// suspicion asks for two looks a hatching apart, and no application.
func (b *builder) suspicion() {
	s := b.s
	apart := s.hatching()
	clean := s.cleanLooks()
	days := s.in.Policy.FirstDaysBySeverity[min(max(s.severity, 0), worstSeverity)]
	if response := s.site.Agreement.ResponseDays; response > 0 {
		days = min(days, response)
	}
	w := window{earliest: s.today(), ideal: s.today(), latest: max(s.today(), s.found.AddDays(days))}
	if len(clean) > 0 {
		w.earliest = max(s.today(), clean[0].AddDays(apart))
		w.ideal, w.latest = w.earliest, w.earliest.AddDays(s.in.Policy.LookEveryDays)
	}
	due := w.due()
	on := w.ideal
	for n := min(len(clean), 1); n < leastLooks; n++ {
		f := b.item(KindInspectInfested, s.plants, s.looking(s.plants), due, fmt.Sprintf(
			"look %d of %d, a hatching (%s) apart: is it %s? Look for %s", n+1, leastLooks, plural(apart, "day"), s.pest.Name, listText(s.pest.Signs)))
		f.Expected = on
		on = on.AddDays(apart)
		due = chain(b.add(f), apart, apart, apart+s.in.Policy.LookEveryDays)
	}
}

// hatching is the longest time to hatching at the coldest, in whole days; without an end, the policy's look rhythm.
func (s *story) hatching() int {
	egg := durations(s.pest, s.season(), longest)[0].days
	if math.IsInf(egg, 1) {
		return max(1, s.in.Policy.LookEveryDays)
	}
	return int(math.Ceil(egg))
}

// cleanLooks are the days of the looks in a row without a find since the last living one.
func (s *story) cleanLooks() []civil.Date {
	var days []civil.Date
	for _, look := range s.looks {
		switch {
		case s.looked(look) == 0 || look.on < s.found:
		case look.find:
			days = nil
		default:
			days = append(days, look.on)
		}
	}
	return days
}
