package pgtemp

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
)

// oldestMajor is the oldest major version of PostgreSQL that the schema is written for.
const oldestMajor = 14

// binaries is one installation: its folder of programs and its major version.
type binaries struct {
	folder string
	major  int
}

// program returns the path of one program of the installation.
func (b binaries) program(name string) string { return filepath.Join(b.folder, name) }

// findBinaries returns the newest installation, or the one of exactly the major version asked for (0: any).
func findBinaries(major int) (binaries, error) {
	found := installed()
	sort.SliceStable(found, func(i, j int) bool { return found[i].major > found[j].major })
	for _, b := range found {
		if b.major >= oldestMajor && (major == 0 || b.major == major) {
			return b, nil
		}
	}
	want := fmt.Sprintf("PostgreSQL %d or newer", oldestMajor)
	install := "postgresql"
	if major != 0 {
		want, install = fmt.Sprintf("PostgreSQL %d, which wrote the data folder,", major), fmt.Sprintf("postgresql-%d", major)
	}
	return binaries{}, fmt.Errorf("no programs of %s were found in /usr/lib/postgresql, on the PATH or by pg_config; install them (apt-get install %s), or name a running server in DATABASE_URL", want, install)
}

// installed lists what is on the machine: Debian's folders, then the PATH, then what pg_config names.
func installed() []binaries {
	folders, _ := filepath.Glob("/usr/lib/postgresql/*/bin")
	if path, err := exec.LookPath("postgres"); err == nil {
		if resolved, err := filepath.EvalSymlinks(path); err == nil {
			folders = append(folders, filepath.Dir(resolved))
		}
	}
	if out, err := exec.Command("pg_config", "--bindir").Output(); err == nil {
		folders = append(folders, strings.TrimSpace(string(out)))
	}
	var found []binaries
	for _, folder := range folders {
		b := binaries{folder: folder}
		if _, err := os.Stat(b.program("initdb")); err != nil {
			continue
		}
		out, err := exec.Command(b.program("postgres"), "--version").Output()
		if err != nil {
			continue
		}
		if b.major = majorOf(string(out)); b.major > 0 {
			found = append(found, b)
		}
	}
	return found
}

// majorOf reads "postgres (PostgreSQL) 15.18 (Debian ...)"; 0 when it cannot.
func majorOf(version string) int {
	_, rest, found := strings.Cut(version, "(PostgreSQL) ")
	if !found {
		return 0
	}
	digits := strings.IndexFunc(rest, func(r rune) bool { return r < '0' || r > '9' })
	if digits < 0 {
		digits = len(rest)
	}
	major, _ := strconv.Atoi(rest[:digits])
	return major
}
