package gateway_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/testing/protocmp"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/gateway"
	"vernation/server/internal/identity"
	"vernation/server/internal/rpc"
)

// port is the demo's business behind an HTTP port.
type port struct {
	*firmtest.Works
	keys *identity.Keys
	conn *grpc.ClientConn
	url  string
}

func open(t *testing.T, options gateway.Options) port {
	t.Helper()
	p := port{Works: firmtest.Open(t)}
	var err error
	if p.keys, err = identity.GenerateKeys(); err != nil {
		t.Fatal(err)
	}
	services := []rpc.Service{rpc.Sites(p.Store), rpc.Findings(p.Store), rpc.Cases(p.Store), rpc.Plans(p.Store)}
	server := rpc.NewServer(rpc.Frame{Keys: p.keys, Clock: p.Clock, Log: slog.New(slog.DiscardHandler)}, services)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if p.conn, err = grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials())); err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	options.Conn = p.conn
	if options.Ready == nil {
		options.Ready = p.Store.Ready
	}
	over := httptest.NewServer(gateway.New(options))
	p.url = over.URL
	t.Cleanup(func() {
		over.Close()
		p.conn.Close()
		server.Stop()
		if err := <-served; err != nil {
			t.Errorf("Serve: %v", err)
		}
	})
	return p
}

// token is one for a caller.
func (p port) token(t *testing.T, caller firm.Caller) string {
	t.Helper()
	token, err := p.keys.Issue(caller, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	return token
}

// answer is what came back.
type answer struct {
	code   int
	header http.Header
	body   string
}

// ask makes one request; token "" is none.
func (p port) ask(t *testing.T, token, verb, path, body string, headers ...string) answer {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), verb, p.url+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if token != "" {
		request.Header.Set("Authorization", "Bearer "+token)
	}
	for i := 0; i < len(headers); i += 2 {
		request.Header.Set(headers[i], headers[i+1])
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer{response.StatusCode, response.Header, string(text)}
}

const alder = "/v1/businesses/demo-rounds/sites/offices-alder-row"

func TestHTTP_AnswersAsGRPCDoes(t *testing.T) {
	t.Parallel()
	p := open(t, gateway.Options{})
	token := p.token(t, p.Office)
	ctx := metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+token)

	got := p.ask(t, token, "GET", alder, "")
	want, err := vernationv1.NewSiteServiceClient(p.conn).GetSite(ctx, &vernationv1.GetSiteRequest{Name: "businesses/demo-rounds/sites/offices-alder-row"})
	if err != nil {
		t.Fatal(err)
	}
	site := &vernationv1.Site{}
	if err := protojson.Unmarshal([]byte(got.body), site); err != nil || got.code != http.StatusOK || got.header.Get("Content-Type") != "application/json" {
		t.Fatalf("%d %s, %v: %s", got.code, got.header, err, got.body)
	}
	if diff := cmp.Diff(want, site, protocmp.Transform()); diff != "" {
		t.Errorf("over HTTP another site than over gRPC (-gRPC +HTTP):\n%s", diff)
	}

	page := p.ask(t, token, "GET", "/v1/businesses/demo-rounds/sites?pageSize=1", "")
	list := &vernationv1.ListSitesResponse{}
	if err := protojson.Unmarshal([]byte(page.body), list); err != nil || len(list.GetSites()) != 1 || list.GetNextPageToken() == "" {
		t.Errorf("a page of one site is %s, %v", page.body, err)
	}
	rest := p.ask(t, token, "GET", "/v1/businesses/demo-rounds/sites?page_size=1&page_token="+list.GetNextPageToken(), "")
	if rest.code != http.StatusOK || rest.body == page.body {
		t.Errorf("the next page is %d %s", rest.code, rest.body)
	}
}

func TestHTTP_ACourseIsFoundDecidedAndPlannedWithoutGRPC(t *testing.T) {
	t.Parallel()
	p := open(t, gateway.Options{})
	token := p.token(t, p.Office)
	finding := `{"pest":"citrus-mealybug","certainty":"CERTAINTY_CONFIRMED","life":"LIFE_LIVING","severity":2,
		"plants":["businesses/demo-rounds/plants/fig-window"],"seenTime":"2026-03-02T15:00:00Z"}`
	found := p.ask(t, token, "POST", "/v1/businesses/demo-rounds/findings?findingId=plain-1&requestId=0191e1c2-7c1f-7b53-9c55-2f7ad1a0c3f4", finding)
	if found.code != http.StatusOK || !strings.Contains(found.body, "businesses/demo-rounds/cases/plain-1") {
		t.Fatalf("the finding is answered by %d %s", found.code, found.body)
	}
	course := p.ask(t, token, "GET", "/v1/businesses/demo-rounds/cases/plain-1/course", "")
	if course.code != http.StatusOK || !strings.Contains(course.body, `"etag"`) {
		t.Errorf("its course is %d %s", course.code, course.body)
	}
	run := p.ask(t, token, "POST", "/v1/businesses/demo-rounds/plans", `{"days":2,"maxIterations":1,"requestId":"0191e1c2-7c1f-7b53-9c55-2f7ad1a0c3f5"}`)
	var named struct{ Name string }
	if err := json.Unmarshal([]byte(run.body), &named); err != nil || run.code != http.StatusOK {
		t.Fatalf("the plan is answered by %d %s, %v", run.code, run.body, err)
	}
	ended := p.ask(t, token, "POST", "/v1/"+named.Name+":cancel", `{"requestId":"0191e1c2-7c1f-7b53-9c55-2f7ad1a0c3f6"}`)
	if ended.code != http.StatusOK || !strings.Contains(ended.body, "PLAN_RUN_STATE_CANCELLED") {
		t.Errorf("the verb of the run is answered by %d %s", ended.code, ended.body)
	}
}

func TestHTTP_FailuresCarryTheDetailsOfGRPC(t *testing.T) {
	t.Parallel()
	p := open(t, gateway.Options{})
	office := p.token(t, p.Office)
	cases := "/v1/businesses/demo-rounds/cases"
	tests := []struct {
		name, token, verb, path, body string
		code                          int
		want                          string
	}{
		{"no token", "", "GET", alder, "", http.StatusUnauthorized, `"reason":"TOKEN_MISSING"`},
		{"another's site", office, "GET", "/v1/businesses/elsewhere/sites/x", "", http.StatusForbidden, `"reason":"OTHER_BUSINESS"`},
		{"a wrong role", p.token(t, p.TechA), "GET", "/v1/businesses/demo-rounds/plans", "", http.StatusForbidden, `"needs":"office,integration"`},
		{"no such site", office, "GET", "/v1/businesses/demo-rounds/sites/nowhere", "", http.StatusNotFound, `"resourceType":"vernation/Site"`},
		{"wrong fields", office, "POST", "/v1/businesses/demo-rounds/plans", `{"days":99}`, http.StatusBadRequest, `"field":"request_id"`},
		{"no JSON", office, "POST", "/v1/businesses/demo-rounds/plans", `{"days":`, http.StatusBadRequest, `the body is not the JSON of a CreatePlanRequest: `},
		{"a misspelt field", office, "POST", "/v1/businesses/demo-rounds/plans", `{"dayz":7}`, http.StatusBadRequest, `unknown field \"dayz\"`},
		{"a misspelt query", office, "GET", cases + "?sight=x", "", http.StatusBadRequest, `\"sight\" is no field of ListCasesRequest`},
		{"a query that is no number", office, "GET", cases + "?pageSize=many", "", http.StatusBadRequest, `"reason":"QUERY_FORM"`},
		{"the name twice", office, "GET", cases + "?parent=businesses/elsewhere", "", http.StatusBadRequest, `"reason":"QUERY_UNKNOWN"`},
		{"a query beside a whole body", office, "POST", "/v1/businesses/demo-rounds/plans?days=7", "{}", http.StatusBadRequest, `"reason":"QUERY_UNKNOWN"`},
		{"a body that nothing takes", office, "GET", alder, "{}", http.StatusBadRequest, `"reason":"BODY_FORM"`},
		{"no such path", office, "GET", "/v1/nothing", "", http.StatusNotFound, `"reason":"PATH_UNKNOWN"`},
		{"no such verb", office, "DELETE", cases, "", http.StatusMethodNotAllowed, `"reason":"VERB_UNKNOWN"`},
		{"a body without end", office, "POST", "/v1/businesses/demo-rounds/plans", strings.Repeat(" ", 16<<20+1), http.StatusRequestEntityTooLarge, `"reason":"MESSAGE_TOO_LARGE"`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got := p.ask(t, tt.token, tt.verb, tt.path, tt.body)
			var failure bytes.Buffer
			if err := json.Compact(&failure, []byte(got.body)); err != nil { // protobuf's JSON varies its spaces
				t.Fatalf("%v: %s", err, got.body)
			}
			if got.code != tt.code || !strings.Contains(failure.String(), tt.want) {
				t.Errorf("%d %s, want %d and %s", got.code, failure.String(), tt.code, tt.want)
			}
			if tt.code == http.StatusUnauthorized && got.header.Get("WWW-Authenticate") != "Bearer" {
				t.Errorf("want WWW-Authenticate: Bearer, not %q", got.header.Get("WWW-Authenticate"))
			}
		})
	}
}

func TestHTTP_ReadinessSaysWhatIsAway(t *testing.T) {
	t.Parallel()
	away := errors.New("")
	p := open(t, gateway.Options{Ready: func(context.Context) error { return away }})
	away = errors.New("the queue does not answer")
	if got := p.ask(t, "", "GET", gateway.PathReady, ""); got.code != http.StatusServiceUnavailable || !strings.Contains(got.body, "queue") {
		t.Errorf("a server that is not ready says %d %s", got.code, got.body)
	}
	if got := p.ask(t, "", "GET", gateway.PathLive, ""); got.code != http.StatusOK {
		t.Errorf("though it lives: %d %s", got.code, got.body)
	}
	away = p.Store.Ready(t.Context())
	if got := p.ask(t, "", "GET", gateway.PathReady, ""); got.code != http.StatusOK {
		t.Errorf("with its store it says %d %s", got.code, got.body)
	}
}

func TestHTTP_BrowsersCallFromListedOriginsOnly(t *testing.T) {
	t.Parallel()
	closed, listed := open(t, gateway.Options{}), open(t, gateway.Options{Origins: []string{"https://office.example"}})
	asks := []string{"Access-Control-Request-Method", "POST", "Access-Control-Request-Headers", "authorization", "Origin"}
	for _, tt := range []struct {
		name, origin, want string
		at                 port
	}{
		{"none is listed", "https://office.example", "", closed},
		{"a listed one", "https://office.example", "https://office.example", listed},
		{"another one", "https://elsewhere.example", "", listed},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := tt.at.ask(t, "", "OPTIONS", "/v1/businesses/demo-rounds/plans", "", append(asks, tt.origin)...)
			if allowed := got.header.Get("Access-Control-Allow-Origin"); allowed != tt.want {
				t.Errorf("allowed is %q, want %q", allowed, tt.want)
			}
		})
	}
}

func TestHTTP_ADeadlineEndsTheCall(t *testing.T) {
	t.Parallel()
	p := open(t, gateway.Options{})
	got := p.ask(t, p.token(t, p.Office), "GET", alder, "", "Grpc-Timeout", "1n")
	if got.code != http.StatusGatewayTimeout {
		t.Errorf("a call whose time is over says %d %s, want 504", got.code, got.body)
	}
}

func TestHTTP_APatchChangesTheFieldsThatItsBodyNames(t *testing.T) {
	t.Parallel()
	p := open(t, gateway.Options{})
	token := p.token(t, p.Office)
	read := func() *vernationv1.Site {
		t.Helper()
		site := &vernationv1.Site{}
		if err := protojson.Unmarshal([]byte(p.ask(t, token, "GET", alder, "").body), site); err != nil {
			t.Fatal(err)
		}
		return site
	}
	want := read()
	got := p.ask(t, token, "PATCH", alder+"?requestId=0191e1c2-7c1f-7b53-9c55-2f7ad1a0c3f4", `{"displayName":"Offices, 6 Alder Row"}`)
	if got.code != http.StatusOK {
		t.Fatalf("%d %s", got.code, got.body)
	}
	changed := read()
	if changed.GetDisplayName() != "Offices, 6 Alder Row" || changed.GetEtag() == want.GetEtag() {
		t.Errorf("the site is called %q", changed.GetDisplayName())
	}
	want.DisplayName, want.Etag = changed.GetDisplayName(), changed.GetEtag()
	if diff := cmp.Diff(want, changed, protocmp.Transform()); diff != "" {
		t.Errorf("more changed than was asked for (-want +got):\n%s", diff)
	}
	changed.AccessNotes = ""
	whole, err := protojson.MarshalOptions{EmitUnpopulated: true}.Marshal(changed)
	if err != nil {
		t.Fatal(err)
	}
	got = p.ask(t, token, "PATCH", alder+"?requestId=0191e1c2-7c1f-7b53-9c55-2f7ad1a0c3f6", string(whole))
	if site := read(); got.code != http.StatusOK || site.GetAccessNotes() != "" || site.GetDisplayName() != "Offices, 6 Alder Row" {
		t.Errorf("the whole site sent back with a field cleared: %d %s", got.code, got.body)
	}
	if want.GetAccessNotes() == "" {
		t.Error("the site had no access notes to clear")
	}
	got = p.ask(t, token, "PATCH", alder+"?updateMask=displayName&requestId=0191e1c2-7c1f-7b53-9c55-2f7ad1a0c3f5", `{"displayName":"Offices, 8 Alder Row","jurisdiction":"GB"}`)
	if site := read(); got.code != http.StatusOK || site.GetDisplayName() != "Offices, 8 Alder Row" || site.GetJurisdiction() != want.GetJurisdiction() {
		t.Errorf("with a mask of the caller's: %d, %q in %s", got.code, site.GetDisplayName(), site.GetJurisdiction())
	}
}
