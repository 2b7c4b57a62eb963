package main

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

// newMessage makes a message of the contract's own generated type.
func newMessage(d protoreflect.MessageDescriptor) proto.Message {
	kind, err := protoregistry.GlobalTypes.FindMessageByName(d.FullName())
	if err != nil {
		panic(err) // every message of the contract is linked in
	}
	return kind.New().Interface()
}

// request puts together what a method is asked: the file first, then the flags. filled is the struct that kong filled.
func (m *method) request(r reader, filled reflect.Value) (proto.Message, error) {
	request := newMessage(m.descriptor.Input())
	if file := filled.FieldByName("Request").String(); file != "" {
		if err := readFile(file, request); err != nil {
			return nil, usage{fmt.Errorf("--request: %w", err)}
		}
	}
	var changed []string
	for i, f := range m.flags {
		texts := given(filled, i)
		if len(texts) == 0 && (f.silent || f.positional) && !m.set(request, f) {
			if name := r.who.expand(f.form, ""); name != "" {
				texts = []string{name}
			}
		}
		if len(texts) == 0 {
			continue
		}
		if f.last().IsList() {
			within(request, f).Clear(f.last())
		}
		for _, text := range texts {
			if err := r.set(within(request, f), f.last(), f.form, text); err != nil {
				return nil, usage{fmt.Errorf("%s: %w", label(f), err)}
			}
		}
		if len(f.path) > 1 && f.last().Name() != "name" && f.last().Name() != "etag" {
			changed = append(changed, string(f.last().Name()))
		}
	}
	m.mask(request, changed)
	return request, nil
}

// mask tells an update what was given as flags, where the caller named no mask.
func (m *method) mask(request proto.Message, changed []string) {
	reflected := request.ProtoReflect()
	field := reflected.Descriptor().Fields().ByName("update_mask")
	if field == nil || reflected.Has(field) || len(changed) == 0 {
		return
	}
	paths := field.Message().Fields().ByName("paths")
	for _, path := range changed {
		reflected.Mutable(field).Message().Mutable(paths).List().Append(protoreflect.ValueOfString(path))
	}
}

// set says whether a request holds the field of a flag already.
func (m *method) set(request proto.Message, f flag) bool {
	at := request.ProtoReflect()
	for _, field := range f.path[:len(f.path)-1] {
		at = at.Get(field).Message()
	}
	return at.Has(f.last())
}

// within is the message that holds the field of a flag.
func within(request proto.Message, f flag) protoreflect.Message {
	at := request.ProtoReflect()
	for _, field := range f.path[:len(f.path)-1] {
		at = at.Mutable(field).Message()
	}
	return at
}

// given are the texts of flag i; none when it was not given.
func given(filled reflect.Value, i int) []string {
	switch value := filled.FieldByName("F" + strconv.Itoa(i)); {
	case !value.IsValid():
		return nil
	default:
		switch v := value.Interface().(type) {
		case *string:
			if v != nil {
				return []string{*v}
			}
		case *bool:
			if v != nil {
				return []string{strconv.FormatBool(*v)}
			}
		case []string:
			return slices.Clone(v)
		}
	}
	return nil
}

// label is what a flag is called on the command line.
func label(f flag) string {
	if f.positional {
		return "<" + argumentOf(f.form) + ">"
	}
	return "--" + f.name
}
