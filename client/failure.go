package client

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// FieldError is one thing that is wrong with a request.
type FieldError struct {
	Path    string // of the field, such as site.areas[2].hours
	Reason  string // stable, such as NAME_FORM; the contract lists them
	Message string // what is wrong and what would be right, for people
}

// Error is the path and the sentence.
func (e FieldError) Error() string { return e.Path + ": " + e.Message }

// FieldErrors are what an INVALID_ARGUMENT failure says of the request's fields; nil for any other error.
func FieldErrors(err error) []FieldError {
	var all []FieldError
	for _, bad := range detailsOf[*errdetails.BadRequest](err) {
		for _, v := range bad.GetFieldViolations() {
			all = append(all, FieldError{Path: v.GetField(), Reason: v.GetReason(), Message: v.GetDescription()})
		}
	}
	return all
}

// Refusal is one thing that forbids what was asked for.
type Refusal struct {
	Rule    string // RULE_LABEL and its like where one of the eight hard rules forbids it, else the reason
	Subject string // what it is about, such as the id of a work item
	Text    string // which rule, where, and what would lift it, for people
}

// Refusals are what a FAILED_PRECONDITION failure names; nil for any other error.
func Refusals(err error) []Refusal {
	var all []Refusal
	for _, failed := range detailsOf[*errdetails.PreconditionFailure](err) {
		for _, v := range failed.GetViolations() {
			all = append(all, Refusal{Rule: v.GetType(), Subject: v.GetSubject(), Text: v.GetDescription()})
		}
	}
	return all
}

// Reason is the stable reason of a failure as the contract lists it, such as ETAG_STALE; "" when the error is none of
// the server's.
func Reason(err error) string {
	for _, info := range detailsOf[*errdetails.ErrorInfo](err) {
		return info.GetReason()
	}
	return ""
}

// staleReasons are those of an ABORTED call that would be done once what it was made from is read again.
var staleReasons = []string{"ETAG_STALE", "CASE_MOVED", "COURSE_MOVED", "PLAN_HEAD_MOVED", "OPENING_STALE", "CASES_KEEP_MOVING"}

// IsStale says whether a call failed because what it was made from has changed: read it again, decide again, send it
// anew.
func IsStale(err error) bool {
	return status.Code(err) == codes.Aborted && slices.Contains(staleReasons, Reason(err))
}

// IsNotFound says whether a call failed because something that it names does not exist.
func IsNotFound(err error) bool { return status.Code(err) == codes.NotFound }

// IsRefused says whether a rule or a state forbids what was asked for; Refusals names them.
func IsRefused(err error) bool { return status.Code(err) == codes.FailedPrecondition }

// RetryAfter is how long the server asks to wait before the next call; false when it does not say.
func RetryAfter(err error) (time.Duration, bool) {
	for _, info := range detailsOf[*errdetails.RetryInfo](err) {
		return info.GetRetryDelay().AsDuration(), true
	}
	return 0, false
}

// Sentence says a failure for people: the server's own sentence, without code and reason, and each field that is wrong
// with what would be right. It is the error's own text when it is none of the server's.
func Sentence(err error) string {
	failure, ok := status.FromError(err)
	if !ok {
		return err.Error()
	}
	fields := FieldErrors(err)
	if len(fields) == 0 {
		return failure.Message()
	}
	parts := make([]string, len(fields))
	for i, field := range fields {
		parts[i] = field.Error()
	}
	return strings.Join(parts, "; ")
}

// detailsOf are the details of one kind that a failure carries.
func detailsOf[D any](err error) (found []D) {
	if err == nil {
		return nil
	}
	failure, ok := status.FromError(err)
	if !ok {
		return nil
	}
	for _, detail := range failure.Details() {
		if d, ok := detail.(D); ok {
			found = append(found, d)
		}
	}
	return found
}

// wrapped says what was being done; the failure stays to be found beneath.
func wrapped(doing string, err error) error { return fmt.Errorf("%s: %w", doing, err) }
