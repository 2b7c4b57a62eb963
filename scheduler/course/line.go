package course

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// spell is a run of days over which plants have the same coldest, usual and warmest temperature.
type spell struct {
	from   civil.Date
	season site.Season
}

func (x spell) isAs(y spell) bool {
	return x.season.Coldest == y.season.Coldest && x.season.Usual == y.season.Usual && x.season.Warmest == y.season.Warmest
}

// line is the time line of temperatures of plants: what each day has in the area in which they stand on it, and where it
// is not known which of two that was, in both. Its spells are in order of time; the first holds before its day too, and
// the last ever after.
type line []spell

// steadyLine is the line of plants that always stand at the temperatures of one season.
func steadyLine(season site.Season) line { return line{{season: season}} }

// on returns the temperatures of a day.
func (l line) on(day civil.Date) site.Season { return l[l.index(day)].season }

func (l line) index(day civil.Date) int {
	i := len(l) - 1
	for i > 0 && l[i].from > day {
		i--
	}
	return i
}

// between returns the spells that lie at least in part from one day to another, both included, cut to begin with the first.
func (l line) between(first, last civil.Date) line {
	part := slices.Clone(l[l.index(first) : l.index(max(first, last))+1])
	part[0].from = first
	return part
}

// extremes are the coldest and the warmest temperatures of a line and the usual ones of its first spell.
func (l line) extremes() site.Season {
	all := l[0].season
	for _, s := range l[1:] {
		all.Coldest, all.Warmest = min(all.Coldest, s.season.Coldest), max(all.Warmest, s.season.Warmest)
	}
	return all
}

// outside is the first day from one on on which the figures of a pest do not hold or nothing develops, and why; always
// says that no later day is any better. Unset where they hold on every day.
func (l line) outside(pest catalogue.Pest, from civil.Date) (on civil.Date, why string, always bool) {
	always = true
	for i := l.index(from); i < len(l); i++ {
		text := developsUntil(pest, l[i].season)
		if text == "" {
			always = false
			continue
		}
		if why == "" {
			on, why = max(from, l[i].from), text
		}
	}
	return on, why, always
}

// text writes the temperatures of the days from one to another for people: "at 18 °C and at 24 °C", or with every change.
func (l line) text(first, last civil.Date) string {
	part := l.between(first, last)
	if len(part) == 1 {
		return atText(part[0].season)
	}
	spells := make([]string, len(part))
	for i, s := range part {
		from := ""
		if i > 0 {
			from = "from " + s.from.Short() + " "
		}
		spells[i] = from + celsiusText(s.season.Coldest)
		if s.season.Warmest > s.season.Coldest {
			spells[i] += " to " + celsiusText(s.season.Warmest)
		}
	}
	return fmt.Sprintf("over the days as the plants stand (%s), each at its coldest and at its warmest,", strings.Join(spells, ", "))
}

// edge writes the coldest or warmest temperature of the days from one to another: "24 °C", "24 °C, from Tue 10 Mar 18 °C".
func (l line) edge(p purpose, first, last civil.Date) string {
	var texts []string
	before := ""
	for i, s := range l.between(first, last) {
		text := celsiusText(p.celsius(s.season))
		if text == before {
			continue
		}
		if before = text; i > 0 {
			text = fmt.Sprintf("from %s %s", s.from.Short(), text)
		}
		texts = append(texts, text)
	}
	return strings.Join(texts, ", ")
}

// daysOfClimate is how far back the figures of a pest must hold for what lives today, and how far ahead for an end date to
// be said at all where the proof finds none: the usual length of a course.
const daysOfClimate = 42

// daysOfLine is how far ahead a time line goes: beyond every course that is worth planning. No proof may end after it.
const daysOfLine = 2 * daysOfYear

// lineOf is the time line of some plants of the case, from before its first finding to two years ahead.
func (s *story) lineOf(plants []site.Plant) line {
	var key strings.Builder
	for _, plant := range plants {
		key.WriteString(string(plant.ID) + "\x00")
	}
	if known, ok := s.known.lines[key.String()]; ok {
		return known
	}
	first, last := s.found.AddDays(-daysOfClimate), s.today().AddDays(daysOfLine)
	var l line
	var untold []int
	for _, on := range s.changes(first, last) {
		season, ok := s.seasonOn(plants, on)
		if !ok {
			untold = append(untold, len(l))
		}
		l = append(l, spell{on, season})
	}
	l = told(l, untold)
	for _, other := range s.known.lines {
		if slices.EqualFunc(l, other, func(x, y spell) bool { return x.from == y.from && x.isAs(y) }) {
			l = other // one and the same, so that what is computed for it is found again
			break
		}
	}
	s.known.lines[key.String()] = l
	return l
}

// told gives the days of which nothing is told the coldest and the warmest of all others, and joins equal spells.
func told(l line, untold []int) line {
	others := line{}
	for i, s := range l {
		if !slices.Contains(untold, i) {
			others = append(others, s)
		}
	}
	if len(others) > 0 {
		for _, i := range untold {
			l[i].season = others.extremes()
		}
	}
	return slices.CompactFunc(l, spell.isAs)
}

// changes are the days from one to another on which temperatures may change: the first, the first of each month, and the
// days between which plants were or will be moved.
func (s *story) changes(first, last civil.Date) []civil.Date {
	all := []civil.Date{first}
	year, month, _ := first.YearMonthDay()
	for on := civil.NewDate(year, month+1, 1); on <= last; on = addMonths(on, 1) {
		all = append(all, on)
	}
	add := func(from, to civil.Date) { all = append(all, max(first, from), max(first, to.AddDays(1))) }
	for _, p := range s.passages {
		if p.moved != nil {
			add(p.first, p.last)
		}
	}
	if plants, _, due := s.toIsolate(); len(plants) > 0 {
		add(due.EarliestOn, due.LatestOn)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// seasonOn is the coldest, usual and warmest of a day over the places in which some plants may stand on it; ok is false
// where none of them has temperatures for it.
func (s *story) seasonOn(plants []site.Plant, on civil.Date) (all site.Season, ok bool) {
	for _, plant := range plants {
		for _, id := range s.stood(plant, on) {
			area, known := areaOf(s.site, id)
			season, told := area.Climate.On(on)
			if !known || !told {
				continue
			}
			if !ok {
				all, ok = site.Season{Coldest: season.Coldest, Usual: season.Usual, Warmest: season.Warmest}, true
			}
			all.Coldest, all.Warmest = min(all.Coldest, season.Coldest), max(all.Warmest, season.Warmest)
		}
	}
	return all, ok
}

// caseLine is the time line of all plants of the case.
func (s *story) caseLine() line { return s.lineOf(s.plants) }

// season is the coldest and warmest of the case's plants over the days of a course around today, and what is usual today.
func (s *story) season() site.Season {
	l := s.caseLine()
	all := l.between(max(s.found, s.today().AddDays(-daysOfClimate)), s.today().AddDays(daysOfClimate)).extremes()
	all.Usual = l.on(s.today()).Usual
	return all
}

// known is what a story has computed before and asks for again with each candidate.
type known struct {
	lines   map[string]line
	paces   map[paceKey][]stretch
	timings map[timingKey]timing
	cohorts map[catalogue.MaterialID]cohort
}

type paceKey struct {
	celsius float64
	p       purpose
}

type timingKey struct {
	material  catalogue.MaterialID
	leastDays int
	line      *spell
	from      civil.Date
	covers    civil.Date
}

func newKnown() *known {
	return &known{map[string]line{}, map[paceKey][]stretch{}, map[timingKey]timing{}, map[catalogue.MaterialID]cohort{}}
}

// pacesOf are the durations of a pest, each computed once.
func (k *known) pacesOf(pest catalogue.Pest) paces {
	return func(celsius float64, p purpose) []stretch {
		key := paceKey{celsius, p}
		all, ok := k.paces[key]
		if !ok {
			all = durations(pest, celsius, p)
			k.paces[key] = all
		}
		return all
	}
}

// paces are the stages of a pest with their days at a temperature for a purpose.
type paces func(celsius float64, p purpose) []stretch
