package course

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// Describe writes a course as plain text for people: dates, product, why this interval, what is reached and spared, what is
// expected to be left, what is refused and why, approval, the ending, replacement, cautions. Names come from
// the input that the course was computed of; an id without a name is written as it is.
func Describe(c Course, in Input) string {
	d := describer{in: in}
	d.head(c)
	if c.Ended == nil {
		d.proof(c)
		d.followUps(c)
		d.refusals(c)
		d.line("Ending: %s.", c.Looks.Text)
		d.line("Cost: %s.", c.Replacement.Text)
		d.costs("the course", c.Replacement.CourseParts)
		d.costs("replacement", c.Replacement.ReplacementParts)
		if f := c.Replacement.Proposed; f != nil {
			d.line("Instead: %s.", f.Reason)
		}
	} else {
		d.followUps(c)
	}
	d.list("Advice", c.Advice)
	d.list("Assumed", c.Assumptions)
	d.list("Cautions", c.Cautions)
	return d.text.String()
}

// costs tells how the parts of a cost are made up.
func (d *describer) costs(of string, parts []CostPart) {
	for _, part := range parts {
		d.line("  - %s, %s: %v (%s)", of, part.What, part.Amount, part.Text)
	}
}

type describer struct {
	in   Input
	text strings.Builder
}

func (d *describer) line(format string, args ...any) {
	fmt.Fprintf(&d.text, format+"\n", args...)
}

func (d *describer) list(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	d.line("%s:", title)
	for _, line := range lines {
		d.line("  - %s", line)
	}
}

func (d *describer) head(c Course) {
	place, pest := "", ""
	for _, history := range d.in.Histories {
		if history.Case == c.Case {
			place, pest = d.siteName(history.Site), d.pestName(history.Pest)
		}
	}
	d.line("Course of case %s: %s at %s, run %d", c.Case, pest, place, c.Run)
	if c.Ended != nil {
		d.line("Ended, %s: %s.", words(string(c.Ended.Kind)), c.Ended.Reason)
		return
	}
	if c.Material != "" {
		name := d.usedName(c.Chosen, c.Material)
		if c.Cover != "" {
			name += ", covered by " + d.productName(c.Cover) + " until it works"
		}
		d.line("With: %s", name)
	}
}

// usedName is a product with its material, or the material alone where it is work without a product.
func (d *describer) usedName(product catalogue.ProductID, material catalogue.MaterialID) string {
	name := d.in.Catalogue.Materials[material].Name
	if product != "" {
		name = fmt.Sprintf("%s (%s)", d.productName(product), name)
	}
	return name
}

func (d *describer) proof(c Course) {
	d.line("Proof: %s.", c.Proof.Text)
	if c.Material == "" {
		return
	}
	pest := d.in.Catalogue.Pests[d.pestOf(c)]
	d.line("Reached: %s. Partly: %s. Spared: %s.", stageNames(pest, c.Proof.Reached), stageNames(pest, c.Proof.PartlyReached), stageNames(pest, c.Proof.Spared))
	for _, turn := range c.Turns {
		d.line("From %s on %s: %s. Reached: %s. Partly: %s. Spared: %s.", turn.On.Short(), d.usedName(turn.Product, turn.Material), turn.Reason,
			stageNames(pest, turn.Reached), stageNames(pest, turn.PartlyReached), stageNames(pest, turn.Spared))
	}
	hidden := percentText(c.LeftHidden) + " of them"
	if c.LeftHidden >= nearlyAll {
		hidden = "nearly all of them"
	}
	d.line("After the last application: chance that none is left %s; expected on the average %s of the insects of the first day, %s where coverage missed a hidden colony (chance %s).",
		percentText(c.ChanceFree), percentText(c.ExpectedLeft), hidden, percentText(c.ChanceMissed))
	d.list("Figures that decided", c.Proof.Sources)
}

// nearlyAll is the share from which a sentence says so.
const nearlyAll = 0.95

func (d *describer) pestOf(c Course) catalogue.PestID {
	for _, f := range c.FollowUps {
		return f.Pest
	}
	for _, history := range d.in.Histories {
		if history.Case == c.Case {
			return history.Pest
		}
	}
	return ""
}

// followUps lists them in order of their expected day, by the day and kind. What only repeats the one before it is told
// in one line: "and again every 7 days until Tue 14 Apr (6 times)".
func (d *describer) followUps(c Course) {
	if len(c.FollowUps) == 0 {
		return
	}
	d.line("Still needed:")
	repeats := repeated(c.FollowUps)
	for _, f := range sortedBy(c.FollowUps, func(f FollowUp) int { return int(f.Expected) }) {
		if repeats[f.ID] == nil {
			continue // told with the first of its kind
		}
		d.line("  %s  %s  %s", f.Expected.Short(), f.ID, windowText(f.Due))
		d.line("      %s", f.Reason)
		if n := len(repeats[f.ID]); n > 1 {
			last := repeats[f.ID][n-1]
			d.line("      and again every %s until %s (%s, to %s)", plural(last.Due.IdealLag, "day"), last.Expected.Short(), times(n-1), last.ID)
		}
		if f.Kind == KindApplication {
			d.ways(f)
		}
	}
}

// repeated gathers the follow-ups that only repeat one another, by the first of each; an application always stands alone.
func repeated(all []FollowUp) map[ItemID][]FollowUp {
	of := map[ItemID][]FollowUp{}
	head := map[ItemID]ItemID{}
	for _, f := range all {
		first, behind := head[f.Due.After]
		same := behind && f.Kind != KindApplication && of[first][0].Kind == f.Kind && of[first][0].Reason == f.Reason && slices.Equal(of[first][0].Plants, f.Plants)
		if same && len(of[first]) > 1 {
			same = of[first][1].Due.IdealLag == f.Due.IdealLag
		}
		if !same {
			first = f.ID
		}
		head[f.ID] = first
		of[first] = append(of[first], f)
	}
	return of
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func windowText(due Due) string {
	if due.After == "" {
		text := fmt.Sprintf("from %s, best %s, on time until %s", due.EarliestOn.Short(), due.IdealOn.Short(), due.LatestOn.Short())
		if !due.StandsUntilOn.IsZero() {
			text += ", stands until " + due.StandsUntilOn.Short()
		}
		return text
	}
	text := fmt.Sprintf("%s after %s (from %d, on time until %d", plural(due.IdealLag, "day"), due.After, due.EarliestLag, due.LatestLag)
	if due.StandsUntilLag < alwaysStands {
		text += fmt.Sprintf(", stands until %d", due.StandsUntilLag)
	}
	return text + ")"
}

func (d *describer) ways(f FollowUp) {
	for _, way := range f.Ways {
		var parts []string
		for _, part := range way.Parts {
			text := fmt.Sprintf("%s in %s (%s)", words(string(part.Kind)), d.areaName(f.Site, part.Area), durationText(part.Takes))
			if use := part.Use; use != nil {
				text += d.use(use)
			}
			parts = append(parts, text)
		}
		d.line("      %s: %s", words(string(way.Kind)), strings.Join(parts, ", then "))
	}
}

// text writes the dose: the mix, and what is in it by the label's greatest rate, or what is strewn.
func (dose Dose) text() string {
	var portion string
	switch {
	case dose.Organisms > 0:
		portion = quantity.Thousands(dose.Organisms) + " organisms"
	case dose.Mass.Sign() > 0:
		portion = dose.Mass.String()
	default:
		return dose.Amount.String()
	}
	if dose.Amount.IsZero() {
		return portion
	}
	return fmt.Sprintf("%v with %s at most", dose.Amount, portion)
}

func (d *describer) use(use *Use) string {
	var doses []string
	for _, dose := range use.Doses {
		doses = append(doses, fmt.Sprintf("%s on %s", dose.text(), d.plantName(dose.Plant)))
	}
	shut := fmt.Sprintf(", shut %s after the end", durationText(use.KeepOut))
	if use.KeepOutUnventilated != use.KeepOut {
		shut += fmt.Sprintf(" (%s outside ventilation hours)", durationText(use.KeepOutUnventilated))
	}
	switch {
	case use.Entry == catalogue.EntryUntilDry:
		shut += " and until somebody confirms that it is dry"
	case use.KeepOut == 0:
		shut = ", shuts nothing by its label"
	}
	return fmt.Sprintf(" %s, %d %% in reserve%s", listText(doses), use.ReservePercent, shut)
}

func (d *describer) refusals(c Course) {
	if len(c.Refused) == 0 {
		return
	}
	d.line("Refused:")
	for _, r := range c.Refused {
		name := d.in.Catalogue.Materials[r.Material].Name
		if r.Product != "" {
			name = d.productName(r.Product)
		}
		for _, reason := range r.Reasons {
			d.line("  - %s: %s", name, reason)
		}
		if r.Computed != "" {
			d.line("    its dilution, computed all the same: %s", r.Computed)
		}
	}
}

func (d *describer) siteName(id site.ID) string {
	at := slices.IndexFunc(d.in.Sites, func(s site.Site) bool { return s.ID == id })
	if at < 0 || d.in.Sites[at].Name == "" {
		return string(id)
	}
	return d.in.Sites[at].Name
}

func (d *describer) areaName(of site.ID, id site.AreaID) string {
	at := slices.IndexFunc(d.in.Sites, func(s site.Site) bool { return s.ID == of })
	if at >= 0 {
		if area, ok := areaOf(d.in.Sites[at], id); ok && area.Name != "" {
			return area.Name
		}
	}
	return string(id)
}

func (d *describer) plantName(id site.PlantID) string {
	at := slices.IndexFunc(d.in.Plants, func(p site.Plant) bool { return p.ID == id })
	if at < 0 {
		return string(id)
	}
	return plantName(d.in.Plants[at])
}

func (d *describer) productName(id catalogue.ProductID) string {
	at := slices.IndexFunc(d.in.Products, func(p catalogue.Product) bool { return p.ID == id })
	if at < 0 || d.in.Products[at].Name == "" {
		return string(id)
	}
	return d.in.Products[at].Name
}

func (d *describer) pestName(id catalogue.PestID) string {
	if pest, ok := d.in.Catalogue.Pests[id]; ok {
		return pest.Name
	}
	return string(id)
}
