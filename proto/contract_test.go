// Package proto_test holds the house rules of the contract: it walks the compiled descriptors and the comments of the
// .proto files, and shows for every rule that the smallest breach is caught.
package proto_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"buf.build/go/protovalidate"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"

	vernationv1 "vernation/proto/vernation/v1"
)

// houseRule is one rule that a file of the contract keeps.
type houseRule struct {
	name string
	// breaches says where the file breaks the rule; empty when it keeps it.
	breaches func(protoreflect.FileDescriptor) []string
	// The smallest breach: plant changes a copy of the file at path so that breaches must speak.
	path  string
	plant func(*descriptorpb.FileDescriptorProto)
}

var houseRules = []houseRule{
	{"every method names its roles", roleBreaches, "vernation/v1/site_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		proto.ClearExtension(f.Service[0].Method[0].Options, vernationv1.E_RequiredRoles)
	}},
	{"only people have the right of the responsible applicator", roleBreaches, "vernation/v1/record_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		proto.SetExtension(f.Service[0].Method[0].Options, vernationv1.E_ResponsibleApplicator, true)
	}},
	{"every text, list, number and duration that comes in is bounded", boundBreaches, "vernation/v1/site_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		proto.ClearExtension(field(f, "ListSitesRequest", "page_token").Options, validate.E_Field)
	}},
	{"every field that comes in states its presence", presenceBreaches, "vernation/v1/plan_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		proto.ClearExtension(field(f, "BookFollowUpRequest", "rate").Options, annotations.E_FieldBehavior)
	}},
	{"what is required is refused when it is missing", requiredBreaches, "vernation/v1/plan_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		proto.ClearExtension(field(f, "BookFollowUpRequest", "begins").Options, validate.E_Field)
	}},
	{"every request begins with a name of the business's", nameBreaches, "vernation/v1/case_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		rules := proto.GetExtension(field(f, "GetCaseRequest", "name").Options, validate.E_Field).(*validate.FieldRules)
		rules.Cel = nil
	}},
	{"every update says what it changes", nameBreaches, "vernation/v1/site_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		rules := proto.GetExtension(field(f, "UpdateSiteRequest", "site").Options, validate.E_Field).(*validate.FieldRules)
		rules.Cel = nil
	}},
	{"every list has pages of a stated maximum", pageBreaches, "vernation/v1/plant_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		rules := proto.GetExtension(field(f, "ListPlantsRequest", "page_size").Options, validate.E_Field).(*validate.FieldRules)
		rules.GetInt32().LessThan = &validate.Int32Rules_Lte{Lte: 100_000}
	}},
	{"every list says where it goes on", pageBreaches, "vernation/v1/plant_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		field(f, "ListPlantsResponse", "next_page_token").Name = proto.String("more")
	}},
	{"every write carries a request id", requestIDBreaches, "vernation/v1/report_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		field(f, "CreateReportRequest", "request_id").Name = proto.String("token")
	}},
	{"every method has a plain HTTP form", httpBreaches, "vernation/v1/record_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		proto.ClearExtension(f.Service[0].Method[0].Options, annotations.E_Http)
	}},
	{"the HTTP form names what the request names", httpBreaches, "vernation/v1/site_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		bound(f, "GetSite").Pattern = &annotations.HttpRule_Get{Get: "/v1/{name=businesses/*/places/*}"}
	}},
	{"what writes is no GET", httpBreaches, "vernation/v1/plan_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		bound(f, "PublishPlan").Pattern = &annotations.HttpRule_Get{Get: "/v1/{name=businesses/*/plans/*}:publish"}
	}},
	{"a verb in a path is that of the method", httpBreaches, "vernation/v1/plan_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		bound(f, "PublishPlan").Pattern = &annotations.HttpRule_Post{Post: "/v1/{name=businesses/*/plans/*}:issue"}
	}},
	{"the first value of an enum is unspecified", enumBreaches, "vernation/v1/rule.proto", func(f *descriptorpb.FileDescriptorProto) {
		f.EnumType[0].Value[0].Name = proto.String("RULE_NONE")
	}},
	{"no field is called id alone", wordBreaches, "vernation/v1/site_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		field(f, "CreateSiteRequest", "site_id").Name = proto.String("id")
	}},
	{"names keep to the glossary", wordBreaches, "vernation/v1/plan_service.proto", func(f *descriptorpb.FileDescriptorProto) {
		f.Service[0].Method[0].Name = proto.String("CreateJob")
	}},
	{"names are spelt the British way", wordBreaches, "vernation/v1/technician.proto", func(f *descriptorpb.FileDescriptorProto) {
		field(f, "Technician", "licences").Name = proto.String("licenses")
	}},
	{"money is whole minor units", moneyBreaches, "vernation/v1/course.proto", func(f *descriptorpb.FileDescriptorProto) {
		field(f, "Comparison", "course_minor").Type = descriptorpb.FieldDescriptorProto_TYPE_DOUBLE.Enum()
	}},
}

func TestContract_KeepsTheHouseRules(t *testing.T) {
	t.Parallel()
	for _, rule := range houseRules {
		t.Run(rule.name, func(t *testing.T) {
			t.Parallel()
			for _, file := range contractFiles() {
				for _, breach := range rule.breaches(file) {
					t.Errorf("%s: %s", file.Path(), breach)
				}
			}
		})
	}
}

func TestContract_EveryHouseRuleCatchesItsSmallestBreach(t *testing.T) {
	t.Parallel()
	for _, rule := range houseRules {
		t.Run(rule.name, func(t *testing.T) {
			t.Parallel()
			file, err := protoregistry.GlobalFiles.FindFileByPath(rule.path)
			if err != nil {
				t.Fatal(err)
			}
			planted := proto.Clone(protodesc.ToFileDescriptorProto(file)).(*descriptorpb.FileDescriptorProto)
			rule.plant(planted)
			broken, err := protodesc.NewFile(planted, protoregistry.GlobalFiles)
			if err != nil {
				t.Fatal(err)
			}
			if len(rule.breaches(broken)) == 0 {
				t.Error("the planted breach is not caught")
			}
		})
	}
}

// The eight hard rules of a plan, in the order in which they are shown.
var eightRules = []string{"SHIFT", "ACCESS", "LICENCE", "TIMING", "LABEL", "REENTRY", "MIX", "PINNED"}

func TestContract_HasTheEightRules(t *testing.T) {
	t.Parallel()
	values := vernationv1.Rule(0).Descriptor().Values()
	if values.Len() != len(eightRules)+1 {
		t.Fatalf("enum Rule has %d values, want %d and the unspecified one", values.Len(), len(eightRules))
	}
	for i, rule := range eightRules {
		if got := values.ByNumber(protoreflect.EnumNumber(i + 1)).Name(); string(got) != "RULE_"+rule {
			t.Errorf("rule %d is %s, want RULE_%s", i+1, got, rule)
		}
	}
}

func TestContract_EveryRuleOfAFieldCompiles(t *testing.T) {
	t.Parallel()
	var all []protoreflect.MessageDescriptor
	for _, file := range contractFiles() {
		all = append(all, messages(file)...)
	}
	if _, err := protovalidate.New(protovalidate.WithMessageDescriptors(all...), protovalidate.WithDisableLazy()); err != nil {
		t.Error(err)
	}
}

// contractFiles returns the compiled files of the contract by path.
func contractFiles() []protoreflect.FileDescriptor {
	var files []protoreflect.FileDescriptor
	protoregistry.GlobalFiles.RangeFilesByPackage("vernation.v1", func(file protoreflect.FileDescriptor) bool {
		files = append(files, file)
		return true
	})
	slices.SortFunc(files, func(a, b protoreflect.FileDescriptor) int { return strings.Compare(a.Path(), b.Path()) })
	return files
}

// methods returns the methods of all services of a file.
func methods(file protoreflect.FileDescriptor) []protoreflect.MethodDescriptor {
	var all []protoreflect.MethodDescriptor
	for i := range file.Services().Len() {
		service := file.Services().Get(i)
		for k := range service.Methods().Len() {
			all = append(all, service.Methods().Get(k))
		}
	}
	return all
}

// messages returns the messages of a file; the contract nests none.
func messages(file protoreflect.FileDescriptor) []protoreflect.MessageDescriptor {
	var all []protoreflect.MessageDescriptor
	for i := range file.Messages().Len() {
		all = append(all, file.Messages().Get(i))
	}
	return all
}

// incoming calls visit for every field that a caller of the file's methods can fill, once each. Output only fields
// and what lies behind them are ignored by the server and left out.
func incoming(file protoreflect.FileDescriptor, visit func(protoreflect.FieldDescriptor)) {
	seen := map[protoreflect.FullName]bool{}
	var walk func(protoreflect.MessageDescriptor)
	walk = func(message protoreflect.MessageDescriptor) {
		if seen[message.FullName()] || message.ParentFile().Package() != "vernation.v1" {
			return
		}
		seen[message.FullName()] = true
		for i := range message.Fields().Len() {
			field := message.Fields().Get(i)
			if behaves(field, annotations.FieldBehavior_OUTPUT_ONLY) {
				continue
			}
			visit(field)
			if field.Message() != nil {
				walk(field.Message())
			}
		}
	}
	for _, method := range methods(file) {
		walk(method.Input())
	}
}

// behaves says whether a field carries a field behaviour.
func behaves(field protoreflect.FieldDescriptor, behaviour annotations.FieldBehavior) bool {
	return slices.Contains(proto.GetExtension(field.Options(), annotations.E_FieldBehavior).([]annotations.FieldBehavior), behaviour)
}

// rulesOf returns the validation rules of a field; without any the getters give zero values.
func rulesOf(field protoreflect.FieldDescriptor) *validate.FieldRules {
	return proto.GetExtension(field.Options(), validate.E_Field).(*validate.FieldRules)
}

// bound finds the HTTP binding of a method of a file in the making. It panics when there is none: the planted breach is
// then out of date.
func bound(file *descriptorpb.FileDescriptorProto, name string) *annotations.HttpRule {
	for _, method := range file.Service[0].Method {
		if method.GetName() == name {
			return proto.GetExtension(method.Options, annotations.E_Http).(*annotations.HttpRule)
		}
	}
	panic(fmt.Sprintf("%s has no method %s", file.GetName(), name))
}

// field finds a field of a file in the making. It panics when there is none: the planted breach is then out of date.
func field(file *descriptorpb.FileDescriptorProto, message, name string) *descriptorpb.FieldDescriptorProto {
	for _, m := range file.MessageType {
		for _, f := range m.Field {
			if m.GetName() == message && f.GetName() == name {
				return f
			}
		}
	}
	panic(fmt.Sprintf("%s has no %s.%s", file.GetName(), message, name))
}
