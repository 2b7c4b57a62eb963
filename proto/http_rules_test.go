package proto_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Form of a path (API Improvement Proposals 127 and 136): one variable that holds a whole name, then a collection, a
// verb, or both.
var pathForm = regexp.MustCompile(`^/v1/\{([a-z_.]+)=([a-zA-Z*/]+)\}(?:/([a-zA-Z]+))?(?::([a-zA-Z]+))?$`)

// The parts of a name of which the caller chooses a value.
var namePart = regexp.MustCompile(`\{[a-z_]+\}`)

// httpBreaches says which methods have no plain HTTP form, or another one than their name asks for (API Improvement
// Proposals 131 to 136 and 233).
func httpBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	for _, method := range methods(file) {
		if want := wrongBinding(method); want != "" {
			breaches = append(breaches, fmt.Sprintf("%s: want %s", method.Name(), want))
		}
	}
	return breaches
}

// wrongBinding says what is wanted of the method's binding, or "".
func wrongBinding(method protoreflect.MethodDescriptor) string {
	rule := proto.GetExtension(method.Options(), annotations.E_Http).(*annotations.HttpRule)
	verb, path := httpPath(rule)
	parts := pathForm.FindStringSubmatch(path)
	if parts == nil {
		return fmt.Sprintf("a google.api.http binding with a path such as /v1/{name=businesses/*/sites/*}, not %q", path)
	}
	variable, name, collection, custom := parts[1], parts[2], parts[3], parts[4]
	if want := strings.Join(namesOf(method.Input(), variable), " or "); !slices.Contains(strings.Split(want, " or "), name) {
		return fmt.Sprintf("the variable of the path to be %s=%s, as the request's rule says", variable, want)
	}
	got := binding{verb, variable, collection != "", custom, rule.GetBody()}
	if want := wantedBindings(method, variable); !slices.Contains(want, got) {
		return fmt.Sprintf("one of %+v, not %+v", want, got)
	}
	return ""
}

// binding is how a method stands in HTTP: the verb of HTTP, the field in the path, whether a collection follows it,
// the verb of our own, and the field that the body holds.
type binding struct {
	verb, variable string
	collection     bool
	custom, body   string
}

// wantedBindings are those that fit the name of a method; a request whose noun is not one field has all of it in the body.
func wantedBindings(method protoreflect.MethodDescriptor, variable string) []binding {
	first, noun := splitVerb(string(method.Name()))
	field := strings.Join(words(noun), "_")
	switch {
	case first == "Get":
		return []binding{{verb: "GET", variable: "name"}}
	case first == "List":
		return []binding{{verb: "GET", variable: "parent", collection: true}}
	case first == "Create" && method.Input().Fields().ByName(protoreflect.Name(field)) != nil:
		return []binding{{verb: "POST", variable: "parent", collection: true, body: field}}
	case first == "Create":
		return []binding{{verb: "POST", variable: "parent", collection: true, body: "*"}}
	case first == "Update":
		return []binding{{verb: "PATCH", variable: field + ".name", body: field}}
	case first == "Delete":
		return []binding{{verb: "DELETE", variable: "name"}}
	}
	custom := customVerb(method, first)
	wanted := []binding{{"POST", variable, variable == "parent", custom, "*"}}
	if method.Input().Fields().ByName("request_id") == nil {
		wanted = append(wanted, binding{"GET", variable, variable == "parent", custom, ""})
	}
	return wanted
}

// customVerb is the verb of our own in the method's path when it begins as the method's name does, else that beginning.
func customVerb(method protoreflect.MethodDescriptor, first string) string {
	_, path := httpPath(proto.GetExtension(method.Options(), annotations.E_Http).(*annotations.HttpRule))
	parts := pathForm.FindStringSubmatch(path)
	if got := words(parts[4]); got[0] == strings.ToLower(first) {
		return parts[4]
	}
	return strings.ToLower(first)
}

// splitVerb parts a method's name after its first word.
func splitVerb(name string) (first, noun string) {
	end := 1 + strings.IndexFunc(name[1:], func(r rune) bool { return r >= 'A' && r <= 'Z' })
	if end == 0 {
		return name, ""
	}
	return name[:end], name[end:]
}

// httpPath is the verb of HTTP and the path of a rule.
func httpPath(rule *annotations.HttpRule) (verb, path string) {
	switch pattern := rule.GetPattern().(type) {
	case *annotations.HttpRule_Get:
		return "GET", pattern.Get
	case *annotations.HttpRule_Post:
		return "POST", pattern.Post
	case *annotations.HttpRule_Patch:
		return "PATCH", pattern.Patch
	case *annotations.HttpRule_Delete:
		return "DELETE", pattern.Delete
	}
	return "", ""
}

// namesOf are the forms of name that the rule of a field allows, with * for what the caller chooses.
func namesOf(message protoreflect.MessageDescriptor, path string) (forms []string) {
	field := message.Fields().ByName(protoreflect.Name(path))
	if outer, inner, ok := strings.Cut(path, "."); ok {
		if field = message.Fields().ByName(protoreflect.Name(outer)); field != nil {
			field = field.Message().Fields().ByName(protoreflect.Name(inner))
		}
	}
	if field == nil {
		return nil
	}
	for _, rule := range rulesOf(field).GetCel() {
		text := strings.TrimPrefix(rule.GetMessage(), "want a name of the form ")
		for form := range strings.SplitSeq(text, " or ") {
			forms = append(forms, namePart.ReplaceAllString(strings.TrimSpace(form), "*"))
		}
	}
	return forms
}
