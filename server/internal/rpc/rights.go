package rpc

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// rights say who may call a method, as its options in the contract do.
type rights struct {
	roles                 []firm.Role // any of them
	responsibleApplicator bool        // and this right as well
}

// roleOf reads the contract's roles; the unspecified one is no role.
var roleOf = map[vernationv1.Role]firm.Role{
	vernationv1.Role_ROLE_OFFICE:      firm.Office,
	vernationv1.Role_ROLE_TECHNICIAN:  firm.Technician,
	vernationv1.Role_ROLE_INTEGRATION: firm.Integration,
}

// exempt says whether a service is part of the plumbing, open to probes and tools without a credential.
func exempt(service string) bool {
	return strings.HasPrefix(service, "grpc.health.") || strings.HasPrefix(service, "grpc.reflection.")
}

// rightsTable reads the rights of every method that a server has registered, by full method name, and the
// requests that they take. It panics on a service that it cannot hold to the frame.
func rightsTable(services map[string]grpc.ServiceInfo) (map[string]rights, []protoreflect.MessageDescriptor) {
	table := map[string]rights{}
	var requests []protoreflect.MessageDescriptor
	for name := range services {
		if exempt(name) {
			continue
		}
		found, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(name))
		if err != nil {
			panic(fmt.Sprintf("service %s is registered without a descriptor: %v", name, err))
		}
		methods := found.(protoreflect.ServiceDescriptor).Methods()
		for i := range methods.Len() {
			method := methods.Get(i)
			table[fmt.Sprintf("/%s/%s", name, method.Name())] = rightsOf(method)
			requests = append(requests, method.Input())
		}
	}
	return table, requests
}

// rightsOf reads the options of one method.
func rightsOf(method protoreflect.MethodDescriptor) rights {
	if method.IsStreamingClient() {
		panic(fmt.Sprintf("method %s takes a stream: the frame holds calls of one request only", method.FullName()))
	}
	named, _ := proto.GetExtension(method.Options(), vernationv1.E_RequiredRoles).([]vernationv1.Role)
	if len(named) == 0 {
		panic(fmt.Sprintf("method %s names no required_roles", method.FullName()))
	}
	r := rights{}
	for _, role := range named {
		known, ok := roleOf[role]
		if !ok {
			panic(fmt.Sprintf("method %s requires the unknown role %s", method.FullName(), role))
		}
		r.roles = append(r.roles, known)
	}
	r.responsibleApplicator, _ = proto.GetExtension(method.Options(), vernationv1.E_ResponsibleApplicator).(bool)
	return r
}

// allow is nil when the caller may call the method, else a Forbidden fault that names what is needed.
func (r rights) allow(caller firm.Caller) error {
	if !slices.Contains(r.roles, caller.Role) {
		needs := make([]string, len(r.roles))
		for i, role := range r.roles {
			needs[i] = string(role)
		}
		f := fault.New(fault.Forbidden, "ROLE_NEEDED", "this needs the role %s; the token's is %s", strings.Join(needs, " or "), caller.Role)
		f.Needs = needs
		return f
	}
	if r.responsibleApplicator && !caller.ResponsibleApplicator {
		f := fault.New(fault.Forbidden, "RIGHT_NEEDED", "this needs the right of the responsible applicator, which the token does not give")
		f.Needs = []string{"responsible_applicator"}
		return f
	}
	return nil
}
