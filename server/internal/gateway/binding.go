package gateway

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"github.com/grpc-ecosystem/grpc-gateway/v2/utilities"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

// binding is one method as HTTP asks for it.
type binding struct {
	verb, path string
	pattern    runtime.Pattern
	variable   string // dotted path of the field that the path's variable fills
	body       string // field that the body holds, "*" for the whole request, "" for none
	method     protoreflect.MethodDescriptor
	fullName   string // as gRPC calls it
	request    protoreflect.MessageType
	response   protoreflect.MessageType
}

// pathForm is that of every path of the contract, which its tests hold: one variable with a whole name, then a
// collection, a verb, or both.
var pathForm = regexp.MustCompile(`^/(v[0-9]+)/\{([a-z_.]+)=([a-zA-Z*/]+)\}(?:/([a-zA-Z]+))?(?::([a-zA-Z]+))?$`)

// bindingOf reads the binding of a method. It panics where the method has none that can be served.
func bindingOf(method protoreflect.MethodDescriptor) binding {
	rule := proto.GetExtension(method.Options(), annotations.E_Http).(*annotations.HttpRule)
	b := binding{body: rule.GetBody(), method: method, fullName: fmt.Sprintf("/%s/%s", method.Parent().FullName(), method.Name())}
	switch pattern := rule.GetPattern().(type) {
	case *annotations.HttpRule_Get:
		b.verb, b.path = http.MethodGet, pattern.Get
	case *annotations.HttpRule_Post:
		b.verb, b.path = http.MethodPost, pattern.Post
	case *annotations.HttpRule_Patch:
		b.verb, b.path = http.MethodPatch, pattern.Patch
	case *annotations.HttpRule_Delete:
		b.verb, b.path = http.MethodDelete, pattern.Delete
	}
	var errs [3]error
	b.variable, b.pattern, errs[0] = patternOf(b.path)
	b.request, errs[1] = protoregistry.GlobalTypes.FindMessageByName(method.Input().FullName())
	b.response, errs[2] = protoregistry.GlobalTypes.FindMessageByName(method.Output().FullName())
	if err := errors.Join(errs[:]...); err != nil {
		panic(fmt.Sprintf("method %s cannot be served over HTTP: %v", method.FullName(), err))
	}
	return b
}

// patternOf compiles a path for the library's matcher, which is a little stack machine: literals and wildcards are
// pushed, those of the variable are joined to one text, and the text is captured.
func patternOf(path string) (variable string, pattern runtime.Pattern, err error) {
	parts := pathForm.FindStringSubmatch(path)
	if parts == nil {
		return "", runtime.Pattern{}, fmt.Errorf("its path %q has not the form of the contract", path)
	}
	var ops []int
	var pool []string
	literal := func(text string) {
		ops = append(ops, int(utilities.OpLitPush), len(pool))
		pool = append(pool, text)
	}
	literal(parts[1])
	variable = parts[2]
	segments := strings.Split(parts[3], "/")
	for _, segment := range segments {
		if segment == "*" {
			ops = append(ops, int(utilities.OpPush), 0)
		} else {
			literal(segment)
		}
	}
	ops = append(ops, int(utilities.OpConcatN), len(segments), int(utilities.OpCapture), len(pool))
	pool = append(pool, variable)
	if parts[4] != "" {
		literal(parts[4])
	}
	pattern, err = runtime.NewPattern(1, ops, pool, parts[5])
	return variable, pattern, err
}

// handler reads a request, calls the gRPC server and writes its answer.
func (b binding) handler(mux *runtime.ServeMux, conn grpc.ClientConnInterface, ending context.Context) runtime.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request, params map[string]string) {
		_, outbound := runtime.MarshalerForRequest(mux, r)
		ctx, err := runtime.AnnotateContext(r.Context(), mux, r, b.fullName, runtime.WithHTTPPathPattern(b.path))
		if err != nil {
			runtime.HTTPError(r.Context(), mux, outbound, w, r, err)
			return
		}
		request, err := b.read(r, params)
		if err != nil {
			runtime.HTTPError(ctx, mux, outbound, w, r, err)
			return
		}
		if b.method.IsStreamingServer() {
			// A stream lasts as long as its caller wants; a writer without this support has no deadline to lift.
			_ = http.NewResponseController(w).SetWriteDeadline(time.Time{})
			ctx, cancel := context.WithCancel(runtime.NewServerMetadataContext(ctx, runtime.ServerMetadata{}))
			defer cancel()
			defer context.AfterFunc(ending, cancel)()
			runtime.ForwardResponseStream(ctx, mux, outbound, w, r, b.stream(ctx, conn, request, ending))
			return
		}
		response := b.response.New().Interface()
		if err := conn.Invoke(ctx, b.fullName, request, response); err != nil {
			runtime.HTTPError(ctx, mux, outbound, w, r, err)
			return
		}
		runtime.ForwardResponseMessage(ctx, mux, outbound, w, r, response)
	}
}

// stream begins a stream and gives its messages one by one, io.EOF after the last.
func (b binding) stream(ctx context.Context, conn grpc.ClientConnInterface, request proto.Message, ending context.Context) func() (proto.Message, error) {
	stream, err := conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, b.fullName)
	if err == nil {
		err = errors.Join(stream.SendMsg(request), stream.CloseSend())
	}
	return func() (proto.Message, error) {
		if err != nil {
			return nil, err
		}
		message := b.response.New().Interface()
		err = stream.RecvMsg(message)
		if err != nil && ending.Err() != nil {
			err = refusal(codes.Unavailable, "SERVER_ENDS", "the server is ending: call again and go on from what was told last")
		}
		return message, err
	}
}

// read makes the request of body, query and path, the last of which outranks the others.
func (b binding) read(r *http.Request, params map[string]string) (proto.Message, error) {
	request := b.request.New().Interface()
	if err := b.readBody(request, r); err != nil {
		return nil, err
	}
	query, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return nil, refusal(codes.InvalidArgument, "QUERY_FORM", "the query cannot be read: %v", err)
	}
	if err := b.readQuery(request, query); err != nil {
		return nil, err
	}
	if err := runtime.PopulateFieldFromPath(request, b.variable, params[b.variable]); err != nil {
		return nil, refusal(codes.InvalidArgument, "PATH_FORM", "the name in the path cannot be read: %v", err)
	}
	return request, nil
}

// readBody reads JSON strictly: a misspelt field must not be lost without a word.
func (b binding) readBody(request proto.Message, r *http.Request) error {
	text, err := io.ReadAll(r.Body)
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &tooLarge):
		return &runtime.HTTPStatusError{HTTPStatus: http.StatusRequestEntityTooLarge,
			Err: refusal(codes.ResourceExhausted, "MESSAGE_TOO_LARGE", "the body has more than %d bytes: send it in parts", tooLarge.Limit)}
	case err != nil:
		return refusal(codes.InvalidArgument, "BODY_FORM", "the body ended before it was whole")
	case b.body == "" && len(text) > 0:
		return refusal(codes.InvalidArgument, "BODY_FORM", "this call takes no body: want its fields in the query")
	case b.body == "":
		return nil
	}
	into := request
	if b.body != "*" {
		field := b.method.Input().Fields().ByName(protoreflect.Name(b.body))
		into = request.ProtoReflect().Mutable(field).Message().Interface()
	}
	if len(bytes.TrimSpace(text)) == 0 {
		return nil // what is missing is told by the contract's own rules, with its path
	}
	if err := protojson.Unmarshal(text, into); err != nil {
		return refusal(codes.InvalidArgument, "BODY_FORM", "the body is not the JSON of a %s: %s", into.ProtoReflect().Descriptor().Name(), plain(err))
	}
	return b.readMask(request, into, text)
}

// readMask fills an update's unset field mask with the fields that the body names (API Improvement Proposal 134).
func (b binding) readMask(request, into proto.Message, text []byte) error {
	field := b.method.Input().Fields().ByName("update_mask")
	if b.verb != http.MethodPatch || field == nil || request.ProtoReflect().Has(field) {
		return nil
	}
	mask, err := runtime.FieldMaskFromRequestBody(bytes.NewReader(text), into)
	if err != nil {
		return refusal(codes.InvalidArgument, "BODY_FORM", "the fields that the body changes cannot be told: %s", plain(err))
	}
	mask.Paths = slices.DeleteFunc(mask.Paths, func(path string) bool { return !changeable(into.ProtoReflect().Descriptor(), path) })
	request.ProtoReflect().Set(field, protoreflect.ValueOfMessage(mask.ProtoReflect()))
	return nil
}

// changeable says whether a path of a mask is the caller's to change: a resource is sent back as it was read, with its
// name, its etag and what the server fills in.
func changeable(message protoreflect.MessageDescriptor, path string) bool {
	for name := range strings.SplitSeq(path, ".") {
		if message == nil {
			return true // inside a map
		}
		field := message.Fields().ByName(protoreflect.Name(name))
		if field == nil || name == "etag" {
			return false
		}
		behaviours := proto.GetExtension(field.Options(), annotations.E_FieldBehavior).([]annotations.FieldBehavior)
		if slices.Contains(behaviours, annotations.FieldBehavior_IDENTIFIER) || slices.Contains(behaviours, annotations.FieldBehavior_OUTPUT_ONLY) {
			return false
		}
		message = field.Message()
	}
	return true
}

// readQuery reads the fields that stand in neither path nor body.
func (b binding) readQuery(request proto.Message, query url.Values) error {
	taken := [][]string{strings.Split(b.variable, ".")}
	switch b.body {
	case "":
	case "*":
		if len(query) > 0 {
			return refusal(codes.InvalidArgument, "QUERY_UNKNOWN", "this call takes no query: want its fields in the body")
		}
		return nil
	default:
		taken = append(taken, []string{b.body})
	}
	for key := range query {
		if !b.knows(key) {
			return refusal(codes.InvalidArgument, "QUERY_UNKNOWN", "%q is no field of %s that a query may hold", key, b.method.Input().Name())
		}
	}
	for _, key := range []string{"updateMask", "update_mask"} {
		if len(query[key]) > 0 { // what the caller says outranks what the body shows
			request.ProtoReflect().Clear(b.method.Input().Fields().ByName("update_mask"))
		}
		for i, mask := range query[key] {
			query[key][i] = b.contractPaths(mask)
		}
	}
	if err := runtime.PopulateQueryParameters(request, query, utilities.NewDoubleArray(taken)); err != nil {
		return refusal(codes.InvalidArgument, "QUERY_FORM", "the query cannot be read: %s", plain(err))
	}
	return nil
}

// contractPaths writes the paths of a mask, which JSON writes as displayName, as the contract does: display_name.
func (b binding) contractPaths(mask string) string {
	paths := strings.Split(mask, ",")
	for i, path := range paths {
		var message protoreflect.MessageDescriptor
		if field := b.method.Input().Fields().ByName(protoreflect.Name(b.body)); field != nil {
			message = field.Message()
		}
		names := strings.Split(path, ".")
		for k, name := range names {
			if message == nil {
				break
			}
			field := message.Fields().ByJSONName(name)
			if field == nil {
				break
			}
			names[k], message = string(field.Name()), field.Message()
		}
		paths[i] = strings.Join(names, ".")
	}
	return strings.Join(paths, ",")
}

// knows says whether a query may fill the field of a dotted path, by its name in JSON or in the contract.
func (b binding) knows(path string) bool {
	message := b.method.Input()
	for name := range strings.SplitSeq(path, ".") {
		if message == nil {
			return false
		}
		field := message.Fields().ByJSONName(name)
		if field == nil {
			field = message.Fields().ByName(protoreflect.Name(name))
		}
		if field == nil || string(field.Name()) == b.body || string(field.Name()) == b.variable {
			return false
		}
		message = field.Message()
	}
	return true
}
