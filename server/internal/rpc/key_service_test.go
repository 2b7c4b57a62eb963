package rpc_test

import (
	"context"
	"database/sql"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/rpc"
)

// ring is the demo's business with its integration keys.
type ring struct {
	bundle
	*firmtest.Works
	office context.Context
}

func openRing(t *testing.T) ring {
	t.Helper()
	w := firmtest.New(t)
	r := ring{Works: w, bundle: setupIn(t, rpc.Frame{Ring: w.Store}, rpc.Keys(w.Store), rpc.Sites(w.Store), rpc.Cases(w.Store), rpc.Plans(w.Store))}
	r.office = r.as(t, w.Office)
	return r
}

func (r ring) calls() vernationv1.KeyServiceClient { return vernationv1.NewKeyServiceClient(r.conn) }

// issue makes a key with scopes and returns it with a context of its bearer.
func (r ring) issue(t *testing.T, id string, scopes ...string) (*vernationv1.IntegrationKey, context.Context) {
	t.Helper()
	issued, err := r.calls().CreateIntegrationKey(r.office, r.wish(id, scopes...))
	if err != nil {
		t.Fatal(err)
	}
	return issued.GetIntegrationKey(), bearing("Bearer " + issued.GetCredential())
}

func (r ring) wish(id string, scopes ...string) *vernationv1.CreateIntegrationKeyRequest {
	return &vernationv1.CreateIntegrationKeyRequest{
		Parent: "businesses/demo-rounds", IntegrationKeyId: id, RequestId: request(),
		IntegrationKey: &vernationv1.IntegrationKey{DisplayName: "The client portal", Scopes: scopes},
	}
}

func (r ring) listSites(caller context.Context) error {
	_, err := vernationv1.NewSiteServiceClient(r.conn).ListSites(caller, &vernationv1.ListSitesRequest{Parent: "businesses/demo-rounds"})
	return err
}

// want holds an error to a code and a reason.
func wantReason(t *testing.T, what string, err error, code codes.Code, reason string) {
	t.Helper()
	got := ""
	for _, detail := range status.Convert(err).Details() {
		if info, ok := detail.(*errdetails.ErrorInfo); ok {
			got = info.GetReason()
		}
	}
	if status.Code(err) != code || got != reason {
		t.Errorf("%s: %v with reason %q, want %s %s", what, err, got, code, reason)
	}
}

func TestKeys_OneCountsInItsScopesAndItsBusinessUntilItIsRevoked(t *testing.T) {
	t.Parallel()
	r := openRing(t)
	key, program := r.issue(t, "portal", "sites", "reports")
	if key.GetLastUsedTime() != nil || key.GetRotateTime() == nil || !slices.Equal(key.GetScopes(), []string{"sites", "reports"}) {
		t.Errorf("the key is %v", key)
	}
	if err := r.listSites(program); err != nil {
		t.Fatalf("the key's own scope: %v", err)
	}
	_, err := vernationv1.NewCaseServiceClient(r.conn).ListCases(program, &vernationv1.ListCasesRequest{Parent: "businesses/demo-rounds"})
	wantReason(t, "another scope", err, codes.PermissionDenied, "SCOPE_NEEDED")
	_, err = r.calls().GetIntegrationKey(program, &vernationv1.GetIntegrationKeyRequest{Name: key.GetName()})
	wantReason(t, "what integrations may not", err, codes.PermissionDenied, "ROLE_NEEDED")
	_, err = vernationv1.NewSiteServiceClient(r.conn).ListSites(program, &vernationv1.ListSitesRequest{Parent: "businesses/elsewhere"})
	wantReason(t, "another business", err, codes.PermissionDenied, "OTHER_BUSINESS")

	used, err := r.calls().GetIntegrationKey(r.office, &vernationv1.GetIntegrationKeyRequest{Name: key.GetName()})
	if err != nil || time.Since(used.GetLastUsedTime().AsTime()) > time.Minute {
		t.Errorf("after its use: %v, %v", used, err)
	}
	for range 2 { // the second finds it revoked
		ended, err := r.calls().RevokeIntegrationKey(r.office, &vernationv1.RevokeIntegrationKeyRequest{Name: key.GetName(), RequestId: request()})
		if err != nil || ended.GetRevokeTime() == nil {
			t.Fatalf("%v, %v", ended, err)
		}
	}
	wantReason(t, "a revoked key", r.listSites(program), codes.Unauthenticated, "KEY_ENDED")
}

func TestKeys_ACredentialIsShownOnceAndKeptNowhere(t *testing.T) {
	t.Parallel()
	r := openRing(t)
	ask := r.wish("portal")
	first, err := r.calls().CreateIntegrationKey(r.office, ask)
	if err != nil {
		t.Fatal(err)
	}
	again, err := r.calls().CreateIntegrationKey(r.office, ask)
	if err != nil || again.GetCredential() != "" || !proto.Equal(again.GetIntegrationKey(), first.GetIntegrationKey()) {
		t.Errorf("a repeated request gives %v, %v; want the key without its credential", again, err)
	}
	if err := r.listSites(bearing("Bearer " + first.GetCredential())); err != nil {
		t.Errorf("a key without scopes: %v", err)
	}
	secret := first.GetCredential()[strings.LastIndex(first.GetCredential(), "~")+1:]
	database := r.raw(t)
	var rows, found int
	for _, table := range []string{"integration_key", "idempotency"} {
		if err := database.QueryRowContext(t.Context(), `SELECT count(*), count(*) FILTER (WHERE t::text LIKE '%' || $1 || '%' OR t::text LIKE '%' || encode(convert_to($1, 'UTF8'), 'hex') || '%') FROM `+table+` t`, secret).Scan(&rows, &found); err != nil || rows == 0 || found > 0 {
			t.Errorf("%s keeps the secret in %d of %d rows, %v", table, found, rows, err)
		}
	}
	if strings.Contains(r.log.String(), secret) {
		t.Error("the log holds the secret")
	}
}

func TestKeys_RotationLetsTheSecretBeforeCountForAWhile(t *testing.T) {
	t.Parallel()
	r := openRing(t)
	key, before := r.issue(t, "portal")
	rotate := func(overlap time.Duration) context.Context {
		issued, err := r.calls().RotateIntegrationKey(r.office, &vernationv1.RotateIntegrationKeyRequest{
			Name: key.GetName(), RequestId: request(), Overlap: durationpb.New(overlap),
		})
		if err != nil {
			t.Fatal(err)
		}
		if (issued.GetIntegrationKey().GetEarlierSecretUntil() != nil) != (overlap > 0) {
			t.Errorf("with an overlap of %s the key is %v", overlap, issued.GetIntegrationKey())
		}
		return bearing("Bearer " + issued.GetCredential())
	}
	second := rotate(time.Hour)
	for name, program := range map[string]context.Context{"the secret before": before, "the new one": second} {
		if err := r.listSites(program); err != nil {
			t.Errorf("during the overlap %s: %v", name, err)
		}
	}
	third := rotate(0)
	wantReason(t, "the first secret", r.listSites(before), codes.Unauthenticated, "KEY_UNKNOWN")
	wantReason(t, "the second without overlap", r.listSites(second), codes.Unauthenticated, "KEY_UNKNOWN")
	if err := r.listSites(third); err != nil {
		t.Errorf("the third: %v", err)
	}
}

func TestKeys_WhoeverGuessesLearnsNothing(t *testing.T) {
	t.Parallel()
	r := openRing(t)
	_, _ = r.issue(t, "portal")
	for name, credential := range map[string]string{
		"another secret":   "vernation-key~demo-rounds~portal~AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
		"no secret":        "vernation-key~demo-rounds~portal~",
		"another key":      "vernation-key~demo-rounds~nobody~AAAA",
		"another business": "vernation-key~elsewhere~portal~AAAA",
		"no business":      "vernation-key~~portal~AAAA",
		"SQL for a name":   "vernation-key~demo-rounds'--~portal~AAAA",
	} {
		wantReason(t, name, r.listSites(bearing("Bearer "+credential)), codes.Unauthenticated, "KEY_UNKNOWN")
	}
}

func TestKeys_ReasonsAreAsDocumented(t *testing.T) {
	t.Parallel()
	r := openRing(t)
	key, _ := r.issue(t, "known")
	if _, err := r.calls().RevokeIntegrationKey(r.office, &vernationv1.RevokeIntegrationKeyRequest{Name: key.GetName(), RequestId: request()}); err != nil {
		t.Fatal(err)
	}
	create := func(change func(*vernationv1.CreateIntegrationKeyRequest)) error {
		ask := r.wish("new")
		change(ask)
		_, err := r.calls().CreateIntegrationKey(r.office, ask)
		return err
	}
	nobody := "businesses/demo-rounds/integrationKeys/nobody"
	rotate := func(name string) error {
		_, err := r.calls().RotateIntegrationKey(r.office, &vernationv1.RotateIntegrationKeyRequest{Name: name, RequestId: request()})
		return err
	}
	_, notFound := r.calls().GetIntegrationKey(r.office, &vernationv1.GetIntegrationKeyRequest{Name: nobody})
	_, notRevoked := r.calls().RevokeIntegrationKey(r.office, &vernationv1.RevokeIntegrationKeyRequest{Name: nobody, RequestId: request()})
	_, noPage := r.calls().ListIntegrationKeys(r.office, &vernationv1.ListIntegrationKeysRequest{Parent: "businesses/demo-rounds", PageToken: "x"})
	produced := map[string][]string{}
	for _, refused := range []struct {
		method string
		err    error
	}{
		{"CreateIntegrationKey", create(func(a *vernationv1.CreateIntegrationKeyRequest) {
			a.IntegrationKey.Scopes = []string{"plans", "secrets"}
		})},
		{"CreateIntegrationKey", create(func(a *vernationv1.CreateIntegrationKeyRequest) {
			a.IntegrationKey.ExpireTime = timestamppb.New(time.Now().Add(-time.Hour))
		})},
		{"CreateIntegrationKey", create(func(a *vernationv1.CreateIntegrationKeyRequest) { a.IntegrationKeyId = "known" })},
		{"GetIntegrationKey", notFound}, {"RevokeIntegrationKey", notRevoked}, {"ListIntegrationKeys", noPage},
		{"RotateIntegrationKey", rotate(nobody)}, {"RotateIntegrationKey", rotate(key.GetName())},
	} {
		if refused.err == nil {
			t.Errorf("%s is not refused", refused.method)
			continue
		}
		produced[refused.method] = append(produced[refused.method], reasonsOf(t, refused.err)...)
	}
	for method, reasons := range documented(t, "key") {
		for _, reason := range reasons {
			if !slices.Contains(produced[method], reason) {
				t.Errorf("%s documents %s; produced are %v", method, reason, produced[method])
			}
		}
	}
}

func TestKeys_AnEndedOneAndAListedOne(t *testing.T) {
	t.Parallel()
	r := openRing(t)
	ask := r.wish("short")
	ask.IntegrationKey.ExpireTime = timestamppb.New(time.Now().Add(1500 * time.Millisecond))
	short, err := r.calls().CreateIntegrationKey(r.office, ask)
	if err != nil {
		t.Fatal(err)
	}
	r.issue(t, "another")
	page, err := r.calls().ListIntegrationKeys(r.office, &vernationv1.ListIntegrationKeysRequest{Parent: "businesses/demo-rounds", PageSize: 1})
	if err != nil || len(page.GetIntegrationKeys()) != 1 || !strings.HasSuffix(page.GetIntegrationKeys()[0].GetName(), "/another") || page.GetNextPageToken() == "" {
		t.Errorf("the first page is %v, %v", page, err)
	}
	time.Sleep(time.Until(ask.GetIntegrationKey().GetExpireTime().AsTime()))
	wantReason(t, "a key whose time has passed", r.listSites(bearing("Bearer "+short.GetCredential())), codes.Unauthenticated, "KEY_ENDED")
}

// raw is a connection of the schema's owner to the rows of the business.
func (r ring) raw(t *testing.T) *sql.Conn {
	t.Helper()
	database, err := sql.Open("postgres", r.OwnerURL)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { database.Close() })
	conn, err := database.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := conn.ExecContext(t.Context(), `SET vernation.business = 'demo-rounds'`); err != nil {
		t.Fatal(err)
	}
	return conn
}

func TestFrame_ADeadlineEndsTheStatementThatTheCallWaitsFor(t *testing.T) {
	t.Parallel()
	r := openRing(t)
	key, _ := r.issue(t, "portal")
	holder := r.raw(t)
	held, err := holder.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer held.Rollback()
	if _, err := held.Exec(`SELECT FROM integration_key WHERE business_id = 'demo-rounds' FOR UPDATE`); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(r.office, 300*time.Millisecond)
	defer cancel()
	_, err = r.calls().RevokeIntegrationKey(ctx, &vernationv1.RevokeIntegrationKeyRequest{Name: key.GetName(), RequestId: request()})
	if status.Code(err) != codes.DeadlineExceeded {
		t.Fatalf("a call that waits for a row says %v, want DEADLINE_EXCEEDED", err)
	}
	waiting := -1
	for try := 0; try < 100 && waiting != 0; try++ {
		time.Sleep(20 * time.Millisecond)
		err := held.QueryRow(`SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'`).Scan(&waiting)
		if err != nil {
			t.Fatal(err)
		}
	}
	if waiting != 0 {
		t.Errorf("two seconds after its caller left the statement still waits")
	}
}
