package calltest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	vernationv1 "vernation/proto/vernation/v1"
)

// Method is one method of the contract.
type Method struct{ protoreflect.MethodDescriptor }

// Methods are all methods of the contract, by name.
func Methods() (methods []Method) {
	protoregistry.GlobalFiles.RangeFilesByPackage(vernationv1.File_vernation_v1_options_proto.Package(), func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			service := file.Services().Get(i)
			for k := range service.Methods().Len() {
				methods = append(methods, Method{service.Methods().Get(k)})
			}
		}
		return true
	})
	slices.SortFunc(methods, func(a, b Method) int { return strings.Compare(a.Path(), b.Path()) })
	return methods
}

// Path is the method's on the wire: /vernation.v1.SiteService/GetSite.
func (m Method) Path() string { return fmt.Sprintf("/%s/%s", m.Parent().FullName(), m.Name()) }

// Roles are those of the contract that may call the method.
func (m Method) Roles() []vernationv1.Role {
	roles, _ := proto.GetExtension(m.Options(), vernationv1.E_RequiredRoles).([]vernationv1.Role)
	return roles
}

// NeedsResponsibleApplicator says whether the role alone is not enough.
func (m Method) NeedsResponsibleApplicator() bool {
	needs, _ := proto.GetExtension(m.Options(), vernationv1.E_ResponsibleApplicator).(bool)
	return needs
}

// Reads says whether the method changes nothing, by its name.
func (m Method) Reads() bool {
	return slices.ContainsFunc([]string{"Get", "List"}, func(verb string) bool { return strings.HasPrefix(string(m.Name()), verb) })
}

// NewRequest is an empty request.
func (m Method) NewRequest() proto.Message { return made(m.Input()) }

// made is an empty message of the generated type.
func made(of protoreflect.MessageDescriptor) proto.Message {
	kind, err := protoregistry.GlobalTypes.FindMessageByName(of.FullName())
	if err != nil {
		panic(fmt.Sprintf("%s has no generated code: %v", of.FullName(), err))
	}
	return kind.New().Interface()
}

// streamGoesOn is how long a stream may take to say something or to fail; after it the stream goes on.
const streamGoesOn = 300 * time.Millisecond

// Call makes a call and returns its answer. Of a stream that is its first message, or nil where the stream goes on
// without one.
func (m Method) Call(ctx context.Context, conn grpc.ClientConnInterface, request proto.Message) (proto.Message, error) {
	answer := made(m.Output())
	if !m.IsStreamingServer() {
		return answer, conn.Invoke(ctx, m.Path(), request, answer)
	}
	ctx, cancel := context.WithTimeout(ctx, streamGoesOn)
	defer cancel()
	stream, err := conn.NewStream(ctx, &grpc.StreamDesc{StreamName: string(m.Name()), ServerStreams: true}, m.Path())
	if err != nil {
		return answer, err
	}
	if err := stream.SendMsg(request); err != nil && !errors.Is(err, io.EOF) { // its status comes with the answer
		return answer, err
	}
	if err := stream.CloseSend(); err != nil {
		return answer, err
	}
	err = stream.RecvMsg(answer)
	if errors.Is(err, io.EOF) || status.Code(err) == codes.DeadlineExceeded {
		return nil, nil
	}
	return answer, err
}

// NewAnswer is an empty answer.
func (m Method) NewAnswer() proto.Message { return made(m.Output()) }
