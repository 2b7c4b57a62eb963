package convert

import (
	"slices"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// Course writes what a case still needs.
func Course(names Names, of firm.Case, c course.Course) *vernationv1.Course {
	return &vernationv1.Course{
		Name:          names.Course(c.Case),
		Etag:          c.Version(),
		Ending:        Ending(of.Ending, of.EndedAt),
		Run:           int32(c.Run),
		Material:      string(c.Material),
		Product:       names.Product(c.Chosen),
		OtherProducts: each(c.Others, names.Product),
		Refusals: each(c.Refused, func(r course.Refusal) *vernationv1.Refusal {
			return &vernationv1.Refusal{
				Product: names.Product(r.Product), Material: string(r.Material), Reasons: slices.Clone(r.Reasons), Computed: r.Computed,
				OnlyConsent: r.OnlyConsent,
			}
		}),
		Proof:        proof(c.Proof),
		FollowUps:    FollowUps(names, c.FollowUps),
		Replacement:  comparison(names, c.Replacement),
		ExpectedLeft: c.ExpectedLeft,
		ChanceFree:   c.ChanceFree,
		ChanceMissed: c.ChanceMissed,
		LeftHidden:   c.LeftHidden,
		Turns:        each(c.Turns, func(t course.Turn) *vernationv1.Turn { return turn(names, t) }),
		Cover:        names.Product(c.Cover),
		Looks:        looks(c.Looks),
		Advice:       slices.Clone(c.Advice),
		Assumptions:  slices.Clone(c.Assumptions),
		Cautions:     slices.Clone(c.Cautions),
		Links:        each(c.Links, link),
		Learned: each(c.Learned, func(l course.Learned) *vernationv1.Learned {
			return &vernationv1.Learned{Plant: names.Plant(l.Plant), Tolerance: tolerance(l.Tolerance)}
		}),
	}
}

func link(l course.Link) *vernationv1.Link {
	return &vernationv1.Link{
		Kind: linkKinds.enum(l.Kind), From: string(l.From), To: string(l.To), Days: int32(l.Days), Hours: Duration(l.Hours),
	}
}

func proof(p course.Proof) *vernationv1.Proof {
	return &vernationv1.Proof{
		Clears:          p.Clears,
		HoldsDown:       p.HoldsDown,
		Applications:    int32(p.Applications),
		LastDay:         int32(p.LastDay),
		LagDays:         int32(p.LagDays),
		GreatestLagDays: p.GreatestLag,
		CeilingNearDays: int32(p.CeilingNear),
		CeilingFarDays:  int32(p.CeilingFar),
		Stages:          stages(p.Reached, p.PartlyReached, p.Spared),
		Sources:         slices.Clone(p.Sources),
		Text:            p.Text,
		RoundGrowth:     p.RoundGrowth,
		Outgrown:        p.Outgrown,
	}
}

func turn(names Names, t course.Turn) *vernationv1.Turn {
	return &vernationv1.Turn{
		On: t.On.String(), Product: names.Product(t.Product), Material: string(t.Material), Plants: names.Plants(t.Plants), Reason: t.Reason,
		Stages: stages(t.Reached, t.PartlyReached, t.Spared),
	}
}

func stages(reached, partly, spared []catalogue.StageID) []*vernationv1.StageReach {
	return slices.Concat(stageReaches(reached, catalogue.Reached), stageReaches(partly, catalogue.Partly), stageReaches(spared, catalogue.Spared))
}

func stageReaches(stages []catalogue.StageID, reach catalogue.Reach) []*vernationv1.StageReach {
	return each(stages, func(stage catalogue.StageID) *vernationv1.StageReach {
		return &vernationv1.StageReach{Stage: string(stage), Reach: reaches.enum(reach)}
	})
}

func comparison(names Names, c course.Comparison) *vernationv1.Comparison {
	m := &vernationv1.Comparison{
		CourseMinor: int64(c.Course), CourseParts: each(c.CourseParts, comparedPart), Text: c.Text,
		ReplacementMinor: int64(c.Replacement), ReplacementParts: each(c.ReplacementParts, comparedPart), Cheaper: cheapers.enum(c.Cheaper),
	}
	if c.Proposed != nil {
		m.Proposed = FollowUp(names, *c.Proposed)
	}
	return m
}

func comparedPart(p course.CostPart) *vernationv1.ComparedPart {
	return &vernationv1.ComparedPart{What: p.What, AmountMinor: int64(p.Amount), Text: p.Text}
}

func looks(l course.Looks) *vernationv1.Looks {
	return &vernationv1.Looks{
		Needed: int32(l.Needed), Made: int32(l.Made), FirstOn: l.FirstOn.String(),
		Chance: l.Chance, Bound: l.Bound, Reachable: l.Reachable, Text: l.Text, Plants: int32(l.Plants),
	}
}

// FollowUps writes items that a case still needs.
func FollowUps(names Names, list []course.FollowUp) []*vernationv1.FollowUp {
	return each(list, func(f course.FollowUp) *vernationv1.FollowUp { return FollowUp(names, f) })
}

// FollowUp writes one item that a case still needs.
func FollowUp(names Names, f course.FollowUp) *vernationv1.FollowUp {
	return &vernationv1.FollowUp{
		Item:              string(f.ID),
		Kind:              followUpKinds.enum(f.Kind),
		Plants:            names.Plants(f.Plants),
		Ways:              each(f.Ways, func(w course.Way) *vernationv1.Way { return way(names, f.Site, w) }),
		Due:               due(f.Due),
		ExpectedOn:        f.Expected.String(),
		PricePerDayMinor:  each(f.PricePerDay, func(m quantity.Money) int64 { return int64(m) }),
		LeftOutPriceMinor: int64(f.LeftOutPrice),
		Approved:          f.Approved,
		Reason:            f.Reason,
		Severity:          int32(f.Severity),
		Case:              names.Case(f.Case),
		Site:              names.Site(f.Site),
		Pest:              string(f.Pest),
		Certainty:         certainties.enum(f.Certainty),
	}
}

func due(d course.Due) *vernationv1.Due {
	return &vernationv1.Due{
		After:              string(d.After),
		EarliestOn:         d.EarliestOn.String(),
		IdealOn:            d.IdealOn.String(),
		LatestOn:           d.LatestOn.String(),
		StandsUntilOn:      d.StandsUntilOn.String(),
		EarliestLagDays:    int32(d.EarliestLag),
		IdealLagDays:       int32(d.IdealLag),
		LatestLagDays:      int32(d.LatestLag),
		StandsUntilLagDays: int32(d.StandsUntilLag),
	}
}

func way(names Names, at site.ID, w course.Way) *vernationv1.Way {
	return &vernationv1.Way{
		WayId:    string(w.ID),
		Kind:     wayKinds.enum(w.Kind),
		Parts:    each(w.Parts, func(p course.Part) *vernationv1.Part { return part(names, at, p) }),
		MostAway: Duration(w.MostAway),
	}
}

func part(names Names, at site.ID, p course.Part) *vernationv1.Part {
	return &vernationv1.Part{
		Kind:    partKinds.enum(p.Kind),
		Area:    names.Area(at, p.Area),
		Takes:   Duration(p.Takes),
		Persons: int32(p.Persons),
		Skills:  slices.Clone(p.Skills),
		Windows: Windows(p.Windows),
		Use:     use(names, p.Use),
	}
}

// use writes what an application puts on which plants; nil where nothing is applied.
func use(names Names, u *course.Use) *vernationv1.Use {
	if u == nil {
		return nil
	}
	return &vernationv1.Use{
		Product: names.Product(u.Product),
		Method:  methods.enum(u.Method),
		Doses: each(u.Doses, func(d course.Dose) *vernationv1.Dose {
			return &vernationv1.Dose{Plant: names.Plant(d.Plant), Amount: volumeText(d.Amount), Mass: massText(d.Mass), Organisms: d.Organisms}
		}),
		ReservePercent:      int32(u.ReservePercent),
		Entry:               entryKinds.enum(u.Entry),
		KeepOut:             Duration(u.KeepOut),
		KeepOutUnventilated: Duration(u.KeepOutUnventilated),
	}
}
