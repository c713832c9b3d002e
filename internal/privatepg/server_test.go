package privatepg

import (
	"context"
	"errors"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

func TestStartStopStartKeepsData(t *testing.T) {
	dir := newDir(t)
	s, _ := startNew(t, dir)
	if err := s.EnsureRoles(t.Context(), "tagalong"); err != nil {
		t.Fatal(err)
	}
	owner := s.URL("tagalong", OwnerRole)
	execute(t, owner, "CREATE SCHEMA tagalong", "CREATE TABLE kept (n int)", "INSERT INTO kept VALUES (42)")
	pid := s.Pid()
	stop(t, s)
	if alive(pid) {
		t.Errorf("the server (process %d) is still there after Stop", pid)
	}
	if left := processesOn(s.folder.data); len(left) > 0 {
		t.Errorf("processes %v are still there after Stop", left)
	}

	again, out := start(t, dir)
	if got := query[int](t, again.URL("tagalong", OwnerRole), "SELECT n FROM kept"); got != 42 {
		t.Errorf("after a restart: %d, want 42", got)
	}
	if err := again.EnsureRoles(t.Context(), "tagalong"); err != nil {
		t.Errorf("roles a second time: %v", err)
	}
	if again.URL("tagalong", OwnerRole) != owner {
		t.Error("the address changed with a restart")
	}
	if fromOutside, err := URL(dir, "tagalong", OwnerRole); err != nil || fromOutside != owner {
		t.Errorf("the address by the folder: %v, %v", fromOutside, err)
	}
	if out.String() != "" {
		t.Errorf("a plain restart has nothing to say, but said %q", out)
	}
}

func TestServerIsPrivateAndSafe(t *testing.T) {
	s, _ := startNew(t, newDir(t))
	if err := s.EnsureRoles(t.Context(), "tagalong"); err != nil {
		t.Fatal(err)
	}
	for setting, want := range map[string]string{
		"listen_addresses": "", "fsync": "on", "full_page_writes": "on", "synchronous_commit": "on",
		"data_checksums": "on", "server_encoding": "UTF8", "TimeZone": "UTC",
	} {
		if got := query[string](t, s.SuperURL(), "SHOW "+setting); got != want {
			t.Errorf("%s is %q, want %q", setting, got, want)
		}
	}
	for role, want := range map[string]bool{OwnerRole: true, AppRole: false} {
		got := query[bool](t, s.URL("tagalong", role), "SELECT pg_has_role(datdba, 'USAGE') FROM pg_database WHERE datname = 'tagalong'")
		if got != want {
			t.Errorf("%s owns the database: %v", role, got)
		}
		if query[bool](t, s.URL("tagalong", role), "SELECT rolsuper OR rolcreatedb OR rolcreaterole FROM pg_roles WHERE rolname = current_user") {
			t.Errorf("%s has rights over the server", role)
		}
	}

	u, err := url.Parse(s.URL("tagalong", AppRole))
	if err != nil {
		t.Fatal(err)
	}
	app, _ := u.User.Password()
	ownerURL, _ := url.Parse(s.URL("tagalong", OwnerRole))
	if owner, _ := ownerURL.User.Password(); app == owner || len(app) < 32 {
		t.Errorf("passwords %q and %q", app, owner)
	}
	u.User = url.UserPassword(OwnerRole, app)
	_, err = pgx.Connect(t.Context(), u.String())
	var pgErr *pgconn.PgError
	if !errors.As(err, &pgErr) || pgErr.Code != "28P01" { // invalid_password, PostgreSQL manual, appendix A
		t.Errorf("another role's password: %v", err)
	}
	for path, want := range map[string]os.FileMode{s.folder.secret: 0o600, s.folder.data: 0o700, s.folder.socket: 0o700, s.folder.log: 0o600} {
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: %v, %v; want mode %v", path, info.Mode().Perm(), err, want)
		}
	}
	if log := s.logTail(0); strings.Contains(log, app) {
		t.Error("a password is in the log")
	}
}

func TestPsqlTakesTheAddress(t *testing.T) {
	s, _ := start(t, newDir(t))
	psql := filepath.Join(s.ProgramsDir(), "psql")
	if _, err := os.Stat(psql); err != nil {
		psql = "psql" // some packagers put it elsewhere
	}
	out, err := exec.Command(psql, "-X", "-A", "-t", "-c", "SELECT current_user", s.SuperURL()).CombinedOutput()
	if err != nil || strings.TrimSpace(string(out)) != superuser {
		t.Errorf("psql: %q, %v", out, err)
	}
}

func TestLongPathStillGetsASocket(t *testing.T) {
	dir := filepath.Join(newDir(t), strings.Repeat("long-", 30)+"ü, 'quoted'")
	s, _ := start(t, dir)
	if got := len(s.folder.socket) + len("/"+socketName); got > longestSocket {
		t.Errorf("the socket's path has %d bytes", got)
	}
	if got := query[int](t, s.SuperURL(), "SELECT 1"); got != 1 {
		t.Error(got)
	}
	stop(t, s)
	if _, err := os.Stat(s.folder.socket); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the socket's folder was left behind: %v", err)
	}
}

func TestSecondServerIsRefused(t *testing.T) {
	dir := newDir(t)
	s, _ := start(t, dir)
	pid := s.Pid()
	_, err := Start(t.Context(), Options{Dir: dir})
	var locked *LockedError
	if !errors.As(err, &locked) || locked.Pid != os.Getpid() || locked.Dir != dir {
		t.Fatalf("a second server: %v", err)
	}
	if s.Pid() != pid || query[int](t, s.SuperURL(), "SELECT 1") != 1 {
		t.Error("the first server was disturbed")
	}
	stop(t, s)
	start(t, dir) // and now it may
}

func TestEndOfContextStops(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	s, err := Start(ctx, Options{Dir: newDir(t), NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	if query[string](t, s.SuperURL(), "SHOW fsync") != "off" {
		t.Error("NoSync was ignored")
	}
	if s.Err() != nil {
		t.Errorf("an error while it runs: %v", s.Err())
	}
	cancel()
	select {
	case <-s.Done():
	case <-time.After(30 * time.Second):
		t.Fatal("the server still runs 30 s after its context ended")
	}
	if s.Err() != nil {
		t.Errorf("after a clean stop: %v", s.Err())
	}
}

func TestBadSettingIsReportedWithWhatPostgreSQLSaid(t *testing.T) {
	dir := newDir(t)
	_, err := Start(t.Context(), Options{Dir: dir, NoSync: true, Settings: map[string]string{"no_such_setting": "1"}})
	if err == nil || !strings.Contains(err.Error(), "no_such_setting") {
		t.Fatalf("got %v", err)
	}
	s, err := Start(t.Context(), Options{Dir: dir, NoSync: true, Settings: map[string]string{"listen_addresses": "*", "work_mem": "5MB"}})
	if err != nil {
		t.Fatalf("the folder isn't free after a failed start: %v", err)
	}
	defer stop(t, s)
	if got := query[string](t, s.SuperURL(), "SHOW work_mem"); got != "5MB" {
		t.Errorf("work_mem is %s", got)
	}
	if got := query[string](t, s.SuperURL(), "SHOW listen_addresses"); got != "" {
		t.Errorf("it listens on %q", got)
	}
}

func TestLostOrDamagedSecretIsSaid(t *testing.T) {
	dir := newDir(t)
	s, _ := start(t, dir)
	stop(t, s)
	if err := os.WriteFile(s.folder.secret, []byte("short"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Start(t.Context(), Options{Dir: dir}); err == nil || !strings.Contains(err.Error(), "damaged") {
		t.Errorf("damaged: %v", err)
	}
	if err := os.Remove(s.folder.secret); err != nil {
		t.Fatal(err)
	}
	if _, err := Start(t.Context(), Options{Dir: dir}); err == nil || !strings.Contains(err.Error(), "missing") {
		t.Errorf("missing: %v", err)
	}
	if _, err := os.Stat(s.folder.secret); !errors.Is(err, os.ErrNotExist) {
		t.Error("a new secret was made over a database that doesn't know it")
	}
}
