package scheduler

import (
	"cmp"
	"context"
	"fmt"
	"math/big"
	"slices"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// explainer looks for the smallest change of each kind. It loosens a kind as far as it goes, looks there for what asks for the
// least, and keeps of that only what an exact change lets in too.
type explainer struct {
	ctx   context.Context
	p     *Prepared
	plan  *Plan
	f     *FollowUp
	item  int32
	seek  *seeker
	tried int // changes that were doubted
}

// quarterSeconds is the grain in which people's hours and consents are looked for: nobody agrees on a minute.
const quarterSeconds = 15 * 60

// changes returns the ways that are open as things are, else the smallest change of each kind.
func (x *explainer) changes() []Change {
	if ways := x.ways(); len(ways) > 0 {
		return ways
	}
	var changes []Change
	if x.seek.c.items[x.item].away != nil {
		return nil // a carry back: its hours are those of what was begun
	}
	for _, smallest := range []func() *Change{x.laterDay, x.evening, x.consent, x.licence, x.vessel} {
		if change := smallest(); change != nil && x.ctx.Err() == nil {
			x.say(change)
			changes = append(changes, *change)
		}
	}
	return changes
}

// ways are the cheapest openings by each way as things are.
func (x *explainer) ways() []Change {
	var changes []Change
	found := x.seek.ranked(MaxOpenings)
	for i := range found {
		opening := x.seek.opening(&found[i])
		if slices.ContainsFunc(changes, func(ch Change) bool { return ch.Opening.Way == opening.Way }) {
			continue
		}
		change := Change{Kind: OtherWay, FollowUp: x.f.ID, Opening: opening, Delay: opening.Delay}
		x.say(&change)
		changes = append(changes, change)
	}
	return changes
}

// loosened asks about the Problem with a change made; nil where that is not valid.
func (x *explainer) loosened(change *Change) *seeker {
	prepared, err := Prepare(change.Apply(x.p.problem), x.p.rates)
	if err != nil {
		return nil
	}
	item, known := prepared.compiled.itemOf(x.f.ID)
	if !known {
		return nil
	}
	seek, err := prepared.compiled.seek(x.ctx, x.plan, item, false)
	if err != nil || seek.stuck != nil {
		return nil
	}
	return seek
}

// lets makes a change and says whether it lets the follow-up in; the cheapest opening is noted in it.
func (x *explainer) lets(change *Change) bool {
	seek := x.loosened(change)
	if seek == nil {
		return false
	}
	found := seek.ranked(1)
	if len(found) == 0 {
		return false
	}
	change.Opening = seek.opening(&found[0])
	change.Delay = change.Opening.Delay
	return true
}

// laterDay lets it stand longer: as few days as give an opening.
func (x *explainer) laterDay() *Change {
	_, _, stands, known := x.seek.state.Days(x.item)
	more := int(x.seek.c.in.LastDay - stands)
	if !known || more <= 0 {
		return nil
	}
	loose := x.loosened(&Change{Kind: LaterDay, FollowUp: x.f.ID, Days: more})
	if loose == nil {
		return nil
	}
	in := &loose.c.in.Sites[loose.c.in.Items[loose.item].Site]
	first := instance.FarDay
	for t := range loose.c.shifts {
		if in.DayOf(loose.c.in.Shifts[t].Start) >= first {
			break
		}
		for way := range loose.c.in.Items[loose.item].Ways {
			for _, place := range loose.sieve.Places(loose.item, int16(way), 0, int32(t)) {
				if slot, ok := loose.try(place); ok {
					first = min(first, in.DayOf(slot.placed.Begins))
				}
			}
		}
	}
	for days := max(1, int(first-stands)); days <= more; days++ {
		change := &Change{Kind: LaterDay, FollowUp: x.f.ID, Days: days}
		if x.lets(change) {
			return change
		}
	}
	return nil
}

// shutBy is one application of a way that keeps people out.
type shutBy struct {
	way, part int
	offset    time.Duration // of the application from the beginning of the way, mixing left out
	areas     []site.AreaID // with people, whom it would keep out
	always    bool          // people never leave one of them
}

// shutting lists, for each way whose applications keep people out, the first of them.
func (x *explainer) shutting() []shutBy {
	c := x.seek.c
	s := &c.p.Sites[c.siteIndex[x.f.Site]]
	var all []shutBy
	for w := range x.f.Ways {
		offset := time.Duration(0)
		for n := range x.f.Ways[w].Parts {
			part := &x.f.Ways[w].Parts[n]
			if _, known := c.areaIndex[part.Area]; part.Use == nil || !known {
				offset += part.Takes
				continue
			}
			if aired, _ := c.keepsOut(s, part.Use); aired > 0 {
				by := shutBy{way: w, part: n, offset: offset}
				for _, id := range shutWith(s, part.Area) {
					people := c.areas[c.areaIndex[id]].People
					by.always = by.always || people.Always
					if people.Always || len(people.Weekly) > 0 || len(people.Exceptions) > 0 {
						by.areas = append(by.areas, id)
					}
				}
				if len(by.areas) > 0 {
					all = append(all, by)
				}
			}
			break
		}
	}
	return all
}

// evening lets people leave earlier on one day: by as little, in quarters of an hour, as gives an opening.
func (x *explainer) evening() *Change {
	x.tried = 0
	c := x.seek.c
	s := &c.p.Sites[c.siteIndex[x.f.Site]]
	days := x.seek.days()
	var best *Change
	least := civil.Clock(0)
	for _, by := range x.shutting() {
		if by.always {
			continue
		}
		// Hours that opened on the day before may pass midnight.
		for d := s.Zone.DateOf(max(days.From, c.p.Now)).AddDays(-1); d <= s.Zone.DateOf(days.To-1) && d <= c.date(c.in.LastDay); d++ {
			opens, closes := c.peopleOn(by.areas, d)
			if opens >= closes {
				continue
			}
			change := Change{Kind: Evening, FollowUp: x.f.ID, Site: s.ID, Areas: by.areas, On: d, Leave: opens / quarterSeconds * quarterSeconds}
			loose := x.loosened(&change)
			if loose == nil {
				continue
			}
			for leave := (closes - 1) / quarterSeconds * quarterSeconds; leave >= change.Leave && (best == nil || closes-leave < least); leave -= quarterSeconds {
				// The application keeps people out at the hours given up; its way, and the mixing for it, begin before.
				left := s.Zone.At(d, leave)
				from := left.Add(-by.offset - c.p.Rules.Mixing - reentry.Interval(*s, x.treatment(s, by, left)).Length())
				if !loose.anyFrom(by.way, civil.Interval{From: from, To: days.To}) && !x.doubted() {
					continue
				}
				exact := change
				exact.Leave = leave
				if x.lets(&exact) {
					best, least = &exact, closes-leave
					break
				}
			}
		}
	}
	return best
}

// peopleOn returns when the first people come into some areas on a day and the last leave.
func (c *compiled) peopleOn(areas []site.AreaID, d civil.Date) (opens, closes civil.Clock) {
	opens = civil.MaxClock
	for _, id := range areas {
		for _, w := range c.areas[c.areaIndex[id]].People.WindowsOn(d) {
			opens, closes = min(opens, w.Opens), max(closes, w.Closes)
		}
	}
	return opens, closes
}

// anyFrom says whether a way has a place whose beginning lies in a span.
func (s *seeker) anyFrom(way int, span civil.Interval) bool {
	kernel := s.c.kernelWay(s.item, way)
	if kernel < 0 {
		return false
	}
	narrow := s.narrowed(span)
	for t := range s.c.shifts {
		for _, place := range narrow.sieve.Places(s.item, int16(kernel), 0, int32(t)) {
			if _, ok := narrow.try(place); ok {
				return true
			}
		}
	}
	return false
}

// doubts is how many changes are tried though the loosened Problem has no place for them, and doubtedItems up to how many items.
const doubts, doubtedItems = 400, 60

// doubted says whether a change is tried though the loosened Problem has no place for it: there other work of a day moves too, and
// may take the place. On large Problems that costs more than it finds.
func (x *explainer) doubted() bool {
	x.tried++
	return x.tried <= doubts && len(x.seek.c.in.Items) <= doubtedItems
}

// consentTries bounds how many consents are tried exactly.
const consentTries = 60

// consent asks the client to shut areas while the application needs it: where people lose the least time, in quarters of an hour.
func (x *explainer) consent() *Change {
	x.tried = 0
	c := x.seek.c
	s := &c.p.Sites[c.siteIndex[x.f.Site]]
	type asked struct {
		by     shutBy
		begins civil.Instant
		lost   time.Duration
	}
	var all []asked
	loose := map[int]*seeker{}
	for _, by := range x.shutting() {
		change := Change{Kind: ConsentToShut, FollowUp: x.f.ID, Site: s.ID, Areas: by.areas, Shut: civil.Interval{From: c.span.From, To: c.span.To.Add(reentry.MaxKeepOut)}}
		seek := x.loosened(&change)
		if seek == nil || !seek.anyFrom(by.way, x.seek.days()) {
			continue
		}
		loose[by.way] = seek
		days := x.seek.days()
		first := reentry.Interval(*s, x.treatment(s, by, days.From))
		for at := (days.From - first.To + first.From) / quarterSeconds * quarterSeconds; at < days.To && at < c.horizon().To; at += quarterSeconds {
			all = append(all, asked{by, at, x.lost(s, by, at)})
		}
	}
	slices.SortStableFunc(all, func(a, b asked) int { return cmp.Or(cmp.Compare(a.lost, b.lost), cmp.Compare(a.begins, b.begins)) })
	tries := 0
	for _, want := range all {
		if x.ctx.Err() != nil || tries >= consentTries && len(x.seek.c.in.Items) > doubtedItems {
			break
		}
		shut := reentry.Interval(*s, x.treatment(s, want.by, want.begins))
		if !loose[want.by.way].anyFrom(want.by.way, x.within(want.by, shut)) && !x.doubted() {
			continue
		}
		tries++
		change := Change{Kind: ConsentToShut, FollowUp: x.f.ID, Site: s.ID, Areas: want.by.areas, Shut: shut}
		if x.lets(&change) {
			return &change
		}
	}
	return nil
}

// within are the beginnings of a way for which a consent may be enough: from its own beginning on, as much later as nobody comes
// after it has ended.
func (x *explainer) within(by shutBy, shut civil.Interval) civil.Interval {
	c := x.seek.c
	free := shut.To + (shut.To - shut.From)
	for _, id := range by.areas {
		area := c.areas[c.areaIndex[id]]
		for _, people := range area.People.Open(c.zoneOf(x.f.Site), civil.Interval{From: shut.To, To: free}) {
			free = min(free, people.From)
		}
	}
	span := civil.Interval{From: shut.From.Add(-by.offset), To: shut.From.Add(-by.offset) + (free - shut.To) + 1}
	if by.offset > 0 {
		span.From = span.From.Add(-c.p.Rules.Mixing) // which lies between
	}
	return span
}

// treatment is the application of a way that begins at an instant.
func (x *explainer) treatment(s *site.Site, by shutBy, begins civil.Instant) reentry.Treatment {
	part := &x.f.Ways[by.way].Parts[by.part]
	aired, unaired := x.seek.c.keepsOut(s, part.Use)
	return reentry.Treatment{Area: part.Area, Begins: begins, Ends: begins.Add(part.Takes), KeepOut: aired, Unventilated: unaired}
}

// lost is how long people would be kept out of areas in which they would be, added up over the areas.
func (x *explainer) lost(s *site.Site, by shutBy, begins civil.Instant) time.Duration {
	total := time.Duration(0)
	for _, people := range reentry.Occupied(*s, x.treatment(s, by, begins)) {
		total += people.During.Length()
	}
	return total
}

// licence gives one technician one licence of a category that a label asks for: where the opening adds least.
func (x *explainer) licence() *Change {
	c := x.seek.c
	s := &c.p.Sites[c.siteIndex[x.f.Site]]
	var best *Change
	tried := map[string]bool{}
	for w := range x.f.Ways {
		for _, part := range x.f.Ways[w].Parts {
			if part.Use == nil || c.products[part.Use.Product] == nil {
				continue
			}
			for _, category := range c.products[part.Use.Product].Label.Categories {
				if tried[category] {
					continue
				}
				tried[category] = true
				licence := Licence{Jurisdiction: s.Jurisdiction, Category: category, From: c.p.FirstDay.AddDays(-2)}
				if change := x.licenceOf(licence); change != nil && (best == nil || change.Opening.Added.Total < best.Opening.Added.Total) {
					best = change
				}
			}
		}
	}
	return best
}

// licenceOf gives every technician a licence, and proposes it for the one whose opening adds least.
func (x *explainer) licenceOf(licence Licence) *Change {
	problem := x.p.problem
	problem.Technicians = slices.Clone(problem.Technicians)
	for t := range problem.Technicians {
		problem.Technicians[t].Licences = append(slices.Clone(problem.Technicians[t].Licences), licence)
	}
	loose := (&explainer{ctx: x.ctx, p: &Prepared{problem: problem, rates: x.p.rates}, plan: x.plan, f: x.f}).loosened(&Change{Kind: OtherWay})
	if loose == nil {
		return nil
	}
	var tried []TechnicianID
	for _, slot := range loose.ranked(MaxOpenings) {
		technician := loose.c.p.Technicians[loose.c.shifts[slot.legs[0].Tour].technician].ID
		if slices.Contains(tried, technician) {
			continue
		}
		tried = append(tried, technician)
		change := &Change{Kind: LicenceFor, FollowUp: x.f.ID, Technician: technician, Licence: &licence}
		if x.lets(change) {
			return change
		}
	}
	return nil
}

// vessel gives one technician a larger vessel: the least capacity, by the vessel's own marks, that holds the application.
func (x *explainer) vessel() *Change {
	var changes []Change
	for w := range x.f.Ways {
		for n := range x.f.Ways[w].Parts {
			use := x.f.Ways[w].Parts[n].Use
			if use == nil || x.seek.c.products[use.Product] == nil || !x.seek.c.products[use.Product].Diluted() {
				continue
			}
			for t := range x.p.problem.Technicians {
				technician := &x.p.problem.Technicians[t]
				for v := range technician.Vessels {
					if larger := x.larger(use, technician, technician.Vessels[v]); larger != nil {
						changes = append(changes, Change{Kind: LargerVessel, FollowUp: x.f.ID, Technician: technician.ID, Vessel: larger})
					}
				}
			}
		}
	}
	slices.SortStableFunc(changes, func(a, b Change) int { return a.Vessel.Capacity.Cmp(b.Vessel.Capacity) })
	var best *Change
	for i := range changes {
		change := &changes[i]
		if best != nil && change.Vessel.Capacity.Cmp(best.Vessel.Capacity) > 0 {
			break
		}
		if x.lets(change) && (best == nil || change.Opening.Added.Total < best.Opening.Added.Total) {
			best = change
		}
	}
	return best
}

// larger is a vessel with marks as they are, enlarged until one filling of it covers a use; nil where none would, or this
// one does.
func (x *explainer) larger(use *Use, technician *Technician, vessel Vessel) *Vessel {
	c := x.seek.c
	mixed, dosing, diluted := c.mixedBy(use)
	kind := slices.Index(c.mixed, mixed)
	if !diluted || kind < 0 || dosing == (dilution.Dosing{}) || !slices.Contains(vessel.Methods, use.Method) || vessel.Validate() != nil {
		return nil
	}
	need := nanolitres(needOf(use), true)
	if c.holds(kind, &vessel, technician) >= need {
		return nil
	}
	vessel.Capacity = vessel.Marks.Times(big.NewRat(dilution.MaxMarks, 1))
	filling, err := dosing.Fill(needOf(use), vessel, technician.Kit(c.products[use.Product]))
	if err != nil {
		return nil
	}
	// A need between two grains of the kernel may ask for one mark more.
	for vessel.Capacity = filling.Volume; vessel.Capacity.Cmp(filling.Volume.Add(vessel.Marks)) <= 0; vessel.Capacity = vessel.Capacity.Add(vessel.Marks) {
		if c.holds(kind, &vessel, technician) >= need {
			return &vessel
		}
	}
	return nil
}

// say puts a change into a sentence.
func (x *explainer) say(change *Change) {
	c := x.seek.c
	s := &c.p.Sites[c.siteIndex[x.f.Site]]
	switch change.Kind {
	case OtherWay:
		way := x.f.Ways[slices.IndexFunc(x.f.Ways, func(w Way) bool { return w.ID == change.Opening.Way })]
		change.Text = "by " + c.wayName(&way) + " nothing needs to change"
	case LaterDay:
		_, _, stands, _ := x.seek.state.Days(x.item)
		change.Text = fmt.Sprintf("if it stood until %s, %s longer, at %v for the case; the course's proof must allow it",
			c.date(stands+instance.Day(change.Days)).Short(), daysText(change.Days), change.Delay)
	case Evening:
		_, closes := c.peopleOn(change.Areas, change.On)
		change.Text = fmt.Sprintf("if people left %s by %v on %s, %s earlier", c.areaNames(change.Areas), change.Leave, change.On.Short(),
			hoursText(time.Duration(closes-change.Leave)*time.Second))
	case ConsentToShut:
		change.Text = fmt.Sprintf("if the client agreed to shut %s from %s to %s", c.areaNames(change.Areas), s.Zone.Format(change.Shut.From), s.Zone.Format(change.Shut.To))
	case LicenceFor:
		change.Text = fmt.Sprintf("if %s held a licence of category %s in %s", c.technicianName(change.Technician), change.Licence.Category, change.Licence.Jurisdiction)
	case LargerVessel:
		change.Text = fmt.Sprintf("if the %s of %s held %v", change.Vessel.Name, c.technicianName(change.Technician), change.Vessel.Capacity)
	}
	costs := fmt.Sprintf("adds %v", change.Opening.Added.Total)
	if change.Opening.Added.Total < 0 {
		costs = fmt.Sprintf("saves %v", -change.Opening.Added.Total)
	}
	change.Text += fmt.Sprintf(": then %s by %s, which %s", s.Zone.Format(change.Opening.Begins), c.technicianName(change.Opening.Technician), costs)
}

func daysText(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

func (c *compiled) technicianName(id TechnicianID) string {
	if name := c.p.Technicians[c.crewIndex[id]].Name; name != "" {
		return name
	}
	return string(id)
}

func (c *compiled) areaNames(ids []site.AreaID) string {
	names := make([]string, len(ids))
	for i, id := range ids {
		names[i] = c.areas[c.areaIndex[id]].Name
	}
	return list(names)
}

// narrowed is the seeker with the item bound to begin in a span.
func (s *seeker) narrowed(span civil.Interval) *seeker {
	in := *s.c.in
	in.Items = slices.Clone(in.Items)
	item := &in.Items[s.item]
	item.Lo, item.Hi = max(item.Lo, s.c.second(span.From)), min(item.Hi, s.c.second(span.To)-1)
	narrow := *s
	narrow.state = s.state.With(&in)
	narrow.start, narrow.sieve = narrow.state.Snapshot(), schedule.NewSieve(narrow.state)
	return &narrow
}
