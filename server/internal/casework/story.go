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
	stories, err := storiesOf(tx, []firm.Case{c})
	if err != nil {
		return firm.CaseStory{}, err
	}
	return stories[0], nil
}

// Stories returns a page of cases, newest first, with what their histories say but without the events.
//
// Fails with NotFound for an unknown site.
func Stories(tx *store.Tx, filter store.CaseFilter, page store.Page) ([]firm.CaseStory, error) {
	if filter.Site != "" {
		if _, err := tx.Site(filter.Site); err != nil {
			return nil, err
		}
	}
	cases, err := tx.Cases(filter, page)
	if err != nil {
		return nil, err
	}
	stories, err := storiesOf(tx, cases)
	for i := range stories {
		stories[i].Events = nil
	}
	return stories, err
}

func storiesOf(tx *store.Tx, cases []firm.Case) ([]firm.CaseStory, error) {
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
			tell(&stories[i], histories[at])
		}
	}
	return stories, nil
}

// surest is the order of certainties, the surest last.
var surest = []course.Certainty{course.ClientCall, course.Suspected, course.Confirmed}

// tell puts what a history says into a story. An event that was corrected is told and marked, and counts no more.
func tell(s *firm.CaseStory, h course.History) {
	events := slices.SortedStableFunc(slices.Values(h.Events), func(a, b course.Event) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(rank(a), rank(b)), cmp.Compare(a.ID, b.ID))
	})
	replaced := map[string]bool{}
	for _, e := range events {
		replaced[e.Corrects] = true
	}
	for _, e := range events {
		text, item := eventText(e)
		if withdraws(e) {
			continue
		}
		if replaced[e.ID] {
			text += " (corrected since)"
		} else {
			count(s, e)
		}
		s.Events = append(s.Events, firm.CaseEvent{At: e.At, Text: text, Report: reportOf(e.ID), Item: item})
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

// eventText says an event for people, and which follow-up it concerns.
func eventText(e course.Event) (text string, item course.ItemID) {
	switch {
	case e.Finding != nil:
		f := e.Finding
		return fmt.Sprintf("%s found, %s, %s, severity %d, on %s", f.Pest, plain(f.Certainty), plain(f.Life), f.Severity, plantsText(f.Plants)), ""
	case e.Application != nil:
		return applicationText(e.Application), e.Application.FollowUp
	case e.Inspection != nil:
		return inspectionText(e.Inspection), e.Inspection.FollowUp
	case e.NotDone != nil:
		text := "not done: " + plain(e.NotDone.Outcome)
		if e.NotDone.Note != "" {
			text += "; " + e.NotDone.Note
		}
		return text, e.NotDone.FollowUp
	case e.Approval != nil:
		return approvalText(e.Approval), ""
	case e.Ending != nil:
		return fmt.Sprintf("ended, %s: %s", plain(e.Ending.Kind), e.Ending.Reason), ""
	case e.Done != nil:
		return "done on " + plantsText(e.Done.Plants), e.Done.FollowUp
	}
	return "", ""
}

func applicationText(a *course.Application) string {
	text := fmt.Sprintf("%s applied to %s", a.Product, plantsText(a.Plants))
	if !a.Applied.IsZero() {
		text += fmt.Sprintf(", %v", a.Applied)
	}
	if !a.Concentrate.IsZero() {
		text += fmt.Sprintf(" of a mix of %v made up to %v", a.Concentrate, a.Volume)
	}
	if a.AboveLabel {
		text += "; above the label"
	}
	return text
}

func inspectionText(i *course.Inspection) string {
	text := plantsText(i.Plants) + " looked at, "
	if len(i.Found) == 0 {
		text += "no find"
	} else {
		text += fmt.Sprintf("living insects on %s, severity %d", plantsText(i.Found), i.Severity)
	}
	if i.AdultsOnCards != nil {
		text += fmt.Sprintf("; %d adults on the cards", *i.AdultsOnCards)
	}
	return text
}

func approvalText(a *course.Approval) string {
	if a.Withdrawn {
		return fmt.Sprintf("approval of %s withdrawn by %s", a.Product, a.By)
	}
	ways := make([]string, len(a.Ways))
	for i, way := range a.Ways {
		ways[i] = plain(way)
	}
	rate := "at the label's rate"
	if a.MaxRate != nil {
		rate = "up to " + a.MaxRate.String()
	}
	return fmt.Sprintf("%s approved by %s, %s, %s", a.Product, a.By, rate, strings.Join(ways, " or "))
}

// plantsText names a few plants and counts many.
func plantsText(plants []site.PlantID) string {
	const named = 3
	if len(plants) > named {
		return fmt.Sprintf("%d plants", len(plants))
	}
	names := make([]string, len(plants))
	for i, id := range plants {
		names[i] = string(id)
	}
	return strings.Join(names, ", ")
}

// plain writes a word such as "not-sure" for people.
func plain[W ~string](word W) string { return strings.ReplaceAll(string(word), "-", " ") }
