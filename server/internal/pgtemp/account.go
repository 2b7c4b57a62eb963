package pgtemp

import (
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// account is whom PostgreSQL runs as: it refuses to run as root. The zero account is the caller's own.
type account struct {
	name     string
	uid, gid int
}

// chooseAccount returns the caller's own account, or that of postgres or nobody when the caller is root.
func chooseAccount() (account, error) {
	if os.Geteuid() != 0 {
		return account{}, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		found, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, errUID := strconv.Atoi(found.Uid)
		gid, errGID := strconv.Atoi(found.Gid)
		if errUID == nil && errGID == nil {
			return account{name: name, uid: uid, gid: gid}, nil
		}
	}
	return account{}, fmt.Errorf("PostgreSQL does not run as root, and this machine knows neither a user postgres nor a user nobody to run it as; add one, or start as an ordinary user")
}

// give hands a folder with what is in it to the account.
func (a account) give(folder string) error {
	if a.name == "" {
		return nil
	}
	return filepath.WalkDir(folder, func(path string, _ os.DirEntry, err error) error {
		if err == nil {
			err = os.Lchown(path, a.uid, a.gid)
		}
		if err != nil {
			return fmt.Errorf("giving %s to user %s: %w", path, a.name, err)
		}
		return nil
	})
}

// run prepares a program to run as the account, in a session of its own so that Ctrl-C in a terminal reaches the
// caller only, and without PG* variables that would steer it elsewhere.
func (a account) run(program string, args ...string) *exec.Cmd {
	cmd := exec.Command(program, args...)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
	if a.name != "" {
		cmd.SysProcAttr.Credential = &syscall.Credential{Uid: uint32(a.uid), Gid: uint32(a.gid)}
	}
	for _, entry := range os.Environ() {
		if !strings.HasPrefix(entry, "PG") {
			cmd.Env = append(cmd.Env, entry)
		}
	}
	return cmd
}

// killSession kills a process that run started, with all that it started in turn.
func killSession(pid int) { _ = syscall.Kill(-pid, syscall.SIGKILL) }
