package course

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
)

// Compute returns what a case still needs. It is pure: equal inputs give equal courses, whatever the order of histories
// and events and however often an event is told. It never fails for what was done or for what is not lawful: those
// are in the course. The only error is *InvalidInput, for what cannot be understood.
func Compute(in Input) (Course, error) {
	if err := in.validate(); err != nil {
		return Course{}, err
	}
	key := in.Key()
	s := read(in.ordered())
	c := Course{Case: in.Case, Key: key, Run: 1 + s.mistaken, FollowUps: []FollowUp{}}
	c.Cautions = append(c.Cautions, estimateCaution)
	s.learn(&c)
	if c.Ended = s.ended(); c.Ended != nil {
		if c.Ended.Kind == KeptLow && len(s.plants) > 0 {
			s.advise(&c)
			s.adviseDone(&c)
			s.watch(&c)
		}
		return c, nil
	}
	s.advise(&c)
	s.adviseDone(&c)
	if len(s.toReplace()) == len(s.plants) {
		s.replaceAll(&c)
		return c, nil
	}
	if s.certainty == Confirmed && s.living {
		s.treat(&c)
	} else {
		s.suspect(&c)
	}
	if c.Ended != nil {
		c.FollowUps, c.Links = []FollowUp{}, nil
	}
	return c, nil
}

// ended is the ending that people told, or that of plants that are all gone; nil while the case goes on.
func (s *story) ended() *Ending {
	if s.stated != nil {
		return s.stated
	}
	if on, kind := s.goneOn(); len(s.plants) == 0 && !on.IsZero() {
		return &Ending{Kind: PlantsGone, Reason: fmt.Sprintf("all plants of the case are gone since %s (%s)", on.Short(), words(string(kind)))}
	}
	if len(s.plants) == 0 {
		return &Ending{Kind: PlantsGone, Reason: "no plant of the case stands at the site any more"}
	}
	return nil
}

const estimateCaution = "An estimate from laboratory figures: look at the plant. The label in hand, local code and the responsible applicator outrank everything said here."

// suspect is the course of a suspicion or of dead insects: keep apart, look, apply nothing.
func (s *story) suspect(c *Course) {
	clean := s.cleanLooks()
	if n := len(clean); n >= leastLooks && clean[n-1].DaysSince(clean[0]) >= s.hatching() {
		c.Ended = &Ending{Kind: NotFoundPest, Reason: fmt.Sprintf("%s without a find, on %s and %s, a hatching apart", plural(n, "inspection"), clean[0].Short(), clean[n-1].Short())}
		return
	}
	c.Advice = append(c.Advice, fmt.Sprintf("%s: no application before the pest is confirmed with living insects", words(string(s.certainty))))
	c.Proof.Text = "no application is planned: the pest is not confirmed with living insects"
	b := newBuilder(s, nil, c)
	b.suspicion()
	b.quarantine()
	b.isolation()
	b.neighbourLooks(s.today().AddDays(s.hatching()), s.today())
	b.traps(s.today().AddDays(s.hatching()), s.today())
	s.compare(c, expected{})
	b.propose()
	c.Looks = Looks{Needed: leastLooks, Made: min(len(clean), leastLooks), FirstOn: s.today(), Bound: s.in.Policy.ClearBound, Reachable: true,
		Text: fmt.Sprintf("%s without a find, %s apart, end the suspicion", plural(leastLooks, "inspection"), plural(s.hatching(), "day"))}
	s.assume(c)
}

// treat is the course of a confirmed pest.
func (s *story) treat(c *Course) {
	if caught, below := s.belowThreshold(); below {
		s.cardsFirst(c, caught)
		return
	}
	lawful, refused := s.choose()
	for _, p := range refused {
		c.Refused = append(c.Refused, p.refusal())
	}
	if len(lawful) == 0 {
		s.untreatable(c)
		return
	}
	p := lawful[0]
	for _, other := range lawful[1:] {
		if other.product.ID != "" {
			c.Others = append(c.Others, other.product.ID)
		}
	}
	s.adviseOthers(c, p, lawful[1:])
	whole, _ := p.whole()
	c.Run, c.Chosen, c.Material = whole.run, p.product.ID, p.material.ID
	s.addTurns(c, p)
	c.Advice = append(c.Advice, p.notes...)
	c.Advice = append(c.Advice, p.wayNotes...)
	s.adviseNotice(c, p)
	s.adviseRotation(c, p, lawful[1:])
	s.adviseApart(c, p)
	for _, used := range p.users() {
		for _, condition := range used.conditions {
			visit := "on the visit: "
			if used != p {
				visit = fmt.Sprintf("on a visit with %s: ", used.material.Name)
			}
			addOnce(&c.Advice, visit+condition)
		}
		s.adviseLiving(c, used)
		s.adviseWater(c, used)
		s.adviseHumidity(c, used.material)
		for _, text := range used.material.Advice {
			addOnce(&c.Advice, text)
		}
	}
	c.Proof = s.prove(p)
	expected := s.estimate(c, p)
	looks, ended := planLooks(s, whole, c.ChanceFree, p.effectDays())
	c.Looks, c.Ended = looks, ended
	for _, used := range p.users() {
		s.addCautions(c, used)
	}
	s.assume(c, p.users()...)
	if ended == nil {
		s.build(c, p)
	}
	s.compare(c, expected)
}

// build writes the follow-ups of a treated case.
func (s *story) build(c *Course, p *candidate) {
	b := newBuilder(s, p, c)
	ideal := s.window(p, p.sequences[0]).ideal
	if s.wantsLookAfterAbove() {
		b.lookAfterAbove()
	}
	b.stillNoLeaching()
	last := b.applications()
	whole, _ := p.whole()
	until := whole.lastOn
	if sick := s.toReplace(); len(sick) > 0 {
		b.add(b.replacement(sick, true))
	}
	b.propose()
	b.isolation()
	if last != "" {
		b.neighbourLooks(until, ideal)
		b.traps(until, ideal)
		b.closingLooks(c.Looks, last)
		return
	}
	b.closingLooks(c.Looks, "")
	end := c.Looks.FirstOn.AddDays(max(0, c.Looks.Needed-1) * s.in.Policy.LookEveryDays)
	b.neighbourLooks(end, s.today())
	b.traps(end, s.today())
}

// untreatable is the course where no product and no work is lawful: looks, traps, and what people may decide.
func (s *story) untreatable(c *Course) {
	c.Proof.Text = "no product and no work that reaches the pest is lawful here; each refusal says why"
	s.compare(c, expected{})
	q := s.untreated()
	c.Looks, _ = planLooks(s, q, 0, 0)
	b := newBuilder(s, nil, c)
	b.isolation()
	until := s.today().AddDays(s.hatching())
	b.neighbourLooks(until, s.today())
	b.traps(until, s.today())
	due := window{earliest: s.today(), ideal: s.today(), latest: s.today().AddDays(s.in.Policy.LookEveryDays)}.due()
	b.add(b.item(KindInspectInfested, s.plants, s.looking(s.plants), due, "look at the infested plants: nothing may be applied, people decide what follows"))
	s.assume(c)
}

// estimate runs the model over the sequences on their ideal days, and returns what they are expected to lose.
func (s *story) estimate(c *Course, p *candidate) (e expected) {
	start, left, covered, free, missed := 0.0, 0.0, 0.0, 1.0, 1.0
	for _, q := range p.sequences {
		x := newPricing(s, q, p)
		x.policy.MostChance = 1 // capped once, over all plants
		out, chance := x.end()
		e.add(x, out.insectDays-x.before(s.today().DaysSince(q.beganOn)))
		start, left, covered, free = start+x.start, left+out.all, covered+out.covered, free*chance
		missed *= math.Pow(1-x.model.missed, float64(x.plants))
	}
	if start > 0 {
		c.ExpectedLeft = roundTo(left/start, 4)
	}
	if left > 0 {
		c.LeftHidden = roundTo(1-covered/left, 4)
	}
	c.ChanceFree, c.ChanceMissed = roundTo(min(free, s.in.Policy.MostChance), 4), roundTo(1-missed, 4)
	return e
}

// roundTo keeps what a model can say at all, so that equal courses are equal on every machine.
func roundTo(value float64, decimals int) float64 {
	scale := math.Pow(10, float64(decimals))
	return math.Round(value*scale) / scale
}

// advise tells what favours the pest, what it is taken for and what came before.
func (s *story) advise(c *Course) {
	if len(s.pest.LookAlikes) > 0 {
		c.Advice = append(c.Advice, "easily taken for it: "+listText(s.pest.LookAlikes))
	}
	if len(s.pest.Favours) > 0 {
		c.Advice = append(c.Advice, "favours it: "+listText(s.pest.Favours))
	}
	if recurred := s.recurrence(); recurred != "" {
		c.Advice = append(c.Advice, recurred)
	}
}

// recurrence says after which ended case at the site the pest is back, or "".
func (s *story) recurrence() string {
	text := ""
	for _, history := range s.in.Histories {
		if history.Case == s.history.Case || history.Site != s.history.Site || history.Pest != s.pest.ID {
			continue
		}
		for _, event := range history.Events {
			if event.Ending == nil || event.Ending.Kind != Clear && event.Ending.Kind != PlantsGone && event.Ending.Kind != NotFoundPest {
				continue
			}
			on := s.dateOf(event.At)
			if on <= s.found && s.found < addMonths(on, s.in.Policy.RecurrenceMonths) {
				text = fmt.Sprintf("a recurrence: case %s ended %s on %s; look for the source (new plants, plants not in our care, roots, ants)", history.Case, words(string(event.Ending.Kind)), on.Short())
			}
		}
	}
	return text
}

func addMonths(d civil.Date, months int) civil.Date {
	year, month, day := d.YearMonthDay()
	return civil.NewDate(year, month+time.Month(months), day)
}

func (s *story) adviseOthers(c *Course, chosen *candidate, others []*candidate) {
	for _, p := range others {
		why := "lawful too"
		if slices.Contains(chosen.users(), p) {
			why = "lawful too, and used here beside it or in its turn"
		}
		if s.fits(p.material.Method) > s.fits(chosen.material.Method) {
			why = fmt.Sprintf("lawful, but not the method for severity %d (%s)", s.severity, s.pest.Severity[s.severity])
		}
		c.Advice = append(c.Advice, fmt.Sprintf("%s: %s", p.material.Name, why))
	}
}

// noticeLead is how long before an application the client must know, and whether that is known of the place or practice.
func (s *story) noticeLead() (lead time.Duration, text string) {
	known := false
	for _, area := range s.areas(s.plants) {
		if hours, ok, words := s.in.Catalogue.NoticeLead(s.site.Jurisdiction, s.areaKind(area), s.site.Kind); ok && hours >= lead {
			lead, known, text = hours, true, words
		}
	}
	if agreed := s.site.Agreement.NoticeLead; agreed != nil && (!known || *agreed > lead) {
		return *agreed, "by the agreement"
	}
	if known {
		return lead, text
	}
	return s.in.Policy.NoticeLead, fmt.Sprintf("what %s asks for at this kind of place is not known: the business's own lead is used", s.site.Jurisdiction)
}

func (s *story) adviseNotice(c *Course, p *candidate) {
	if p.product.ID == "" {
		return
	}
	lead, text := s.noticeLead()
	c.Advice = append(c.Advice, fmt.Sprintf("notice of an application: %s hours before (%s)", number(lead.Hours(), 1), text))
}

// addOnce adds a text that does not stand there yet.
func addOnce(all *[]string, text string) {
	if !slices.Contains(*all, text) {
		*all = append(*all, text)
	}
}

// addTurns tells where the sequences turn to another product, in order of time, and what covers them.
func (s *story) addTurns(c *Course, p *candidate) {
	for _, q := range p.sequences {
		for _, one := range q.turns() {
			t := one.by.timing
			turn := Turn{On: one.on, Product: one.by.product.ID, Material: one.by.material.ID, Plants: ids(q.plants), Reason: one.why,
				Reached: t.reached, PartlyReached: t.partlyReached, Spared: t.unmet}
			c.Turns = append(c.Turns, turn)
		}
	}
	slices.SortStableFunc(c.Turns, func(x, y Turn) int { return int(x.On - y.On) })
	if p.cover != nil {
		c.Cover = p.cover.product.ID
	}
}

// assume lists the figures behind the course that are assumptions, from memory or placeholders: those of the pest, of what is
// used, and the settings.
func (s *story) assume(c *Course, used ...*candidate) {
	add := func(what string, f catalogue.Figure) {
		if isWeak(f.Standing) {
			text := fmt.Sprintf("%s: %g %s (%s)", what, f.Value, f.Unit, words(string(f.Standing)))
			if f.Note != "" {
				text += ": " + f.Note
			}
			addOnce(&c.Assumptions, text)
		}
	}
	add("detection by one look", s.pest.Detection)
	add("female share", s.pest.FemaleShare)
	add("survival without treatment", s.pest.Survival)
	for i, p := range used {
		by := ""
		if i > 0 {
			by = ", by " + p.material.Name
		}
		for _, effect := range p.material.Effects {
			if stage, ok := s.pest.Stage(effect.Stage); ok && effect.Pest == s.pest.ID && effect.Reach != catalogue.Spared {
				add("kill of "+stage.Name+by, effect.Kill)
			}
		}
		if p.material.MissedShare != nil {
			add("share that coverage misses"+by, *p.material.MissedShare)
		}
		if p.material.DrenchShare != nil {
			add("drench, share of the pot volume"+by, *p.material.DrenchShare)
		}
		add("minutes per plant"+by, p.material.MinutesPerPlant)
		for _, field := range p.product.Placeholders {
			c.Assumptions = append(c.Assumptions, fmt.Sprintf("product %s: %s is a placeholder, not read from a container", p.product.Name, field))
		}
	}
	var settings []string
	for _, name := range slices.Sorted(maps.Keys(s.in.Policy.Standings)) {
		if isWeak(s.in.Policy.Standings[name]) {
			settings = append(settings, name)
		}
	}
	if len(settings) > 0 {
		c.Assumptions = append(c.Assumptions, fmt.Sprintf("%s of the business's policy, prices among them, are assumptions until it sets its own", plural(len(settings), "setting")))
	}
}

// isWeak says whether a figure of a standing is to be shown as an assumption.
func isWeak(standing catalogue.Standing) bool {
	return standing == catalogue.Assumption || standing == catalogue.FromMemory
}
