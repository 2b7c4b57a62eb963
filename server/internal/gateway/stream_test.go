package gateway

import (
	"bufio"
	"context"
	"net"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

// watching serves the one stream that every server has, health's, as a method of the contract would be served.
func watching(t *testing.T, ending context.Context) (*health.Server, *httptest.Server) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	states, server := health.NewServer(), grpc.NewServer()
	grpc_health_v1.RegisterHealthServer(server, states)
	go server.Serve(listener)
	conn, err := grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	found, err := protoregistry.GlobalFiles.FindDescriptorByName("grpc.health.v1.Health.Watch")
	if err != nil {
		t.Fatal(err)
	}
	b := binding{
		verb: "GET", method: found.(protoreflect.MethodDescriptor), fullName: grpc_health_v1.Health_Watch_FullMethodName,
		request:  (&grpc_health_v1.HealthCheckRequest{}).ProtoReflect().Type(),
		response: (&grpc_health_v1.HealthCheckResponse{}).ProtoReflect().Type(),
	}
	if b.variable, b.pattern, err = patternOf("/v1/{service=services/*}:watch"); err != nil {
		t.Fatal(err)
	}
	mux := runtime.NewServeMux(runtime.WithMarshalerOption(runtime.MIMEWildcard, lines{&runtime.JSONPb{}}), runtime.WithErrorHandler(writeFailure))
	mux.Handle(b.verb, b.pattern, b.handler(mux, conn, ending))
	over := httptest.NewServer(mux)
	t.Cleanup(func() {
		over.CloseClientConnections()
		over.Close()
		conn.Close()
		server.Stop()
	})
	return states, over
}

func TestHTTP_AStreamIsALineOfJSONForEachMessage(t *testing.T) {
	t.Parallel()
	ending, end := context.WithCancel(t.Context())
	states, over := watching(t, ending)
	states.SetServingStatus("services/a", grpc_health_v1.HealthCheckResponse_NOT_SERVING)
	response, err := over.Client().Get(over.URL + "/v1/services/a:watch")
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	if kind := response.Header.Get("Content-Type"); kind != "application/x-ndjson" {
		t.Errorf("the stream is %q, want JSON lines", kind)
	}
	lines := bufio.NewScanner(response.Body)
	for _, want := range []grpc_health_v1.HealthCheckResponse_ServingStatus{grpc_health_v1.HealthCheckResponse_NOT_SERVING, grpc_health_v1.HealthCheckResponse_SERVING} {
		states.SetServingStatus("services/a", want)
		if !lines.Scan() || !strings.Contains(lines.Text(), `{"result":{"status":"`+want.String()) {
			t.Fatalf("the line is %q, %v; want %s", lines.Text(), lines.Err(), want)
		}
	}
	end()
	if !lines.Scan() || !strings.Contains(lines.Text(), `"reason":"SERVER_ENDS"`) || lines.Scan() {
		t.Errorf("when the server ends the last line is %q, %v", lines.Text(), lines.Err())
	}
}

func TestPatternOf_RefusesAPathOfAnotherForm(t *testing.T) {
	t.Parallel()
	for _, path := range []string{"", "/v1/sites", "/v1/{name=businesses/*}/{other=x}", "v1/{name=businesses/*}"} {
		if _, _, err := patternOf(path); err == nil {
			t.Errorf("%q was taken", path)
		}
	}
}
