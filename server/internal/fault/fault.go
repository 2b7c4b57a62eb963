// Package fault answers: what kind of failure is this, and what may the caller be told?
//
// One error type crosses the server; errors.As finds it however deep it is wrapped. Its
// Message is a sentence for people that says what is wrong, where, and what would be right;
// its Err is for the log and never leaves. The table from kinds to status codes stands in
// package rpc.
package fault

import (
	"errors"
	"fmt"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
)

// Kind is the kind of a failure; the table of status codes is total over it.
type Kind int

// The kinds.
const (
	Internal  Kind = iota // anything else: fixed text and an id outside, the cause in the log
	Invalid               // the request cannot be right
	NotFound              // what it names does not exist
	Exists                // what it makes exists already
	Stale                 // the version that it names is not the present one
	Conflict              // something else holds what it needs
	Refused               // a rule or a state forbids it
	Anonymous             // no credential, or none that counts
	Forbidden             // the credential has no right to this
	Spent                 // too many calls
	Away                  // a part of the server cannot be reached just now
)

// Kinds lists every kind, for tests of totality.
var Kinds = [...]Kind{Internal, Invalid, NotFound, Exists, Stale, Conflict, Refused, Anonymous, Forbidden, Spent, Away}

// Fault is a failure with what may be told of it.
type Fault struct {
	Kind    Kind
	Reason  string                 // stable, UPPER_SNAKE, documented in the contract
	Message string                 // a sentence for people
	Fields  []catalogue.FieldError // of an Invalid one
	// Subject is the resource name spoken of; Rules are the hard rules that refuse, Lift what would lift each.
	Subject    string
	Thing      string // the kind of thing that Subject is an id of, such as "site"; "" where Subject says it
	Violations []scheduler.Violation
	// Needs are the roles or rights, any of which would do, of a Forbidden one.
	Needs      []string
	RetryAfter time.Duration
	Err        error // cause, for the log
}

// Error writes kind, reason and message, then the cause.
func (f *Fault) Error() string {
	if f.Err != nil {
		return fmt.Sprintf("%s: %s: %v", f.Reason, f.Message, f.Err)
	}
	return fmt.Sprintf("%s: %s", f.Reason, f.Message)
}

// Unwrap returns the cause.
func (f *Fault) Unwrap() error { return f.Err }

// Of finds the Fault in an error; an error without one is Internal.
func Of(err error) *Fault {
	var f *Fault
	if errors.As(err, &f) {
		return f
	}
	return &Fault{Kind: Internal, Reason: "INTERNAL", Message: "internal error", Err: err}
}

// New makes a fault; args fill the message's verbs.
func New(kind Kind, reason, message string, args ...any) *Fault {
	return &Fault{Kind: kind, Reason: reason, Message: fmt.Sprintf(message, args...)}
}

// InvalidFields makes an Invalid fault of wrong fields; nil when there are none.
func InvalidFields(fields []catalogue.FieldError) error {
	if len(fields) == 0 {
		return nil
	}
	return &Fault{Kind: Invalid, Reason: "INVALID_FIELDS", Message: "some fields cannot be right: " + fields[0].Path + ": " + fields[0].Text, Fields: fields}
}

// Is says whether an error is a fault of a kind.
func Is(err error, kind Kind) bool {
	var f *Fault
	return errors.As(err, &f) && f.Kind == kind
}
