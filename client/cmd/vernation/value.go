package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/goccy/go-yaml"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"
)

// reader reads values as people type them.
type reader struct {
	who  bearer
	zone *time.Location // of clock times without one; nil when none is known
}

// clockForms are those in which a clock time of the zone may be typed.
var clockForms = []string{"2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02T15:04:05"}

// set reads a text into a field; into a list it appends.
func (r reader) set(message protoreflect.Message, field protoreflect.FieldDescriptor, form, text string) error {
	value, err := r.value(message, field, form, text)
	if err != nil {
		return err
	}
	if field.IsList() {
		message.Mutable(field).List().Append(value)
	} else {
		message.Set(field, value)
	}
	return nil
}

func (r reader) value(in protoreflect.Message, field protoreflect.FieldDescriptor, form, text string) (protoreflect.Value, error) {
	switch field.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(r.who.expand(form, text)), nil
	case protoreflect.BoolKind:
		yes, err := strconv.ParseBool(text)
		if err != nil {
			return protoreflect.Value{}, fmt.Errorf("%q: want true or false", text)
		}
		return protoreflect.ValueOfBool(yes), nil
	case protoreflect.EnumKind:
		return enumValue(field.Enum(), text)
	case protoreflect.Int32Kind:
		n, err := strconv.ParseInt(text, 10, 32)
		return protoreflect.ValueOfInt32(int32(n)), numberError(text, err)
	case protoreflect.Int64Kind:
		n, err := strconv.ParseInt(text, 10, 64)
		return protoreflect.ValueOfInt64(n), numberError(text, err)
	case protoreflect.Uint64Kind:
		n, err := strconv.ParseUint(text, 10, 64)
		return protoreflect.ValueOfUint64(n), numberError(text, err)
	case protoreflect.DoubleKind:
		n, err := strconv.ParseFloat(text, 64)
		return protoreflect.ValueOfFloat64(n), numberError(text, err)
	case protoreflect.BytesKind:
		return protoreflect.ValueOfBytes([]byte(text)), nil
	case protoreflect.MessageKind:
		made := in.NewField(field)
		if field.IsList() {
			made = made.List().NewElement()
		}
		return made, r.message(made.Message(), text)
	}
	return protoreflect.Value{}, fmt.Errorf("a %s cannot be given as a flag: write it into a file and name that with --request", field.Kind())
}

func numberError(text string, err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, strconv.ErrRange) {
		return fmt.Errorf("%s is more than the field holds", text)
	}
	return fmt.Errorf("%q: want a number", text)
}

// enumValue reads a value as its word or as the contract has it.
func enumValue(enum protoreflect.EnumDescriptor, text string) (protoreflect.Value, error) {
	if value := enum.Values().ByName(protoreflect.Name(text)); value != nil {
		return protoreflect.ValueOfEnum(value.Number()), nil
	}
	for i := range enum.Values().Len() {
		if number := enum.Values().Get(i).Number(); enumWord(enum, number) == text {
			return protoreflect.ValueOfEnum(number), nil
		}
	}
	return protoreflect.Value{}, fmt.Errorf("%q: want one of %s", text, strings.Join(enumWords(enum), ", "))
}

// message reads an instant, a duration, a mask, or any other message: as JSON, as the file that stands behind @, or as
// field=value pairs between commas.
func (r reader) message(into protoreflect.Message, text string) error {
	switch into.Descriptor().FullName() {
	case "google.protobuf.Timestamp":
		at, err := r.instant(text)
		if err != nil {
			return err
		}
		proto.Merge(into.Interface(), timestamppb.New(at))
		return nil
	case "google.protobuf.Duration":
		long, err := time.ParseDuration(text)
		if err != nil {
			return fmt.Errorf("%q: want a duration such as 90m, 20s or 4h30m", text)
		}
		proto.Merge(into.Interface(), durationpb.New(long))
		return nil
	case "google.protobuf.FieldMask":
		proto.Merge(into.Interface(), &fieldmaskpb.FieldMask{Paths: strings.Split(strings.ReplaceAll(text, "-", "_"), ",")})
		return nil
	}
	if path, ok := strings.CutPrefix(text, "@"); ok {
		return readFile(path, into.Interface())
	}
	if strings.HasPrefix(text, "{") {
		return readText(text, into.Interface())
	}
	for _, pair := range strings.Split(text, ",") {
		name, value, ok := strings.Cut(pair, "=")
		field := into.Descriptor().Fields().ByName(protoreflect.Name(strings.ReplaceAll(name, "-", "_")))
		if !ok || field == nil {
			return fmt.Errorf("%q: want field=value pairs between commas, JSON, or @FILE; the fields are %s", pair, strings.Join(settable(into.Descriptor()), ", "))
		}
		if err := r.set(into, field, formOf(field), value); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}

// instant reads RFC 3339, or a clock time of the zone.
func (r reader) instant(text string) (time.Time, error) {
	if at, err := time.Parse(time.RFC3339, text); err == nil {
		return at, nil
	}
	for _, form := range clockForms {
		if _, err := time.Parse(form, text); err != nil {
			continue
		}
		if r.zone == nil {
			return time.Time{}, fmt.Errorf("%q is a clock time of no zone: name one with --zone, or write an instant such as 2026-03-02T17:00:00-05:00", text)
		}
		return time.ParseInLocation(form, text, r.zone)
	}
	return time.Time{}, fmt.Errorf("%q: want an instant such as 2026-03-02T17:00:00-05:00, or with --zone a clock time such as \"2026-03-02 17:00\"", text)
}

// settable are the fields of a message that a caller may set.
func settable(message protoreflect.MessageDescriptor) []string {
	var names []string
	for i := range message.Fields().Len() {
		names = append(names, kebab(string(message.Fields().Get(i).Name())))
	}
	slices.Sort(names)
	return names
}

// readFile reads a message from a file, or from what is piped in when its name is -.
func readFile(path string, into proto.Message) error {
	if path == "-" {
		path = "/dev/stdin"
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	if err := readText(string(text), into); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

// readText reads a message from JSON or YAML.
func readText(text string, into proto.Message) error {
	if !json.Valid([]byte(text)) {
		translated, err := yaml.YAMLToJSON([]byte(text))
		if err != nil {
			return fmt.Errorf("neither JSON nor YAML: %w", err)
		}
		text = string(translated)
	}
	if err := protojson.Unmarshal([]byte(text), into); err != nil {
		return fmt.Errorf("want a %s: %s", into.ProtoReflect().Descriptor().Name(), strings.ReplaceAll(err.Error(), "\u00a0", " "))
	}
	return nil
}
