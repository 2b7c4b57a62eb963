package client_test

import (
	"context"
	"encoding/pem"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
)

// findings takes down the request ids that come, and is away for the first two.
type findings struct {
	vernationv1.UnimplementedFindingServiceServer
	mu  sync.Mutex
	ids []string
}

func (f *findings) CreateFinding(ctx context.Context, request *vernationv1.CreateFindingRequest) (*vernationv1.Finding, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.ids = append(f.ids, request.GetRequestId())
	if len(f.ids) <= 2 {
		return nil, status.Error(codes.Unavailable, "away")
	}
	deadline, ok := ctx.Deadline()
	if !ok || time.Until(deadline) > client.CallWithin {
		return nil, status.Error(codes.Internal, "the call has no deadline")
	}
	return &vernationv1.Finding{}, nil
}

func TestClient_MakesOneRequestIDForAllAttemptsOfACall(t *testing.T) {
	t.Parallel()
	handler := &findings{}
	c := dial(t, serveMore(t, func(server *grpc.Server) { vernationv1.RegisterFindingServiceServer(server, handler) }))
	request := &vernationv1.CreateFindingRequest{Parent: "businesses/x"}
	for range 2 {
		if _, err := c.Findings().CreateFinding(t.Context(), request); err != nil {
			t.Fatal(err)
		}
	}
	if request.GetRequestId() != "" {
		t.Errorf("the caller's message now has the request id %q", request.GetRequestId())
	}
	if len(handler.ids) != 4 || handler.ids[0] != handler.ids[1] || handler.ids[1] != handler.ids[2] || handler.ids[2] == handler.ids[3] {
		t.Errorf("request ids %q: want three attempts with one, then another one", handler.ids)
	}
	if _, err := uuid.Parse(handler.ids[0]); err != nil {
		t.Errorf("request id %q: %v", handler.ids[0], err)
	}
	if _, err := c.Findings().CreateFinding(t.Context(), &vernationv1.CreateFindingRequest{RequestId: "mine"}); err != nil || handler.ids[4] != "mine" {
		t.Errorf("the caller's own request id became %q, %v", handler.ids[4], err)
	}
}

// serveMore starts a server with services of the test's own.
func serveMore(t *testing.T, register func(*grpc.Server), options ...grpc.ServerOption) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := grpc.NewServer(options...) // without a health service it is taken to serve once it answers
	register(server)
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	t.Cleanup(func() {
		server.Stop()
		<-served
	})
	return listener.Addr().String()
}

// changes sends a message for each number after the resume token, and breaks off after every second one.
type changes struct {
	vernationv1.UnimplementedChangeServiceServer
	mu    sync.Mutex
	began []string
}

func (c *changes) WatchDayRoutes(request *vernationv1.WatchDayRoutesRequest, stream grpc.ServerStreamingServer[vernationv1.WatchDayRoutesResponse]) error {
	c.mu.Lock()
	c.began = append(c.began, request.GetResumeToken())
	c.mu.Unlock()
	last := request.GetResumeToken()
	for range 2 {
		if last == "aaaaa" {
			return status.Error(codes.Unauthenticated, "the token has ended")
		}
		last += "a"
		if err := stream.Send(&vernationv1.WatchDayRoutesResponse{ResumeToken: last}); err != nil {
			return err
		}
	}
	return status.Error(codes.Unavailable, "the server ends")
}

func TestWatchDayRoutes_GoesOnAfterTheLastMessageWhereTheServerEnds(t *testing.T) {
	t.Parallel()
	handler := &changes{}
	c := dial(t, serveMore(t, func(server *grpc.Server) { vernationv1.RegisterChangeServiceServer(server, handler) }))
	var got []string
	var ended error
	for message, err := range c.WatchDayRoutes(t.Context(), &vernationv1.WatchDayRoutesRequest{}) {
		if err != nil {
			ended = err
			continue
		}
		got = append(got, message.GetResumeToken())
	}
	if strings.Join(got, " ") != "a aa aaa aaaa aaaaa" || status.Code(ended) != codes.Unauthenticated {
		t.Errorf("messages %q, then %v: want each once, then the failure that is no outage", got, ended)
	}
	if strings.Join(handler.began, ",") != ",aa,aaaa" {
		t.Errorf("the streams began after %q", handler.began)
	}
	for range c.WatchDayRoutes(t.Context(), &vernationv1.WatchDayRoutesRequest{}) {
		break // ends the stream, or the server could not stop
	}
}

func TestAll_EndsWithTheErrorOfAPageAndWhereTheLoopBreaksOff(t *testing.T) {
	t.Parallel()
	pages := map[string]*vernationv1.ListSitesResponse{
		"":  {Sites: []*vernationv1.Site{{Name: "1"}, {Name: "2"}}, NextPageToken: "b"},
		"b": {Sites: []*vernationv1.Site{{Name: "3"}}, NextPageToken: "c"},
		"s": {Sites: []*vernationv1.Site{{Name: "s"}}, NextPageToken: "s"},
	}
	asked := 0
	list := func(_ context.Context, request *vernationv1.ListSitesRequest, _ ...grpc.CallOption) (*vernationv1.ListSitesResponse, error) {
		asked++
		if page, ok := pages[request.GetPageToken()]; ok {
			return page, nil
		}
		return nil, errors.New("no such page")
	}
	over := func(from string, most int) (names string, failed error) {
		request := &vernationv1.ListSitesRequest{PageToken: from}
		before := proto.CloneOf(request)
		for site, err := range client.All(t.Context(), list, request, (*vernationv1.ListSitesResponse).GetSites) {
			if failed = err; err != nil {
				break
			}
			if names += site.GetName(); len(names) == most {
				break
			}
		}
		if !proto.Equal(request, before) {
			t.Errorf("the caller's request became %v", request)
		}
		return names, failed
	}
	if names, err := over("", 9); names != "123" || err == nil {
		t.Errorf("went over %q, %v: want 123 and the error of the third page", names, err)
	}
	if asked = 0; true {
		if names, err := over("", 1); names != "1" || err != nil || asked != 1 {
			t.Errorf("went over %q, %v with %d calls: want 1 and one call", names, err, asked)
		}
	}
	if names, err := over("s", 9); names != "s" || err == nil {
		t.Errorf("went over %q, %v: want an end where pages repeat", names, err)
	}
}

func TestCredentials_AreReadForEachCall(t *testing.T) {
	_, address := serve(t, "tcp", "127.0.0.1:0", &sites{})
	file := filepath.Join(t.TempDir(), "token")
	write := func(text string) {
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	saw := func(c *client.Client) string {
		site, err := c.Sites().GetSite(t.Context(), &vernationv1.GetSiteRequest{})
		if err != nil {
			return err.Error()
		}
		return site.GetDisplayName()
	}
	write("first\n")
	c := dial(t, address, client.WithTokenFile(file))
	if got := saw(c); got != "Bearer first" {
		t.Errorf("the server saw %q", got)
	}
	if write("second"); saw(c) != "Bearer second" {
		t.Error("a renewed token is not read")
	}
	if write(" "); !strings.Contains(saw(c), "is empty") {
		t.Errorf("an empty file is said to be %q", saw(c))
	}
	t.Setenv("TOKEN_OF_A_TEST", "third")
	c = dial(t, address, client.WithTokenVariable("TOKEN_OF_A_TEST"))
	if got := saw(c); got != "Bearer third" {
		t.Errorf("the server saw %q", got)
	}
	if t.Setenv("TOKEN_OF_A_TEST", ""); !strings.Contains(saw(c), "is not set") {
		t.Errorf("an unset variable is said to be %q", saw(c))
	}
}

func TestRoots_VouchForAServer(t *testing.T) {
	t.Parallel()
	own, _ := certificate(t)
	_, address := serve(t, "tcp", "127.0.0.1:0", &sites{}, grpc.Creds(credentials.NewServerTLSFromCert(&own)))
	file := filepath.Join(t.TempDir(), "roots.pem")
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: own.Certificate[0]})
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	trusted, err := client.Roots(file, "")
	if err != nil {
		t.Fatal(err)
	}
	dial(t, address, client.WithTLS(trusted))
	if _, err := client.Roots(filepath.Join(t.TempDir(), "none"), ""); err == nil {
		t.Error("a file that is not there vouches")
	}
	if err := os.WriteFile(file, []byte("nothing"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := client.Roots(file, ""); err == nil || !strings.Contains(err.Error(), "PEM") {
		t.Errorf("an empty file: %v, want what would be right", err)
	}
}

// What a failure says is read without knowing its details; another error says nothing of the kind.
func TestFailures_AreReadByTheirKind(t *testing.T) {
	t.Parallel()
	c := office(t.Context())
	defer c.Close()
	ask := func(name string) error {
		_, err := c.Sites().GetSite(t.Context(), &vernationv1.GetSiteRequest{Name: name})
		return err
	}
	if err := ask("businesses/demo-rounds/sites/nowhere"); !client.IsNotFound(err) || client.Reason(err) != "NOT_FOUND" || client.IsRefused(err) || client.IsStale(err) {
		t.Errorf("a site that is not there: %v", err)
	}
	if err := ask("nowhere"); !strings.HasPrefix(client.Sentence(err), "name: want a name of the form businesses/") {
		t.Errorf("a name without form: %s", client.Sentence(err))
	}
	// Nothing can be published that does not exist; a plan whose name is right and unknown is not found, not refused.
	_, err := c.Clients().DeleteClient(t.Context(), &vernationv1.DeleteClientRequest{Name: "businesses/demo-rounds/clients/client-offices"})
	if !client.IsRefused(err) || len(client.Refusals(err)) == 0 || client.Refusals(err)[0].Text == "" {
		t.Errorf("a client with sites is deleted: %v, %v", err, client.Refusals(err))
	}
	plain := errors.New("plain")
	if _, waits := client.RetryAfter(plain); waits || client.Reason(plain) != "" || client.FieldErrors(nil) != nil || client.Sentence(plain) != "plain" || client.IsStale(nil) {
		t.Error("an error that is none of the server's says something of its kind")
	}
}

func TestFollowChanges_GivesWhatHappensAndTheTokenToGoOnWith(t *testing.T) {
	t.Parallel()
	c := office(t.Context())
	defer c.Close()
	request := &vernationv1.ListChangesRequest{Parent: "businesses/demo-rounds", FromNow: true}
	first, err := c.Changes().ListChanges(t.Context(), request)
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"followed-one", "followed-two"} {
		_, err := c.Findings().CreateFinding(t.Context(), &vernationv1.CreateFindingRequest{Parent: "businesses/demo-rounds", FindingId: id, Finding: &vernationv1.Finding{
			Pest: "citrus-mealybug", Certainty: vernationv1.Certainty_CERTAINTY_SUSPECTED, Life: vernationv1.Life_LIFE_NOT_SURE, Plants: []string{"businesses/demo-rounds/plants/fig-window"},
		}})
		if err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	seen := map[string]bool{}
	for followed, err := range c.FollowChanges(ctx, &vernationv1.ListChangesRequest{Parent: request.GetParent(), PageToken: first.GetNextPageToken(), PageSize: 1}) {
		if err != nil {
			t.Fatal(err)
		}
		if followed.PageToken == "" || followed.PageToken == first.GetNextPageToken() {
			t.Errorf("the token after a change is %q", followed.PageToken)
		}
		if seen[followed.Change.GetSubject()] = true; len(seen) == 2 {
			break
		}
	}
}
