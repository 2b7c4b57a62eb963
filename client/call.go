package client

import (
	"context"
	"time"

	"github.com/google/uuid"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// CallWithin bounds a call whose context has no deadline: the server's own bound.
const CallWithin = 2 * time.Minute

// WithCallWithin bounds each call whose context has no deadline; 0 leaves it to the server. Streams have none.
func WithCallWithin(limit time.Duration) Option { return func(c *choices) { c.within = limit } }

// bounded gives a call without a deadline one.
func bounded(limit time.Duration) grpc.UnaryClientInterceptor {
	return func(ctx context.Context, method string, request, answer any, conn *grpc.ClientConn, invoke grpc.UnaryInvoker, options ...grpc.CallOption) error {
		if _, ok := ctx.Deadline(); !ok && limit > 0 {
			within, cancel := context.WithTimeout(ctx, limit)
			defer cancel()
			ctx = within
		}
		return invoke(ctx, method, request, answer, conn, options...)
	}
}

// identified gives a request that asks for a request id and has none a new one. It stands above the repeating of calls,
// so that every attempt carries the same. The caller's message stays as it is: sent twice it is two requests.
func identified(ctx context.Context, method string, request, answer any, conn *grpc.ClientConn, invoke grpc.UnaryInvoker, options ...grpc.CallOption) error {
	if message, ok := request.(proto.Message); ok {
		if field := requestID(message); field != nil && message.ProtoReflect().Get(field).String() == "" {
			copied := proto.Clone(message)
			copied.ProtoReflect().Set(field, protoreflect.ValueOfString(NewRequestID()))
			request = copied
		}
	}
	return invoke(ctx, method, request, answer, conn, options...)
}

// requestID is a message's field of that name, nil when it has none.
func requestID(message proto.Message) protoreflect.FieldDescriptor {
	field := message.ProtoReflect().Descriptor().Fields().ByName("request_id")
	if field == nil || field.Kind() != protoreflect.StringKind || field.IsList() {
		return nil
	}
	return field
}

// NewRequestID makes an id for one request (a UUID, version 7, of RFC 9562). Requests without one get one of themselves;
// make it where a request may be sent again later, after the program has ended too.
func NewRequestID() string {
	return uuid.Must(uuid.NewV7()).String()
}
