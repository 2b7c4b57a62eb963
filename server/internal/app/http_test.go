package app_test

import (
	"crypto/tls"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"vernation/server/internal/app"
	"vernation/server/internal/gateway"
)

// bindings are verb and path of every method of the contract, and the method.
func bindings(t *testing.T) map[[2]string]protoreflect.MethodDescriptor {
	t.Helper()
	all := map[[2]string]protoreflect.MethodDescriptor{}
	protoregistry.GlobalFiles.RangeFilesByPackage("vernation.v1", func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			methods := file.Services().Get(i).Methods()
			for k := range methods.Len() {
				rule := proto.GetExtension(methods.Get(k).Options(), annotations.E_Http).(*annotations.HttpRule)
				for verb, path := range map[string]string{"GET": rule.GetGet(), "POST": rule.GetPost(), "PATCH": rule.GetPatch(), "DELETE": rule.GetDelete()} {
					if path != "" {
						all[[2]string{verb, path}] = methods.Get(k)
					}
				}
			}
		}
		return true
	})
	return all
}

func get(t *testing.T, caller *http.Client, verb, url string) (int, string) {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), verb, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	response, err := caller.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	return response.StatusCode, string(text)
}

var wildcards = regexp.MustCompile(`\{[a-z_.]+=([a-zA-Z*/]+)\}`)

func TestApp_EveryMethodAnswersAtItsPath(t *testing.T) {
	t.Parallel()
	a, _ := run(t, app.Config{HTTPListen: "127.0.0.1:0"})
	dial(t, a) // which waits until it serves
	at := "http://" + a.HTTPAddress()
	for binding, method := range bindings(t) {
		path := strings.ReplaceAll(wildcards.ReplaceAllString(binding[1], "$1"), "*", "x")
		// Without a token each call is refused by the frame, and nothing before it knows the reason.
		if code, text := get(t, http.DefaultClient, binding[0], at+path); code != http.StatusUnauthorized || !strings.Contains(text, "TOKEN_MISSING") {
			t.Errorf("%s at %s %s is answered by %d %s", method.FullName(), binding[0], path, code, text)
		}
	}
	if code, text := get(t, http.DefaultClient, "GET", at+gateway.PathReady); code != http.StatusOK {
		t.Errorf("ready says %d %s", code, text)
	}
	_, measures := get(t, http.DefaultClient, "GET", at+gateway.PathMetrics)
	for _, want := range []string{
		`grpc_server_handled_total{grpc_code="Unauthenticated",grpc_method="GetSite"`, `grpc_server_handling_seconds_bucket{`,
		`vernation_plan_runs{state="waiting"} 0`, "vernation_plan_rounds_total 0", "vernation_queue_answers 1", "vernation_pool_connections_most 20",
	} {
		if !strings.Contains(measures, want) {
			t.Errorf("the measures lack %s:\n%s", want, measures)
		}
	}
	if _, text := get(t, http.DefaultClient, "GET", at+gateway.PathDocument); text != string(gateway.Document()) {
		t.Error("another OpenAPI document is served than is kept")
	}
}

func TestDocument_HoldsEveryMethodAtItsPath(t *testing.T) {
	t.Parallel()
	var document struct {
		OpenAPI string
		Paths   map[string]map[string]struct{ OperationID, Summary string }
	}
	if err := json.Unmarshal(gateway.Document(), &document); err != nil {
		t.Fatal(err)
	}
	told := map[string]string{} // verb and path with every variable as *, by operation
	for path, item := range document.Paths {
		for verb, operation := range item {
			told[operation.OperationID] = strings.ToUpper(verb) + " " + regexp.MustCompile(`\{[a-zA-Z]+\}`).ReplaceAllString(path, "*")
			if operation.Summary == "" {
				t.Errorf("%s %s says nothing of itself", verb, path)
			}
		}
	}
	if !strings.HasPrefix(document.OpenAPI, "3.") {
		t.Errorf("the document is of OpenAPI %s, want 3", document.OpenAPI)
	}
	for binding, method := range bindings(t) {
		operation := string(method.Parent().Name()) + "_" + string(method.Name())
		if want := binding[0] + " " + wildcards.ReplaceAllString(binding[1], "$1"); told[operation] != want {
			t.Errorf("the document has %s at %q, want %q: run .ci/generate", operation, told[operation], want)
		}
	}
}

func TestApp_OverTLSBothPortsTakeARenewedCertificate(t *testing.T) {
	t.Parallel()
	certFile, keyFile, trusted := certificate(t)
	a, _ := run(t, app.Config{TLSCert: certFile, TLSKey: keyFile, HTTPListen: "127.0.0.1:0", LookEvery: time.Millisecond})
	fresh := func() *http.Client {
		return &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trusted}, DisableKeepAlives: true, ForceAttemptHTTP2: true}}
	}
	at := "https://" + a.HTTPAddress() + gateway.PathLive
	if code, text := get(t, fresh(), "GET", at); code != http.StatusOK {
		t.Fatalf("over TLS it says %d %s", code, text)
	}
	if response, err := http.Get("http://" + a.HTTPAddress() + gateway.PathLive); err == nil {
		response.Body.Close()
		if response.StatusCode == http.StatusOK {
			t.Error("the HTTP port answers in plain text too")
		}
	}
	newCert, newKey, newTrusted := certificate(t)
	for from, to := range map[string]string{newCert: certFile, newKey: keyFile} {
		if err := os.Rename(from, to); err != nil {
			t.Fatal(err)
		}
	}
	trusted = newTrusted
	if code, text := get(t, fresh(), "GET", at); code != http.StatusOK {
		t.Errorf("with the renewed certificate it says %d %s", code, text)
	}
	if err := os.WriteFile(certFile, []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, text := get(t, fresh(), "GET", at); code != http.StatusOK {
		t.Errorf("a certificate that is half written puts the one before out of force: %d %s", code, text)
	}
}
