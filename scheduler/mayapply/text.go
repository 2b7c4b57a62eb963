package mayapply

import (
	"fmt"
	"strings"

	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// Text writes the answer for people; clock times are the zone's.
func (a Answer) Text(zone civil.Zone) string {
	var b strings.Builder
	b.WriteString(a.verdict() + "\n")
	writeList(&b, "Refused because", texts(a.Refusals()))
	if len(a.On) > 0 {
		writeList(&b, "First do", texts(a.Steps()))
	}
	writeList(&b, "Know", texts(a.with(Notes)))
	if len(a.On) > 0 {
		writeList(&b, "How much", a.amounts())
		writeList(&b, "Shut", a.shutLines(zone))
	}
	if !a.Next.IsZero() {
		writeList(&b, "Next", []string{"people, keep-outs and the hours of site and label allow a beginning at " + zone.Format(a.Next)})
	}
	writeList(&b, "Cautions", a.Cautions)
	return b.String()
}

func (a Answer) verdict() string {
	switch {
	case len(a.On) == 0:
		return "NO"
	case !a.Allowed:
		return "NOT ON ALL: on " + list(a.On)
	case len(a.Steps()) > 0:
		return "YES, after these steps"
	}
	return "YES"
}

func texts(words []Word) []string {
	lines := make([]string, len(words))
	for i, w := range words {
		lines[i] = spaced(w.Rule) + ": " + w.Text
		if len(w.Plants) > 0 {
			lines[i] += " [" + list(w.Plants) + "]"
		}
	}
	return lines
}

func (a Answer) amounts() []string {
	var lines []string
	for _, x := range a.Amounts {
		line := fmt.Sprintf("%s: %v", list([]site.PlantID{x.Plant}), x.Least)
		switch {
		case x.GreatestOrganisms > 0 && !x.Greatest.IsZero():
			line += fmt.Sprintf(" with %s organisms at most", quantity.Thousands(x.GreatestOrganisms))
		case x.GreatestOrganisms > 0:
			line = fmt.Sprintf("%s: %d to %d organisms", list([]site.PlantID{x.Plant}), x.LeastOrganisms, x.GreatestOrganisms)
		case !x.Least.Equal(x.Greatest):
			line = fmt.Sprintf("%s: %v to %v", list([]site.PlantID{x.Plant}), x.Least, x.Greatest)
		}
		lines = append(lines, line)
	}
	if l := a.Limits; l != nil {
		lines = append(lines, fmt.Sprintf("never stronger than %v (%s %%), nor weaker than %s %%", *l.Max, quantity.Percent(l.Max.Share(), 3), quantity.Percent(l.Min.Share(), 3)))
	}
	if f := a.Filling; f != nil {
		lines = append(lines, fmt.Sprintf("in %s: %s of concentrate and %v of water make %v", a.Vessel, dilution.Fraction(f.Concentrate), f.Water, f.Volume))
	}
	if b := a.Batch; b != nil {
		dose := b.Mass.String()
		if b.Organisms > 0 {
			dose = quantity.Thousands(b.Organisms) + " organisms"
		}
		lines = append(lines, fmt.Sprintf("in %s: %s by %s in %v of mix", a.Vessel, dose, b.Measure, b.Volume))
	}
	for _, d := range a.Draws {
		lines = append(lines, fmt.Sprintf("draw %v from container %s", d.Amount, d.Container))
	}
	return lines
}

func (a Answer) shutLines(zone civil.Zone) []string {
	if len(a.Shut) == 0 {
		return []string{"nothing: no interval is needed"}
	}
	lines := make([]string, len(a.Shut))
	for i, s := range a.Shut {
		lines[i] = fmt.Sprintf("%s from %s until %s", s.Name, zone.Format(s.During.From), zone.Format(s.During.To))
		if s.UntilDry {
			lines[i] += " and until somebody has confirmed that it is dry"
		}
		if s.Because != "" {
			lines[i] += ", because of " + s.Because
		}
	}
	return lines
}

func writeList(b *strings.Builder, heading string, lines []string) {
	if len(lines) == 0 {
		return
	}
	b.WriteString(heading + ":\n")
	for _, line := range lines {
		b.WriteString("  - " + line + "\n")
	}
}
