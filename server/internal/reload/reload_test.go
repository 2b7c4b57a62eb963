package reload_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"vernation/server/internal/reload"
)

func TestCurrent_FollowsTheFileAndOutlivesABrokenOne(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "file")
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	reads := 0
	read := func() (string, error) {
		reads++
		text, err := os.ReadFile(path)
		if string(text) == "broken" {
			err = errors.New("broken")
		}
		return string(text), err
	}
	if _, err := reload.Open(read, 0, nil, path); err == nil {
		t.Error("a file that is not there was opened")
	}
	write("one")
	value, err := reload.Open(read, 0, nil, path)
	if err != nil {
		t.Fatal(err)
	}
	before := reads
	if got := value.Current(); got != "one" || reads != before {
		t.Errorf("it says %q after %d reads, want one without another", got, reads-before)
	}
	for _, step := range []struct{ written, want string }{{"second", "second"}, {"broken", "second"}, {"the third", "the third"}} {
		write(step.written)
		if got := value.Current(); got != step.want {
			t.Errorf("after %q it says %q, want %q", step.written, got, step.want)
		}
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if got := value.Current(); got != "the third" {
		t.Errorf("without its file it says %q", got)
	}
	slow, err := reload.Open(func() (int, error) { return 1, nil }, time.Hour, nil)
	if err != nil || slow.Current() != 1 {
		t.Errorf("without files it says %d, %v", slow.Current(), err)
	}
}
