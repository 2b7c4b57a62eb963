package rpc

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/api/annotations"
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
	scope                 string      // collection that a key with scopes must be for
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
	r.scope = scopeOf(method)
	return r
}

// collections are the parts of a path of HTTP that hold several of a kind: before a wildcard, or at the end of what a
// variable leaves.
var collections = regexp.MustCompile(`([a-zA-Z]+)/\*|\}/([a-zA-Z]+)`)

// scopeOf is the last collection in the method's path of HTTP: cases of /v1/{name=businesses/*/cases/*/course}.
func scopeOf(method protoreflect.MethodDescriptor) string {
	rule := proto.GetExtension(method.Options(), annotations.E_Http).(*annotations.HttpRule)
	found := collections.FindAllStringSubmatch(rule.GetGet()+rule.GetPost()+rule.GetPatch()+rule.GetDelete(), -1)
	if len(found) == 0 {
		return ""
	}
	last := found[len(found)-1]
	return last[1] + last[2]
}

// scopes are those of all methods that integrations may call, in order.
func scopes() (offered []string) {
	protoregistry.GlobalFiles.RangeFilesByPackage(vernationv1.File_vernation_v1_options_proto.Package(), func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			methods := file.Services().Get(i).Methods()
			for k := range methods.Len() {
				roles, _ := proto.GetExtension(methods.Get(k).Options(), vernationv1.E_RequiredRoles).([]vernationv1.Role)
				if slices.Contains(roles, vernationv1.Role_ROLE_INTEGRATION) {
					offered = append(offered, scopeOf(methods.Get(k)))
				}
			}
		}
		return true
	})
	slices.Sort(offered)
	return slices.Compact(offered)
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
	if caller.Scopes != "" && !slices.Contains(strings.Fields(caller.Scopes), r.scope) {
		f := fault.New(fault.Forbidden, "SCOPE_NEEDED", "this needs an integration key with the scope %s; the key's are %s", r.scope, caller.Scopes)
		f.Needs = []string{r.scope}
		return f
	}
	if r.responsibleApplicator && !caller.ResponsibleApplicator {
		f := fault.New(fault.Forbidden, "RIGHT_NEEDED", "this needs the right of the responsible applicator, which the token does not give")
		f.Needs = []string{"responsible_applicator"}
		return f
	}
	return nil
}
