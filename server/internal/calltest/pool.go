package calltest

import (
	"maps"
	"regexp"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protopath"
	"google.golang.org/protobuf/reflect/protorange"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// mostHeard bounds what is kept of a kind.
const mostHeard = 60

// Pool is what answers have told so far. It is not safe for concurrent use.
type Pool struct {
	forms    []string            // of names, in the order of hearing: businesses/*/sites/*
	names    map[string][]string // by form
	texts    map[protoreflect.FullName][]string
	messages map[protoreflect.FullName][]proto.Message
}

// NewPool is one that has heard nothing.
func NewPool() *Pool {
	return &Pool{names: map[string][]string{}, texts: map[protoreflect.FullName][]string{}, messages: map[protoreflect.FullName][]proto.Message{}}
}

// Hear learns from an answer; nil is none.
func (p *Pool) Hear(answer proto.Message) {
	if answer == nil {
		return
	}
	// The walk has no error but that of the function given to it.
	_ = protorange.Range(answer.ProtoReflect(), func(at protopath.Values) error {
		switch value := at.Index(-1).Value.Interface().(type) {
		case string:
			p.HearName(value)
			if field := fieldOf(at.Path); field != nil && value != "" {
				p.texts[field.FullName()] = with(p.texts[field.FullName()], value)
			}
		case protoreflect.Message:
			kind := value.Descriptor().FullName()
			if len(p.messages[kind]) < mostHeard {
				p.messages[kind] = append(p.messages[kind], proto.Clone(value.Interface()))
			}
		}
		return nil
	})
}

// HearName learns a resource name; other texts are none.
func (p *Pool) HearName(name string) {
	if !strings.HasPrefix(name, businesses) {
		return
	}
	form := formOf(name)
	if _, known := p.names[form]; !known {
		p.forms = append(p.forms, form)
	}
	p.names[form] = with(p.names[form], name)
}

// Names are the heard names that have a form, such as ^businesses/[a-z]+$.
func (p *Pool) Names(form *regexp.Regexp) (names []string) {
	for _, heard := range p.forms {
		if form.MatchString(p.names[heard][0]) {
			names = append(names, p.names[heard]...)
		}
	}
	return names
}

const businesses = "businesses/"

// formOf leaves the ids out of a name.
func formOf(name string) string {
	parts := strings.Split(name, "/")
	for i := 1; i < len(parts); i += 2 {
		parts[i] = "*"
	}
	return strings.Join(parts, "/")
}

// with appends a value that is not there, while there is room.
func with(list []string, value string) []string {
	if len(list) >= mostHeard || slices.Contains(list, value) {
		return list
	}
	return append(list, value)
}

// fieldOf is the field in which a value stands, in a list or not.
func fieldOf(path protopath.Path) protoreflect.FieldDescriptor {
	for _, step := range slices.Backward(path) {
		if step.Kind() == protopath.FieldAccessStep {
			return step.FieldDescriptor()
		}
	}
	return nil
}

// Everything are all names that were heard.
func (p *Pool) Everything() (names []string) {
	for _, form := range p.forms {
		names = append(names, p.names[form]...)
	}
	return names
}

// Clone is a pool of its own that has heard the same.
func (p *Pool) Clone() *Pool {
	names := map[string][]string{}
	for form, heard := range p.names {
		names[form] = slices.Clone(heard)
	}
	return &Pool{forms: slices.Clone(p.forms), names: names, texts: maps.Clone(p.texts), messages: maps.Clone(p.messages)}
}
