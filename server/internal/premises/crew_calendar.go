package premises

import (
	"errors"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// longestAbsenceDays and longestHolidayDays bound how many days the last may lie after the first.
const (
	longestAbsenceDays = 5 * 366
	longestHolidayDays = 366
)

// AddAbsence records that a technician does not work on some days.
//
// Fails with Invalid (CONTRADICTION, WINDOW_INVALID), NotFound for the technician, Refused (DELETED) for one who left the
// crew and Exists for its id or external id.
func AddAbsence(tx *store.Tx, told firm.Kept[firm.Absence]) (firm.Kept[firm.Absence], error) {
	if err := absenceRight(tx, told.Value); err != nil {
		return told, err
	}
	if err := tx.InsertAbsences([]firm.Absence{told.Value}); err != nil {
		return told, err
	}
	if err := tx.SetAbsenceExternalID(told.Value.ID, told.ExternalID); err != nil {
		return told, err
	}
	return tx.KeptAbsence(told.Value.ID)
}

// ChangeAbsence changes an absence: change gives it as told from what stands. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED), Stale (ETAG_STALE), as AddAbsence does, and as change does.
func ChangeAbsence(tx *store.Tx, id string, version *int64, change func(firm.Kept[firm.Absence]) (firm.Kept[firm.Absence], error)) (firm.Kept[firm.Absence], error) {
	standing, err := standing("absence", id, version, tx.LockAbsence, tx.KeptAbsence)
	if err != nil {
		return standing, err
	}
	told, err := change(standing)
	if err != nil {
		return standing, err
	}
	if err := absenceRight(tx, told.Value); err != nil {
		return standing, err
	}
	if err := tx.UpdateAbsence(told.Value, told.ExternalID, standing.Value.Technician); err != nil {
		return standing, err
	}
	return tx.KeptAbsence(id)
}

// DeleteAbsence takes an absence back. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED) and Stale (ETAG_STALE).
func DeleteAbsence(tx *store.Tx, id string, version *int64) (firm.Kept[firm.Absence], error) {
	standing, err := standing("absence", id, version, tx.LockAbsence, tx.KeptAbsence)
	if err != nil {
		return standing, err
	}
	if err := tx.DeleteAbsence(standing.Value); err != nil {
		return standing, err
	}
	return tx.KeptAbsence(id)
}

// mostVisitsNamed bounds the visits that an absence names.
const mostVisitsNamed = 100

// VisitsIn returns the visits of an absence's technician that are still to come and lie in it, at most a hundred. One that
// was taken back has none.
func VisitsIn(tx *store.Tx, kept firm.Kept[firm.Absence]) ([]scheduler.VisitID, error) {
	if !kept.DeletedAt.IsZero() {
		return nil, nil
	}
	business, err := tx.Business()
	if err != nil {
		return nil, err
	}
	a := kept.Value
	span := civil.Interval{From: max(tx.Now(), business.Zone.At(a.From, 0)), To: business.Zone.At(a.To.AddDays(2), 0)}
	if span.Empty() {
		return nil, nil
	}
	visits, err := tx.Visits(store.VisitFilter{From: span.From, To: span.To, Technician: a.Technician,
		States: []scheduler.VisitState{scheduler.Published, scheduler.Announced, scheduler.Pinned}})
	if err != nil {
		return nil, err
	}
	routes, err := tx.Routes(store.RouteFilter{From: a.From, To: a.To, Technician: a.Technician})
	if err != nil {
		return nil, err
	}
	var ids []scheduler.VisitID
	for _, v := range visits {
		if len(ids) < mostVisitsNamed && liesIn(business.Zone, a, v, routes) {
			ids = append(ids, v.ID)
		}
	}
	return ids, nil
}

// liesIn says whether a visit lies in an absence: with a window when they overlap, else when it belongs to a day route of one
// of the days.
func liesIn(zone civil.Zone, a firm.Absence, v scheduler.Visit, routes []firm.Route) bool {
	if a.Window == nil {
		for _, r := range routes {
			if r.Departs <= v.Arrives && v.Arrives < r.Returns {
				return true
			}
		}
		day := zone.DateOf(v.Arrives)
		return a.From <= day && day <= a.To
	}
	during := civil.Interval{From: v.Arrives, To: v.Leaves}
	for day := max(a.From, zone.DateOf(v.Arrives).AddDays(-2)); day <= min(a.To, zone.DateOf(v.Leaves)); day++ {
		for _, run := range zone.Runs(day, *a.Window) {
			if run.Overlaps(during) {
				return true
			}
		}
	}
	return false
}

// absenceRight says what is wrong with an absence, and whether its technician is of the crew.
func absenceRight(tx *store.Tx, a firm.Absence) error {
	var fields catalogue.FieldErrors
	daysInSequence(&fields, "absence", a.From, a.To, longestAbsenceDays)
	if a.Window != nil {
		if err := a.Window.Validate(); err != nil {
			fields.Add("absence.window", catalogue.ReasonWindow, "%v", err)
		}
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	member, err := tx.KeptCrewMember(a.Technician)
	if err != nil {
		return err
	}
	return member.InUse("technician", string(a.Technician))
}

// daysInSequence notes a last day that lies before the first, or too far after it.
func daysInSequence(fields *catalogue.FieldErrors, path string, from, to civil.Date, longest int) {
	if to < from || int(to-from) > longest {
		fields.Add(path+".to", catalogue.ReasonContradiction, "from %v to %v: want a last day from the first on, at most %d days later", from, to, longest)
	}
}

// AddHoliday shuts the business on some days.
//
// Fails with Invalid (CONTRADICTION) and Exists for its id or external id.
func AddHoliday(tx *store.Tx, told firm.Kept[firm.Holiday]) (firm.Kept[firm.Holiday], error) {
	if err := holidayRight(told.Value); err != nil {
		return told, err
	}
	if err := tx.InsertHolidays([]firm.Holiday{told.Value}); err != nil {
		return told, err
	}
	if err := tx.SetHolidayExternalID(told.Value.ID, told.ExternalID); err != nil {
		return told, err
	}
	return tx.KeptHoliday(told.Value.ID)
}

// ChangeHoliday changes a holiday: change gives it as told from what stands. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED), Stale (ETAG_STALE), as AddHoliday does, and as change does.
func ChangeHoliday(tx *store.Tx, id string, version *int64, change func(firm.Kept[firm.Holiday]) (firm.Kept[firm.Holiday], error)) (firm.Kept[firm.Holiday], error) {
	standing, err := standing("holiday", id, version, tx.LockHoliday, tx.KeptHoliday)
	if err != nil {
		return standing, err
	}
	told, err := change(standing)
	if err != nil {
		return standing, err
	}
	if err := holidayRight(told.Value); err != nil {
		return standing, err
	}
	if err := tx.UpdateHoliday(told.Value, told.ExternalID); err != nil {
		return standing, err
	}
	return tx.KeptHoliday(id)
}

// DeleteHoliday takes a holiday back. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED) and Stale (ETAG_STALE).
func DeleteHoliday(tx *store.Tx, id string, version *int64) (firm.Kept[firm.Holiday], error) {
	standing, err := standing("holiday", id, version, tx.LockHoliday, tx.KeptHoliday)
	if err != nil {
		return standing, err
	}
	if err := tx.DeleteHoliday(id); err != nil {
		return standing, err
	}
	return tx.KeptHoliday(id)
}

func holidayRight(h firm.Holiday) error {
	var fields catalogue.FieldErrors
	if h.Name == "" {
		fields.Add("holiday.name", catalogue.ReasonMissing, "want what people call it")
	}
	daysInSequence(&fields, "holiday", h.From, h.To, longestHolidayDays)
	return fault.InvalidFields(fields)
}

// standing returns something in use as it is kept, which nobody else changes until the transaction ends.
func standing[T any, ID ~string](thing string, id ID, version *int64, lock func(ID) error, read func(ID) (firm.Kept[T], error)) (firm.Kept[T], error) {
	if err := lock(id); err != nil {
		return firm.Kept[T]{}, err
	}
	kept, err := read(id)
	if err != nil {
		return kept, err
	}
	return kept, errors.Join(kept.InUse(thing, string(id)), kept.Fresh(version))
}
