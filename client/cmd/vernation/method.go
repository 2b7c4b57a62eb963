package main

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	vernationv1 "vernation/proto/vernation/v1"
)

// flag is one thing of a request that a command asks for.
type flag struct {
	name       string
	path       []protoreflect.FieldDescriptor // from the request on
	form       string                         // of a name, such as businesses/{business}/sites/{site}; "" for anything else
	positional bool
	silent     bool // never asked for: it follows from the business
}

// last is the field itself.
func (f flag) last() protoreflect.FieldDescriptor { return f.path[len(f.path)-1] }

// method is a command that calls a method of the contract.
type method struct {
	descriptor protoreflect.MethodDescriptor
	noun, verb string
	flags      []flag
	target     reflect.Type // a struct of a field for each flag that is asked for, in their order
}

// own are the flags that every command has; a field of the same name takes the name of what it belongs to before its own.
var own = []string{"help", "config", "profile", "server", "token", "token-file", "business", "roots", "server-name", "plaintext",
	"zone", "output", "colour", "timeout", "request", "wait", "first", "dry-run"}

// newMethod makes the command of a method.
func newMethod(d protoreflect.MethodDescriptor) *method {
	service := strings.TrimSuffix(string(d.Parent().Name()), "Service")
	m := &method{descriptor: d, noun: kebab(service), verb: verbOf(string(d.Name()), service)}
	request := d.Input()
	for i := range request.Fields().Len() {
		field := request.Fields().Get(i)
		if field.Message() != nil && !field.IsList() && isResource(field.Message()) {
			m.addResource(field)
			continue
		}
		m.add(flag{path: []protoreflect.FieldDescriptor{field}, form: formOf(field)})
	}
	m.target = m.structure()
	return m
}

// verbOf is what a method does to the noun of its service: ListCases of cases is list, ApproveCourse is approve-course.
func verbOf(name, noun string) string {
	for _, verb := range []string{"BatchCreate", "Create", "Get", "List", "Update", "Delete"} {
		if rest, ok := strings.CutPrefix(name, verb); ok && (rest == noun || rest == plural(noun)) {
			return kebab(verb)
		}
	}
	for _, end := range []string{noun, plural(noun)} {
		if rest, ok := strings.CutSuffix(name, end); ok && rest != "" && len(strings.Split(kebab(rest), "-")) == 1 {
			return kebab(rest)
		}
	}
	return kebab(name)
}

func plural(noun string) string {
	if rest, ok := strings.CutSuffix(noun, "y"); ok && !strings.HasSuffix(noun, "ay") {
		return rest + "ies"
	}
	return noun + "s"
}

// addResource adds the fields that a caller may set of the resource that a request carries.
func (m *method) addResource(carried protoreflect.FieldDescriptor) {
	message := carried.Message()
	for i := range message.Fields().Len() {
		field := message.Fields().Get(i)
		path := []protoreflect.FieldDescriptor{carried, field}
		switch {
		case field.Name() == "name":
			if strings.HasPrefix(string(m.descriptor.Name()), "Update") {
				m.add(flag{path: path, form: patternOf(message)})
			}
		case !behaves(field, annotations.FieldBehavior_OUTPUT_ONLY) || field.Name() == "etag":
			m.add(flag{path: path, form: formOf(field)})
		}
	}
}

// add names a flag, and knows a name or parent for what the command is about.
func (m *method) add(f flag) {
	field := f.last()
	f.name = kebab(string(field.Name()))
	switch {
	case f.name == "validate-only":
		f.name = "dry-run"
	case slices.Contains(own, f.name) || slices.ContainsFunc(m.flags, func(g flag) bool { return g.name == f.name }):
		f.name = strings.TrimSuffix(kebab(string(field.ContainingMessage().Name())), "-request") + "-" + f.name
	}
	if (field.Name() == "name" || field.Name() == "parent") && f.form != "" {
		f.positional = strings.Count(f.form, "{") > 1
		f.silent = !f.positional
	}
	m.flags = append(m.flags, f)
}

// structure is what kong fills: texts and lists of them, so that a flag that was not given is told from an empty one.
func (m *method) structure() reflect.Type {
	var fields []reflect.StructField
	for i, f := range m.flags {
		if f.silent {
			continue
		}
		field := reflect.StructField{Name: fmt.Sprintf("F%d", i), Type: reflect.TypeFor[*string](), Tag: reflect.StructTag(fmt.Sprintf(`name:%q placeholder:%q`, f.name, placeholder(f)))}
		switch {
		case f.positional:
			field.Tag = reflect.StructTag(fmt.Sprintf(`arg:"" optional:"" name:%q`, argumentOf(f.form)))
		case f.last().IsList():
			field.Type, field.Tag = reflect.TypeFor[[]string](), field.Tag+` sep:"none"`
		case f.last().Kind() == protoreflect.BoolKind:
			field.Type, field.Tag = reflect.TypeFor[*bool](), reflect.StructTag(fmt.Sprintf(`name:%q negatable:""`, f.name))
		}
		fields = append(fields, field)
	}
	fields = append(fields, reflect.StructField{Name: "Request", Type: reflect.TypeFor[string](), Tag: `name:"request" placeholder:"FILE" help:"File of the whole request, as JSON or YAML in the words of the contract; - reads what is piped in. Flags come before it."`})
	if m.descriptor.Output().Name() == "PlanRun" {
		fields = append(fields, reflect.StructField{Name: "Wait", Type: reflect.TypeFor[bool](), Tag: `name:"wait" help:"Wait until the plan is made, show how far it is, and print it."`})
	}
	if m.descriptor.IsStreamingServer() {
		fields = append(fields, reflect.StructField{Name: "First", Type: reflect.TypeFor[int](), Tag: `name:"first" placeholder:"COUNT" help:"End after so many messages; unset means when it is interrupted."`})
	}
	return reflect.StructOf(fields)
}

// argumentOf is what a positional argument is called: site/area for the name of an area.
func argumentOf(form string) string {
	var ids []string
	for _, part := range strings.Split(form, "/") {
		if strings.HasPrefix(part, "{") && part != "{business}" {
			ids = append(ids, strings.Trim(part, "{}"))
		}
	}
	return kebab(strings.Join(ids, "/"))
}

// placeholder says what a flag wants.
func placeholder(f flag) string {
	field := f.last()
	switch {
	case f.form != "":
		return strings.ToUpper(argumentOf(f.form))
	case field.Message() != nil:
		return strings.ToUpper(kebab(string(field.Message().Name())))
	case field.Enum() != nil:
		return strings.ToUpper(kebab(string(field.Enum().Name())))
	case field.Kind() == protoreflect.StringKind:
		return "TEXT"
	case field.Kind() == protoreflect.BoolKind:
		return "BOOL"
	}
	return "NUMBER"
}

// formOf is the form of name that the contract asks of a field, or of the items of a list.
func formOf(field protoreflect.FieldDescriptor) string {
	rules := proto.GetExtension(field.Options(), validate.E_Field).(*validate.FieldRules)
	if field.IsList() {
		rules = rules.GetRepeated().GetItems()
	}
	for _, rule := range rules.GetCel() {
		if form, ok := strings.CutPrefix(rule.GetMessage(), "want a name of the form "); ok {
			return form
		}
	}
	return ""
}

// patternOf is the form of a resource's own name.
func patternOf(message protoreflect.MessageDescriptor) string {
	resource := proto.GetExtension(message.Options(), annotations.E_Resource).(*annotations.ResourceDescriptor)
	if len(resource.GetPattern()) == 0 {
		return ""
	}
	return resource.GetPattern()[0]
}

func isResource(message protoreflect.MessageDescriptor) bool { return patternOf(message) != "" }

// behaves says whether the contract gives a field a behaviour (AIP-203).
func behaves(field protoreflect.FieldDescriptor, behaviour annotations.FieldBehavior) bool {
	return slices.Contains(proto.GetExtension(field.Options(), annotations.E_FieldBehavior).([]annotations.FieldBehavior), behaviour)
}

// rolesOf are those that may call a method.
func rolesOf(d protoreflect.MethodDescriptor) []vernationv1.Role {
	return proto.GetExtension(d.Options(), vernationv1.E_RequiredRoles).([]vernationv1.Role)
}

// methodsOf are the commands of a role's group, by noun and verb.
func methodsOf(role vernationv1.Role) []*method {
	return slices.DeleteFunc(slices.Clone(allMethods()), func(m *method) bool { return !slices.Contains(rolesOf(m.descriptor), role) })
}

// allMethods are the commands of all methods.
var allMethods = sync.OnceValue(func() []*method {
	var all []*method
	for _, service := range services() {
		for i := range service.Methods().Len() {
			all = append(all, newMethod(service.Methods().Get(i)))
		}
	}
	slices.SortFunc(all, func(a, b *method) int { return strings.Compare(a.noun+" "+a.verb, b.noun+" "+b.verb) })
	return all
})
