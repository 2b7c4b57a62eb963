package course

import (
	"fmt"
	"math"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

// purpose is what a duration is wanted for; it decides which figure is the safe one.
type purpose int

const (
	longest  purpose = iota // how long something may still come, at the coldest
	shortest                // how soon something may happen, at the warmest
	usual                   // what is expected, at the usual temperature
)

// stretch is one stage, or several together whose durations are known only as a sum.
type stretch struct {
	first, last int // indices of stages, both included
	days        float64
	source      string // the figure that decided, with its standing, for people
	standing    catalogue.Standing
	lays        bool
}

// celsius is the temperature of a season that a purpose asks for.
func (p purpose) celsius(season site.Season) float64 {
	switch p {
	case longest:
		return season.Coldest
	case shortest:
		return season.Warmest
	}
	return season.Usual
}

// developsUntil says why durations do not hold over a season, or "". Below the temperature at which a stage
// develops, or outside the limits of the studies, there is no end date and nothing is extrapolated.
func developsUntil(pest catalogue.Pest, season site.Season) string {
	for _, stage := range pest.Stages {
		if t := stage.Thermal; t != nil && season.Coldest <= t.T0 {
			return fmt.Sprintf("at %s the %s of the %s does not develop (nothing does at or below %s): there is no end date",
				celsiusText(season.Coldest), stage.Name, pest.Name, celsiusText(t.T0))
		}
	}
	for _, span := range pest.Spans {
		if season.Coldest <= span.Thermal.T0 {
			return fmt.Sprintf("at %s the %s does not develop (nothing does at or below %s): there is no end date",
				celsiusText(season.Coldest), pest.Name, celsiusText(span.Thermal.T0))
		}
	}
	switch {
	case season.Coldest < pest.LowerLimit.Value:
		return fmt.Sprintf("at %s no figure for the %s holds (they begin at %s): there is no end date",
			celsiusText(season.Coldest), pest.Name, celsiusText(pest.LowerLimit.Value))
	case season.Warmest > pest.UpperLimit.Value:
		return fmt.Sprintf("at %s no figure for the %s holds (they end at %s) and none is extrapolated: there is no end date",
			celsiusText(season.Warmest), pest.Name, celsiusText(pest.UpperLimit.Value))
	}
	return ""
}

// within keeps a temperature inside what the studies of a pest cover.
func within(pest catalogue.Pest, celsius float64) float64 {
	return min(max(celsius, pest.LowerLimit.Value), pest.UpperLimit.Value)
}

// durations returns the stages in order with their days for a purpose at a steady temperature, which is kept inside what
// the studies cover. A figure seen at a temperature is used as it stands: for the longest the nearest at or below it, for
// the shortest the nearest at or above it, else the practice's end; never interpolated and never scaled. Stages known
// only together stay together, and one without any figure joins its neighbour.
func durations(pest catalogue.Pest, celsius float64, p purpose) []stretch {
	celsius = within(pest, celsius)
	own := make([]*stretch, len(pest.Stages))
	for i, stage := range pest.Stages {
		own[i] = ownDuration(pest, i, stage, celsius, p)
	}
	for _, span := range pest.Spans {
		fillSpan(pest, own, span, celsius)
	}
	return assemble(pest, own)
}

// ownDuration is the duration of a stage from its own figures, or nil.
func ownDuration(pest catalogue.Pest, i int, stage catalogue.Stage, celsius float64, p purpose) *stretch {
	s := &stretch{first: i, last: i, lays: stage.Lays}
	if stage.Lays {
		return layingDuration(pest, s, celsius, p)
	}
	if stage.Thermal != nil {
		days, ok := stage.Thermal.Days(celsius)
		if !ok {
			days = math.Inf(1)
		}
		s.days, s.standing = days, stage.Thermal.Standing
		s.source = thermalText(stage.Name, celsius, days, *stage.Thermal)
		return s
	}
	if seen, ok := observed(stage.Observed, celsius, p); ok {
		s.days, s.standing = seen.Days, seen.Standing
		s.source = figureText(stage.Name+" seen at "+celsiusText(seen.Celsius), seen.Days, seen.Source, seen.Standing)
		return s
	}
	ranges := slices.Clone(stage.Reported)
	if stage.Practice != nil {
		ranges = append(ranges, *stage.Practice)
	}
	return rangeDuration(s, stage.Name, ranges, p)
}

// layingDuration is how long an adult lays. Whatever the proof is for she lays out her longest time: the far end of what is usual,
// or the mean that was counted in the cold where that is longer still. The model takes what was counted nearest, else the middle.
func layingDuration(pest catalogue.Pest, s *stretch, celsius float64, p purpose) *stretch {
	row, counted := pest.LayingAtMost(celsius)
	s.days, s.standing = pest.LayingDays.Far, pest.LayingDays.Standing
	source := pest.LayingDays.Source
	if p == usual {
		s.days = pest.LayingDays.Middle()
		row, counted = pest.LayingAt(celsius)
	}
	name := "laying"
	if counted && (p == usual || row.Days > s.days) {
		s.days, s.standing, source = row.Days, row.Standing, row.Source
		name += " counted at " + celsiusText(row.Celsius)
	}
	s.source = figureText(name, s.days, source, s.standing)
	return s
}

// rangeDuration takes the safe end over all ranges, or the mean of their middles for what is usual.
func rangeDuration(s *stretch, name string, ranges []catalogue.Range, p purpose) *stretch {
	if len(ranges) == 0 {
		return nil
	}
	end := func(r catalogue.Range) float64 {
		switch p {
		case longest:
			return -r.Far
		case shortest:
			return r.Near
		}
		return r.Middle()
	}
	chosen := slices.MinFunc(ranges, func(x, y catalogue.Range) int { return compare(end(x), end(y)) })
	s.days, s.standing = math.Abs(end(chosen)), chosen.Standing
	s.source = figureText(name, s.days, chosen.Source, chosen.Standing)
	return s
}

// observed picks the observation that is safe for a purpose.
func observed(all []catalogue.Observed, celsius float64, p purpose) (catalogue.Observed, bool) {
	var fit []catalogue.Observed
	for _, o := range all {
		if p == usual || p == longest && o.Celsius <= celsius || p == shortest && o.Celsius >= celsius {
			fit = append(fit, o)
		}
	}
	if len(fit) == 0 {
		return catalogue.Observed{}, false
	}
	// Of two studies at one temperature the safe one counts: the longer for the longest, else the shorter.
	return slices.MinFunc(fit, func(x, y catalogue.Observed) int {
		if by := compare(math.Abs(x.Celsius-celsius), math.Abs(y.Celsius-celsius)); by != 0 {
			return by
		}
		if p == longest {
			return compare(y.Days, x.Days)
		}
		return compare(x.Days, y.Days)
	}), true
}

// fillSpan gives what a span leaves over its known stages to the unknown ones among them.
func fillSpan(pest catalogue.Pest, own []*stretch, span catalogue.Span, celsius float64) {
	from := slices.IndexFunc(pest.Stages, func(s catalogue.Stage) bool { return s.ID == span.From })
	to := slices.IndexFunc(pest.Stages, func(s catalogue.Stage) bool { return s.ID == span.To })
	if from < 0 || to < from {
		return
	}
	days, ok := span.Thermal.Days(celsius)
	if !ok {
		days = math.Inf(1)
	}
	known, first, last, unknown := 0.0, -1, -1, 0
	for i := from; i <= to; i++ {
		if own[i] != nil {
			known += own[i].days
			continue
		}
		if first < 0 {
			first = i
		}
		last, unknown = i, unknown+1
	}
	if unknown == 0 {
		return
	}
	name := fmt.Sprintf("%s to %s", pest.Stages[from].Name, pest.Stages[to].Name)
	whole := &stretch{first: from, last: to, days: days, standing: span.Thermal.Standing, source: thermalText(name, celsius, days, span.Thermal)}
	rest := days - known
	if last-first+1 == unknown && rest > 0 {
		whole.first, whole.last, whole.days = first, last, rest
	}
	for i := whole.first; i <= whole.last; i++ {
		own[i] = whole
	}
}

// assemble lists the stretches once each and joins a stage without a figure with its neighbour.
func assemble(pest catalogue.Pest, own []*stretch) []stretch {
	var all []stretch
	pending := -1 // first of the stages without a figure that wait for the next one
	for i := 0; i < len(pest.Stages); i++ {
		switch {
		case own[i] == nil && len(all) > 0 && pending < 0:
			all[len(all)-1].last = i
		case own[i] == nil:
			if pending < 0 {
				pending = i
			}
		default:
			s := *own[i]
			if pending >= 0 {
				s.first, pending = pending, -1
			}
			all = append(all, s)
			i = own[i].last
		}
	}
	return all
}

// reachOf is the reach of a material on a stretch: the worst over its stages.
func reachOf(c *catalogue.Catalogue, material catalogue.MaterialID, pest catalogue.Pest, s stretch) (catalogue.Reach, float64) {
	worst, upTo := catalogue.Reached, 0.0
	for i := s.first; i <= s.last; i++ {
		effect := c.Effect(material, pest.ID, pest.Stages[i].ID)
		if reachRank(effect.Reach) > reachRank(worst) {
			worst = effect.Reach
		}
		if effect.UpToDays > 0 {
			upTo = effect.UpToDays
			if i > s.first {
				// Narrowed in the middle of what is known together: nothing of it is surely met.
				return catalogue.Spared, 0
			}
		}
	}
	return worst, upTo
}

func reachRank(r catalogue.Reach) int {
	return slices.Index([]catalogue.Reach{catalogue.Reached, catalogue.Partly, catalogue.Spared}, r)
}

func thermalText(name string, celsius, days float64, t catalogue.Thermal) string {
	return fmt.Sprintf("%s: %s at %s, %g degree-days above %s (%s)", name, daysText(days), celsiusText(celsius), t.K, celsiusText(t.T0),
		standingText(t.Source, t.Standing))
}

func figureText(name string, days float64, source string, standing catalogue.Standing) string {
	return fmt.Sprintf("%s: %s (%s)", name, daysText(days), standingText(source, standing))
}

func standingText(source string, standing catalogue.Standing) string {
	if source == "" {
		return words(string(standing))
	}
	return source + ", " + words(string(standing))
}
