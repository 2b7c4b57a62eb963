package course

import (
	"errors"
	"math"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// Growth is what an untreated brood does at a steady temperature, in the words of life tables. It is derived from the
// durations, eggs, female share and survival of a pest by the same model that prices delay; nothing in it is fitted.
type Growth struct {
	// PerDay is the intrinsic rate of increase r: a brood of stable ages grows by the factor e^r a day.
	PerDay float64
	// Net is R0, the egg layers that one newly laid one leaves in the next generation.
	Net float64
	// GenerationDays is T = ln(R0)/r.
	GenerationDays float64
	// DoublingDays is ln(2)/r; infinite where the brood does not grow.
	DoublingDays float64
	// DevelopmentDays is the mean time from the new egg to the first day of laying.
	DevelopmentDays float64
}

// GrowthOf returns the growth of a pest at a steady temperature. The error says that nothing develops there or that the
// figures do not hold; nothing is extrapolated.
func GrowthOf(pest catalogue.Pest, celsius float64) (Growth, error) {
	season := site.Season{Coldest: celsius, Usual: celsius, Warmest: celsius}
	if why := developsUntil(pest, season); why != "" {
		return Growth{}, errors.New(why)
	}
	at := func(celsius float64, p purpose) []stretch { return durations(pest, celsius, p) }
	m := newCohort(&catalogue.Catalogue{}, pest, catalogue.Material{}, nil, steadyLine(season), at).from(0)
	g := Growth{PerDay: math.Log(m.growth), Net: m.net}
	g.GenerationDays, g.DoublingDays = math.Log(g.Net)/g.PerDay, math.Inf(1)
	if g.PerDay > 0 {
		g.DoublingDays = math.Ln2 / g.PerDay
	}
	for _, s := range at(celsius, usual) {
		if !s.lays {
			g.DevelopmentDays += s.days
		}
	}
	return g, nil
}

// roundGrowth is the factor by which what a candidate can meet grows from one of its rounds to the next in the long run; 0
// where nothing develops, no figure holds, or the material works on for weeks, which the model does not follow.
func (s *story) roundGrowth(p *candidate) float64 {
	if p.timing.stop != "" || worksOn(p.material) {
		return 0
	}
	m := s.modelOf(p)
	return m.perRound(p.lag())
}

// lag is the usual one after the first application.
func (p *candidate) lag() int { return p.timing.lagAfter(p.timing.from) }

// worksOn says whether a material kills for weeks after its application: no figures of that course are known, so that the model
// takes its kill once, which is too little to compare it with what grows back.
func worksOn(material catalogue.Material) bool {
	return material.Systemic && material.ResidualDays != nil
}

// outgrown says whether more grows back between two rounds than one kills.
func (p *candidate) outgrown() bool { return p.grows >= 1 }

// outgrownBy ranks what is outgrown, in thousandths of the growth of a round; 0 where it is not.
func (p *candidate) outgrownBy() int {
	if !p.outgrown() {
		return 0
	}
	return int(math.Round(1000 * min(p.grows, 1000)))
}

// cohortOf is the model of a material over a line, of runs that begin on a day; hand is removal by hand beside it, nil for none.
func (s *story) cohortOf(material catalogue.Material, hand *catalogue.Material, over line, began civil.Date) cohort {
	return newCohort(s.in.Catalogue, s.pest, material, hand, over, s.known.pacesOf(s.pest)).from(began)
}

// modelOf is the candidate's model with the cards that hang beside it.
func (s *story) modelOf(p *candidate) cohort {
	m := p.model
	if trap, every, ok := s.trap(); ok {
		m.hang(s.in.Catalogue, s.pest, trap, every)
	}
	return m
}

// instead is a treatment that is not outgrown where the chosen one is.
type instead struct {
	name   string
	lag    int
	factor float64
}

// notOutgrown lists what would not be outgrown at the case's temperatures, the strongest first: the same material at
// the longest shorter lag that its label allows, other materials at the near end of their practice, and where there is none, others
// beside the same material. Household remedies, traps and what the model does not follow are not among them.
func (s *story) notOutgrown(p *candidate) []instead {
	own := s.modelOf(p)
	var alone, beside []instead
	for lag := p.lag() - 1; lag >= p.timing.least; lag-- {
		if factor := own.perRound(lag); factor < 1 {
			alone = append(alone, instead{p.material.Name, lag, factor})
			break
		}
	}
	for _, material := range s.materials {
		if material.ID == p.material.ID || material.Law == catalogue.HouseholdRemedy || material.Method == catalogue.Trap ||
			material.Beside || worksOn(material) || !meets(material, s.pest.ID) || material.HoldsDownOnly(s.pest.ID) {
			continue
		}
		lag := max(1, s.in.Policy.LookEveryDays)
		if ceiling, ok := material.Ceilings[s.pest.ID]; ok {
			lag = max(1, int(math.Floor(ceiling.Near)))
		}
		other := s.cohortOf(material, p.hand, s.caseLine(), s.today())
		if factor := other.perRound(lag); factor < 1 {
			alone = append(alone, instead{material.Name, lag, factor})
			continue
		}
		lag = max(lag, p.lag())
		both := own.beside(other, 1)
		if factor := both.perRound(lag); factor < 1 {
			beside = append(beside, instead{p.material.Name + " with " + material.Name, lag, factor})
		}
	}
	if len(alone) == 0 {
		alone = beside
	}
	slices.SortStableFunc(alone, func(x, y instead) int { return compare(x.factor, y.factor) })
	return alone
}
