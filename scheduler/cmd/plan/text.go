package main

import (
	"fmt"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/week"
)

// summary says for people what a plan comes to.
func summary(p scheduler.Problem, plan scheduler.Plan) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	m := week.Measure(p, plan)
	line("%s from %s: %s, %s, %s.", plural(p.Days, "day"), p.FirstDay.Short(), plural(len(p.Technicians), "technician"),
		plural(len(p.Sites), "site"), plural(len(p.FollowUps), "follow-up"))
	line("Planned: %d of %s and %d of %s, on %s with %s.", m.PlannedFollowUps, plural(m.FollowUps, "follow-up"),
		m.PlannedServices, plural(m.Services, "service"), plural(m.Routes, "day route"), plural(m.Visits, "visit"))
	line("%d of the planned follow-ups (%.1f %%) ride on a visit that is made for a service too.", m.Riding, m.RidingPercent())
	if m.Metres > 0 {
		line("%.1f km, %s on the road, %s of work.", float64(m.Metres)/1000, hours(m.Driven), hours(m.Worked))
	} else {
		line("%s on the road, %s of work.", hours(m.Driven), hours(m.Worked))
	}
	line("")
	line("%-26s %12s", "Cost", plan.Cost.Total)
	for _, part := range scheduler.CostParts {
		if amount := plan.Cost.Parts[part]; amount != 0 {
			line("  %-24s %12s", strings.ReplaceAll(string(part), "-", " "), amount)
		}
	}
	line("No plan costs less than     %11s (bound), so at most %s could be saved.", plan.Bound, plan.Gap)
	line("%s, seed %d, %.1f s.", plural(plan.Iterations, "iteration"), plan.Seed, plan.Elapsed.Seconds())
	if len(plan.Unplanned) > 0 {
		line("")
		line("Not planned")
	}
	for _, u := range plan.Unplanned {
		line("  %s, %s, at %s", u.Item, u.Status, u.Cost)
		for _, reason := range u.Reasons {
			line("    %s%s", rule(reason.Rule), reason.Text)
		}
	}
	return b.String()
}

// verdict says every breach of a plan, and whether one of them is the plan's own: what stands wholly in facts is not.
func verdict(p scheduler.Problem, violations []scheduler.Violation) (text string, broken bool) {
	var b strings.Builder
	own := 0
	for _, v := range violations {
		standing := ""
		if v.Standing {
			standing = " (in what is done or pinned, which no plan changes)"
		} else {
			own++
		}
		fmt.Fprintf(&b, "%s: %s%s\n", v.Rule, v.Text, standing)
		if where := where(p, v); where != "" {
			fmt.Fprintf(&b, "  %s\n", where)
		}
	}
	switch {
	case own > 0:
		fmt.Fprintf(&b, "The plan breaks the rules: %s.\n", plural(own, "breach"))
	default:
		b.WriteString("The plan keeps the eight rules.\n")
	}
	return b.String(), own > 0
}

// where says where and when a breach is, in the business's time.
func where(p scheduler.Problem, v scheduler.Violation) string {
	var parts []string
	add := func(part string) {
		if part != "" {
			parts = append(parts, part)
		}
	}
	add(string(v.Technician))
	add(string(v.Site))
	add(string(v.Area))
	add(string(v.Item))
	add(span(p.Zone, v.During))
	return strings.Join(parts, ", ")
}

func span(zone civil.Zone, during civil.Interval) string {
	if during.From.IsZero() {
		return ""
	}
	if zone.DateOf(during.From) == zone.DateOf(during.To) {
		return zone.Format(during.From) + " to " + zone.FormatClock(during.To)
	}
	return zone.Format(during.From) + " to " + zone.Format(during.To)
}

func rule(r scheduler.Rule) string {
	if r == "" {
		return ""
	}
	return string(r) + ": "
}

func hours(d time.Duration) string {
	return fmt.Sprintf("%d h %02d min", int(d.Hours()), int(d.Minutes())%60)
}

func plural(n int, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case strings.HasSuffix(what, "ch"):
		return fmt.Sprintf("%d %ses", n, what)
	}
	return fmt.Sprintf("%d %ss", n, what)
}
