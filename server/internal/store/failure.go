package store

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"net"
	"strings"

	"github.com/lib/pq"

	"vernation/server/internal/fault"
)

// Names of constraints whose breach the store itself answers to.
const (
	requestDoneOnce   = "idempotency_request_done_once"
	oneTechnicianOnce = "visit_one_technician_one_place"
	noWorkInKeepOut   = "area_use_no_work_in_keep_out"
)

// failure turns what the driver says into a fault; nil and faults stay as they are, and so does the end of the context.
func failure(ctx context.Context, err error) error {
	var already *fault.Fault
	if err == nil || errors.As(err, &already) {
		return err
	}
	if ctx.Err() != nil {
		return fmt.Errorf("%w: %w", ctx.Err(), err)
	}
	var refused *pq.Error
	if errors.As(err, &refused) {
		return refusal(refused)
	}
	var network net.Error
	if errors.Is(err, driver.ErrBadConn) || errors.As(err, &network) {
		return away(err)
	}
	return &fault.Fault{Kind: fault.Internal, Reason: "INTERNAL", Message: "internal error", Err: err}
}

// refusal is the table from SQLSTATE to kinds. Constraints are named after the rule they keep, so their names speak.
func refusal(e *pq.Error) *fault.Fault {
	rule := strings.ReplaceAll(e.Constraint, "_", " ")
	made := func(kind fault.Kind, reason, message string, args ...any) *fault.Fault {
		f := fault.New(kind, reason, message, args...)
		f.Err = e
		return f
	}
	switch e.Code {
	case "23514", "23502":
		return made(fault.Invalid, "BROKEN_CONSTRAINT", "the values cannot be right; what must hold: %s", orColumn(rule, e))
	case "21000":
		return made(fault.Invalid, "NAMED_TWICE", "the same id stands twice in the request; name each once")
	case "22021", "22P05":
		return made(fault.Invalid, "TEXT_NOT_STORABLE", "a text holds a character that cannot be stored, such as NUL; leave it out")
	case "23503":
		if strings.Contains(e.Detail, "still referenced") {
			return made(fault.Refused, "STILL_USED", "something else still refers to it; what must hold: %s", rule)
		}
		return made(fault.NotFound, "PARENT_NOT_FOUND", "something that it refers to is not known in this business; what must hold: %s", rule)
	case "23505":
		return made(fault.Exists, "EXISTS_ALREADY", "it exists already; what must hold: %s", rule)
	case "23P01":
		return made(fault.Conflict, "HELD_ALREADY", "%s", heldBy(e.Constraint))
	case "40001", "40P01":
		return made(fault.Conflict, "BUSY", "others changed the same at the same time; try again")
	case "42501":
		return made(fault.Forbidden, "NOT_THIS_BUSINESS", "the row belongs to another business, or may not be changed once it is written")
	case "53300":
		return away(e)
	}
	if strings.HasPrefix(string(e.Code), "57P0") || e.Code.Class() == "08" {
		return away(e)
	}
	return made(fault.Internal, "INTERNAL", "internal error")
}

// orColumn is the rule, or for a missing value its column.
func orColumn(rule string, e *pq.Error) string {
	if rule == "" {
		return e.Table + " has its " + strings.ReplaceAll(e.Column, "_", " ")
	}
	return rule
}

// heldBy says what an exclusion constraint keeps.
func heldBy(constraint string) string {
	switch constraint {
	case oneTechnicianOnce:
		return "a technician would be at two places at one time; move one of the two visits"
	case noWorkInKeepOut:
		return "somebody would work in an area while it is shut after an application; move the work or the application"
	}
	return "something else holds what it needs: " + strings.ReplaceAll(constraint, "_", " ")
}

// away is the failure of a database that cannot be reached just now.
func away(err error) *fault.Fault {
	return &fault.Fault{Kind: fault.Away, Reason: "DATABASE_AWAY", Message: "the database cannot be reached just now; try again in a moment", Err: err}
}

// worthAnotherTry says whether doing the same again may succeed.
func worthAnotherTry(err error) bool {
	var refused *pq.Error
	if !errors.As(err, &refused) {
		return false
	}
	switch refused.Code {
	case "40001", "40P01":
		return true
	case "23505": // a twin of this request was done at the same moment: the next try finds its answer
		return refused.Constraint == requestDoneOnce
	}
	return false
}
