package rpc

import (
	"fmt"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/protoadapt"
	"google.golang.org/protobuf/types/known/durationpb"

	"vernation/server/internal/fault"
)

// domain is that of every google.rpc.ErrorInfo of ours.
const domain = "vernation"

// Details travel in a trailer, of which many clients take 8 KiB in all, and base64 adds a third.
// What no longer fits is left out; the last detail then says how many there were.
const detailBytesMax = 4 << 10

// answer is what a kind of failure becomes on the wire.
type answer struct {
	code    codes.Code
	details func(*fault.Fault) []proto.Message
}

// answers is the one table, total over fault.Kinds, from kinds to codes and details. Internal tells nothing.
var answers = map[fault.Kind]answer{
	fault.Internal:  {codes.Internal, nothing},
	fault.Invalid:   {codes.InvalidArgument, badRequest},
	fault.NotFound:  {codes.NotFound, resource},
	fault.Exists:    {codes.AlreadyExists, resource},
	fault.Stale:     {codes.Aborted, nothing},
	fault.Conflict:  {codes.Aborted, nothing},
	fault.Refused:   {codes.FailedPrecondition, precondition},
	fault.Anonymous: {codes.Unauthenticated, nothing},
	fault.Forbidden: {codes.PermissionDenied, nothing},
	fault.Spent:     {codes.ResourceExhausted, retry},
	fault.Away:      {codes.Unavailable, retry},
}

// Status turns a failure into what its caller may be told: code, sentence and google.rpc details. An Internal
// one has a fixed text; incident finds its cause in the log.
func Status(f *fault.Fault, incident string) *status.Status {
	row, known := answers[f.Kind]
	if !known || f.Kind == fault.Internal {
		return status.Newf(codes.Internal, "internal error; its cause stands in the server's log under %s", incident)
	}
	details := []protoadapt.MessageV1{protoadapt.MessageV1Of(errorInfo(f))}
	for _, detail := range row.details(f) {
		details = append(details, protoadapt.MessageV1Of(detail))
	}
	plain := status.New(row.code, f.Message)
	full, err := plain.WithDetails(details...)
	if err != nil {
		return plain // a detail that cannot be marshalled: the sentence still says it
	}
	return full
}

// errorInfo carries the stable reason, what it speaks of and what right is lacking.
func errorInfo(f *fault.Fault) *errdetails.ErrorInfo {
	info := &errdetails.ErrorInfo{Reason: f.Reason, Domain: domain, Metadata: map[string]string{}}
	if f.Subject != "" {
		info.Metadata["subject"] = f.Subject
	}
	if len(f.Needs) > 0 {
		info.Metadata["needs"] = strings.Join(f.Needs, ",")
	}
	return info
}

func nothing(*fault.Fault) []proto.Message { return nil }

// badRequest lists the wrong fields with path, reason and sentence.
func badRequest(f *fault.Fault) []proto.Message {
	wrong := make([]*errdetails.BadRequest_FieldViolation, len(f.Fields))
	for i, field := range f.Fields {
		wrong[i] = &errdetails.BadRequest_FieldViolation{Field: field.Path, Reason: field.Reason, Description: field.Text}
	}
	told := fitting(wrong)
	if left := len(wrong) - len(told); left > 0 {
		told = append(told, &errdetails.BadRequest_FieldViolation{Reason: "MORE", Description: more(left)})
	}
	return []proto.Message{&errdetails.BadRequest{FieldViolations: told}}
}

// precondition lists the hard rules, or the state, that refuse, each with what would lift it.
func precondition(f *fault.Fault) []proto.Message {
	if len(f.Violations) == 0 {
		state := &errdetails.PreconditionFailure_Violation{Type: f.Reason, Subject: f.Subject, Description: f.Message}
		return []proto.Message{&errdetails.PreconditionFailure{Violations: []*errdetails.PreconditionFailure_Violation{state}}}
	}
	broken := make([]*errdetails.PreconditionFailure_Violation, len(f.Violations))
	for i, v := range f.Violations {
		subject := subjectOf(f.Subject, string(v.Item), string(v.Area), string(v.Site), string(v.Technician))
		broken[i] = &errdetails.PreconditionFailure_Violation{Type: "RULE_" + strings.ToUpper(string(v.Rule)), Subject: subject, Description: v.Text}
	}
	told := fitting(broken)
	if left := len(broken) - len(told); left > 0 {
		told = append(told, &errdetails.PreconditionFailure_Violation{Type: "MORE", Description: more(left)})
	}
	return []proto.Message{&errdetails.PreconditionFailure{Violations: told}}
}

// fitting returns as many details, from the first on, as the trailer has room for.
func fitting[T proto.Message](details []T) []T {
	room := detailBytesMax
	for i, detail := range details {
		if room -= proto.Size(detail) + 3; room < 0 { // 3: tag and length inside the list
			return details[:i:i]
		}
	}
	return details
}

// subjectOf returns the narrowest thing that a violation names, else what the whole failure speaks of.
func subjectOf(whole string, narrowestFirst ...string) string {
	for _, name := range narrowestFirst {
		if name != "" {
			return name
		}
	}
	return whole
}

func more(count int) string {
	return fmt.Sprintf("%d more; they come to light when these are put right", count)
}

// resource names what is missing or in the way.
func resource(f *fault.Fault) []proto.Message {
	kind := collectionOf(f.Subject)
	if f.Thing != "" {
		kind = typeOf(f.Thing)
	}
	return []proto.Message{&errdetails.ResourceInfo{ResourceType: kind, ResourceName: f.Subject, Description: f.Message}}
}

// typeOf writes a kind of thing as the contract's resource types are written: "plan run" is vernation/PlanRun.
func typeOf(thing string) string {
	name := domain + "/"
	for _, word := range strings.Fields(thing) {
		name += strings.ToUpper(word[:1]) + word[1:]
	}
	return name
}

// collectionOf returns the kind of thing that a resource name speaks of: "sites" of businesses/b/sites/s.
func collectionOf(name string) string {
	parts := strings.Split(name, "/")
	if len(parts) < 2 {
		return ""
	}
	return parts[len(parts)-2]
}

// retry says after how long another try has a chance.
func retry(f *fault.Fault) []proto.Message {
	if f.RetryAfter <= 0 {
		return nil
	}
	return []proto.Message{&errdetails.RetryInfo{RetryDelay: durationpb.New(f.RetryAfter)}}
}
