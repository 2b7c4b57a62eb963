package course

import (
	"fmt"

	"vernation/scheduler/civil"
)

// belowThreshold says whether the cards of the last look caught too few adults for a course of drenches: the pest lives in
// the soil, little is seen, nothing was applied yet. Drier soil and cards come first.
func (s *story) belowThreshold() (caught int, below bool) {
	if _, _, ok := s.trap(); !ok || !s.livesInSoil() || s.severity > mostKeptLow {
		return 0, false
	}
	for _, m := range s.made {
		if meets(s.in.Catalogue.Materials[m.material], s.pest.ID) && meetsPlants(m, s.plants) {
			return 0, false
		}
	}
	read := false
	var on civil.Date
	for _, look := range s.looks {
		if look.cards != nil && look.on >= on && s.looked(look) > 0 {
			caught, on, read = *look.cards, look.on, true
		}
	}
	return caught, read && caught < s.in.Policy.CardThreshold
}

// cardsFirst is the course below the threshold: cards, looks and drier soil, and no drench until the cards catch more.
func (s *story) cardsFirst(c *Course, caught int) {
	c.Proof.Text = fmt.Sprintf("no drench yet: the cards of the last look caught %d, fewer than %d, and little is seen; let the soil dry down between waterings and go on with cards; more on the cards begins a course of drenches",
		caught, s.in.Policy.CardThreshold)
	s.compare(c, expected{})
	until := s.today().AddDays(s.hatching())
	b := newBuilder(s, nil, c)
	b.propose()
	b.isolation()
	b.neighbourLooks(until, s.today())
	b.traps(until, s.today())
	b.suspicion()
	c.Looks = Looks{Needed: leastLooks, Made: min(len(s.cleanLooks()), leastLooks), FirstOn: s.today(), Bound: s.in.Policy.ClearBound, Reachable: true,
		Text: fmt.Sprintf("%s without a find and with empty cards, %s apart: then people may end it", plural(leastLooks, "inspection"), plural(s.hatching(), "day"))}
	s.assume(c)
}
