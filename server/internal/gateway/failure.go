package gateway

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// refusal is a failure of ours, in the form of those of the server: a sentence and a stable reason.
func refusal(code codes.Code, reason, sentence string, args ...any) error {
	bare := status.New(code, fmt.Sprintf(sentence, args...))
	full, err := bare.WithDetails(&errdetails.ErrorInfo{Reason: reason, Domain: "vernation"})
	if err != nil {
		return bare.Err()
	}
	return full.Err()
}

// plain takes the mechanics out of the libraries' sentences: their prefix, and the spaces that they vary so that
// nobody relies on them.
func plain(err error) string {
	return strings.TrimSpace(strings.TrimPrefix(strings.ReplaceAll(err.Error(), "\u00a0", " "), "proto:"))
}

// noSuchPath answers a path, or a verb of HTTP on it, that the contract does not have.
func noSuchPath(ctx context.Context, mux *runtime.ServeMux, marshaler runtime.Marshaler, w http.ResponseWriter, r *http.Request, code int) {
	err := refusal(codes.NotFound, "PATH_UNKNOWN", "the API has no such path: want one of those in %s", PathDocument)
	switch code {
	case http.StatusMethodNotAllowed:
		err = &runtime.HTTPStatusError{HTTPStatus: code, Err: refusal(codes.Unimplemented, "VERB_UNKNOWN", "the path takes no %s: see %s", r.Method, PathDocument)}
	case http.StatusBadRequest:
		err = refusal(codes.InvalidArgument, "PATH_FORM", "the path cannot be read: want one of those in %s", PathDocument)
	}
	writeFailure(ctx, mux, marshaler, w, r, err)
}

// writeFailure writes a google.rpc.Status as JSON under the status of HTTP that its code means.
func writeFailure(_ context.Context, _ *runtime.ServeMux, marshaler runtime.Marshaler, w http.ResponseWriter, _ *http.Request, err error) {
	var chosen *runtime.HTTPStatusError
	if errors.As(err, &chosen) {
		err = chosen.Err
	}
	failure := status.Convert(err)
	code := runtime.HTTPStatusFromCode(failure.Code())
	if chosen != nil {
		code = chosen.HTTPStatus
	}
	text, err := marshaler.Marshal(failure.Proto())
	if err != nil { // a detail of a kind that this binary does not know
		text, _ = marshaler.Marshal(status.New(failure.Code(), failure.Message()).Proto())
	}
	if failure.Code() == codes.Unauthenticated {
		w.Header().Set("WWW-Authenticate", "Bearer") // RFC 6750, section 3
	}
	for _, detail := range failure.Details() {
		if retry, ok := detail.(*errdetails.RetryInfo); ok {
			w.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(retry.GetRetryDelay().AsDuration().Seconds()))))
		}
	}
	w.Header().Set("Content-Type", marshaler.ContentType(nil))
	w.WriteHeader(code)
	_, _ = w.Write(text) // a caller who has left needs no answer
}
