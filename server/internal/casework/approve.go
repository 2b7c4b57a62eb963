package casework

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Decision is the responsible applicator's word on a product for a case.
type Decision struct {
	ID       string // stable: the same decision told twice counts once
	Case     course.CaseID
	Approval course.Approval
	// Course is the version of the course as it was read; "" is whatever it is now.
	Course string
}

// Approve appends an approval (or its withdrawal) and writes the course that follows. It holds while only dates move.
//
// Fails with Forbidden when the caller is not the responsible applicator, NotFound for an unknown case or product,
// Stale (COURSE_MOVED) when the course is no longer the one that was read, and Refused: CASE_ENDED, PRODUCT_NOT_LAWFUL
// (the course refuses it; the reasons are told), RATE_ABOVE_LABEL.
func Approve(tx *store.Tx, d Decision) (firm.Case, course.Course, error) {
	if !tx.Caller().ResponsibleApplicator {
		return firm.Case{}, course.Course{}, fault.New(fault.Forbidden, "RIGHT_NEEDED",
			"approving an application is the responsible applicator's: ask one of them")
	}
	found, err := tx.Case(d.Case)
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	if err := tx.LockSite(site.ID(found.Site)); err != nil {
		return firm.Case{}, course.Course{}, err
	}
	ids, err := lockRelated(tx, []course.CaseID{d.Case})
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	c, present, err := Course(tx, d.Case)
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	if c.Ending != nil {
		return c, present, fault.New(fault.Refused, "CASE_ENDED", "case %s has ended (%s): there is nothing to approve", c.ID, c.Ending.Kind)
	}
	if d.Course != "" && d.Course != present.Version() {
		return c, present, fault.New(fault.Stale, "COURSE_MOVED", "the course of case %s is no longer the one that was read: read it again, then decide", c.ID)
	}
	if err := approvable(tx, present, d.Approval); err != nil {
		return c, present, err
	}
	id, err := eventName(tx, d.Case, "approval", d.ID, func(e course.Event) bool { return e.Approval != nil })
	if err != nil {
		return c, present, err
	}
	approval := d.Approval
	approval.By = tx.Caller().Subject
	if _, err := tx.AppendEvents(d.Case, []course.Event{{ID: id, At: tx.Now(), Approval: &approval}}); err != nil {
		return c, present, err
	}
	if approval.Withdrawn {
		told := firm.Change{Noun: firm.NounCase, ID: string(d.Case), Kind: firm.ApprovalWithdrawn, Case: d.Case}
		if err := tx.TellOfApplications(told, approval.Product); err != nil {
			return c, present, err
		}
	}
	if err := recompute(tx, ids); err != nil {
		return c, present, err
	}
	return Course(tx, d.Case)
}

// eventName names an event of a kind in a case's history: the same thing has the same name however often it is told, and
// of two at one instant the later one has the later name, for events of one instant are read in the order of their names.
func eventName(tx *store.Tx, of course.CaseID, kind, id string, isKind func(course.Event) bool) (string, error) {
	histories, err := tx.Histories([]course.CaseID{of})
	if err != nil {
		return "", err
	}
	earlier := 0
	for _, h := range histories {
		for _, e := range h.Events {
			if !isKind(e) {
				continue
			}
			if strings.HasSuffix(e.ID, "/"+id) {
				return e.ID, nil
			}
			earlier++
		}
	}
	return fmt.Sprintf("%s/%06d/%s", kind, earlier+1, id), nil
}

// approvable says why a product may not be approved for a course, or nil. A withdrawal needs a known product only.
func approvable(tx *store.Tx, present course.Course, a course.Approval) error {
	product, err := tx.Product(a.Product)
	if err != nil || a.Withdrawn {
		return err
	}
	for _, refusal := range present.Refused {
		if refusal.Product == a.Product {
			f := fault.New(fault.Refused, "PRODUCT_NOT_LAWFUL", "%s may not be used for this case: %s", product.Name, strings.Join(refusal.Reasons, "; "))
			f.Subject = string(a.Product)
			return f
		}
	}
	if present.Chosen != a.Product && !slices.Contains(present.Others, a.Product) {
		return fault.New(fault.Refused, "PRODUCT_NOT_LAWFUL", "%s is not among the products of this course: want %s or one of its alternatives", product.Name, present.Chosen)
	}
	return rateAllowed(product, a)
}

func rateAllowed(product catalogue.Product, a course.Approval) error {
	if a.MaxRate == nil {
		return nil
	}
	if err := a.MaxRate.Validate(); err != nil {
		return fault.InvalidFields([]catalogue.FieldError{{Path: "max_rate", Reason: "INVALID_RATE", Text: err.Error()}})
	}
	if product.Label.MaxRate == nil || a.MaxRate.Cmp(*product.Label.MaxRate) > 0 {
		return fault.New(fault.Refused, "RATE_ABOVE_LABEL", "%v is above the label of %s, which allows %v: approve that rate or less",
			*a.MaxRate, product.Name, labelRate(product))
	}
	return nil
}

func labelRate(product catalogue.Product) string {
	if product.Label.MaxRate == nil {
		return "no dilution"
	}
	return product.Label.MaxRate.String()
}
