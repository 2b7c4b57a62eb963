package feed

import (
	"vernation/scheduler"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// MayWatch says whether the caller may follow the changes of a technician's day routes.
//
// Fails with NotFound and Forbidden (NOT_YOUR_DAY_ROUTE).
func MayWatch(tx *store.Tx, technician scheduler.TechnicianID) error {
	if caller := tx.Caller(); caller.Role == firm.Technician && caller.Technician != technician {
		return fault.New(fault.Forbidden, "NOT_YOUR_DAY_ROUTE", "a technician follows their own day routes: want technician %s", caller.Technician)
	}
	_, err := tx.CrewMember(technician)
	return err
}

// Acknowledge writes down that a technician has seen changes of their day routes; the first acknowledgement of each
// counts. It returns the changes in order.
//
// Fails as MayWatch does, and with NotFound (CHANGE_NOT_FOUND) where a change does not exist or concerns somebody else.
func Acknowledge(tx *store.Tx, technician scheduler.TechnicianID, positions []int64) ([]firm.Acknowledged, error) {
	if err := MayWatch(tx, technician); err != nil {
		return nil, err
	}
	asked := map[int64]bool{}
	for _, position := range positions {
		asked[position] = true
	}
	found, err := tx.Acknowledge(technician, positions)
	if err != nil {
		return nil, err
	}
	for _, change := range found {
		delete(asked, change.Position)
	}
	for position := range asked {
		return nil, fault.New(fault.NotFound, "CHANGE_NOT_FOUND", "of the changes named, %d are none of technician %s, such as %d: name those that the technician's stream gave",
			len(asked), technician, position)
	}
	return found, nil
}

// Unacknowledged returns a page of the changes for safety that their technicians have not acknowledged within the time
// of the business's policy, or before the visit or keep-out began, the oldest first: after a position, at most so many; "" is every technician.
//
// Fails with NotFound for an unknown technician.
func Unacknowledged(tx *store.Tx, technician scheduler.TechnicianID, after int64, most int) ([]firm.Acknowledged, error) {
	if technician != "" {
		if _, err := tx.CrewMember(technician); err != nil {
			return nil, err
		}
	}
	business, err := tx.Business()
	if err != nil {
		return nil, err
	}
	return tx.Unacknowledged(technician, tx.Now().Add(-business.Policy.AcknowledgeWithin), after, most)
}
