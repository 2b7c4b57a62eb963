package casework

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// mostEvents bounds what a story tells: the latest ones.
const mostEvents = 500

// Story returns a case with what its history says.
//
// Fails with NotFound for an unknown case.
func Story(tx *store.Tx, id course.CaseID) (firm.CaseStory, error) {
	c, err := tx.Case(id)
	if err != nil {
		return firm.CaseStory{}, err
	}
	words, err := readWords(tx, c)
	if err != nil {
		return firm.CaseStory{}, err
	}
	histories, err := tx.Histories([]course.CaseID{c.ID})
	if err != nil {
		return firm.CaseStory{}, err
	}
	ofPlants, err := plantEventsOf(tx, c)
	if err != nil {
		return firm.CaseStory{}, err
	}
	story := firm.CaseStory{Case: c}
	for _, h := range histories {
		h.Events = append(h.Events, ofPlants...)
		tell(&story, h, words)
	}
	beside, err := besideHistory(tx, c, words)
	story.Events = append(story.Events, beside...)
	slices.SortStableFunc(story.Events, func(a, b firm.CaseEvent) int { return cmp.Compare(a.At, b.At) })
	if more := len(story.Events) - mostEvents; more > 0 {
		story.Events = story.Events[more:]
	}
	return story, err
}

// besideHistory tells of the incidents of a case and of what its client was asked for: they are records of their own, and people
// read them among what happened.
func besideHistory(tx *store.Tx, c firm.Case, words words) (events []firm.CaseEvent, err error) {
	incidents, err := tx.IncidentsOf(site.ID(c.Site))
	if err != nil {
		return nil, err
	}
	for _, i := range incidents {
		if i.Case != c.ID {
			continue
		}
		events = append(events, firm.CaseEvent{At: i.At, Text: words.incident(i), Incident: i.ID})
		if i.Release != nil {
			events = append(events, firm.CaseEvent{At: i.Release.At, Text: fmt.Sprintf("incident released by %s: %s", words.person(i.Release.By), i.Release.Reason), Incident: i.ID})
		}
	}
	asked, err := tx.ClientConsentsOf(site.ID(c.Site))
	if err != nil {
		return nil, err
	}
	for _, q := range asked {
		if q.Case != c.ID {
			continue
		}
		events = append(events, firm.CaseEvent{At: q.AskedAt, Text: fmt.Sprintf("%s asked %s for %s", words.person(q.AskedBy), q.AskedOf, words.askedFor(q)), Consent: q.ID})
		for _, a := range q.Answers {
			events = append(events, firm.CaseEvent{At: a.At, Text: fmt.Sprintf("consent to %s %s by %s", words.askedFor(q), a.Kind, a.By), Consent: q.ID})
		}
	}
	return events, nil
}

// plantEventsOf lists what happened to the plants of a case since it was opened, as its history tells it.
func plantEventsOf(tx *store.Tx, c firm.Case) ([]course.Event, error) {
	all, err := tx.PlantEventsOf(site.ID(c.Site))
	var events []course.Event
	for _, e := range all {
		if e.At >= c.OpenedAt && slices.ContainsFunc(e.Plants(), func(id site.PlantID) bool { return slices.Contains(c.Plants, string(id)) }) {
			events = append(events, e.Event())
		}
	}
	return events, err
}

// Stories tells some cases with what their histories say but without the events, in the order given.
func Stories(tx *store.Tx, cases []firm.Case) ([]firm.CaseStory, error) {
	ids := make([]course.CaseID, len(cases))
	for i, c := range cases {
		ids[i] = c.ID
	}
	histories, err := tx.Histories(ids)
	if err != nil {
		return nil, err
	}
	stories := make([]firm.CaseStory, len(cases))
	for i, c := range cases {
		stories[i] = firm.CaseStory{Case: c}
		if at := slices.IndexFunc(histories, func(h course.History) bool { return h.Case == c.ID }); at >= 0 {
			tell(&stories[i], histories[at], words{})
			stories[i].Events = nil // not shown
		}
	}
	return stories, nil
}

// surest is the order of certainties, the surest last.
var surest = []course.Certainty{course.ClientCall, course.Suspected, course.Confirmed}

// tell puts what a history says into a story. An event that was corrected is told and marked, and counts no more.
func tell(s *firm.CaseStory, h course.History, words words) {
	events := slices.SortedStableFunc(slices.Values(h.Events), func(a, b course.Event) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(rank(a), rank(b)), cmp.Compare(a.ID, b.ID))
	})
	replaced := map[string]bool{}
	for _, e := range events {
		replaced[e.Corrects] = true
	}
	for _, e := range events {
		text, item := words.event(e)
		if withdraws(e) {
			continue
		}
		if replaced[e.ID] {
			text += " (corrected since)"
		} else {
			count(s, e)
		}
		s.Events = append(s.Events, firm.CaseEvent{At: e.At, Text: text, Report: reportOf(e.ID), PlantEvent: firm.PlantEventOf(e.ID), Item: item})
		if e.Approval != nil {
			s.Approvals = append(s.Approvals, firm.ApprovalGiven{Approval: *e.Approval, At: e.At})
		}
	}
	if more := len(s.Events) - mostEvents; more > 0 {
		s.Events = s.Events[more:]
	}
}

// rank puts a finding before what was decided on it at the same instant.
func rank(e course.Event) int {
	if e.Finding != nil {
		return 0
	}
	return 1
}

// count lets one event that stands move certainty and severity.
func count(s *firm.CaseStory, e course.Event) {
	switch {
	case e.Finding != nil:
		if slices.Index(surest, e.Finding.Certainty) > slices.Index(surest, s.Certainty) {
			s.Certainty = e.Finding.Certainty
		}
		s.Severity = e.Finding.Severity
	case e.Inspection != nil:
		s.Severity = e.Inspection.Severity
	}
}

// plain writes a word such as "not-sure" for people.
func plain[W ~string](word W) string { return strings.ReplaceAll(string(word), "-", " ") }
