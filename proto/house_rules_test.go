package proto_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"buf.build/go/protovalidate"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"

	vernationv1 "vernation/proto/vernation/v1"
)

// mostPageSize is the greatest page that any list gives.
const mostPageSize = 200

// reads begin the names of methods that change nothing.
var reads = []string{"Get", "List", "Compare", "Check", "Find", "Explain", "Watch", "Export"}

// foreignWords are words that the glossary leaves to others, then American spellings of words that it uses.
var foreignWords = []string{
	"job", "task", "ticket", "order", "appointment", "closure", "offer", "stop", "lock", "manager", "helper", "util", "utils",
	"license", "licenses", "licensed", "color", "center", "odor", "mold", "catalog", "fertilizing", "canceled", "gray", "organization", //nolint:misspell // what is looked for
}

func roleBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	for _, method := range methods(file) {
		roles := proto.GetExtension(method.Options(), vernationv1.E_RequiredRoles).([]vernationv1.Role)
		right := proto.GetExtension(method.Options(), vernationv1.E_ResponsibleApplicator).(bool)
		switch {
		case len(roles) == 0, slices.Contains(roles, vernationv1.Role_ROLE_UNSPECIFIED):
			breaches = append(breaches, fmt.Sprintf("%s: want required_roles", method.Name()))
		case len(slices.Compact(slices.Sorted(slices.Values(roles)))) != len(roles):
			breaches = append(breaches, fmt.Sprintf("%s: a role is there twice", method.Name()))
		case right && slices.Contains(roles, vernationv1.Role_ROLE_INTEGRATION):
			breaches = append(breaches, fmt.Sprintf("%s: a program cannot be the responsible applicator", method.Name()))
		}
	}
	return breaches
}

func boundBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	incoming(file, func(field protoreflect.FieldDescriptor) {
		rules := rulesOf(field)
		if field.IsList() {
			if rules.GetRepeated().GetMaxItems() == 0 {
				breaches = append(breaches, fmt.Sprintf("%s: want the most items", field.FullName()))
			}
			rules = rules.GetRepeated().GetItems()
		}
		if want := missingBound(field, rules); want != "" {
			breaches = append(breaches, fmt.Sprintf("%s: want %s", field.FullName(), want))
		}
	})
	return breaches
}

// missingBound says which bound a single value of the field lacks, or "".
func missingBound(field protoreflect.FieldDescriptor, rules *validate.FieldRules) string {
	bounded := true
	switch field.Kind() {
	case protoreflect.StringKind:
		bounded = rules.GetString().GetMaxLen() > 0
	case protoreflect.BytesKind:
		bounded = rules.GetBytes().GetMaxLen() > 0
	case protoreflect.EnumKind:
		bounded = rules.GetEnum().GetDefinedOnly()
	case protoreflect.Int32Kind:
		bounded = rules.GetInt32().HasGte() && rules.GetInt32().HasLte()
	case protoreflect.Int64Kind:
		bounded = rules.GetInt64().HasGte() && rules.GetInt64().HasLte()
	case protoreflect.Uint64Kind:
		bounded = rules.GetUint64().HasLte()
	case protoreflect.DoubleKind:
		bounded = rules.GetDouble().HasGte() && rules.GetDouble().HasLte() && rules.GetDouble().GetFinite()
	case protoreflect.MessageKind:
		if field.Message().FullName() == "google.protobuf.Duration" {
			bounded = rules.GetDuration().HasGte() && rules.GetDuration().HasLte()
		}
	case protoreflect.BoolKind:
	default:
		return "a kind of field for which the contract has a rule, not " + field.Kind().String()
	}
	if bounded {
		return ""
	}
	return "a lower and an upper bound of its " + field.Kind().String()
}

func presenceBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	incoming(file, func(field protoreflect.FieldDescriptor) {
		required := behaves(field, annotations.FieldBehavior_REQUIRED)
		optional := behaves(field, annotations.FieldBehavior_OPTIONAL)
		identifier := behaves(field, annotations.FieldBehavior_IDENTIFIER)
		if !required && !optional && !identifier {
			breaches = append(breaches, fmt.Sprintf("%s: want REQUIRED, OPTIONAL, IDENTIFIER or OUTPUT_ONLY", field.FullName()))
		}
	})
	return breaches
}

// requiredBreaches checks an empty message of each incoming kind: every required field in which 0 is no value must be
// named by the validation.
func requiredBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	empty := map[protoreflect.FullName][]string{}
	incoming(file, func(field protoreflect.FieldDescriptor) {
		message := field.ContainingMessage()
		if _, ok := empty[message.FullName()]; !ok {
			empty[message.FullName()] = refused(dynamicpb.NewMessage(message))
		}
		countable := !field.IsList() && (field.Kind() == protoreflect.DoubleKind || field.Kind() == protoreflect.BoolKind)
		if !countable && behaves(field, annotations.FieldBehavior_REQUIRED) && !slices.Contains(empty[message.FullName()], string(field.Name())) {
			breaches = append(breaches, fmt.Sprintf("%s: required, yet a message without it passes", field.FullName()))
		}
		if behaves(field, annotations.FieldBehavior_OPTIONAL) && slices.Contains(empty[message.FullName()], string(field.Name())) {
			breaches = append(breaches, fmt.Sprintf("%s: optional, yet a message without it is refused", field.FullName()))
		}
	})
	return breaches
}

// refused returns the paths of the fields that validation refuses.
func refused(message proto.Message) []string {
	var paths []string
	var invalid *protovalidate.ValidationError
	if err := protovalidate.Validate(message); err != nil && !errors.As(err, &invalid) {
		panic(fmt.Sprintf("the rules of %s do not compile: %v", message.ProtoReflect().Descriptor().FullName(), err))
	}
	if invalid != nil {
		for _, violation := range invalid.Violations {
			paths = append(paths, protovalidate.FieldPathString(violation.Proto.GetField()))
		}
	}
	return paths
}

func nameBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	for _, method := range methods(file) {
		first := method.Input().Fields().ByNumber(1)
		if resource := updated(method); resource != nil {
			breaches = append(breaches, resourceNameBreaches(method, resource)...)
			continue
		}
		if first == nil || first.Name() != "name" && first.Name() != "parent" {
			breaches = append(breaches, fmt.Sprintf("%s: field 1 is neither name nor parent", method.Input().Name()))
			continue
		}
		for _, text := range foreignNames {
			request := dynamicpb.NewMessage(method.Input())
			request.Set(first, protoreflect.ValueOfString(text))
			if !slices.Contains(refused(request), string(first.Name())) {
				breaches = append(breaches, fmt.Sprintf("%s: %s takes %q", method.Input().Name(), first.Name(), text))
			}
		}
	}
	return breaches
}

// foreignNames are no names of anything that a method takes.
var foreignNames = []string{"nonsense", "businesses/", "businesses/a/nonsense/b", "/businesses/a", "businesses/A"}

// updated returns the field of the resource that a method changes (AIP-134); nil for any other method.
func updated(method protoreflect.MethodDescriptor) protoreflect.FieldDescriptor {
	resource := method.Input().Fields().ByNumber(1)
	if !strings.HasPrefix(string(method.Name()), "Update") || resource == nil || resource.Message() == nil {
		return nil
	}
	return resource
}

// resourceNameBreaches says where the resource of an update may come without a right name.
func resourceNameBreaches(method protoreflect.MethodDescriptor, resource protoreflect.FieldDescriptor) []string {
	var breaches []string
	name := resource.Message().Fields().ByName("name")
	if name == nil || method.Input().Fields().ByName("update_mask") == nil {
		return []string{fmt.Sprintf("%s: want a resource with a name, and an update_mask", method.Input().Name())}
	}
	with := func(text string) []string {
		request := dynamicpb.NewMessage(method.Input())
		request.Mutable(resource).Message().Set(name, protoreflect.ValueOfString(text))
		return refused(request)
	}
	for _, text := range foreignNames {
		if !slices.Contains(with(text), string(resource.Name())+".name") {
			breaches = append(breaches, fmt.Sprintf("%s: its resource's name takes %q", method.Input().Name(), text))
		}
	}
	if !slices.Contains(with(""), string(resource.Name())) {
		breaches = append(breaches, fmt.Sprintf("%s: takes a resource without a name", method.Input().Name()))
	}
	return breaches
}

func pageBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	for _, method := range methods(file) {
		if !strings.HasPrefix(string(method.Name()), "List") {
			continue
		}
		size := method.Input().Fields().ByName("page_size")
		token := method.Input().Fields().ByName("page_token")
		next := method.Output().Fields().ByName("next_page_token")
		if size == nil || token == nil || next == nil {
			breaches = append(breaches, fmt.Sprintf("%s: want page_size, page_token and next_page_token", method.Name()))
			continue
		}
		if most := rulesOf(size).GetInt32().GetLte(); most < 1 || most > mostPageSize {
			breaches = append(breaches, fmt.Sprintf("%s: a page of %d, want at most %d", method.Name(), most, mostPageSize))
		}
	}
	return breaches
}

func requestIDBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	for _, method := range methods(file) {
		if slices.ContainsFunc(reads, func(verb string) bool { return strings.HasPrefix(string(method.Name()), verb) }) {
			continue
		}
		id := method.Input().Fields().ByName("request_id")
		if id == nil || !behaves(id, annotations.FieldBehavior_REQUIRED) {
			breaches = append(breaches, fmt.Sprintf("%s: want a required request_id", method.Name()))
		}
	}
	return breaches
}

func enumBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	for i := range file.Enums().Len() {
		zero := file.Enums().Get(i).Values().ByNumber(0)
		if zero == nil || !strings.HasSuffix(string(zero.Name()), "_UNSPECIFIED") {
			breaches = append(breaches, fmt.Sprintf("%s: value 0 does not end in _UNSPECIFIED", file.Enums().Get(i).Name()))
		}
	}
	return breaches
}

func wordBreaches(file protoreflect.FileDescriptor) []string {
	var names []protoreflect.Name
	for _, method := range methods(file) {
		names = append(names, method.Name(), method.Parent().Name())
	}
	for _, message := range messages(file) {
		names = append(names, message.Name())
		for i := range message.Fields().Len() {
			names = append(names, message.Fields().Get(i).Name())
		}
	}
	for i := range file.Enums().Len() {
		values := file.Enums().Get(i).Values()
		names = append(names, file.Enums().Get(i).Name())
		for k := range values.Len() {
			names = append(names, values.Get(k).Name())
		}
	}
	var breaches []string
	for _, name := range names {
		if name == "order_by" { // so the API Improvement Proposals call it
			continue
		}
		if name == "id" || slices.ContainsFunc(words(string(name)), func(word string) bool { return slices.Contains(foreignWords, word) }) {
			breaches = append(breaches, fmt.Sprintf("%s: not a word of the glossary", name))
		}
	}
	return breaches
}

// words splits CamelCase and snake_case into lower-case words.
func words(name string) []string {
	var spaced strings.Builder
	for i, r := range name {
		if i > 0 && r >= 'A' && r <= 'Z' && name[i-1] >= 'a' && name[i-1] <= 'z' {
			spaced.WriteByte('_')
		}
		spaced.WriteRune(r)
	}
	return strings.Split(strings.ToLower(spaced.String()), "_")
}

func moneyBreaches(file protoreflect.FileDescriptor) []string {
	var breaches []string
	for _, message := range messages(file) {
		for i := range message.Fields().Len() {
			field := message.Fields().Get(i)
			counted := field.Name() == "organisms" // in numbers past an int32, and no money
			if !counted && slices.Contains(words(string(field.Name())), "minor") != (field.Kind() == protoreflect.Int64Kind) {
				breaches = append(breaches, fmt.Sprintf("%s: money is an int64 of minor units and says so in its name", field.FullName()))
			}
		}
	}
	return breaches
}
