package casework

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// clockTolerance is how far a caller's clock may run ahead of the firm's.
const clockTolerance = 5 * time.Minute

// NewFinding is an observation to be recorded.
type NewFinding struct {
	ID      string        // stable; each finding has its own
	Site    site.ID       // "" is where its plants stand
	At      civil.Instant // unset is now
	Finding course.Finding
}

// RecordFinding appends a finding to the open case of its pest that shares plants with it, or opens a case, and
// writes the course that follows.
//
// Fails with Invalid (INVALID_FIELDS) when pest, plants or severity are unknown or the finding lies more than five
// minutes ahead, NotFound when its site is, and Exists for an id that the case knows.
func RecordFinding(tx *store.Tx, n NewFinding) (firm.Case, course.Course, error) {
	if n.Site == "" {
		at, err := siteOfFinding(tx, n.Finding)
		if err != nil {
			return firm.Case{}, course.Course{}, err
		}
		n.Site = at
	}
	if n.At.IsZero() {
		n.At = tx.Now()
	}
	if err := checkFinding(tx, n); err != nil {
		return firm.Case{}, course.Course{}, err
	}
	if err := tx.LockSite(n.Site); err != nil {
		return firm.Case{}, course.Course{}, err
	}
	id, added, err := noteFinding(tx, n)
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	if added == 0 {
		f := fault.New(fault.Exists, "EXISTS_ALREADY", "a finding %s is there already: want another id for another finding", n.ID)
		f.Subject = n.ID
		return firm.Case{}, course.Course{}, f
	}
	touched, err := lockRelated(tx, []course.CaseID{id})
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	if err := recompute(tx, touched); err != nil {
		return firm.Case{}, course.Course{}, err
	}
	return Course(tx, id)
}

// noteFinding appends the finding to its case, opening one where there is none, and returns the case; added is 0 when
// the case knew the finding already. The site must be locked: two findings on one plant at one moment would each see
// no case, and open two.
func noteFinding(tx *store.Tx, n NewFinding) (id course.CaseID, added int, err error) {
	id, err = caseFor(tx, n)
	if err != nil {
		return "", 0, err
	}
	if err := tx.AddCasePlants(id, n.Finding.Plants); err != nil {
		return "", 0, err
	}
	finding := n.Finding
	added, err = tx.AppendEvents(id, []course.Event{{ID: "finding/" + n.ID, At: n.At, Finding: &finding}})
	if err != nil || added == 0 {
		return id, added, err
	}
	return id, added, followPlants(tx, []course.CaseID{id}) // it may tell late of what has become several groups since
}

// caseFor returns the case of the same pest that goes on and shares a plant with the finding, locked, or opens one.
func caseFor(tx *store.Tx, n NewFinding) (course.CaseID, error) {
	cases, err := tx.CasesOfPlants(n.Finding.Plants)
	if err != nil {
		return "", err
	}
	for _, seen := range cases {
		if seen.Pest != n.Finding.Pest || !goesOn(seen) || seen.Site != string(n.Site) {
			continue
		}
		// What was seen may have ended by the time its row is ours.
		if c, err := tx.LockCase(seen.ID); err != nil || goesOn(c) {
			return c.ID, err
		}
	}
	opened := firm.Case{ID: course.CaseID(n.ID), Site: string(n.Site), Pest: n.Finding.Pest, OpenedAt: n.At}
	for _, plant := range n.Finding.Plants {
		opened.Plants = append(opened.Plants, string(plant))
	}
	if opened.RecurrenceOf, err = recurrenceOf(tx, n); err != nil {
		return "", err
	}
	if err := tx.InsertCase(opened); err != nil {
		return "", err
	}
	_, err = tx.LockCase(opened.ID)
	return opened.ID, err
}

// recurrenceOf returns the latest case of the same pest at the site that ended within the policy's months, or "".
func recurrenceOf(tx *store.Tx, n NewFinding) (course.CaseID, error) {
	business, err := tx.Business()
	if err != nil {
		return "", err
	}
	ended := false
	cases, err := tx.Cases(store.CaseFilter{Open: &ended, Site: n.Site}, store.Page{Size: 1000})
	if err != nil {
		return "", err
	}
	since := n.At.Add(-time.Duration(business.Policy.RecurrenceMonths) * 30 * 24 * time.Hour)
	var latest firm.Case
	for _, c := range cases {
		if c.Pest == n.Finding.Pest && c.EndedAt >= since && c.EndedAt > latest.EndedAt {
			latest = c
		}
	}
	return latest.ID, nil
}

// checkFinding says everything that is wrong with a finding, all at once.
func checkFinding(tx *store.Tx, n NewFinding) error {
	if _, err := tx.Site(n.Site); err != nil {
		return err
	}
	plants, err := tx.PlantsOf(n.Site)
	if err != nil {
		return err
	}
	fields := findingFields(n.Finding, plants, "finding")
	if n.At > tx.Now().Add(clockTolerance) {
		fields = append(fields, catalogue.FieldError{Path: "finding.seen_time", Reason: "IN_THE_FUTURE",
			Text: fmt.Sprintf("%v lies more than 5 minutes after the firm's clock, %v: want when it was seen", n.At, tx.Now())})
	}
	return fault.InvalidFields(fields)
}

// findingFields judges the parts of a finding that need no clock.
func findingFields(f course.Finding, plants []site.Plant, path string) []catalogue.FieldError {
	var fields []catalogue.FieldError
	wrong := func(field, reason, text string, args ...any) {
		fields = append(fields, catalogue.FieldError{Path: path + "." + field, Reason: reason, Text: fmt.Sprintf(text, args...)})
	}
	pest, err := catalogue.Shipped().PestByID(f.Pest)
	if err != nil {
		wrong("pest", "UNKNOWN_PEST", "%v", err)
	}
	for i, stage := range f.Stages {
		if _, known := pest.Stage(stage); err == nil && !known {
			wrong(fmt.Sprintf("stages[%d]", i), "UNKNOWN_STAGE", "%s has no stage %q: want the id of one of its stages", pest.Name, stage)
		}
	}
	if f.Severity < 0 || f.Severity > 3 {
		wrong("severity", "OUT_OF_RANGE", "%d: want 0 (signs only) to 3 (heavy)", f.Severity)
	}
	if len(f.Plants) == 0 {
		wrong("plants", "REQUIRED", "no plants: want at least one on which it was seen")
	}
	for i, id := range f.Plants {
		if !slices.ContainsFunc(plants, func(p site.Plant) bool { return p.ID == id }) {
			wrong(fmt.Sprintf("plants[%d]", i), "UNKNOWN_PLANT", "plant %s does not stand at this site: want one of the site's plants", id)
		}
	}
	return fields
}

// lockRelated locks the given cases and all that share plants with them, in order of id so that two writers
// cannot wait for each other, and returns them.
func lockRelated(tx *store.Tx, ids []course.CaseID) ([]course.CaseID, error) {
	var all []course.CaseID
	for _, id := range ids {
		c, err := tx.Case(id)
		if err != nil {
			return nil, err
		}
		more, err := related(tx, c)
		if err != nil {
			return nil, err
		}
		all = append(all, more...)
	}
	slices.Sort(all)
	all = slices.Compact(all)
	for _, id := range all {
		if _, err := tx.LockCase(id); err != nil {
			return nil, err
		}
	}
	return all, nil
}
