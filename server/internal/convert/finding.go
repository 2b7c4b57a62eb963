package convert

import (
	"slices"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// Finding writes an observation and when it was made. Its name, case, site and time of receipt are known to whoever
// stored it.
func Finding(names Names, f course.Finding, seen civil.Instant) *vernationv1.Finding {
	m := finding(names, f)
	m.SeenTime = Timestamp(seen)
	return m
}

// finding writes an observation; in a report the arrival says when it was made.
func finding(names Names, f course.Finding) *vernationv1.Finding {
	return &vernationv1.Finding{
		Pest:      string(f.Pest),
		Certainty: certainties.enum(f.Certainty),
		Life:      lives.enum(f.Life),
		Severity:  int32(f.Severity),
		Stages:    words[catalogue.StageID, string](f.Stages),
		Plants:    names.Plants(f.Plants),
		SeenBy:    f.By,
		Note:      f.Note,
		Pictures:  slices.Clone(f.Pictures),
	}
}

// FindingTold writes a finding as a case's history tells it.
func FindingTold(names Names, f firm.FindingTold) *vernationv1.Finding {
	m := Finding(names, f.Finding, f.At)
	m.Name, m.Case, m.Site = names.Finding(f.ID), names.Case(f.Case), names.Site(f.Site)
	m.OpenedCase, m.Corrected, m.CreateTime = f.ID == string(f.Case), f.Corrected, Timestamp(f.ToldAt)
	return m
}

// FindingFrom reads an observation and when it was made; unset is now.
func FindingFrom(m *vernationv1.Finding) (f course.Finding, seen civil.Instant) {
	return findingFrom(m), InstantFrom(m.GetSeenTime())
}

// findingFrom reads an observation; in a report the arrival says when it was made.
func findingFrom(m *vernationv1.Finding) course.Finding {
	return course.Finding{
		Pest:      catalogue.PestID(m.GetPest()),
		Certainty: certainties.word(m.GetCertainty()),
		Life:      lives.word(m.GetLife()),
		Severity:  int(m.GetSeverity()),
		Stages:    words[string, catalogue.StageID](m.GetStages()),
		Plants:    IDs[site.PlantID](m.GetPlants()),
		By:        m.GetSeenBy(),
		Note:      m.GetNote(),
		Pictures:  slices.Clone(m.GetPictures()),
	}
}
