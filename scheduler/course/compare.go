package course

import (
	"fmt"
	"math"
	"strings"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// expected is what the model expects a course to lose, in minor units, and what that is made of.
type expected struct {
	run, plants float64 // cost of one more run; the share of the plants' value that a case that is not clear costs
	spread      float64 // of insects to the neighbours from today until the last application
	insectDays  float64
}

// add takes in a sequence and its insect-days from today on.
func (e *expected) add(x pricing, insectDays float64) {
	e.run, e.plants = e.run+x.runCost, e.plants+x.lossMoney-x.runCost
	e.insectDays += insectDays
	e.spread += x.spread * insectDays
}

// money rounds an expected amount to minor units.
func money(minor float64) quantity.Money { return quantity.Money(math.Round(min(minor, mostMoney))) }

// compare puts what a course still costs to its end beside what new plants cost, each by its parts at the policy's rates. The
// cheaper is named only where the course can end the case: one that cannot is no choice of the same worth. People
// decide. Looks at the neighbours come with either and are left out of both.
func (s *story) compare(c *Course, e expected) {
	r := Comparison{Proposed: c.Replacement.Proposed, ReplacementParts: s.replacementParts(s.plants)}
	r.Replacement = sumOf(r.ReplacementParts)
	replacing := fmt.Sprintf("replacing %s costs about %v (%s)", plural(count(s.plants), "plant"), r.Replacement, partsText(r.ReplacementParts))
	if c.Material == "" {
		r.Text = "no application is planned; " + replacing + "; people decide"
		c.Replacement = r
		return
	}
	r.CourseParts = s.courseParts(c, e)
	r.Course = sumOf(r.CourseParts)
	what := fmt.Sprintf("about %v (%s)", r.Course, partsText(r.CourseParts))
	switch {
	case c.Proof.Clears && c.Looks.Reachable:
		r.Cheaper = CheaperCourse
		if r.Replacement < r.Course {
			r.Cheaper = CheaperReplacement
		}
		r.Text = fmt.Sprintf("the course costs %s from today to its end; %s: %s is the cheaper; people decide", what, replacing, r.Cheaper)
	default:
		why := "it does not clear"
		if c.Proof.Clears {
			why = "inspections cannot end it"
		}
		r.Text = fmt.Sprintf("the course does not end the case, since %s: it costs %s from today to the last item planned, and then goes on; %s and ends it", why, what, replacing)
		if r.Replacement < r.Course {
			r.Cheaper = CheaperReplacement
			r.Text += ", and is the cheaper besides"
		}
		r.Text += "; people decide"
	}
	c.Replacement = r
}

func sumOf(parts []CostPart) quantity.Money {
	var sum quantity.Money
	for _, part := range parts {
		sum += part.Amount
	}
	return sum
}

func partsText(parts []CostPart) string {
	texts := make([]string, len(parts))
	for i, part := range parts {
		texts[i] = fmt.Sprintf("%s %v", part.What, part.Amount)
	}
	return strings.Join(texts, ", ")
}

// courseParts are what the follow-ups of a course cost, and what is expected to be lost meanwhile. Items of one day ride on one
// visit, of which the policy's share is paid.
func (s *story) courseParts(c *Course, e expected) []CostPart {
	policy := s.in.Policy
	work, looks, applications, looked, cards := 0.0, 0.0, 0, 0, ""
	var litres float64
	days := map[civil.Date]bool{}
	for _, f := range c.FollowUps {
		way := f.Ways[0]
		switch f.Kind {
		case KindApplication, KindPatchTest, KindLeafWashing:
			work += wayMinutes(way)
			litres += wayLitres(way)
			applications++
		case KindInspectInfested, KindTrapChange:
			looks += wayMinutes(way)
			looked++
			if f.Kind == KindTrapChange {
				cards = ", changes of cards among them"
			}
		default:
			continue // comes with replacement too, or instead of the course
		}
		days[f.Expected] = true
	}
	free := c.ChanceFree
	return []CostPart{
		{"applications", money(work * float64(policy.PaidPerMinute)), fmt.Sprintf("%s of treatment, %s min at %v", plural(applications, "item"), number(work, 1), policy.PaidPerMinute)},
		{"material", money(litres * float64(policy.MaterialPerLitre)), fmt.Sprintf("%s L at %v", number(litres, 2), policy.MaterialPerLitre)},
		{"looks", money(looks * float64(policy.PaidPerMinute)), fmt.Sprintf("%s%s, %s min at %v", plural(looked, "look"), cards, number(looks, 1), policy.PaidPerMinute)},
		{"visits", shareOfVisit(policy) * quantity.Money(len(days)), fmt.Sprintf("%s, %d %% of %v each", plural(len(days), "visit"), policy.ShareOfVisitPercent, policy.VisitCost)},
		{"expected loss", money((1 - free) * (e.run + e.plants)), fmt.Sprintf("a chance of %s that it is not clear at the end, times one more run (%v) and what the plants lose (%v)",
			percentText(1-free), money(e.run), money(e.plants))},
		{"expected spread", money(e.spread), fmt.Sprintf("%.0f insect-days, each %s %% of the neighbours' value of %v", e.insectDays, number(policy.SpreadPerInsectDay*100, 6), valueOf(s.in.Catalogue, s.neighbours))},
	}
}

// replacementParts are what it costs to replace plants.
func (s *story) replacementParts(plants []site.Plant) []CostPart {
	policy, n := s.in.Policy, quantity.Money(count(plants))
	fitting := quantity.Money(policy.FittingMinutes) * policy.PaidPerMinute
	return []CostPart{
		{"plants", valueOf(s.in.Catalogue, plants), plural(int(n), "plant")},
		{"fitting", n * fitting, fmt.Sprintf("%d min a plant at %v", policy.FittingMinutes, policy.PaidPerMinute)},
		{"waste", n * policy.WastePerReplacement, fmt.Sprintf("%v a plant", policy.WastePerReplacement)},
		{"a visit", policy.VisitCost, "one visit of its own"},
	}
}

// replacementCost is what it costs to replace the plants of the case: their value, fitting, waste, a visit.
func (s *story) replacementCost() quantity.Money { return sumOf(s.replacementParts(s.plants)) }

// wayMinutes are those of a way in which somebody works: all but waiting.
func wayMinutes(way Way) float64 {
	minutes := 0.0
	for _, part := range way.Parts {
		if part.Kind != WaitPart {
			minutes += math.Ceil(part.Takes.Minutes())
		}
	}
	return minutes
}

// wayLitres is what a way puts on the plants, in litres of mix.
func wayLitres(way Way) float64 {
	var amount quantity.Volume
	for _, part := range way.Parts {
		if part.Use == nil {
			continue
		}
		for _, dose := range part.Use.Doses {
			amount = amount.Add(dose.Amount)
		}
	}
	litres, _ := amount.In(quantity.Litre).Float64()
	return litres
}
