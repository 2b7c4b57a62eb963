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
func (s *story) prove(p *candidate, capped bool) Proof {
	q, applications := p.whole()
	t := q.timing
	proof := Proof{
		Clears: t.clears && !capped && !p.outgrown(), HoldsDown: t.holds && t.stop == "", Applications: applications,
		RoundGrowth: roundTo(p.grows, 3), Outgrown: p.outgrown(),
		LastDay: max(0, q.lastOn.DaysSince(q.beganOn)), LagDays: p.lag(), GreatestLag: roundTo(t.leastReach(q.lastOn), 2), CeilingNear: t.near, CeilingFar: t.far,
		Reached: t.reached, PartlyReached: t.partlyReached, Spared: t.unmet,
	}
	proof.Sources = t.sources(q.lastOn)
	if t.near > 0 {
		proof.Sources = append(proof.Sources, fmt.Sprintf("repeats of %s: %d to %d days (%s)", p.material.Name, t.near, t.far, standingText(t.ceiling.Source, t.ceiling.Standing)))
	}
	proof.Text = s.proofText(p, capped)
	switch {
	case p.outgrown():
		proof.Text += "; " + s.outgrownText(p)
	case worksOn(p.material):
		proof.Text += fmt.Sprintf("; the model takes the kill of %s once and does not follow its weeks in the plant: go by what is found", p.material.Name)
	case proof.Clears:
		proof.Text += s.moreRounds(p)
	}
	return proof
}

// outgrownText says that a round kills less than grows back until the next, and what would not be outgrown.
func (s *story) outgrownText(p *candidate) string {
	untreated := math.Pow(p.model.growth, float64(p.lag()))
	text := fmt.Sprintf("by the model %s is outgrown: a round kills less than grows back in %s (what it can meet grows %s-fold from one round to the next, %s-fold untreated), so it slows the %s and does not end it. Not outgrown would be ",
		p.material.Name, plural(p.lag(), "day"), number(p.grows, 2), number(untreated, 2), s.pest.Name)
	others := s.notOutgrown(p)
	if len(others) == 0 {
		return text + "nothing else that is known here but replacing the plants"
	}
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

func (s *story) proofText(p *candidate, capped bool) string {
	q, applications := p.whole()
	t := q.timing
	total := plural(applications, "application")
	day := max(0, q.lastOn.DaysSince(q.beganOn))
	switch {
	case t.stop != "":
		return t.stop + "; the course goes on with what is needed now and is counted again when it is warmer or cooler"
	case capped:
		return fmt.Sprintf("the label's caps end the sequence after %s: it cannot clear it with this product alone; plan another for what follows", total)
	case t.holds:
		return s.holdText(p, t, total, day)
	}
	leave := fmt.Sprintf("%s every %s, the last on day %d, leave", total, t.rhythm(q.lastOn), day)
	if applications == 1 {
		leave = total + " leaves"
	}
	text := fmt.Sprintf("%s nothing %s when every plant is covered and stages last as stated; "+
		"partly reached stages count as reached, but a female that lays already lays out her time",
		leave, t.over.text(t.from, q.lastOn))
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
	return fmt.Sprintf("%s. %s, the last on day %d: %s. What would clear it: %s", why, total, day, until, clears)
}

// applicationReason says why an application is due then, in words for a plant person.
func (b *builder) applicationReason(n need) string {
	s, q, i, w, approval := b.s, n.in.q, n.i, n.in.window, n.in.why
	t := q.timing
	number := len(q.rounds) + i + 1
	text := fmt.Sprintf("application %d of %d of %s", number, len(q.rounds)+q.needed, b.p.material.Name)
	switch before, ok := q.last(); {
	case i == 0 && q.expired:
		text += ": a new run, since the one before stood no longer; due today"
	case i == 0 && !ok:
		text += fmt.Sprintf(": severity %d (%s), %s on %s", s.severity, s.pest.Severity[s.severity], words(string(b.p.material.Method)), plantNames(q.plants))
	case i == 0:
		text += ": " + s.whyThisLag(t, before)
	default:
		text += ": " + s.whyThisLag(t, w.ideal.AddDays((i-1)*t.lag))
	}
	if i == q.needed-1 && number > 1 {
		text += "; " + s.whyLast(q)
	}
	if approval != "" {
		text += "; " + approval
	}
	return text
}

// whyThisLag says what grows out of reach after the application before.
func (s *story) whyThisLag(t timing, before civil.Date) string {
	young := "what hatched"
	if len(t.reached) > 0 {
		young = stageNames(s.pest, t.reached[:1])
	}
	lag, greatest := t.lagAfter(before), t.greatest(before)
	at := t.over.edge(shortest, before, before.AddDays(int(math.Ceil(greatest))))
	switch {
	case t.holds && greatest <= 0:
		return fmt.Sprintf("%s after %s, the label's least lag", plural(lag, "day"), before.Short())
	case t.holds:
		return fmt.Sprintf("%s after %s, the label's least lag: %s grow out of reach after %s at %s", plural(lag, "day"), before.Short(), young, daysText(greatest), at)
	case greatest > 0:
		text := fmt.Sprintf("%s that hatched since %s are out of full reach from day %s on at %s", young, before.Short(), number(greatest, 2), at)
		if t.near > 0 && float64(t.near) < greatest {
			text += fmt.Sprintf(", and practice repeats within %d days", t.near)
		}
		return text
	}
	return fmt.Sprintf("repeated every %s by practice", plural(lag, "day"))
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
	if t.holds {
		from := max(s.lastLiving, s.found)
		return fmt.Sprintf("the last, %s after the last adult: the longest time to hatching at %s", daysText(math.Ceil(t.longestEgg(from)-shortestBirth)), t.coldestUntilHatched(from))
	}
	if t.models[0].stages[t.slow.lays()].Reach == catalogue.Reached {
		from := max(s.lastLiving, s.found)
		on, _ := t.hatchedOn(from)
		return fmt.Sprintf("the last: eggs laid before the last living find on %s hatch until %s at %s", from.Short(), on.Short(), t.coldestUntilHatched(from))
	}
	laid := civil.Date(t.slow.leaves(t.slow.lays(), float64(q.beganOn)))
	if t.bearsLive {
		return fmt.Sprintf("the last: a female that bears young already does so for up to %s, until %s", plural(laid.DaysSince(q.beganOn), "day"), laid.Short())
	}
	hatched, _ := t.hatchedOn(laid)
	hatching := fmt.Sprintf("eggs take up to %s at %s (%s)", daysText(t.longestEgg(laid)), t.coldestUntilHatched(laid), words(string(t.at(t.over.on(laid).Coldest, longest)[0].standing)))
	return fmt.Sprintf("the last: %s, and a female that lays already lays for up to %s, so eggs laid until %s hatch until %s",
		hatching, daysText(float64(laid.DaysSince(q.beganOn))), laid.Short(), hatched.Short())
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
