package course

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
)

// prove says what the propagation of ages says about the candidate's sequence.
func (s *story) prove(p *candidate) Proof {
	q, applications := p.whole()
	t, capped := q.timing, q.capped != ""
	proof := Proof{
		Clears: t.clears && !capped && !p.outgrown(), HoldsDown: t.holds && t.stop == "", Applications: applications,
		RoundGrowth: roundTo(p.grows, 3), Outgrown: p.outgrown(),
		LastDay: max(0, q.lastOn.DaysSince(q.beganOn)), LagDays: p.lag(), GreatestLag: roundTo(t.leastReach(q.lastOn), 2), CeilingNear: t.near, CeilingFar: t.far,
		Reached: t.reached, PartlyReached: t.partlyReached, Spared: t.unmet,
	}
	proof.Sources = t.sources(q.lastOn)
	for _, used := range p.users() {
		if t := used.timing; t.near > 0 {
			addOnce(&proof.Sources, fmt.Sprintf("repeats of %s: %d to %d days (%s)", used.material.Name, t.near, t.far, standingText(t.ceiling.Source, t.ceiling.Standing)))
		}
	}
	proof.Text = s.proofText(p)
	switch {
	case p.outgrown() && proof.HoldsDown:
		proof.Text += "; " + s.outgrownText(p)
	case p.outgrown():
		proof.Text += ". But " + s.outgrownText(p)
	case worksOn(p.material):
		beside := ""
		if p.cover != nil {
			beside = ", nor the contact cover beside it"
		}
		proof.Text += fmt.Sprintf("; the model takes the kill of %s once and does not follow its weeks in the plant%s: go by what is found", p.material.Name, beside)
	case proof.Clears:
		proof.Text += s.moreRounds(p)
	}
	return proof
}

// outgrownText says that a round kills less than grows back until the next, and what would not be outgrown.
func (s *story) outgrownText(p *candidate) string {
	untreated := math.Pow(p.model.growth, float64(p.lag()))
	text := fmt.Sprintf("by the model %s is outgrown: a round kills less than grows back in %s (what it can meet grows %s-fold from one round to the next, %s-fold untreated), so it slows the %s and does not end it. ",
		p.material.Name, plural(p.lag(), "day"), number(p.grows, 2), number(untreated, 2), s.pest.Name)
	others := s.notOutgrown(p)
	if len(others) == 0 {
		return text + "What would clear it: of what is known here only replacing the plants"
	}
	text += "Not outgrown would be "
	var names []string
	for _, other := range others[:min(len(others), mostNamed)] {
		names = append(names, fmt.Sprintf("%s every %s (%s-fold)", other.name, plural(other.lag, "day"), number(other.factor, 2)))
	}
	return text + listText(names) + ", where label and law allow it, or replacing the plants"
}

// moreRounds says how many applications would bring the chance so far that inspections can end the case, where those that
// the ages ask for do not since a round does not kill all that it meets; "" where they do or the plants are treated apart.
func (s *story) moreRounds(p *candidate) string {
	if len(p.sequences) != 1 || p.sequences[0].needed == 0 {
		return ""
	}
	q, policy := p.sequences[0], s.in.Policy
	x := newPricing(s, q, p)
	look := LookSensitivity(s.pest.Detection.Value, count(s.plants), count(s.plants), 0)
	ends := func(n int) bool {
		chance := x.model.chance(x.start, q.days(x.days, n), x.plants, policy.MostChance)
		for range policy.MostLooks {
			chance = ChanceAfterLook(chance, look, policy.IntroductionPerLook)
		}
		return chance >= policy.ClearBound
	}
	if ends(len(x.days)) {
		return ""
	}
	if !ends(mostApplications) {
		return fmt.Sprintf("; but a round does not kill all that it meets or misses a hidden colony: by the model no number of them brings the chance of being free so far that %s can end the case",
			plural(policy.MostLooks, "inspection"))
	}
	enough := len(x.days) + sort.Search(mostApplications-len(x.days), func(i int) bool { return ends(len(x.days) + i) })
	return fmt.Sprintf("; but a round does not kill all that it meets: by the model it takes %s (to day %d) until inspections can end the case, %d more than the ages ask for at about %v each",
		plural(enough, "application"), last(q.days(x.days, enough)), enough-len(x.days), applicationCost(policy, s.waysFor(p, q.plants)[0]))
}

// days are the days of a sequence from its first day on, and at the usual lags after its last one until there are so many.
func (q *sequence) days(known []int, applications int) []int {
	days := slices.Clone(known)
	for len(days) < applications {
		on := q.beganOn.AddDays(last(days))
		days = append(days, last(days)+q.timing.lagAfter(on))
	}
	return days
}

// mostNamed is how many other materials a sentence names.
const mostNamed = 4

func (s *story) proofText(p *candidate) string {
	q, applications := p.whole()
	t := q.timing
	total := plural(applications, "application")
	day := max(0, q.lastOn.DaysSince(q.beganOn))
	switch {
	case t.stop != "":
		return t.stop + "; the course goes on with what is needed now and is counted again when it is warmer or cooler"
	case q.capped != "":
		return s.cappedText(q, total)
	case t.holds:
		return s.holdText(p, t, total, day)
	}
	row := fmt.Sprintf("%s every %s, the last on day %d,", total, t.rhythm(q.lastOn), day)
	if products := p.products(); products != "" {
		row = fmt.Sprintf("%s, the last on day %d (%s),", total, day, products)
	}
	leave := "leave"
	if applications == 1 {
		row, leave = total, "leaves"
	}
	if p.outgrown() {
		// The ages take every insect that is reached as killed; the model does not.
		row, leave = "if every insect that is reached died, "+row, "would leave"
	}
	text := fmt.Sprintf("%s %s nothing %s when every plant is covered and stages last as stated; "+
		"partly reached stages count as reached, but a female that lays already lays out her time",
		row, leave, t.over.text(t.from, q.lastOn))
	if greatest := t.leastReach(q.lastOn); greatest > 0 && fullDays(greatest) < t.least {
		text += fmt.Sprintf("; the label's %s are more than the %s of full reach: what grows out of it in between is counted with the repeats", plural(t.least, "day"), daysText(greatest))
	}
	return text
}

// holdText says why a sequence does not clear but holds down, how long it goes on, and what would clear.
func (s *story) holdText(p *candidate, t timing, total string, day int) string {
	older := slices.Clone(t.unmet)
	if len(older) > 0 && older[0] == s.pest.Stages[0].ID && !s.pest.Stages[0].Feeds {
		older = older[1:] // eggs are outlasted, what else is spared is not
	}
	why := fmt.Sprintf("%s reaches only %s, so no lag of practice clears it by proof: it holds the %s down", p.material.Name,
		stageNames(s.pest, append(slices.Clone(t.reached), t.partlyReached...)), s.pest.Name)
	clears := "a material that reaches the older stages too, or replacing the plants"
	switch {
	case t.weak:
		why = fmt.Sprintf("%s never ends the %s by itself, whatever its reach on paper: it holds the %s down", p.material.Name, s.pest.Name, s.pest.Name)
		clears = "another material beside or instead, or replacing the plants"
	case len(older) == 0:
		why = fmt.Sprintf("repeated every %s as its label or practice has it, %s leaves time to grow up and lay in between, so it does not clear by proof: it holds the %s down",
			plural(t.lag, "day"), p.material.Name, s.pest.Name)
		clears = "a material that may be repeated sooner, or replacing the plants"
	}
	until := "earlier or later by what is found"
	if _, _, cards := s.trap(); cards && !t.bearsLive {
		until = fmt.Sprintf("until %s after the last adult caught, the longest time to hatching; earlier or later by what the cards show", daysText(math.Ceil(t.longestEgg(s.today())-shortestBirth)))
	}
	text := fmt.Sprintf("%s. %s, the last on day %d: %s", why, total, day, until)
	if p.outgrown() {
		return text // what would not be outgrown is told with that
	}
	return text + ". What would clear it: " + clears
}

// applicationReason says why an application is due then, in words for a plant person; approval is why it is not approved.
func (b *builder) applicationReason(n need, approval string) string {
	s, q, i := b.s, n.in.q, n.i
	number := len(q.rounds) + i + 1
	text := fmt.Sprintf("application %d of %d of %s", number, len(q.rounds)+q.needed, n.by.material.Name)
	if q.products() != "" {
		text = fmt.Sprintf("application %d of %d, of %s", number, len(q.rounds)+q.needed, n.by.material.Name)
	}
	switch before, ok := q.last(); {
	case i == 0 && q.expired:
		text += ": a new run, since the one before stood no longer; due today"
	case i == 0 && !ok:
		text += fmt.Sprintf(": severity %d (%s), %s on %s", s.severity, s.pest.Severity[s.severity], words(string(n.by.material.Method)), plantNames(q.plants))
	case i == 0 && q.rounds[len(q.rounds)-1].used != n.by.material.ID:
		text += fmt.Sprintf(", after %s: %s", s.in.Catalogue.Materials[q.rounds[len(q.rounds)-1].used].Name, s.whyThisLag(n.planned, q.lags, before))
	case i == 0:
		text += ": " + s.whyThisLag(n.planned, q.lags, before)
	case n.why != "":
		text += fmt.Sprintf(", after %s: %s; %s", q.planned[i-1].by.material.Name, n.why, s.whyThisLag(n.planned, n.lags, q.planned[i-1].on))
	default:
		text += ": " + s.whyThisLag(n.planned, n.lags, q.planned[i-1].on)
	}
	if i == q.needed-1 && number > 1 && q.capped == "" {
		text += "; " + s.whyLast(q)
	}
	if approval != "" {
		text += "; " + approval
	}
	return text
}

// whyThisLag says what grows out of reach of an application's material after the one before, or begins to lay.
func (s *story) whyThisLag(one planned, l lags, before civil.Date) string {
	t := one.timing
	young, since, lays := s.fullReach(t)
	lag, greatest := t.lagAfter(before), t.greatest(before)
	at := t.over.edge(shortest, before, before.AddDays(int(math.Ceil(greatest))))
	switch {
	case l.ideal > lag:
		return fmt.Sprintf("%s after %s, which the labels ask for between the two", plural(l.ideal, "day"), before.Short())
	case t.holds && greatest <= 0:
		return fmt.Sprintf("%s after %s, the label's least lag", plural(lag, "day"), before.Short())
	case t.holds:
		return fmt.Sprintf("%s after %s, the label's least lag: %s grow out of reach after %s at %s", plural(lag, "day"), before.Short(), young, daysText(greatest), at)
	case greatest > 0:
		becomes := "are out of full reach"
		if lays {
			becomes = "begin to lay"
		}
		text := fmt.Sprintf("%s %s %s from day %s on at %s", since, before.Short(), becomes, number(greatest, 2), at)
		if t.near > 0 && float64(t.near) < greatest {
			text += ", and practice repeats within " + plural(t.near, "day")
		}
		return text
	}
	return fmt.Sprintf("repeated every %s by practice", plural(lag, "day"))
}

// fullReach names the first of the longest stretch of fully reached stages, as "larvae" and as "larvae that hatched since", and
// says whether what follows it lays and is reached too: then they never grow out of reach, but begin to lay.
func (s *story) fullReach(t *timing) (young, since string, lays bool) {
	run, best, begins, ends, from := 0.0, 0.0, -1, -1, 0
	stages := t.fast.stages
	for i, stage := range stages {
		if stage.Reach != catalogue.Reached || i == t.fast.lays() {
			run, from = 0, i+1
			continue
		}
		days, cut := stage.Days, stage.UpToDays > 0 && stage.UpToDays < stage.Days
		if cut {
			days = stage.UpToDays
		}
		if run += days; run > best {
			best, begins, ends = run, from, i
		}
		if cut {
			run, from = 0, i+1
		}
	}
	if begins < 0 {
		return "what hatched", "what hatched since", false
	}
	first := s.pest.Stages[t.warm[begins].first]
	young, since = first.Name, first.Name+" that hatched since"
	switch {
	case t.warm[begins].first == 0 && first.Feeds:
		since = "the young born since"
	case t.warm[begins].first == 0:
		since = "eggs laid since"
	}
	return young, since, ends+1 == t.fast.lays() && stages[ends+1].Reach == catalogue.Reached
}

// whyLast says why the last application is when it is.
func (s *story) whyLast(q *sequence) string {
	t := q.timing
	if t.stop != "" {
		return "counted again as it goes: " + t.stop
	}
	if t.holds && t.bearsLive {
		return "the last that is planned: more or fewer by what is found"
	}
	living := max(s.lastLiving, s.found)
	if t.holds {
		return fmt.Sprintf("the last that is planned: it is to lie %s after the last adult caught, the longest time to hatching at %s", daysText(math.Ceil(t.longestEgg(living)-shortestBirth)), t.coldestUntilHatched(living))
	}
	reached := t.models[0].stages[t.slow.lays()].Reach == catalogue.Reached && !t.bearsLive
	if hatched, ok := t.hatchedOn(living); reached && ok && hatched <= q.lastOn {
		return fmt.Sprintf("the last: eggs laid before the last living find on %s hatch until %s at %s", living.Short(), hatched.Short(), t.coldestUntilHatched(living))
	}
	laid := civil.Date(t.slow.leaves(t.slow.lays(), float64(q.beganOn)))
	hatched, _ := t.hatchedOn(laid)
	laying := daysText(float64(laid.DaysSince(q.beganOn)))
	switch {
	case hatched > q.lastOn || q.products() != "":
		// Neither rule of thumb names the day: the propagation of ages alone does.
		return "the last: by the ages nothing is left after it, " + t.over.text(t.from, q.lastOn)
	case t.bearsLive:
		return fmt.Sprintf("the last: a female that bears young already goes on for up to %s, until %s", laying, laid.Short())
	}
	return fmt.Sprintf("the last: eggs take up to %s at %s (%s), and a female that lays already lays for up to %s, so eggs laid until %s hatch until %s",
		daysText(t.longestEgg(laid)), t.coldestUntilHatched(laid), words(string(t.at(t.over.on(laid).Coldest, longest)[0].standing)), laying, laid.Short(), hatched.Short())
}

// coldestUntilHatched writes the coldest temperatures of the days in which eggs of a day hatch.
func (t *timing) coldestUntilHatched(laid civil.Date) string {
	hatched, ok := t.hatchedOn(laid)
	if !ok {
		hatched = laid
	}
	return t.over.edge(longest, laid, hatched.AddDays(-1))
}

// wantsLookAfterAbove says whether plants that got more than the label allows were not looked at since.
func (s *story) wantsLookAfterAbove() bool {
	for _, m := range s.made {
		if !m.own || !m.aboveLabel {
			continue
		}
		looked := slices.ContainsFunc(s.looks, func(l look) bool { return l.on > m.on && s.looked(l) > 0 })
		if !looked {
			return true
		}
	}
	return false
}

// lookAfterAbove is a look for damage, not before the day after the application above the label's rate.
func (b *builder) lookAfterAbove() {
	s := b.s
	var on civil.Date
	for _, m := range s.made {
		if m.aboveLabel {
			on = max(on, m.on)
		}
	}
	day := max(s.today(), on.AddDays(1))
	due := window{earliest: day, ideal: day, latest: day.AddDays(1)}.due()
	b.add(b.item(KindInspectInfested, s.plants, s.looking(s.plants), due, fmt.Sprintf(
		"look for burnt leaves and marks: the application of %s was above the label's rate; the approval is to be given again, and what is left of that mix goes on no plant", on.Short())))
}
