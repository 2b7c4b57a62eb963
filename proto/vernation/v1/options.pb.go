// The roles that a caller may have, and what every method has in common.
//
// Every call carries a token in the metadata entry `authorization: Bearer TOKEN`. The token names one
// business, a subject and a role; the business in every resource name of the request must be the token's. A program
// may carry the credential of an integration key in its place.
//
// A call lasts until its own deadline, two minutes at most; then it fails with DEADLINE_EXCEEDED and what it did is undone,
// or, when its answer was on the way already, stands: the same request id tells.
//
// Beside the reasons in its own comment any method may fail with these. A reason is stable and travels in
// google.rpc.ErrorInfo with the domain `vernation`; INVALID_ARGUMENT also carries google.rpc.BadRequest with
// field paths, and FAILED_PRECONDITION carries google.rpc.PreconditionFailure, whose type is the rule's name
// (`RULE_LABEL`) where one of the eight hard rules refused.
// - INVALID_ARGUMENT INVALID_FIELDS: fields are wrong; the violations list all of them, each with its path and a
//   reason of its own: a bound of the contract such as NAME_FORM, VOLUME_FORM or STRING_MAX_LEN, or one that the
//   method lists under INVALID_ARGUMENT. MISSING, DUPLICATE, OUT_OF_RANGE and CONTRADICTION are said of any field.
// - INVALID_ARGUMENT TEXT_NOT_STORABLE: a text holds a character that cannot be stored, such as NUL.
// - INVALID_ARGUMENT REQUEST_UNREADABLE: the request's bytes are no message of the method's request type, or a text in it
//   is not UTF-8.
// - UNAUTHENTICATED TOKEN_MISSING: there is no token.
// - UNAUTHENTICATED TOKEN_MALFORMED: the token cannot be read.
// - UNAUTHENTICATED TOKEN_SIGNATURE: no key that the server trusts signed the token.
// - UNAUTHENTICATED TOKEN_AUDIENCE: the token is meant for another server.
// - UNAUTHENTICATED TOKEN_EXPIRED: the token's time has passed.
// - UNAUTHENTICATED KEY_UNKNOWN: there is no integration key of that credential.
// - UNAUTHENTICATED KEY_ENDED: the integration key was revoked, or its time has passed.
// - PERMISSION_DENIED SCOPE_NEEDED: the scopes of the integration key do not reach the method.
// - RESOURCE_EXHAUSTED TOO_MANY_CALLS: the credential calls too often; RetryInfo says when to call again.
// - PERMISSION_DENIED OTHER_BUSINESS: a name in the request belongs to another business than the token; said before
//   anything is looked up.
// - PERMISSION_DENIED ROLE_NEEDED: the caller's role is not among the method's required_roles.
// - PERMISSION_DENIED RIGHT_NEEDED: the method needs the right of the responsible applicator.
// - INVALID_ARGUMENT REQUEST_ID_REUSED: the request id was used with another body within 30 days. The same id with the
//   same body gives the first answer again and changes nothing.
// - NOT_FOUND NOT_FOUND: something that the request names is not known in the business; ResourceInfo names it.
// - ALREADY_EXISTS EXISTS_ALREADY: what a method makes exists already.
// - RESOURCE_EXHAUSTED MESSAGE_TOO_LARGE: the request has more than 4 MiB; beyond 16 MiB the transport refuses it
//   unread and without a reason.
// - ABORTED BUSY: others changed the same thing at the same time, more often than the server retries.
// - ABORTED HELD_ALREADY: somebody else's visit or keep-out holds the time or the area.
// - UNAVAILABLE DATABASE_AWAY: the database cannot be reached just now.
// - INTERNAL INTERNAL: a fault of the server; the message carries an id that its log knows.
//
// Standard methods are those of the API Improvement Proposals (AIP-131 to 135, 158, 160, 164, 231):
// - A filter of a list compares the fields that its method names, as in
//   `client_id = "client-7" AND NOT (place_kind = PLACE_KIND_HOME OR display_name:"annex")`. The operators are
//   = != < <= > >= and `:`, which asks whether a text holds another one, whatever the case, or a list an element;
//   `field:"*"` asks whether there is a value. AND, OR, NOT and brackets join conditions, and OR binds closer than AND,
//   as the proposal has it. Texts stand in double quotes, values of enums stand bare, days are texts such as
//   "2026-03-02", instants are texts of RFC 3339.
// - order_by names fields after commas, each with ` desc` behind it where the greatest comes first. What stands equal
//   comes by name.
// - A page token goes on with the question that gave it; only the size of the page may change.
// - An update changes what its mask names; without a mask every field that is set. `*` replaces everything. A list is one
//   value. The etag in the resource says which version was read: when it has moved, the call is ABORTED with ETAG_STALE;
//   an empty one is not compared.
// - What is deleted is kept for history: Get still gives it, with its delete_time, and a list with show_deleted. It can be
//   neither used nor planned; a call that would is refused, FAILED_PRECONDITION DELETED.
// - A batch is done wholly or not at all.
// - validate_only answers as if the call had been done, or says why not, and changes nothing; its request id is not
//   remembered.

// Code generated by protoc-gen-go. DO NOT EDIT.
// versions:
// 	protoc-gen-go v1.36.12
// 	protoc        (unknown)
// source: vernation/v1/options.proto

package vernationv1

import (
	protoreflect "google.golang.org/protobuf/reflect/protoreflect"
	protoimpl "google.golang.org/protobuf/runtime/protoimpl"
	descriptorpb "google.golang.org/protobuf/types/descriptorpb"
	reflect "reflect"
	sync "sync"
	unsafe "unsafe"
)

const (
	// Verify that this generated code is sufficiently up-to-date.
	_ = protoimpl.EnforceVersion(20 - protoimpl.MinVersion)
	// Verify that runtime/protoimpl is sufficiently up-to-date.
	_ = protoimpl.EnforceVersion(protoimpl.MaxVersion - 20)
)

// What a caller is to the business that its token names.
type Role int32

const (
	// Never given.
	Role_ROLE_UNSPECIFIED Role = 0
	// A person of the office: reads and writes everything of the business.
	Role_ROLE_OFFICE Role = 1
	// A technician: the own day routes and the own reports, and what an approval needs where the right is there.
	Role_ROLE_TECHNICIAN Role = 2
	// A program of the business's own: posts reports and reads.
	Role_ROLE_INTEGRATION Role = 3
)

// Enum value maps for Role.
var (
	Role_name = map[int32]string{
		0: "ROLE_UNSPECIFIED",
		1: "ROLE_OFFICE",
		2: "ROLE_TECHNICIAN",
		3: "ROLE_INTEGRATION",
	}
	Role_value = map[string]int32{
		"ROLE_UNSPECIFIED": 0,
		"ROLE_OFFICE":      1,
		"ROLE_TECHNICIAN":  2,
		"ROLE_INTEGRATION": 3,
	}
)

func (x Role) Enum() *Role {
	p := new(Role)
	*p = x
	return p
}

func (x Role) String() string {
	return protoimpl.X.EnumStringOf(x.Descriptor(), protoreflect.EnumNumber(x))
}

func (Role) Descriptor() protoreflect.EnumDescriptor {
	return file_vernation_v1_options_proto_enumTypes[0].Descriptor()
}

func (Role) Type() protoreflect.EnumType {
	return &file_vernation_v1_options_proto_enumTypes[0]
}

func (x Role) Number() protoreflect.EnumNumber {
	return protoreflect.EnumNumber(x)
}

// Deprecated: Use Role.Descriptor instead.
func (Role) EnumDescriptor() ([]byte, []int) {
	return file_vernation_v1_options_proto_rawDescGZIP(), []int{0}
}

var file_vernation_v1_options_proto_extTypes = []protoimpl.ExtensionInfo{
	{
		ExtendedType:  (*descriptorpb.MethodOptions)(nil),
		ExtensionType: ([]Role)(nil),
		Field:         50001,
		Name:          "vernation.v1.required_roles",
		Tag:           "varint,50001,rep,packed,name=required_roles,enum=vernation.v1.Role",
		Filename:      "vernation/v1/options.proto",
	},
	{
		ExtendedType:  (*descriptorpb.MethodOptions)(nil),
		ExtensionType: (*bool)(nil),
		Field:         50002,
		Name:          "vernation.v1.responsible_applicator",
		Tag:           "varint,50002,opt,name=responsible_applicator",
		Filename:      "vernation/v1/options.proto",
	},
}

// Extension fields to descriptorpb.MethodOptions.
var (
	// The roles that may call the method; any one of them is enough. Every method carries at least one.
	//
	// repeated vernation.v1.Role required_roles = 50001;
	E_RequiredRoles = &file_vernation_v1_options_proto_extTypes[0]
	// Whether the caller must also have the right of the responsible applicator: a licence holder who approves the
	// applications of a course. Unset means that the role is enough.
	//
	// optional bool responsible_applicator = 50002;
	E_ResponsibleApplicator = &file_vernation_v1_options_proto_extTypes[1]
)

var File_vernation_v1_options_proto protoreflect.FileDescriptor

const file_vernation_v1_options_proto_rawDesc = "" +
	"\n" +
	"\x1avernation/v1/options.proto\x12\fvernation.v1\x1a google/protobuf/descriptor.proto*X\n" +
	"\x04Role\x12\x14\n" +
	"\x10ROLE_UNSPECIFIED\x10\x00\x12\x0f\n" +
	"\vROLE_OFFICE\x10\x01\x12\x13\n" +
	"\x0fROLE_TECHNICIAN\x10\x02\x12\x14\n" +
	"\x10ROLE_INTEGRATION\x10\x03:[\n" +
	"\x0erequired_roles\x12\x1e.google.protobuf.MethodOptions\x18ц\x03 \x03(\x0e2\x12.vernation.v1.RoleR\rrequiredRoles:W\n" +
	"\x16responsible_applicator\x12\x1e.google.protobuf.MethodOptions\x18҆\x03 \x01(\bR\x15responsibleApplicatorB*Z(vernation/proto/vernation/v1;vernationv1b\x06proto3"

var (
	file_vernation_v1_options_proto_rawDescOnce sync.Once
	file_vernation_v1_options_proto_rawDescData []byte
)

func file_vernation_v1_options_proto_rawDescGZIP() []byte {
	file_vernation_v1_options_proto_rawDescOnce.Do(func() {
		file_vernation_v1_options_proto_rawDescData = protoimpl.X.CompressGZIP(unsafe.Slice(unsafe.StringData(file_vernation_v1_options_proto_rawDesc), len(file_vernation_v1_options_proto_rawDesc)))
	})
	return file_vernation_v1_options_proto_rawDescData
}

var file_vernation_v1_options_proto_enumTypes = make([]protoimpl.EnumInfo, 1)
var file_vernation_v1_options_proto_goTypes = []any{
	(Role)(0),                          // 0: vernation.v1.Role
	(*descriptorpb.MethodOptions)(nil), // 1: google.protobuf.MethodOptions
}
var file_vernation_v1_options_proto_depIdxs = []int32{
	1, // 0: vernation.v1.required_roles:extendee -> google.protobuf.MethodOptions
	1, // 1: vernation.v1.responsible_applicator:extendee -> google.protobuf.MethodOptions
	0, // 2: vernation.v1.required_roles:type_name -> vernation.v1.Role
	3, // [3:3] is the sub-list for method output_type
	3, // [3:3] is the sub-list for method input_type
	2, // [2:3] is the sub-list for extension type_name
	0, // [0:2] is the sub-list for extension extendee
	0, // [0:0] is the sub-list for field type_name
}

func init() { file_vernation_v1_options_proto_init() }
func file_vernation_v1_options_proto_init() {
	if File_vernation_v1_options_proto != nil {
		return
	}
	type x struct{}
	out := protoimpl.TypeBuilder{
		File: protoimpl.DescBuilder{
			GoPackagePath: reflect.TypeOf(x{}).PkgPath(),
			RawDescriptor: unsafe.Slice(unsafe.StringData(file_vernation_v1_options_proto_rawDesc), len(file_vernation_v1_options_proto_rawDesc)),
			NumEnums:      1,
			NumMessages:   0,
			NumExtensions: 2,
			NumServices:   0,
		},
		GoTypes:           file_vernation_v1_options_proto_goTypes,
		DependencyIndexes: file_vernation_v1_options_proto_depIdxs,
		EnumInfos:         file_vernation_v1_options_proto_enumTypes,
		ExtensionInfos:    file_vernation_v1_options_proto_extTypes,
	}.Build()
	File_vernation_v1_options_proto = out.File
	file_vernation_v1_options_proto_goTypes = nil
	file_vernation_v1_options_proto_depIdxs = nil
}
