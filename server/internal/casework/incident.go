package casework

import (
	"encoding/json"
	"fmt"
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// TellIncident stores an incident; from then on its product is barred from its site. It may come late; one that is known already,
// word for word, gives what was stored the first time.
//
// Fails with NotFound for the site, the product or the case, Invalid (UNKNOWN_AREA, UNKNOWN_PLANT, OTHER_SITE for a case of another
// site, IN_THE_FUTURE, each with its field) and Exists for another incident of that id.
func TellIncident(tx *store.Tx, i firm.Incident) (firm.Incident, error) {
	if first, known, err := incidentBefore(tx, i); err != nil || known {
		return first, err
	}
	if i.At.IsZero() {
		i.At = tx.Now()
	}
	if i.By == "" {
		i.By = tx.Caller().Subject
	}
	i.ReceivedAt, i.Caller = tx.Now(), tx.Caller().Subject
	if err := judgeIncident(tx, i); err != nil {
		return firm.Incident{}, err
	}
	if err := tx.LockSite(i.Site); err != nil {
		return firm.Incident{}, err
	}
	// A twin of it may have held the site until now.
	if first, known, err := incidentBefore(tx, i); err != nil || known {
		return first, err
	}
	if err := tx.InsertIncident(i); err != nil {
		return firm.Incident{}, err
	}
	return i, recomputeSite(tx, i.Site)
}

// recomputeSite computes the courses of a site's cases anew that still need something.
func recomputeSite(tx *store.Tx, at site.ID) error {
	of, err := tx.CasesOfSite(at)
	if err != nil {
		return err
	}
	var going []course.CaseID
	for _, id := range of {
		c, err := tx.LockCase(id)
		if err != nil {
			return err
		}
		if goesOn(c) {
			going = append(going, id)
		}
	}
	return recompute(tx, going)
}

// incidentBefore returns the incident of that id when it is known already and says the same.
func incidentBefore(tx *store.Tx, i firm.Incident) (first firm.Incident, known bool, err error) {
	first, err = tx.Incident(i.ID)
	if fault.Is(err, fault.NotFound) {
		return firm.Incident{}, false, nil
	}
	if err != nil {
		return firm.Incident{}, false, err
	}
	words := func(i firm.Incident) string {
		i.ReceivedAt, i.Caller, i.Release = 0, "", nil
		if i.At.IsZero() {
			i.At = first.At
		}
		if i.By == "" {
			i.By = first.By
		}
		text, err := json.Marshal(i)
		if err != nil {
			panic(fmt.Sprintf("casework: an incident cannot be written: %v", err))
		}
		return string(text)
	}
	if words(first) != words(i) {
		f := fault.New(fault.Exists, "EXISTS_ALREADY", "an incident %s is known and says something else: give this one an id of its own", i.ID)
		f.Subject = i.ID
		return firm.Incident{}, false, f
	}
	return first, true, nil
}

func judgeIncident(tx *store.Tx, i firm.Incident) error {
	at, err := tx.Site(i.Site)
	if err != nil {
		return err
	}
	if i.Product != "" {
		if _, err := tx.Product(i.Product); err != nil {
			return err
		}
	}
	var fields catalogue.FieldErrors
	if i.Case != "" {
		c, err := tx.Case(i.Case)
		if err != nil {
			return err
		}
		if c.Site != string(i.Site) {
			fields.Add("incident.case", "OTHER_SITE", "case %s is at another site: want one of %s", c.ID, at.Name)
		}
	}
	if i.Area != "" && !slices.ContainsFunc(at.Areas, func(a site.Area) bool { return a.ID == i.Area }) {
		fields.Add("incident.area", catalogue.ReasonUnknownArea, "%s is no area of %s", i.Area, at.Name)
	}
	plants, err := tx.PlantsOf(at.ID)
	if err != nil {
		return err
	}
	for n, id := range i.Plants {
		if !slices.ContainsFunc(plants, func(p site.Plant) bool { return p.ID == id }) {
			fields.Add(fmt.Sprintf("incident.plants[%d]", n), "UNKNOWN_PLANT", "plant %s does not stand at %s", id, at.Name)
		}
	}
	if i.At > tx.Now().Add(clockTolerance) {
		fields.Add("incident.event_time", "IN_THE_FUTURE", "%v lies more than 5 minutes after the firm's clock, %v: want when it happened", i.At, tx.Now())
	}
	return fault.InvalidFields(fields)
}

// ReleaseIncident lets the product of an incident be used at its site again, and the courses there follow.
//
// Fails with Forbidden when the caller is not the responsible applicator, NotFound, and Refused (RELEASED_ALREADY).
func ReleaseIncident(tx *store.Tx, id, reason string) (firm.Incident, error) {
	if !tx.Caller().ResponsibleApplicator {
		return firm.Incident{}, fault.New(fault.Forbidden, "RIGHT_NEEDED", "releasing an incident is the responsible applicator's: ask one of them")
	}
	i, err := tx.Incident(id)
	if err != nil {
		return firm.Incident{}, err
	}
	if err := tx.LockSite(i.Site); err != nil {
		return firm.Incident{}, err
	}
	if i, err = tx.Incident(id); err != nil { // as whoever held the site left it
		return firm.Incident{}, err
	}
	if i.Release != nil {
		return i, fault.New(fault.Refused, "RELEASED_ALREADY", "incident %s was released by %s on %v: %s", i.ID, i.Release.By, i.Release.At, i.Release.Reason)
	}
	i.Release = &firm.IncidentRelease{At: tx.Now(), By: tx.Caller().Subject, Reason: reason}
	if err := tx.ReleaseIncident(i, *i.Release); err != nil {
		return firm.Incident{}, err
	}
	return i, recomputeSite(tx, i.Site)
}

// barred: a product that was barred from the site by an incident when it was applied.
func (t *telling) barred(a application) {
	for _, i := range t.incidents {
		if i.Product == a.product.ID && i.At <= a.Began && (i.Release == nil || a.Began < i.Release.At) {
			t.breach(a, scheduler.RuleLabel, "%s was applied while it was barred from %s since incident %s: the responsible applicator had not allowed it again",
				a.product.Name, t.site.Name, i.ID)
		}
	}
}
