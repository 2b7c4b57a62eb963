package rpc

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
	"vernation/server/internal/listing"
)

// admissible holds a request to the contract. Of a resource to be changed only its name counts, for what the mask leaves
// out need not be told: its handler validates the whole when the changes are laid over what stands.
func (f *frame) admissible(request proto.Message) error {
	err := f.validate(request)
	resource := resourceOf(request)
	if err == nil || resource == nil {
		return err
	}
	within := string(resource.Name()) + "."
	return fault.InvalidFields(slices.DeleteFunc(slices.Clone(fault.Of(err).Fields), func(field catalogue.FieldError) bool {
		return strings.HasPrefix(field.Path, within) && field.Path != within+listing.NameField
	}))
}

// validate holds a request to the bounds that the contract declares: all breaches at once, as one Invalid
// fault. "Now" in a rule is the firm's.
func (f *frame) validate(request proto.Message) error {
	now := protovalidate.WithNowFunc(func() *timestamppb.Timestamp { return timestamppb.New(f.clock.Now().Time()) })
	err := f.validator.Validate(request, now)
	var invalid *protovalidate.ValidationError
	if err == nil {
		return nil
	}
	if !errors.As(err, &invalid) {
		return fmt.Errorf("validate %s: %w", request.ProtoReflect().Descriptor().FullName(), err)
	}
	fields := make([]catalogue.FieldError, len(invalid.Violations))
	for i, violation := range invalid.Violations {
		fields[i] = catalogue.FieldError{
			Path:   protovalidate.FieldPathString(violation.Proto.GetField()),
			Reason: reasonOf(violation.Proto.GetRuleId()),
			Text:   sentenceOf(violation),
		}
	}
	return fault.InvalidFields(fields)
}

// sentenceOf says what is wrong and what would be right; the library's own words for some rules name its mechanics.
func sentenceOf(violation *protovalidate.Violation) string {
	field := violation.FieldDescriptor
	switch rule := violation.Proto.GetRuleId(); {
	case strings.HasPrefix(rule, "enum.") && field != nil && field.Enum() != nil:
		return "want one of " + choices(field.Enum())
	case rule == "string.min_len" || rule == "required":
		return "it is missing: want a value"
	case rule == "repeated.min_items":
		return "it is empty: want at least one"
	}
	return violation.Proto.GetMessage()
}

// choices lists the values that an enum offers: all but the one that means unset.
func choices(enum protoreflect.EnumDescriptor) string {
	var names []string
	for i := range enum.Values().Len() {
		if value := enum.Values().Get(i); value.Number() != 0 {
			names = append(names, string(value.Name()))
		}
	}
	return strings.Join(names, ", ")
}

// reasonOf writes the id of a rule as our reasons are written: string.max_len is STRING_MAX_LEN.
func reasonOf(rule string) string {
	return strings.ToUpper(strings.NewReplacer(".", "_", "-", "_").Replace(rule))
}
