package privatepg

import (
	"context"
	"errors"
	"os/exec"
	"strings"
	"testing"
	"time"
)

func closeAccess(t *testing.T, a *Access) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	if err := a.Close(ctx); err != nil {
		t.Errorf("close: %v", err)
	}
}

func TestReachStartsAServerForItself(t *testing.T) {
	dir := newDir(t)
	a, err := Reach(t.Context(), Options{Dir: dir, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	if err := a.EnsureRoles(t.Context(), "tagalong"); err != nil {
		t.Error(err)
	}
	if got := query[string](t, a.URL("tagalong", AppRole), "SELECT current_user"); got != AppRole {
		t.Errorf("user %s", got)
	}
	closeAccess(t, a)
	if left := processesOn(a.folder.data); len(left) > 0 {
		t.Errorf("processes %v are still there", left)
	}
}

func TestReachJoinsTheServerOfAnother(t *testing.T) {
	dir := newDir(t)
	_, pid := launchOwner(t, dir)
	a, err := Reach(t.Context(), Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	if got := query[string](t, a.URL("tagalong", OwnerRole), "SELECT current_user"); got != OwnerRole {
		t.Errorf("user %s", got)
	}
	closeAccess(t, a)
	if sf, ok := readServerFile(a.folder.data); !ok || sf.pid != pid || sf.status != "ready" {
		t.Errorf("the other's server was disturbed: %+v", sf)
	}
}

func TestReachTakesOverFromOneThatWasKilled(t *testing.T) {
	dir := newDir(t)
	owner, _ := launchOwner(t, dir)
	if err := owner.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	a, err := Reach(t.Context(), Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	defer closeAccess(t, a)
	if got := query[int](t, a.URL("postgres", superuser), "SELECT 1"); got != 1 {
		t.Error(got)
	}
}

func TestReachGivesUp(t *testing.T) {
	dir := newDir(t)
	s, _ := start(t, dir)
	// Somebody holds the folder, but there is no server.
	stop(t, s)
	lock, err := s.folder.takeLock()
	if err != nil {
		t.Fatal(err)
	}
	defer lock.Close()
	var locked *LockedError
	_, err = reach(t.Context(), Options{Dir: dir}, time.Second)
	if !errors.As(err, &locked) || !strings.Contains(err.Error(), "doesn't answer") {
		t.Errorf("after a while: %v", err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Second)
	defer cancel()
	_, err = Reach(ctx, Options{Dir: dir})
	if !errors.As(err, &locked) || !strings.Contains(err.Error(), "doesn't answer") {
		t.Errorf("at the end of the context: %v", err)
	}
}

// TestAddressIsTakenByPsqlFromAnotherProcess is what `psql "$(tagalong database-url)"` does.
func TestAddressIsTakenByPsqlFromAnotherProcess(t *testing.T) {
	dir := newDir(t)
	launchOwner(t, dir)
	address, err := URL(dir, "tagalong", OwnerRole)
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("psql", "-X", "-A", "-t", "-c", "SHOW search_path", address).CombinedOutput()
	if err != nil || strings.TrimSpace(string(out)) != Schema {
		t.Errorf("psql: %q, %v", out, err)
	}
}
