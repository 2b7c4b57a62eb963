package casework

import (
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// LookAtDeviation notes that the caller looked at a deviation for the office, and what was made of it.
//
// Fails with NotFound and Refused (ACKNOWLEDGED_ALREADY).
func LookAtDeviation(tx *store.Tx, id, note string) (firm.Deviation, error) {
	d, err := tx.Deviation(id)
	if err != nil {
		return firm.Deviation{}, err
	}
	look := firm.DeviationLook{At: tx.Now(), By: tx.Caller().Subject, Note: note}
	if d.Look == nil {
		err = tx.LookAtDeviation(id, look)
	}
	if d.Look != nil || fault.Is(err, fault.Exists) {
		return d, fault.New(fault.Refused, "ACKNOWLEDGED_ALREADY", "somebody of the office has looked at deviation %s already", id)
	}
	d.Look = &look
	return d, err
}
