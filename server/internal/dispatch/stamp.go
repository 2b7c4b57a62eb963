package dispatch

import (
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// clockTolerance is how far a caller's clock may be ahead of the firm's.
const clockTolerance = 5 * time.Minute

// Stamp takes down when a visit or a work item was begun or ended. It refuses only what cannot be understood or what the
// caller has no right to: a visit that moved, was withdrawn or given to somebody else since is stamped off plan. Whatever is
// stamped begins the visit, so that no plan moves it; it is done when its report has told what was done, and until then its
// follow-ups are not planned again. A stamp that is known already, word for word, is given as it was kept the first time.
//
// Fails with Invalid (UNKNOWN_TECHNICIAN, IN_THE_FUTURE), NotFound (VISIT_NOT_PUBLISHED), Forbidden (NOT_YOUR_STAMP) and
// Exists (EXISTS_ALREADY for another stamp of that id).
func Stamp(tx *store.Tx, told firm.Stamp) (firm.Stamp, error) {
	caller := tx.Caller()
	if caller.Role == firm.Technician && caller.Technician != told.Technician {
		return firm.Stamp{}, fault.New(fault.Forbidden, "NOT_YOUR_STAMP", "a technician stamps for oneself: want technician %s, not %s", caller.Technician, told.Technician)
	}
	told.Caller, told.ReceivedAt = caller.Subject, tx.Now()
	// Whoever publishes waits for the stamp, and compares versions after it.
	if _, err := tx.ShareHead(); err != nil {
		return firm.Stamp{}, err
	}
	if first, known, err := stampedBefore(tx, told); err != nil || known {
		return first, err
	}
	if err := stampFields(tx, told); err != nil {
		return firm.Stamp{}, err
	}
	visit, err := casework.PublishedVisit(tx, told.Visit)
	if err != nil {
		return firm.Stamp{}, err
	}
	if told.OffPlan, err = stampedOffPlan(tx, visit, told); err != nil {
		return firm.Stamp{}, err
	}
	fresh, err := tx.InsertStamp(told)
	if err != nil {
		return firm.Stamp{}, err
	}
	if !fresh { // a twin was told at the same moment
		first, _, err := stampedBefore(tx, told)
		return first, err
	}
	if visit == nil {
		return told, nil
	}
	return told, tx.BeginVisit(visit.ID)
}

// stampedOffPlan says whether a stamp tells otherwise than the visit is published; nil is one that was withdrawn.
func stampedOffPlan(tx *store.Tx, visit *scheduler.Visit, told firm.Stamp) (bool, error) {
	if visit == nil {
		return true, nil
	}
	at, err := tx.Site(visit.Site)
	return casework.OffPlan(visit, told.Technician, at, told.At) || told.Item != "" && !holds(*visit, told.Item), err
}

func holds(visit scheduler.Visit, item scheduler.ItemID) bool {
	return slices.ContainsFunc(visit.Work, func(w scheduler.WorkItem) bool { return w.Item == item })
}

// stampedBefore returns the stamp as it was kept when it is known already, word for word.
func stampedBefore(tx *store.Tx, told firm.Stamp) (first firm.Stamp, known bool, err error) {
	first, err = tx.Stamp(told.ID)
	if fault.Is(err, fault.NotFound) {
		return firm.Stamp{}, false, nil
	}
	if err != nil {
		return firm.Stamp{}, false, err
	}
	words := first
	words.Caller, words.ReceivedAt, words.OffPlan = told.Caller, told.ReceivedAt, told.OffPlan
	if words != told {
		f := fault.New(fault.Exists, "EXISTS_ALREADY", "stamp %s is known and says something else: give this one an id of its own", told.ID)
		f.Subject = told.ID
		return firm.Stamp{}, false, f
	}
	return first, true, nil
}

func stampFields(tx *store.Tx, told firm.Stamp) error {
	var fields catalogue.FieldErrors
	if _, err := tx.CrewMember(told.Technician); fault.Is(err, fault.NotFound) {
		fields.Add("stamp.technician", "UNKNOWN_TECHNICIAN", "technician %q is not of this business", told.Technician)
	} else if err != nil {
		return err
	}
	if told.At > tx.Now().Add(clockTolerance) {
		fields.Add("stamp.event_time", "IN_THE_FUTURE", "%v lies more than 5 minutes after the firm's clock, %v", told.At, tx.Now())
	}
	return fault.InvalidFields(fields)
}

// readStamps tells when the day's visits and work items were really begun and ended.
func (d *explaining) readStamps() error {
	visits := make([]scheduler.VisitID, len(d.route.Visits))
	for i, v := range d.route.Visits {
		visits[i] = v.Visit.ID
	}
	all, err := d.tx.StampsOf(visits...)
	if err != nil {
		return err
	}
	for i := range d.route.Visits {
		v := &d.route.Visits[i]
		of := slices.DeleteFunc(slices.Clone(all), func(s firm.Stamp) bool { return s.Visit != v.Visit.ID })
		v.Worked = firm.WorkedOf(of, "")
		for k := range v.Work {
			v.Work[k].Worked = firm.WorkedOf(of, v.Visit.Work[k].Item)
		}
	}
	return nil
}
