package app_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/app"
	"vernation/server/internal/calltest"
	"vernation/server/internal/demo"
	"vernation/server/internal/firm"
)

// refusal is the code and the reason with which the frame must refuse; the zero one is none.
type refusal struct {
	code   codes.Code
	reason string
}

// ofTheFrame are the reasons for which a call does not reach its handler because of who calls.
var ofTheFrame = []string{"TOKEN_MISSING", "TOKEN_MALFORMED", "KEY_UNKNOWN", "KEY_ENDED", "ROLE_NEEDED", "RIGHT_NEEDED", "SCOPE_NEEDED"}

// roleOf is the contract's word for the role of a token.
var roleOf = map[firm.Role]vernationv1.Role{
	firm.Office: vernationv1.Role_ROLE_OFFICE, firm.Technician: vernationv1.Role_ROLE_TECHNICIAN, firm.Integration: vernationv1.Role_ROLE_INTEGRATION,
}

// owed is how the contract has a caller refused; a nil caller is nobody.
func owed(method calltest.Method, caller *firm.Caller) refusal {
	switch {
	case caller == nil:
		return refusal{codes.Unauthenticated, "TOKEN_MISSING"}
	case !slices.Contains(method.Roles(), roleOf[caller.Role]):
		return refusal{codes.PermissionDenied, "ROLE_NEEDED"}
	case caller.Scopes != "" && caller.Scopes != scope(method):
		return refusal{codes.PermissionDenied, "SCOPE_NEEDED"}
	case method.NeedsResponsibleApplicator() && !caller.ResponsibleApplicator:
		return refusal{codes.PermissionDenied, "RIGHT_NEEDED"}
	}
	return refusal{}
}

// scope is the collection that a method's path speaks of last: what a key must be for.
func scope(method calltest.Method) (last string) {
	rule := proto.GetExtension(method.Options(), annotations.E_Http).(*annotations.HttpRule)
	path := rule.GetGet() + rule.GetPost() + rule.GetPatch() + rule.GetDelete()
	path, _, _ = strings.Cut(path, ":")
	words := strings.Split(strings.NewReplacer("{", "/", "}", "/", "=", "/").Replace(path), "/")
	for i, word := range words {
		next := slices.IndexFunc(words[i+1:], func(w string) bool { return w != "" })
		if plural := strings.HasSuffix(word, "s"); plural && (next < 0 || words[i+1+next] == "*") {
			last = word
		}
	}
	return last
}

// asker is somebody who calls.
type asker struct {
	ctx    context.Context
	caller *firm.Caller
}

// askers are nobody, each kind of caller, and an integration key for each scope.
func askers(t *testing.T, a *app.App, c *client.Client) map[string]asker {
	t.Helper()
	all := map[string]asker{"nobody": {ctx: t.Context()}}
	callers := people(string(demo.Business))
	carried := contexts(t, a, callers)
	for name, caller := range callers {
		all[name] = asker{carried[name], &caller}
	}
	scopes := []string{""}
	for _, method := range calltest.Methods() {
		if slices.Contains(method.Roles(), vernationv1.Role_ROLE_INTEGRATION) {
			scopes = append(scopes, scope(method))
		}
	}
	slices.Sort(scopes)
	for i, scope := range slices.Compact(scopes) {
		key := &vernationv1.IntegrationKey{DisplayName: "A program"}
		if scope != "" {
			key.Scopes = []string{scope}
		}
		issued, err := c.Keys().CreateIntegrationKey(carried["office"], &vernationv1.CreateIntegrationKeyRequest{
			Parent: "businesses/" + string(demo.Business), IntegrationKeyId: fmt.Sprintf("key-%d", i), IntegrationKey: key, RequestId: uuid.NewString(),
		})
		if err != nil {
			t.Fatalf("a key for the scope %q: %v", scope, err)
		}
		all["key for "+scope] = asker{metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+issued.GetCredential()),
			&firm.Caller{Role: firm.Integration, Scopes: scope}}
	}
	return all
}

// Every method of the contract as every role, as an integration key of each scope and as nobody: who may call it is what
// the contract says.
func TestRoles_EveryMethodAnswersWhomTheContractNames(t *testing.T) {
	t.Parallel()
	w := openTold(t)
	a, c := w.serve(t, app.Config{})
	m := maker(string(demo.Business), 1)
	askers := askers(t, a, c)
	let := 0
	for _, method := range calltest.Methods() {
		for name, asker := range askers {
			_, err := method.Call(asker.ctx, c.Conn(), m.Request(method))
			want, got := owed(method, asker.caller), refusal{status.Code(err), ""}
			for _, detail := range status.Convert(err).Details() {
				if info, ok := detail.(*errdetails.ErrorInfo); ok {
					got.reason = info.GetReason()
				}
			}
			if want == (refusal{}) {
				let++
				if slices.Contains(ofTheFrame, got.reason) || got.code == codes.Unauthenticated || !answered(err) {
					t.Errorf("%s as %s: %v; the contract lets it", method.Path(), name, err)
				}
			} else if got != want {
				t.Errorf("%s as %s: %v, want %v", method.Path(), name, err, want)
			}
		}
	}
	if let < 2*len(calltest.Methods()) {
		t.Errorf("only %d calls were let through, so that the callers are not what they say", let)
	}
}
