package main_test

import (
	"bytes"
	"context"
	"encoding/pem"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"vernation/server/internal/identity"
)

// binaryFolder holds the binary of this run of the tests.
var binaryFolder string

func TestMain(m *testing.M) {
	folder, err := os.MkdirTemp("", "vernation-binary-")
	if err != nil {
		panic(err)
	}
	binaryFolder = folder
	code := m.Run()
	os.RemoveAll(folder)
	os.Exit(code)
}

// binary builds the server once, for all tests of its command line.
var binary = sync.OnceValues(func() (string, error) {
	path := filepath.Join(binaryFolder, "server")
	if out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput(); err != nil {
		return "", fmt.Errorf("build the server: %w: %s", err, out)
	}
	return path, nil
})

// command prepares the server with arguments in an environment of its own.
func command(t *testing.T, args ...string) (cmd *exec.Cmd, out, log *bytes.Buffer) {
	t.Helper()
	path, err := binary()
	if err != nil {
		t.Fatal(err)
	}
	cmd = exec.Command(path, args...)
	cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "HOME=" + os.Getenv("HOME"), "TMPDIR=" + os.TempDir()}
	out, log = &bytes.Buffer{}, &bytes.Buffer{}
	cmd.Stdout, cmd.Stderr = out, log
	return cmd, out, log
}

// call runs the server with arguments to its end.
func call(t *testing.T, args ...string) (code int, out, log string) {
	t.Helper()
	cmd, outText, logText := command(t, args...)
	if err := cmd.Run(); err != nil && cmd.ProcessState == nil {
		t.Fatal(err)
	}
	return cmd.ProcessState.ExitCode(), outText.String(), logText.String()
}

func TestCommands_HelpDescribesEveryCommandAndFlag(t *testing.T) {
	t.Parallel()
	described := regexp.MustCompile(`(?m)^  .*?(--[a-z-]+)\S*(.*)$`)
	for _, command := range []string{"", "serve", "migrate", "business create", "problem", "key", "token", "version"} {
		code, out, log := call(t, append(strings.Fields(command), "--help")...)
		if code != 0 || log != "" || !strings.HasPrefix(out, "Usage: server "+command) {
			t.Errorf("server %s --help ended with %d and wrote %q, %q", command, code, out, log)
		}
		for _, flag := range described.FindAllStringSubmatch(out, -1) {
			if strings.TrimSpace(flag[2]) == "" && !strings.Contains(out, flag[1]+"\n      ") && !strings.Contains(out, flag[0]+"\n        ") {
				t.Errorf("server %s --help does not describe %s:\n%s", command, flag[1], out)
			}
		}
	}
}

func TestCommands_WrongOnesSayWhatWouldBeRight(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name string
		args []string
		code int
		want string
	}{
		{"none", nil, 2, "server --help"},
		{"unknown", []string{"dance"}, 2, "unexpected argument dance"},
		{"unknown flag", []string{"serve", "--colour"}, 2, "unknown flag --colour"},
		{"no such instant", []string{"serve", "--firm-clock", "Monday"}, 2, "want RFC 3339 such as 2026-03-02T17:00:00Z"},
		{"no such role", []string{"token", "--business", "b", "--subject", "s", "--role", "root"}, 2, "must be one of"},
		{"no such zone", []string{"business", "create", "--id", "b", "--name", "B", "--zone", "Mars/Base", "--currency", "USD", "--detour-percent", "130", "--speed-kmh", "30"}, 2, "IANA"},
		{"no database", []string{"migrate"}, 1, "VERNATION_OWNER_URL"},
		{"two databases", []string{"migrate", "--owner-url", "postgres://x", "--data", "d"}, 2, "can't be used together"},
		{"no key", []string{"token", "--business", "b", "--subject", "s", "--role", "office"}, 1, "VERNATION_KEY_FILE"},
		{"a key that is not there", []string{"token", "--key-file", "nowhere.pem", "--business", "b", "--subject", "s", "--role", "office"}, 1, "nowhere.pem"},
		{"own database without keys", []string{"serve", "--database-url", "postgres://x"}, 1, "server key FILE"},
		{"all addresses without TLS", []string{"serve", "--listen", "0.0.0.0:0"}, 1, "--insecure-listen"},
		{"no matrix service", []string{"serve", "--roads-url", "127.0.0.1:5000"}, 1, "such as http://127.0.0.1:5000"},
		{"no such format", []string{"serve", "--roads-url", "http://127.0.0.1:5000", "--roads-format", "table"}, 2, "must be one of"},
		{"no time for roads", []string{"serve", "--roads-url", "http://127.0.0.1:5000", "--roads-within", "0s"}, 1, "want more than 0"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			code, out, log := call(t, tt.args...)
			if code != tt.code || out != "" || !strings.Contains(log, tt.want) {
				t.Errorf("it ended with %d and wrote %q, %q; want %d and a word of %q", code, out, log, tt.code, tt.want)
			}
		})
	}
}

func TestCommands_KeyAndTokenMakeACredentialThatCounts(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "key.pem")
	code, id, log := call(t, "key", file)
	if code != 0 {
		t.Fatalf("key ended with %d: %s", code, log)
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if block, _ := pem.Decode(text); block == nil || block.Type != "PRIVATE KEY" {
		t.Errorf("the key file holds %q", text)
	}
	if code, _, log := call(t, "key", file); code != 1 || !strings.Contains(log, "exists") {
		t.Errorf("a second key over the first ended with %d: %s", code, log)
	}
	code, token, log := call(t, "token", "--key-file", file, "--business", "demo", "--subject", "t-1", "--role", "technician", "--technician", "tech-a", "--life", "1h")
	if code != 0 {
		t.Fatalf("token ended with %d: %s", code, log)
	}
	keys, err := identity.LoadKeys(file)
	if err != nil {
		t.Fatal(err)
	}
	if keys.ID() != strings.TrimSpace(id) {
		t.Errorf("key printed %q, its file holds %s", id, keys.ID())
	}
	caller, err := keys.Verify(strings.TrimSpace(token), time.Now())
	if err != nil || caller.Business != "demo" || caller.Technician != "tech-a" {
		t.Errorf("the token speaks for %+v, %v", caller, err)
	}
}

func TestServe_EndsWellAtASignal(t *testing.T) {
	t.Parallel()
	socket := filepath.Join(t.TempDir(), "s")
	cmd, _, log := command(t, "--log-format", "json", "serve", "--listen", "unix:"+socket, "--http-listen", "127.0.0.1:0")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	ctx, cancel := context.WithTimeout(t.Context(), 60*time.Second)
	defer cancel()
	for {
		if _, err := os.Stat(socket); err == nil {
			break
		}
		select {
		case err := <-ended:
			t.Fatalf("serve ended before it served: %v\n%s", err, log)
		case <-ctx.Done():
			t.Fatal("serve does not begin to serve")
		case <-time.After(20 * time.Millisecond):
		}
	}
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	select {
	case err := <-ended:
		if err != nil {
			t.Errorf("serve ended with %v\n%s", err, log)
		}
	case <-ctx.Done():
		t.Error("serve does not end at SIGTERM")
	}
}
