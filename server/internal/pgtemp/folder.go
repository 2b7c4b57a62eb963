package pgtemp

import (
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

const (
	folderPrefix = "vernation-pg-"
	ownerFile    = "owner" // "pid start-time" of the process that the folder belongs to

	// memoryRoot is where Linux keeps files in memory; leastRoom is what must be free there for a private database.
	memoryRoot       = "/dev/shm"
	leastRoom  int64 = 1 << 30
)

// rootFor returns where the folder of a run is made: in memory when asked for and there is room, else the usual
// place of temporary files.
func rootFor(inMemory bool) string {
	var room syscall.Statfs_t
	if !inMemory || syscall.Statfs(memoryRoot, &room) != nil || int64(room.Bavail)*room.Bsize < leastRoom {
		return os.TempDir()
	}
	return memoryRoot
}

// newFolder makes the private folder of one run and writes down whose it is.
func newFolder(as account, inMemory bool) (string, error) {
	folder, err := os.MkdirTemp(rootFor(inMemory), folderPrefix)
	if err != nil {
		return "", fmt.Errorf("making the folder of the private database: %w", err)
	}
	owner := fmt.Sprintf("%d %s\n", os.Getpid(), startOf(os.Getpid()))
	if err := os.WriteFile(filepath.Join(folder, ownerFile), []byte(owner), 0o600); err != nil {
		return "", fmt.Errorf("writing down who owns %s: %w", folder, err)
	}
	if err := as.give(folder); err != nil {
		return "", err
	}
	return folder, nil
}

// removeStale removes the folders of earlier runs whose process is gone. Folders without an owner's file are
// not ours, or are being made just now: they stay.
func removeStale(log *slog.Logger) {
	folders, _ := filepath.Glob(filepath.Join(os.TempDir(), folderPrefix+"*"))
	inMemory, _ := filepath.Glob(filepath.Join(memoryRoot, folderPrefix+"*"))
	for _, folder := range append(folders, inMemory...) {
		text, err := os.ReadFile(filepath.Join(folder, ownerFile))
		if err != nil || ownerLives(string(text)) {
			continue
		}
		if err := os.RemoveAll(folder); err != nil {
			log.Warn("a stale folder of an earlier private database stays", "folder", folder, "err", err)
			continue
		}
		log.Info("removed a stale folder of an earlier private database", "folder", folder)
	}
}

// ownerLives says whether the process of an owner's file still runs. A process with the same number that
// started at another time is another process. What cannot be read counts as living.
func ownerLives(text string) bool {
	number, start, _ := strings.Cut(strings.TrimSpace(text), " ")
	pid, err := strconv.Atoi(number)
	if err != nil {
		return true
	}
	if errors.Is(syscall.Kill(pid, 0), syscall.ESRCH) {
		return false
	}
	return start == "" || startOf(pid) == start
}

// startOf returns when a process started, in clock ticks since the machine did; "" where there is no /proc.
// It is the 22nd field of /proc/PID/stat, see proc(5); the second may hold spaces and ends with the last ")".
func startOf(pid int) string {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return ""
	}
	fields := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
	const startTime = 22 - 3 // the first field after the name is the third
	if len(fields) <= startTime {
		return ""
	}
	return fields[startTime]
}
