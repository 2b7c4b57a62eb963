package rpc_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
	"vernation/server/internal/rpc"
)

// Codes by the meanings that google.rpc.Code gives them: ABORTED for a caller that should begin again with fresh
// state, FAILED_PRECONDITION for one that should not try again before the state is put right.
func TestStatus_TableIsTotalOverKinds(t *testing.T) {
	t.Parallel()
	want := map[fault.Kind]codes.Code{
		fault.Internal: codes.Internal, fault.Invalid: codes.InvalidArgument, fault.NotFound: codes.NotFound,
		fault.Exists: codes.AlreadyExists, fault.Stale: codes.Aborted, fault.Conflict: codes.Aborted,
		fault.Refused: codes.FailedPrecondition, fault.Anonymous: codes.Unauthenticated,
		fault.Forbidden: codes.PermissionDenied, fault.Spent: codes.ResourceExhausted, fault.Away: codes.Unavailable,
	}
	if len(want) != len(fault.Kinds) {
		t.Errorf("the test knows %d kinds, there are %d", len(want), len(fault.Kinds))
	}
	for _, kind := range fault.Kinds {
		told := rpc.Status(fault.New(kind, "SOME_REASON", "some sentence"), "id")
		if code, ok := want[kind]; !ok || told.Code() != code {
			t.Errorf("kind %d is %s, want %s", kind, told.Code(), code)
		}
		if kind == fault.Internal {
			continue
		}
		if told.Message() != "some sentence" {
			t.Errorf("kind %d says %q", kind, told.Message())
		}
		if info := detail[*errdetails.ErrorInfo](t, told.Err()); info.GetReason() != "SOME_REASON" || info.GetDomain() != "vernation" {
			t.Errorf("kind %d carries %v", kind, info)
		}
	}
}

func TestStatus_DetailsAreThoseOfTheKind(t *testing.T) {
	t.Parallel()
	subject := "businesses/demo/plans/p1"
	tests := []struct {
		name string
		in   *fault.Fault
		want proto.Message
	}{
		{"not found", &fault.Fault{Kind: fault.NotFound, Message: "gone", Subject: subject},
			&errdetails.ResourceInfo{ResourceType: "plans", ResourceName: subject, Description: "gone"}},
		{"refused by rules", &fault.Fault{Kind: fault.Refused, Subject: subject, Violations: []scheduler.Violation{
			{Rule: scheduler.RuleLabel, Item: "item-1", Site: "site-1", Text: "wait until 9 March"},
			{Rule: scheduler.RuleShift, Technician: "tech-a", Text: "end by 16:00"},
			{Rule: scheduler.RuleMix, Text: "make a second mix"}}},
			&errdetails.PreconditionFailure{Violations: []*errdetails.PreconditionFailure_Violation{
				{Type: "RULE_LABEL", Subject: "item-1", Description: "wait until 9 March"},
				{Type: "RULE_SHIFT", Subject: "tech-a", Description: "end by 16:00"},
				{Type: "RULE_MIX", Subject: subject, Description: "make a second mix"}}}},
		{"refused by a state", &fault.Fault{Kind: fault.Refused, Reason: "RUN_ENDED", Subject: subject, Message: "it has ended"},
			&errdetails.PreconditionFailure{Violations: []*errdetails.PreconditionFailure_Violation{
				{Type: "RUN_ENDED", Subject: subject, Description: "it has ended"}}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			details := rpc.Status(tt.in, "").Details()
			if len(details) != 2 || !proto.Equal(details[1].(proto.Message), tt.want) {
				t.Errorf("details %v, want ErrorInfo and %v", details, tt.want)
			}
		})
	}
	retry := detail[*errdetails.RetryInfo](t, rpc.Status(&fault.Fault{Kind: fault.Away, RetryAfter: 2 * time.Second}, "").Err())
	if retry.GetRetryDelay().AsDuration() != 2*time.Second {
		t.Errorf("retry after %v, want 2 s", retry.GetRetryDelay().AsDuration())
	}
}

// The contract names the rules as its enum does.
func TestStatus_RuleNamesAreTheContracts(t *testing.T) {
	t.Parallel()
	for _, rule := range scheduler.Rules {
		f := &fault.Fault{Kind: fault.Refused, Violations: []scheduler.Violation{{Rule: rule, Text: "x"}}}
		name := detail[*errdetails.PreconditionFailure](t, rpc.Status(f, "").Err()).GetViolations()[0].GetType()
		if _, ok := vernationv1.Rule_value[name]; !ok {
			t.Errorf("rule %s is told as %s, which the contract does not know", rule, name)
		}
	}
}

// 8 KiB is the least size of header lists that many gRPC clients take by default; base64 makes 4 bytes of 3.
func TestStatus_TellsNoMoreThanATrailerHolds(t *testing.T) {
	t.Parallel()
	invalid := &fault.Fault{Kind: fault.Invalid, Reason: "INVALID_FIELDS", Message: "some fields cannot be right"}
	refused := &fault.Fault{Kind: fault.Refused, Reason: "PLAN_BREAKS_RULES", Message: "the plan breaks rules"}
	for i := range 1000 {
		text := strings.Repeat("w", 10+i%200)
		invalid.Fields = append(invalid.Fields, catalogue.FieldError{Path: fmt.Sprintf("plants[%d].count", i), Reason: "X", Text: text})
		refused.Violations = append(refused.Violations, scheduler.Violation{Rule: scheduler.RuleShift, Item: scheduler.ItemID(fmt.Sprint(i)), Text: text})
	}
	for _, f := range []*fault.Fault{invalid, refused} {
		told := rpc.Status(f, "")
		if size := proto.Size(told.Proto()) * 4 / 3; size > 8<<10 {
			t.Errorf("kind %d: %d bytes as base64, want at most 8 KiB", f.Kind, size)
		}
	}
	fields := detail[*errdetails.BadRequest](t, rpc.Status(invalid, "").Err()).GetFieldViolations()
	last := fields[len(fields)-1].GetDescription()
	if want := fmt.Sprintf("%d more;", 1000-len(fields)+1); len(fields) < 10 || !strings.HasPrefix(last, want) {
		t.Errorf("%d fields told, the last says %q, want %q", len(fields), last, want)
	}
	if diff := cmp.Diff("plants[0].count", fields[0].GetField()); diff != "" {
		t.Error(diff)
	}
}
