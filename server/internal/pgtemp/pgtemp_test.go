package pgtemp_test

import (
	"bufio"
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"vernation/server/internal/pgtemp"
)

// parentMode makes the test binary a parent that starts a database, tells its folder and waits to be killed.
const parentMode = "VERNATION_PGTEMP_PARENT"

func TestMain(m *testing.M) {
	if os.Getenv(parentMode) == "" {
		os.Exit(m.Run())
	}
	server, err := pgtemp.Start(context.Background(), pgtemp.Options{InMemory: true})
	if err != nil {
		fmt.Println("error:", err)
		os.Exit(1)
	}
	fmt.Println(socketFolder(server.ServeURL(pgtemp.Database)))
	select {}
}

func socketFolder(address string) string {
	parsed, err := url.Parse(address)
	if err != nil {
		panic(err)
	}
	return parsed.Query().Get("host")
}

func start(t *testing.T, options pgtemp.Options) *pgtemp.Server {
	t.Helper()
	options.InMemory = os.Getenv("TMPDIR") == ""
	server, err := pgtemp.Start(context.Background(), options)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { server.Stop() })
	return server
}

func query[T any](t *testing.T, address, text string) T {
	t.Helper()
	db, err := sql.Open("postgres", address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var value T
	if err := db.QueryRow(text).Scan(&value); err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return value
}

func TestStart_ListensOnASocketInAPrivateFolderOnly(t *testing.T) {
	t.Parallel()
	server := start(t, pgtemp.Options{})
	address := server.ServeURL(pgtemp.Database)
	if got := query[string](t, address, "SHOW listen_addresses"); got != "" {
		t.Errorf("it listens on %q, want no network address", got)
	}
	info, err := os.Stat(socketFolder(address))
	if err != nil {
		t.Fatal(err)
	}
	if info.Mode().Perm() != 0o700 {
		t.Errorf("the socket's folder has mode %o, want 700", info.Mode().Perm())
	}
}

func TestStart_NeitherRoleCanBypassRowSecurity(t *testing.T) {
	t.Parallel()
	server := start(t, pgtemp.Options{})
	strong := "SELECT rolsuper OR rolbypassrls OR rolcreaterole FROM pg_roles WHERE rolname = current_user"
	for _, address := range []string{server.OwnerURL(pgtemp.Database), server.ServeURL(pgtemp.Database)} {
		if query[bool](t, address, strong) {
			t.Errorf("the role of %s is too strong", address)
		}
	}
	owner := query[string](t, server.ServeURL(pgtemp.Database), "SELECT pg_get_userbyid(datdba) FROM pg_database WHERE datname = current_database()")
	if owner != pgtemp.OwnerRole {
		t.Errorf("the database belongs to %s, want %s", owner, pgtemp.OwnerRole)
	}
}

func TestStop_RemovesTheFolder(t *testing.T) {
	t.Parallel()
	server := start(t, pgtemp.Options{})
	folder := socketFolder(server.ServeURL(pgtemp.Database))
	if err := server.Stop(); err != nil {
		t.Fatal(err)
	}
	if err := server.Stop(); err != nil {
		t.Errorf("a second Stop: %v", err)
	}
	if _, err := os.Stat(folder); !os.IsNotExist(err) {
		t.Errorf("%s is still there: %v", folder, err)
	}
}

func TestStart_KeptFolderKeepsDataDurably(t *testing.T) {
	t.Parallel()
	dir := reachable(t)
	first := start(t, pgtemp.Options{Dir: dir})
	db, err := sql.Open("postgres", first.OwnerURL(pgtemp.Database))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE kept AS SELECT 42 AS n"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	if got := query[string](t, first.OwnerURL(pgtemp.Database), "SHOW fsync"); got != "on" {
		t.Errorf("fsync is %s in a kept folder, want on", got)
	}
	if err := first.Stop(); err != nil {
		t.Fatal(err)
	}
	second := start(t, pgtemp.Options{Dir: dir})
	if got := query[int](t, second.OwnerURL(pgtemp.Database), "SELECT n FROM kept"); got != 42 {
		t.Errorf("after a new start the table says %d, want 42", got)
	}
}

// reachable returns an empty folder that another account may reach: t.TempDir is shut to it when root runs the tests.
func reachable(t *testing.T) string {
	t.Helper()
	parent, err := os.MkdirTemp("", "pgtemp-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(parent) })
	if err := os.Chmod(parent, 0o755); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(parent, "data")
}

func TestStart_RefusesAFolderWithSomethingElse(t *testing.T) {
	t.Parallel()
	dir := reachable(t)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	letter := filepath.Join(dir, "letter.txt")
	if err := os.WriteFile(letter, []byte("keep me"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := pgtemp.Start(context.Background(), pgtemp.Options{Dir: dir})
	if err == nil || !strings.Contains(err.Error(), "empty or new folder") {
		t.Errorf("got %v, want a refusal that asks for an empty or new folder", err)
	}
	if _, err := os.Stat(letter); err != nil {
		t.Errorf("the file that was there is gone: %v", err)
	}
}

func TestStart_EndsWithAParentThatIsKilled(t *testing.T) {
	t.Parallel()
	parent := exec.Command(os.Args[0])
	parent.Env = append(os.Environ(), parentMode+"=1")
	out, err := parent.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := parent.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	folder := strings.TrimSpace(line)
	if err != nil || !strings.HasPrefix(folder, "/") {
		t.Fatalf("the parent said %q: %v", line, err)
	}
	postmaster := postmasterOf(t, folder)
	if err := parent.Process.Signal(syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	_ = parent.Wait()
	deadline := time.Now().Add(10 * time.Second)
	for time.Now().Before(deadline) {
		_, statErr := os.Stat(folder)
		if os.IsNotExist(statErr) && !alive(postmaster) {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Errorf("10 s after its parent was killed, the database (process %d) or its folder %s is still there", postmaster, folder)
}

func postmasterOf(t *testing.T, folder string) int {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(folder, "data", "postmaster.pid"))
	if err != nil {
		t.Fatal(err)
	}
	var pid int
	if _, err := fmt.Sscan(string(text), &pid); err != nil {
		t.Fatal(err)
	}
	return pid
}

// alive says whether a process runs; one that ended and was not waited for yet does not.
func alive(pid int) bool {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return false
	}
	_, rest, _ := strings.Cut(string(text), ") ")
	return !strings.HasPrefix(rest, "Z")
}

// No t.Parallel: it changes the environment.
func TestStart_CleansStaleFoldersButOnlyOurs(t *testing.T) {
	temp, err := os.MkdirTemp("/tmp", "pgt")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(temp) })
	if err := os.Chmod(temp, 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("TMPDIR", temp)
	gone := exec.Command("true")
	if err := gone.Run(); err != nil {
		t.Fatal(err)
	}
	folders := map[string]struct {
		owner string
		stays bool
	}{
		"vernation-pg-dead":     {owner: fmt.Sprintf("%d 1", gone.Process.Pid)},
		"vernation-pg-recycled": {owner: fmt.Sprintf("%d 1", os.Getpid())}, // our number, another start
		"vernation-pg-unsigned": {stays: true},
		"somebody-elses":        {owner: "1 1", stays: true},
	}
	for name, folder := range folders {
		if err := os.Mkdir(filepath.Join(temp, name), 0o700); err != nil {
			t.Fatal(err)
		}
		if folder.owner != "" {
			if err := os.WriteFile(filepath.Join(temp, name, "owner"), []byte(folder.owner), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	live := start(t, pgtemp.Options{})
	start(t, pgtemp.Options{}) // must not clean the living one away
	for name, folder := range folders {
		_, err := os.Stat(filepath.Join(temp, name))
		if stays := err == nil; stays != folder.stays {
			t.Errorf("%s stays: %v, want %v", name, stays, folder.stays)
		}
	}
	if got := query[int](t, live.ServeURL(pgtemp.Database), "SELECT 1"); got != 1 {
		t.Errorf("the living one answers %d", got)
	}
}

func TestStart_WithoutTheProgramsThatWroteTheDataNamesThePackage(t *testing.T) {
	t.Parallel()
	dir := reachable(t)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "PG_VERSION"), []byte("99\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := pgtemp.Start(context.Background(), pgtemp.Options{Dir: dir})
	if err == nil || !strings.Contains(err.Error(), "apt-get install postgresql-99") {
		t.Errorf("got %v, want an error that names the package", err)
	}
}

func TestStart_AFolderInUseIsRefusedAtOnceAndItsServerStays(t *testing.T) {
	t.Parallel()
	dir := reachable(t)
	first := start(t, pgtemp.Options{Dir: dir})
	began := time.Now()
	_, err := pgtemp.Start(context.Background(), pgtemp.Options{Dir: dir})
	if err == nil || !strings.Contains(err.Error(), "another server runs on the data folder "+dir) {
		t.Errorf("got %v, want a refusal that names the folder and what to do", err)
	}
	if took := time.Since(began); took > 20*time.Second {
		t.Errorf("the refusal took %s", took)
	}
	if got := query[int](t, first.ServeURL(pgtemp.Database), "SELECT 1"); got != 1 {
		t.Errorf("the first server answers %d", got)
	}
}
