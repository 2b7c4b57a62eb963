package casework

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Ruling is what the client or the business decided about a case.
type Ruling struct {
	ID       string // stable: the same ruling told twice counts once
	Case     course.CaseID
	Decision firm.CaseDecision
	Plants   []site.PlantID // to replace, to treat or to remove; empty is all
	By       string         // who decided; "" is the caller
	Reason   string
	At       civil.Instant // unset is now
	// Version is that of the case as it was read; nil is whatever it is now.
	Version *int64
}

// rulingPrefix begins the names of rulings in histories: at one instant they are read after findings and reports.
const rulingPrefix = "ruling"

// DecideCase appends what people decided about a case and writes the course that follows. Removing plants is told as
// plants that are gone.
//
// Fails with NotFound for an unknown case, Invalid (UNKNOWN_PLANT for one that is not of the case, CONTRADICTION for
// plants of a decision that is about the whole case, IN_THE_FUTURE), Refused (CASE_ENDED; a case that is kept low can
// still be ended otherwise) and Stale (CASE_MOVED).
func DecideCase(tx *store.Tx, r Ruling) (firm.Case, course.Course, error) {
	if r.At.IsZero() {
		r.At = tx.Now()
	}
	if r.By == "" {
		r.By = tx.Caller().Subject
	}
	found, err := tx.Case(r.Case)
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	if err := tx.LockSite(site.ID(found.Site)); err != nil {
		return firm.Case{}, course.Course{}, err
	}
	ids, err := lockRelated(tx, []course.CaseID{r.Case})
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	c, err := tx.Case(r.Case)
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	if err := r.judge(tx, c); err != nil {
		return c, course.Course{}, err
	}
	if r.Decision == firm.DecideRemove {
		err = r.remove(tx, c)
	} else if err = r.append(tx); err == nil {
		err = recompute(tx, ids)
	}
	if err != nil {
		return c, course.Course{}, err
	}
	return Course(tx, r.Case)
}

// endings are the decisions that end a case.
var endings = map[firm.CaseDecision]course.EndingKind{
	firm.DecideKeepLow: course.KeptLow, firm.DecideDeclined: course.Declined, firm.DecideWrongPest: course.WrongPest,
}

func (r Ruling) judge(tx *store.Tx, c firm.Case) error {
	_, ends := endings[r.Decision]
	var fields catalogue.FieldErrors
	if r.At > tx.Now().Add(clockTolerance) {
		fields.Add("decide_time", "IN_THE_FUTURE", "%v lies more than 5 minutes after the firm's clock, %v: want when it was decided", r.At, tx.Now())
	}
	if ends && len(r.Plants) > 0 {
		fields.Add("plants", catalogue.ReasonContradiction, "%s is about the whole case: want no plants", plain(r.Decision))
	}
	for i, id := range r.Plants {
		if !slices.Contains(c.Plants, string(id)) {
			fields.Add(fmt.Sprintf("plants[%d]", i), "UNKNOWN_PLANT", "plant %s is not of case %s", id, c.ID)
		}
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	otherwise := r.Decision == firm.DecideRemove || ends && c.Ending != nil && endings[r.Decision] != c.Ending.Kind
	if c.Ending != nil && (!goesOn(c) || !otherwise) {
		return fault.New(fault.Refused, "CASE_ENDED", "case %s has ended (%s): a new finding opens one again", c.ID, plain(c.Ending.Kind))
	}
	if r.Version != nil && *r.Version != c.Version {
		return fault.New(fault.Stale, "CASE_MOVED", "case %s is no longer as it was read: read it again, then decide", c.ID)
	}
	return nil
}

func (r Ruling) append(tx *store.Tx) error {
	id, err := eventName(tx, r.Case, rulingPrefix, r.ID, func(e course.Event) bool { return e.Decision != nil || e.Ending != nil })
	if err != nil {
		return err
	}
	event := course.Event{ID: id, At: r.At}
	if kind, ends := endings[r.Decision]; ends {
		event.Ending = &course.Ending{Kind: kind, Reason: fmt.Sprintf("%s (decided by %s)", r.Reason, r.By)}
	} else {
		event.Decision = &course.Decision{Kind: course.DecisionKind(r.Decision), Plants: r.Plants, By: r.By, Reason: r.Reason}
	}
	_, err = tx.AppendEvents(r.Case, []course.Event{event})
	return err
}

// remove tells that the plants are gone: those named, else all of the case that are still there.
func (r Ruling) remove(tx *store.Tx, c firm.Case) error {
	plants := r.Plants
	if len(plants) == 0 {
		records, err := tx.PlantsOf(site.ID(c.Site))
		if err != nil {
			return err
		}
		for _, p := range records {
			if slices.Contains(c.Plants, string(p.ID)) && p.GoneOn.IsZero() {
				plants = append(plants, p.ID)
			}
		}
	}
	_, err := TellPlantEvent(tx, firm.PlantEvent{
		ID: r.ID, At: r.At, By: r.By, Note: r.Reason, Gone: &course.Gone{Plants: plants, Kind: course.Discarded},
	})
	return err
}
