package privatepg

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
)

// superuser is the role that owns the private server.
const superuser = "postgres"

// initialise makes the database if there is none. It is made aside and renamed, so that a start cut short leaves
// either no database or a whole one.
func initialise(ctx context.Context, f folder, a account, p Programs, superPassword string, noSync bool) error {
	if _, err := os.Stat(filepath.Join(f.data, "PG_VERSION")); err == nil {
		return nil
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.RemoveAll(f.staging); err != nil {
		return err
	}
	if err := os.Mkdir(f.staging, 0o700); err != nil {
		return err
	}
	if err := a.own(f.staging); err != nil {
		return err
	}
	passwordFile := filepath.Join(f.socket, "password") // the one other folder of the account
	if err := os.WriteFile(passwordFile, []byte(superPassword+"\n"), 0o600); err != nil {
		return err
	}
	defer os.Remove(passwordFile)
	if err := a.own(passwordFile); err != nil {
		return err
	}

	args := append([]string{"-D", f.staging, "-U", superuser, "--pwfile=" + passwordFile, "-A", "scram-sha-256",
		"-E", "UTF8", "--data-checksums"}, localeArgs(p.Version.Major, runtime.GOOS)...)
	if noSync {
		args = append(args, "--no-sync")
	}
	// The thread must outlive the child, see childAttributes.
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	cmd := exec.CommandContext(ctx, p.Initdb(), args...)
	cmd.Dir = f.socket
	cmd.Env = cleanEnvironment(os.Environ())
	cmd.SysProcAttr = childAttributes(a, syscall.SIGKILL)
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("the database couldn't be made: initdb: %w\n%s", err, strings.TrimSpace(string(out)))
	}
	if err := os.Rename(f.staging, f.data); err != nil {
		return err
	}
	return syncFolder(f.root)
}

// localeArgs asks for text sorted by code point with the letters of all languages known. That order is the same
// on every machine and after every upgrade of the system, so an index never silently goes out of order.
func localeArgs(major int, goos string) []string {
	switch {
	case major >= 17:
		return []string{"--locale-provider=builtin", "--builtin-locale=C.UTF-8", "--locale=C"}
	case goos == "linux":
		return []string{"--locale=C.UTF-8"}
	}
	return []string{"--locale=C"}
}

// cleanEnvironment leaves out what would lead PostgreSQL elsewhere (PGDATA, PGPORT) and our own settings, which
// may hold passwords.
func cleanEnvironment(env []string) []string {
	clean := []string{"LC_ALL=C"}
	for _, kv := range env {
		name, _, _ := strings.Cut(kv, "=")
		switch {
		case strings.HasPrefix(name, "PG"), strings.HasPrefix(name, "TAGALONG_"), strings.HasPrefix(name, "LC_"),
			name == "LANG", name == "LANGUAGE", name == "NOTIFY_SOCKET":
		default:
			clean = append(clean, kv)
		}
	}
	return clean
}
