package app_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"vernation/client"
	"vernation/scheduler/civil"
	"vernation/server/internal/app"
	"vernation/server/internal/firm"
	"vernation/server/internal/identity"
	"vernation/server/internal/pgtemp"
)

// run opens and runs a server; end ends it and returns what Run and Close said.
func run(t testing.TB, cfg app.Config) (a *app.App, end func() error) {
	t.Helper()
	a, err := app.Open(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.WithoutCancel(t.Context()))
	ran := make(chan error, 1)
	go func() { ran <- a.Run(ctx) }()
	ended := false
	end = func() error {
		if ended {
			return nil
		}
		ended = true
		cancel()
		return errors.Join(<-ran, a.Close())
	}
	t.Cleanup(func() {
		if err := end(); err != nil {
			t.Errorf("the server ended with %v", err)
		}
	})
	return a, end
}

func dial(t testing.TB, a *app.App, options ...client.Option) *client.Client {
	t.Helper()
	c, err := client.Dial(t.Context(), a.Address(), options...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

func TestApp_ServesOnAPrivateDatabaseUntilItsContextEnds(t *testing.T) {
	t.Parallel()
	a, end := run(t, app.Config{})
	c := dial(t, a) // which waits for SERVING: the store answers
	keyFile := a.KeyFile()
	if _, err := identity.LoadKeys(keyFile); err != nil {
		t.Errorf("tokens cannot be signed meanwhile: %v", err)
	}
	services := reflected(t, c)
	for _, want := range append(contract(), "grpc.health.v1.Health") {
		if !strings.Contains(services, want) {
			t.Errorf("reflection lists %s, want %s among them", services, want)
		}
	}
	if err := end(); err != nil {
		t.Errorf("a server that was told to end says %v", err)
	}
	if _, err := os.Stat(keyFile); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the signing key of a private server outlives it: %v", err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Second)
	defer cancel()
	if _, err := grpc_health_v1.NewHealthClient(c.Conn()).Check(ctx, nil); status.Code(err) != codes.Unavailable {
		t.Errorf("after the end a call says %v, want UNAVAILABLE", err)
	}
}

// contract lists the services that the contract promises.
func contract() (services []string) {
	protoregistry.GlobalFiles.RangeFilesByPackage("vernation.v1", func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			services = append(services, string(file.Services().Get(i).FullName()))
		}
		return true
	})
	return services
}

// reflected lists the services that a client without the contract can find.
func reflected(t *testing.T, c *client.Client) string {
	t.Helper()
	stream, err := grpc_reflection_v1.NewServerReflectionClient(c.Conn()).ServerReflectionInfo(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	request := &grpc_reflection_v1.ServerReflectionRequest{MessageRequest: &grpc_reflection_v1.ServerReflectionRequest_ListServices{}}
	if err := stream.Send(request); err != nil {
		t.Fatal(err)
	}
	answer, err := stream.Recv()
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, service := range answer.GetListServicesResponse().GetService() {
		names = append(names, service.GetName())
	}
	if err := stream.CloseSend(); err != nil {
		t.Error(err)
	}
	return strings.Join(names, " ")
}

func TestApp_ADataFolderKeepsBusinessAndKey(t *testing.T) {
	t.Parallel()
	folder := filepath.Join(reachable(t), "data")
	a, end := run(t, app.Config{DataDir: folder, Planner: true})
	zone, err := civil.LoadZone("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	business := firm.Business{ID: "demo", Name: "Demo", Zone: zone, Currency: "GBP", DetourPercent: 130, SpeedKMH: 30}
	if err := app.CreateBusiness(t.Context(), a.OwnerURL(), business); err != nil {
		t.Fatal(err)
	}
	key := a.Keys().ID()
	if err := end(); err != nil {
		t.Fatal(err)
	}
	again, _ := run(t, app.Config{DataDir: folder, Planner: true})
	if again.Keys().ID() != key || again.KeyFile() != app.KeyFileOf(folder) {
		t.Errorf("the second start has key %s in %s, the first had %s", again.Keys().ID(), again.KeyFile(), key)
	}
	if err := app.CreateBusiness(t.Context(), again.OwnerURL(), business); err == nil {
		t.Error("the business of the first start is gone: it could be made again")
	}
}

func TestApp_ServesOnlyWhileTheStoreAnswers(t *testing.T) {
	t.Parallel()
	database, err := pgtemp.Start(t.Context(), pgtemp.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { database.Stop() })
	keyFile := filepath.Join(t.TempDir(), "key.pem")
	if _, err := identity.LoadOrMakeKeys(keyFile); err != nil {
		t.Fatal(err)
	}
	own := app.Config{DatabaseURL: database.ServeURL(pgtemp.Database), KeyFile: keyFile}
	if _, err := app.Open(t.Context(), own); err == nil {
		t.Error("a database without a schema was opened")
	}
	own.OwnerURL = database.OwnerURL(pgtemp.Database)
	a, _ := run(t, own)
	c := dial(t, a) // which waits for SERVING
	if err := database.Stop(); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 15*time.Second)
	defer cancel()
	for {
		answer, err := grpc_health_v1.NewHealthClient(c.Conn()).Check(ctx, &grpc_health_v1.HealthCheckRequest{})
		if err != nil {
			t.Fatalf("without its database the server does not say that it does not serve: %v", err)
		}
		if answer.GetStatus() == grpc_health_v1.HealthCheckResponse_NOT_SERVING {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// certificate writes a certificate for 127.0.0.1 that signs itself, with its key.
func certificate(t *testing.T) (certFile, keyFile string, trusted *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	certDER, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	certFile, keyFile = filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem")
	certPEM := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: certDER})
	keyPEM := pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER})
	if err := errors.Join(os.WriteFile(certFile, certPEM, 0o600), os.WriteFile(keyFile, keyPEM, 0o600)); err != nil {
		t.Fatal(err)
	}
	trusted = x509.NewCertPool()
	trusted.AppendCertsFromPEM(certPEM)
	return certFile, keyFile, trusted
}

func TestApp_WithACertificateItTalksTLSOnly(t *testing.T) {
	t.Parallel()
	certFile, keyFile, trusted := certificate(t)
	a, _ := run(t, app.Config{TLSCert: certFile, TLSKey: keyFile})
	dial(t, a, client.WithTLS(&tls.Config{RootCAs: trusted}))
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	if _, err := client.Dial(ctx, a.Address()); err == nil {
		t.Error("the server answers in plain text too")
	}
}

// reachable makes a folder that the account of a private database may pass through: t.TempDir is for one user only.
func reachable(t *testing.T) string {
	t.Helper()
	folder, err := os.MkdirTemp("", "vernation-app-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	if err := os.Chmod(folder, 0o711); err != nil {
		t.Fatal(err)
	}
	return folder
}

func TestOpen_RefusesWhatDoesNotFitTogether(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name string
		cfg  app.Config
		want string
	}{
		{"own database without keys", app.Config{DatabaseURL: "postgres://x"}, "server key FILE"},
		{"own database and a data folder", app.Config{DatabaseURL: "postgres://x", DataDir: "d", KeyFile: "k"}, "not both"},
		{"owner of nothing", app.Config{OwnerURL: "postgres://x"}, "DATABASE_URL"},
		{"certificate without its key", app.Config{TLSCert: "c"}, "both a certificate and its key"},
		{"all addresses without TLS", app.Config{Listen: ":50051"}, "--insecure-listen"},
		{"a network without TLS", app.Config{Listen: "192.0.2.1:50051"}, "--tls-cert"},
		{"a name without TLS", app.Config{Listen: "example.org:50051"}, "--insecure-listen"},
		{"HTTP for all without TLS", app.Config{HTTPListen: ":50080"}, "--insecure-listen"},
		{"an origin that is a page", app.Config{HTTPOrigins: []string{"https://office.example/page"}}, "scheme, host and port"},
		{"an origin of everybody", app.Config{HTTPOrigins: []string{"*"}}, "scheme, host and port"},
		{"fewer than no calls", app.Config{CallsPerSecond: -1}, "0 for no bound"},
		{"a certificate that is not there", app.Config{TLSCert: "nowhere.pem", TLSKey: "nowhere.pem"}, "nowhere.pem"},
		{"a key file that is not there", app.Config{KeyFile: "nowhere.pem"}, "nowhere.pem"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if _, err := app.Open(t.Context(), tt.cfg); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("Open = %v, want an error that says %q", err, tt.want)
			}
		})
	}
}

func TestCreateBusiness_SaysAllThatIsWrongAtOnce(t *testing.T) {
	t.Parallel()
	err := app.CreateBusiness(t.Context(), "postgres://never-dialled", firm.Business{ID: "Demo!", Currency: "dollars", DetourPercent: 90})
	if err == nil {
		t.Fatal("a business that cannot be was made")
	}
	for _, want := range []string{"id \"Demo!\"", "name", "ISO 4217", "detour of 90 percent"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%v\ndoes not speak of %q", err, want)
		}
	}
}
