package rpc

import (
	"context"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protopath"
	"google.golang.org/protobuf/reflect/protorange"

	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/identity"
)

// admitted lets a call through to its handler when the caller is known, has the role, speaks of its own
// business only and asks for something that the contract allows: in this order, so that a stranger learns nothing.
func (f *frame) admitted(ctx context.Context, request any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	rights, ours := f.rights[info.FullMethod]
	if !ours {
		return next(ctx, request) // health or reflection: rightsTable has every other method
	}
	caller, err := f.authenticate(ctx)
	if err != nil {
		return nil, err
	}
	callOf(ctx).caller, callOf(ctx).validate = caller, f.validate
	if err := f.pace.allow(caller, time.Now()); err != nil {
		return nil, err
	}
	if err := rights.allow(caller); err != nil {
		return nil, err
	}
	if err := f.held(request.(proto.Message), caller); err != nil {
		return nil, err
	}
	return next(ctx, request)
}

// held holds a request to its size, to the caller's business and to the contract.
func (f *frame) held(message proto.Message, caller firm.Caller) error {
	if err := read(message); err != nil {
		return err
	}
	if size := proto.Size(message); size > requestBytesMax {
		return fault.New(fault.Spent, "MESSAGE_TOO_LARGE", "the request has %d bytes: want %d at most, so send it in parts", size, requestBytesMax)
	}
	if !f.unchecked {
		if err := ownBusiness(message, caller.Business); err != nil {
			return err
		}
	}
	inherit(message)
	return f.admissible(message)
}

// authenticate reads the bearer token of the metadata entry authorization (RFC 6750, section 2.1), or the credential of
// an integration key in its place.
func (f *frame) authenticate(ctx context.Context) (firm.Caller, error) {
	entries := metadata.ValueFromIncomingContext(ctx, "authorization")
	if len(entries) == 0 {
		return f.keys.Verify("", time.Now())
	}
	scheme, token, _ := strings.Cut(entries[0], " ")
	if len(entries) > 1 || !strings.EqualFold(scheme, "Bearer") {
		return firm.Caller{}, fault.New(fault.Anonymous, identity.ReasonMalformed, "want one metadata entry authorization: Bearer <token>")
	}
	token = strings.TrimSpace(token)
	if credential, ok := identity.ParseCredential(token); ok {
		return f.admitKey(ctx, credential)
	}
	return f.keys.Verify(token, time.Now())
}

// Ring holds the integration keys; *store.Store is one.
type Ring interface {
	// UseIntegrationKey lets judge say whether a key counts, and writes down that it was used.
	UseIntegrationKey(ctx context.Context, business firm.BusinessID, id string, at civil.Instant, judge func(firm.IntegrationKey) error) error
}

// admitKey finds whom a credential speaks for.
func (f *frame) admitKey(ctx context.Context, credential identity.Credential) (caller firm.Caller, err error) {
	if f.ring == nil || credential.Business == "" {
		return caller, identity.Unknown()
	}
	now := civil.InstantOf(time.Now())
	err = f.ring.UseIntegrationKey(ctx, credential.Business, credential.Key, now, func(k firm.IntegrationKey) error {
		caller = credential.Caller(k)
		return credential.Judge(k, now)
	})
	if fault.Is(err, fault.NotFound) {
		err = identity.Unknown()
	}
	if err != nil {
		return firm.Caller{}, err
	}
	return caller, nil
}

// businesses begins every resource name.
const businesses = "businesses/"

// ownBusiness refuses a request that names another business anywhere, however deep: in a name, a parent, a
// reference. It looks nothing up, so the answer is the same whether the other business exists or not.
func ownBusiness(request proto.Message, own firm.BusinessID) error {
	var foreign error
	// The walk's own error says that it was ended early; it has no other.
	_ = protorange.Range(request.ProtoReflect(), func(at protopath.Values) error {
		text, ok := at.Index(-1).Value.Interface().(string)
		if !ok {
			return nil
		}
		named, within := strings.CutPrefix(text, businesses)
		if id, _, _ := strings.Cut(named, "/"); within && id != string(own) {
			f := fault.New(fault.Forbidden, "OTHER_BUSINESS", "%s names another business; the token is for %s%s", fieldPath(at.Path), businesses, own)
			foreign = f
			return protorange.Terminate
		}
		return nil
	})
	return foreign
}

// fieldPath writes the path to a value without the message's own name: site.areas[2].name.
func fieldPath(path protopath.Path) string {
	var text strings.Builder
	for _, step := range path {
		switch step.Kind() {
		case protopath.FieldAccessStep:
			if text.Len() > 0 {
				text.WriteByte('.')
			}
			text.WriteString(string(step.FieldDescriptor().Name()))
		case protopath.ListIndexStep, protopath.MapIndexStep:
			text.WriteString(step.String())
		}
	}
	return text.String()
}
