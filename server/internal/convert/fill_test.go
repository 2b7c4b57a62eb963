package convert_test

import (
	"fmt"
	"regexp"
	"testing"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
)

// filler fills messages with values that all differ, in the form that each field's rule asks for.
type filler struct {
	t    *testing.T
	next int // of the values given so far
}

// fill sets every field of a message that comes in; what only the server knows stays unset. Lists get two items.
func (f *filler) fill(message protoreflect.Message) {
	fields := message.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		if outputOnly(field) {
			continue
		}
		if !field.IsList() {
			message.Set(field, f.value(field, message.NewField(field)))
			continue
		}
		list := message.Mutable(field).List()
		for range 2 {
			list.Append(f.value(field, list.NewElement()))
		}
	}
}

// outputOnly says whether the server alone writes a field.
func outputOnly(field protoreflect.FieldDescriptor) bool {
	behaviours, _ := proto.GetExtension(field.Options(), annotations.E_FieldBehavior).([]annotations.FieldBehavior)
	for _, behaviour := range behaviours {
		if behaviour == annotations.FieldBehavior_OUTPUT_ONLY || behaviour == annotations.FieldBehavior_IDENTIFIER {
			return true
		}
	}
	return false
}

func (f *filler) value(field protoreflect.FieldDescriptor, empty protoreflect.Value) protoreflect.Value {
	f.next++
	switch field.Kind() {
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(true)
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(int32(f.next))
	case protoreflect.Int64Kind:
		return protoreflect.ValueOfInt64(int64(f.next))
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(float64(f.next) + 0.5)
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(f.text(field))
	case protoreflect.EnumKind:
		values := field.Enum().Values()
		return protoreflect.ValueOfEnum(values.Get(1 + f.next%(values.Len()-1)).Number())
	case protoreflect.MessageKind:
		switch empty.Message().Interface().(type) {
		case *timestamppb.Timestamp:
			return protoreflect.ValueOfMessage((&timestamppb.Timestamp{Seconds: 1_700_000_000 + int64(f.next)}).ProtoReflect())
		case *durationpb.Duration:
			return protoreflect.ValueOfMessage((&durationpb.Duration{Seconds: int64(f.next)}).ProtoReflect())
		}
		f.fill(empty.Message())
		return empty
	}
	f.t.Fatalf("%s: the filler knows no value of kind %s", field.FullName(), field.Kind())
	return empty
}

var placeholder = regexp.MustCompile(`\{[a-z_]+\}`)

// text gives a text in the form that the field's rule, found by its id, asks for.
func (f *filler) text(field protoreflect.FieldDescriptor) string {
	id, message := form(field)
	switch id {
	case "ID_FORM":
		return fmt.Sprintf("id-%d", f.next)
	case "NAME_FORM":
		name := regexp.MustCompile(`businesses/\S+`).FindString(message)
		return placeholder.ReplaceAllStringFunc(name, func(part string) string {
			if part == "{business}" {
				return "alpha"
			}
			f.next++
			return fmt.Sprintf("id-%d", f.next)
		})
	case "ITEM_FORM":
		return fmt.Sprintf("case-%d/application/1/1", f.next)
	case "DATE_FORM":
		return fmt.Sprintf("2026-%02d-%02d", 1+f.next/28%12, 1+f.next%28)
	case "CLOCK_FORM":
		return fmt.Sprintf("%02d:%02d", f.next/60%40, f.next%60)
	case "VOLUME_FORM":
		return fmt.Sprintf("%d.25 US fl oz", f.next)
	case "MASS_FORM":
		return fmt.Sprintf("%d.25 lb", f.next)
	case "SURFACE_FORM":
		return fmt.Sprintf("%d.25 ft2", f.next)
	case "JURISDICTION_FORM":
		return fmt.Sprintf("US-%03d", f.next)
	case "TIME_ZONE_FORM":
		return "America/New_York"
	case "":
		return fmt.Sprintf("text %d", f.next)
	}
	f.t.Fatalf("%s: the filler knows no text of the form %s", field.FullName(), id)
	return ""
}

// form returns the id and message of the rule of a text, or of the texts of a list.
func form(field protoreflect.FieldDescriptor) (id, message string) {
	rules, _ := proto.GetExtension(field.Options(), validate.E_Field).(*validate.FieldRules)
	all := rules.GetCel()
	if field.IsList() {
		all = rules.GetRepeated().GetItems().GetCel()
	}
	for _, rule := range all {
		return rule.GetId(), rule.GetMessage()
	}
	return "", ""
}
