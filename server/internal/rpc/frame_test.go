package rpc_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"
	_ "google.golang.org/protobuf/types/known/emptypb" // the strange services take it

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/identity"
	"vernation/server/internal/rpc"
)

const requestID = "0191e1c2-7c1f-7b53-9c55-2f7ad1a0c3f4"

// lines is a log that a test may read while the server still writes.
type lines struct {
	mutex sync.Mutex
	text  bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.Write(p)
}

func (l *lines) String() string {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.String()
}

// siteHandler answers GetSite by a function of the test; nobody wrote its other methods.
type siteHandler struct {
	vernationv1.UnimplementedSiteServiceServer
	get func(context.Context, *vernationv1.GetSiteRequest) (*vernationv1.Site, error)
}

func (h *siteHandler) GetSite(ctx context.Context, request *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
	return h.get(ctx, request)
}

// bundle is a server in its frame behind a real socket, with a connection to it.
type bundle struct {
	keys *identity.Keys
	log  *lines
	conn *grpc.ClientConn
}

func setup(t *testing.T, services ...rpc.Service) bundle {
	t.Helper()
	return setupIn(t, rpc.Frame{}, services...)
}

// setupIn is setup with more in the frame than keys, clock and log.
func setupIn(t *testing.T, around rpc.Frame, services ...rpc.Service) bundle {
	t.Helper()
	keys, err := identity.GenerateKeys()
	if err != nil {
		t.Fatal(err)
	}
	log := &lines{}
	services = append(services, func(r grpc.ServiceRegistrar) { grpc_health_v1.RegisterHealthServer(r, health.NewServer()) })
	around.Keys, around.Clock, around.Log = keys, &firm.Clock{}, slog.New(slog.NewJSONHandler(log, nil))
	server := rpc.NewServer(around, services)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	conn, err := grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		conn.Close()
		server.Stop()
		if err := <-served; err != nil {
			t.Errorf("Serve: %v", err)
		}
	})
	return bundle{keys, log, conn}
}

// sites serves GetSite by a function.
func sites(get func(context.Context, *vernationv1.GetSiteRequest) (*vernationv1.Site, error)) rpc.Service {
	return func(r grpc.ServiceRegistrar) { vernationv1.RegisterSiteServiceServer(r, &siteHandler{get: get}) }
}

// untouched serves a GetSite that no call of the test may reach.
func untouched(t *testing.T) rpc.Service {
	return sites(func(context.Context, *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
		t.Error("the handler ran")
		return nil, errors.New("it must not")
	})
}

// as puts a fresh token for a caller into the metadata.
func (b bundle) as(t *testing.T, caller firm.Caller) context.Context {
	t.Helper()
	token, err := b.keys.Issue(caller, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	return bearing("Bearer " + token)
}

func bearing(authorization ...string) context.Context {
	md := metadata.MD{"authorization": authorization}
	return metadata.NewOutgoingContext(context.Background(), md)
}

var (
	office      = firm.Caller{Business: "demo", Subject: "office-1", Role: firm.Office}
	technician  = firm.Caller{Business: "demo", Subject: "tech-1", Role: firm.Technician, Technician: "tech-a"}
	integration = firm.Caller{Business: "demo", Subject: "int-1", Role: firm.Integration}
)

// detail finds the google.rpc detail of one type in an error.
func detail[D any](t *testing.T, err error) (found D) {
	t.Helper()
	for _, d := range status.Convert(err).Details() {
		if found, ok := d.(D); ok {
			return found
		}
	}
	t.Fatalf("%v carries no %T", err, found)
	return found
}

// expect compares code and reason of a refusal.
func expect(t *testing.T, err error, code codes.Code, reason string) {
	t.Helper()
	if status.Code(err) != code {
		t.Fatalf("code %s (%v), want %s", status.Code(err), err, code)
	}
	info := detail[*errdetails.ErrorInfo](t, err)
	if info.GetReason() != reason || info.GetDomain() != "vernation" {
		t.Errorf("reason %s of domain %s, want %s of vernation", info.GetReason(), info.GetDomain(), reason)
	}
}

func TestFrame_RefusesWhoeverIsNotKnown(t *testing.T) {
	t.Parallel()
	b := setup(t, untouched(t))
	other, err := identity.GenerateKeys()
	if err != nil {
		t.Fatal(err)
	}
	foreign, err := other.Issue(office, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	short, err := b.keys.Issue(office, time.Second)
	if err != nil {
		t.Fatal(err)
	}
	good, err := b.keys.Issue(office, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	// The machine's clock cannot be moved: the token's one second has to pass. Expiry counts whole seconds.
	time.Sleep(1100 * time.Millisecond)
	tests := []struct {
		name   string
		ctx    context.Context
		reason string
	}{
		{"no token", context.Background(), identity.ReasonMissing},
		{"empty token", bearing("Bearer "), identity.ReasonMissing},
		{"another scheme", bearing("Basic b2ZmaWNlOm9mZmljZQ=="), identity.ReasonMalformed},
		{"two tokens", bearing("Bearer "+good, "Bearer "+good), identity.ReasonMalformed},
		{"no token of ours", bearing("Bearer secret"), identity.ReasonMalformed},
		{"expired", bearing("Bearer " + short), identity.ReasonExpired},
		{"signed by another key", bearing("Bearer " + foreign), identity.ReasonSignature},
	}
	client := vernationv1.NewSiteServiceClient(b.conn)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := client.GetSite(tt.ctx, &vernationv1.GetSiteRequest{Name: "businesses/demo/sites/s"})
			expect(t, err, codes.Unauthenticated, tt.reason)
		})
	}
}

func TestFrame_HandlerGetsTheCallerOfTheToken(t *testing.T) {
	t.Parallel()
	want := technician
	want.ResponsibleApplicator = true
	b := setup(t, sites(func(ctx context.Context, request *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
		if diff := cmp.Diff(want, rpc.CallerOf(ctx)); diff != "" {
			t.Errorf("caller (-want +got):\n%s", diff)
		}
		return &vernationv1.Site{Name: request.GetName()}, nil
	}))
	site, err := vernationv1.NewSiteServiceClient(b.conn).GetSite(b.as(t, want), &vernationv1.GetSiteRequest{Name: "businesses/demo/sites/s"})
	if err != nil || site.GetName() != "businesses/demo/sites/s" {
		t.Errorf("GetSite = %v, %v", site, err)
	}
}

func TestFrame_RolesOfTheContractDecide(t *testing.T) {
	t.Parallel()
	b := setup(t, untouched(t), func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterCaseServiceServer(r, vernationv1.UnimplementedCaseServiceServer{})
	})
	_, err := vernationv1.NewSiteServiceClient(b.conn).CreateSite(b.as(t, integration), &vernationv1.CreateSiteRequest{})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
	if needs := detail[*errdetails.ErrorInfo](t, err).GetMetadata()["needs"]; needs != "office" {
		t.Errorf("needs %q, want office", needs)
	}
	_, err = vernationv1.NewCaseServiceClient(b.conn).ApproveCourse(b.as(t, office), &vernationv1.ApproveCourseRequest{})
	expect(t, err, codes.PermissionDenied, "RIGHT_NEEDED")
}

func TestFrame_AnotherBusinessIsRefusedBeforeAnythingElse(t *testing.T) {
	t.Parallel()
	b := setup(t, untouched(t))
	client := vernationv1.NewSiteServiceClient(b.conn)
	ctx := b.as(t, office)
	tests := []struct {
		name, field string
		call        func() error
	}{
		{"name", "name", func() error {
			_, err := client.GetSite(ctx, &vernationv1.GetSiteRequest{Name: "businesses/other/sites/s"})
			return err
		}},
		{"name that begins alike", "name", func() error {
			_, err := client.GetSite(ctx, &vernationv1.GetSiteRequest{Name: "businesses/demo-two/sites/s"})
			return err
		}},
		{"name that is otherwise no name", "name", func() error {
			_, err := client.GetSite(ctx, &vernationv1.GetSiteRequest{Name: "businesses/OTHER//"})
			return err
		}},
		{"parent", "parent", func() error {
			_, err := client.ListSites(ctx, &vernationv1.ListSitesRequest{Parent: "businesses/other"})
			return err
		}},
		{"a name deep inside", "site.name", func() error {
			_, err := client.CreateSite(ctx, &vernationv1.CreateSiteRequest{Parent: "businesses/demo", Site: &vernationv1.Site{Name: "businesses/other/sites/s"}})
			return err
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := tt.call()
			expect(t, err, codes.PermissionDenied, "OTHER_BUSINESS")
			if text := status.Convert(err).Message(); !strings.HasPrefix(text, tt.field+" names another business") {
				t.Errorf("message %q does not name the field %s", text, tt.field)
			}
		})
	}
}

func TestFrame_SaysAllThatIsWrongWithARequestAtOnce(t *testing.T) {
	t.Parallel()
	b := setup(t, untouched(t))
	_, err := vernationv1.NewSiteServiceClient(b.conn).ListSites(b.as(t, office), &vernationv1.ListSitesRequest{
		Parent: "demo", PageSize: -1, PageToken: strings.Repeat("x", 2049)})
	expect(t, err, codes.InvalidArgument, "INVALID_FIELDS")
	var fields []string
	for _, violation := range detail[*errdetails.BadRequest](t, err).GetFieldViolations() {
		fields = append(fields, violation.GetField()+" "+violation.GetReason())
		if violation.GetDescription() == "" {
			t.Errorf("%s: nothing says what would be right", violation.GetField())
		}
	}
	slices.Sort(fields)
	want := []string{"page_size INT32_GTE_LTE", "page_token STRING_MAX_LEN", "parent NAME_FORM"}
	if diff := cmp.Diff(want, fields); diff != "" {
		t.Errorf("fields (-want +got):\n%s", diff)
	}
}

func TestFrame_NothingOfTheInsideLeaves(t *testing.T) {
	t.Parallel()
	const secret = "door code 4711"
	fails := map[string]func() error{
		"panic":                   func() error { panic(secret) },
		"plain error":             func() error { return errors.New(secret) },
		"wrapped cause":           func() error { return fmt.Errorf("keep: %w", errors.New(secret)) },
		"status of the handler's": func() error { return status.Error(codes.DataLoss, secret) },
		"internal fault":          func() error { return fault.New(fault.Internal, "X", secret) },
		"unknown kind":            func() error { return fault.New(fault.Kind(99), "X", secret) },
	}
	for name, fail := range fails {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := setup(t, sites(func(context.Context, *vernationv1.GetSiteRequest) (*vernationv1.Site, error) { return nil, fail() }))
			_, err := vernationv1.NewSiteServiceClient(b.conn).GetSite(b.as(t, office), &vernationv1.GetSiteRequest{Name: "businesses/demo/sites/s"})
			told := status.Convert(err)
			if told.Code() != codes.Internal || strings.Contains(told.String(), "4711") || len(told.Details()) != 0 {
				t.Fatalf("the caller is told %v %v; want INTERNAL, an id and nothing else", told, told.Details())
			}
			words := strings.Fields(told.Message())
			incident := words[len(words)-1]
			log := b.log.String()
			if !strings.Contains(log, incident) || !strings.Contains(log, secret) || !strings.Contains(log, "goroutine") {
				t.Errorf("the log lacks incident %s, cause or stack:\n%s", incident, log)
			}
		})
	}
}

func TestFrame_WhatIsKnownOfAFaultIsToldWithoutItsCause(t *testing.T) {
	t.Parallel()
	b := setup(t, sites(func(context.Context, *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
		return nil, fmt.Errorf("reading: %w", &fault.Fault{Kind: fault.NotFound, Reason: "SITE_NOT_FOUND", Message: "no such site",
			Subject: "businesses/demo/sites/s", Err: errors.New("sql: no rows")})
	}))
	_, err := vernationv1.NewSiteServiceClient(b.conn).GetSite(b.as(t, office), &vernationv1.GetSiteRequest{Name: "businesses/demo/sites/s"})
	expect(t, err, codes.NotFound, "SITE_NOT_FOUND")
	if text := status.Convert(err).Message(); text != "no such site" {
		t.Errorf("message %q, want the fault's own", text)
	}
}

func TestFrame_MethodsThatNobodyWroteAreUnimplemented(t *testing.T) {
	t.Parallel()
	b := setup(t, untouched(t))
	_, err := vernationv1.NewSiteServiceClient(b.conn).ListSites(b.as(t, office), &vernationv1.ListSitesRequest{Parent: "businesses/demo"})
	if status.Code(err) != codes.Unimplemented {
		t.Errorf("ListSites = %v, want UNIMPLEMENTED", err)
	}
}

func TestFrame_ACallerWhoLeavesIsNoFaultOfTheServer(t *testing.T) {
	t.Parallel()
	b := setup(t, sites(func(ctx context.Context, _ *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
		<-ctx.Done()
		return nil, fmt.Errorf("asking the store: %w", ctx.Err())
	}))
	ctx, cancel := context.WithTimeout(b.as(t, office), 50*time.Millisecond)
	defer cancel()
	_, err := vernationv1.NewSiteServiceClient(b.conn).GetSite(ctx, &vernationv1.GetSiteRequest{Name: "businesses/demo/sites/s"})
	if status.Code(err) != codes.DeadlineExceeded {
		t.Errorf("GetSite = %v, want DEADLINE_EXCEEDED", err)
	}
	if log := b.log.String(); strings.Contains(log, "internal error") {
		t.Errorf("the log calls it an internal error:\n%s", log)
	}
}

func TestFrame_TenMegabytesAreRefused(t *testing.T) {
	t.Parallel()
	b := setup(t, untouched(t))
	_, err := vernationv1.NewSiteServiceClient(b.conn).ListSites(b.as(t, office),
		&vernationv1.ListSitesRequest{Parent: "businesses/demo", PageToken: strings.Repeat("x", 10<<20)})
	if status.Code(err) != codes.ResourceExhausted || !strings.Contains(fmt.Sprint(status.Convert(err).Details()), "MESSAGE_TOO_LARGE") {
		t.Errorf("10 MB = %v, want RESOURCE_EXHAUSTED with the reason MESSAGE_TOO_LARGE", err)
	}
	_, err = vernationv1.NewSiteServiceClient(b.conn).ListSites(b.as(t, office),
		&vernationv1.ListSitesRequest{Parent: "businesses/demo", PageToken: strings.Repeat("x", 20<<20)})
	if status.Code(err) != codes.ResourceExhausted {
		t.Errorf("20 MB = %v, want RESOURCE_EXHAUSTED", err)
	}
}

func TestFrame_HealthNeedsNoCredential(t *testing.T) {
	t.Parallel()
	b := setup(t, untouched(t))
	state, err := grpc_health_v1.NewHealthClient(b.conn).Check(context.Background(), &grpc_health_v1.HealthCheckRequest{})
	if err != nil || state.GetStatus() != grpc_health_v1.HealthCheckResponse_SERVING {
		t.Errorf("Check = %v, %v", state, err)
	}
}

func TestFrame_LogNamesNoPersonAndNoPayload(t *testing.T) {
	t.Parallel()
	b := setup(t, sites(func(context.Context, *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
		return &vernationv1.Site{Name: "businesses/demo/sites/house-of-somebody"}, nil
	}))
	caller := office
	caller.Subject = "somebody@example.org"
	if _, err := vernationv1.NewSiteServiceClient(b.conn).GetSite(b.as(t, caller), &vernationv1.GetSiteRequest{Name: "businesses/demo/sites/house-of-somebody"}); err != nil {
		t.Fatal(err)
	}
	// The line is written after the answer is sent: wait for it.
	var line map[string]any
	for deadline := time.Now().Add(5 * time.Second); json.Unmarshal([]byte(b.log.String()), &line) != nil; {
		if time.Now().After(deadline) {
			t.Fatalf("no line for the call:\n%s", b.log)
		}
		time.Sleep(time.Millisecond)
	}
	for key, want := range map[string]any{"method": "/vernation.v1.SiteService/GetSite", "code": "OK", "role": "office", "business": "demo"} {
		if line[key] != want {
			t.Errorf("%s = %v, want %v", key, line[key], want)
		}
	}
	if strings.Contains(b.log.String(), "somebody") {
		t.Errorf("the log names somebody:\n%s", b.log)
	}
}

// strangeDoors registers services as somebody might write them, without roles and with a stream of requests, once for all tests.
var strangeDoors = sync.OnceValue(func() error {
	empty := proto.String(".google.protobuf.Empty")
	file, err := protodesc.NewFile(&descriptorpb.FileDescriptorProto{
		Syntax: proto.String("proto3"), Name: proto.String("strange/v1/door.proto"), Package: proto.String("strange.v1"),
		Dependency: []string{"google/protobuf/empty.proto"},
		Service: []*descriptorpb.ServiceDescriptorProto{
			{Name: proto.String("Unguarded"), Method: []*descriptorpb.MethodDescriptorProto{
				{Name: proto.String("Open"), InputType: empty, OutputType: empty}}},
			{Name: proto.String("Streaming"), Method: []*descriptorpb.MethodDescriptorProto{
				{Name: proto.String("Pour"), InputType: empty, OutputType: empty, ClientStreaming: proto.Bool(true)}}},
		},
	}, protoregistry.GlobalFiles)
	if err != nil {
		return err
	}
	return protoregistry.GlobalFiles.RegisterFile(file)
})

func TestNewServer_RefusesAServiceThatItCannotHold(t *testing.T) {
	keys, err := identity.GenerateKeys()
	if err != nil {
		t.Fatal(err)
	}
	if err := strangeDoors(); err != nil {
		t.Fatal(err)
	}
	for service, want := range map[string]string{
		"strange.v1.Unguarded": "Open names no required_roles",
		"strange.v1.Streaming": "Pour takes a stream",
		"strange.v1.Unknown":   "without a descriptor",
	} {
		t.Run(service, func(t *testing.T) {
			defer func() {
				if broken := recover(); broken == nil || !strings.Contains(fmt.Sprint(broken), want) {
					t.Errorf("NewServer said %v; want a panic that says %q", broken, want)
				}
			}()
			register := func(r grpc.ServiceRegistrar) {
				r.RegisterService(&grpc.ServiceDesc{ServiceName: service, HandlerType: (*any)(nil)}, struct{}{})
			}
			rpc.NewServer(rpc.Frame{Keys: keys, Clock: &firm.Clock{}, Log: slog.New(slog.DiscardHandler)}, []rpc.Service{register})
		})
	}
}
