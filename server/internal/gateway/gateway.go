package gateway

import (
	"context"
	_ "embed" // the document
	"fmt"
	"net/http"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"github.com/rs/cors"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	vernationv1 "vernation/proto/vernation/v1"
)

// Paths beside those of the contract.
const (
	PathDocument = "/openapi.json" // the OpenAPI document
	PathLive     = "/livez"        // 200 while the process answers
	PathReady    = "/readyz"       // 200 while the server can do its work, else 503 and why
	PathMetrics  = "/metrics"      // for Prometheus
)

// bodyBytesMax is the largest body: what the frame takes as a message, and JSON is longer than that.
const bodyBytesMax = 16 << 20

// corsFor is how long a browser may remember what was allowed.
const corsFor = 10 * time.Minute

// document is what .ci/generate makes of the contract.
//
//go:embed openapi.json
var document []byte

// Document is the OpenAPI document of the API, as it is served.
func Document() []byte { return document }

// Options say what is served.
type Options struct {
	// Conn leads to the gRPC server. Required.
	Conn grpc.ClientConnInterface
	// Ready says why the server cannot do its work, or nil. Its text is shown to whoever asks. Required.
	Ready func(context.Context) error
	// Ending ends when the server does: streams, which would go on for ever, are then told so. nil is never.
	Ending context.Context
	// Metrics answers at PathMetrics; nil leaves the path out.
	Metrics http.Handler
	// Origins are those whose pages may call from a browser, such as https://office.example; none by default.
	Origins []string
}

// New makes the handler of the HTTP port. It panics on a binding of the contract that it cannot serve.
func New(options Options) http.Handler {
	if options.Ending == nil {
		options.Ending = context.Background()
	}
	calls := runtime.NewServeMux(
		runtime.WithMarshalerOption(runtime.MIMEWildcard, lines{&runtime.JSONPb{MarshalOptions: protojson.MarshalOptions{}}}),
		runtime.WithIncomingHeaderMatcher(passedIn), runtime.WithOutgoingHeaderMatcher(passedNothing),
		runtime.WithErrorHandler(writeFailure), runtime.WithRoutingErrorHandler(noSuchPath),
		runtime.WithDisablePathLengthFallback(), runtime.WithDisableHTTPMethodOverride(),
	)
	protoregistry.GlobalFiles.RangeFilesByPackage(vernationv1.File_vernation_v1_options_proto.Package(), func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			methods := file.Services().Get(i).Methods()
			for k := range methods.Len() {
				b := bindingOf(methods.Get(k))
				calls.Handle(b.verb, b.pattern, b.handler(calls, options.Conn, options.Ending))
			}
		}
		return true
	})
	paths := http.NewServeMux()
	paths.Handle("/", calls)
	paths.HandleFunc("GET "+PathDocument, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/vnd.oai.openapi+json;version=3.1")
		_, _ = w.Write(document) // a caller who has left needs no answer
	})
	paths.HandleFunc("GET "+PathLive, func(w http.ResponseWriter, _ *http.Request) { _, _ = fmt.Fprintln(w, "live") })
	paths.HandleFunc("GET "+PathReady, readiness(options.Ready))
	if options.Metrics != nil {
		paths.Handle("GET "+PathMetrics, options.Metrics)
	}
	return crossOrigin(options.Origins)(hardened(paths))
}

// readiness answers a probe.
func readiness(ready func(context.Context) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := ready(r.Context()); err != nil {
			http.Error(w, err.Error(), http.StatusServiceUnavailable)
			return
		}
		_, _ = fmt.Fprintln(w, "ready")
	}
}

// crossOrigin lets pages of the listed origins call from a browser; without any nothing is said to browsers, who then
// refuse. Credentials of a browser (cookies) are never asked for: a token is sent by the page itself.
func crossOrigin(origins []string) func(http.Handler) http.Handler {
	if len(origins) == 0 {
		return func(next http.Handler) http.Handler { return next }
	}
	return cors.New(cors.Options{
		AllowedOrigins: origins,
		AllowedMethods: []string{http.MethodGet, http.MethodPost, http.MethodPatch, http.MethodDelete},
		AllowedHeaders: []string{"Authorization", "Content-Type", "Grpc-Timeout", "Traceparent", "Tracestate"},
		ExposedHeaders: []string{"Retry-After"},
		MaxAge:         int(corsFor.Seconds()),
	}).Handler
}

// hardened bounds bodies, and says to browsers and caches that answers are data of one caller.
func hardened(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, bodyBytesMax)
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// passedIn are the headers that go on to the gRPC server: the credential and the trace. Grpc-Timeout is read by the
// library and becomes the deadline of the call.
func passedIn(header string) (string, bool) {
	switch header {
	case "Traceparent", "Tracestate":
		return header, true
	}
	return "", false // Authorization goes on by itself
}

// passedNothing keeps metadata of the server's answers inside.
func passedNothing(string) (string, bool) { return "", false }

// lines is JSON whose streams are JSON lines.
type lines struct{ *runtime.JSONPb }

// StreamContentType is that of JSON lines.
func (lines) StreamContentType(any) string { return "application/x-ndjson" }
