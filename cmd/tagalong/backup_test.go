package main

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/backup"
	"tagalong/internal/core"
	"tagalong/internal/photo"
	"tagalong/internal/postgres"
	"tagalong/internal/postgres/pgtest"
	"tagalong/internal/privatepg"
	"tagalong/internal/shopgen"
)

// privateLine is the command line over a private database in a folder that the
// account PostgreSQL runs as can pass through, which t.TempDir isn't.
func privateLine(t *testing.T) *line {
	t.Helper()
	dir, err := os.MkdirTemp("", "tagalong-backup-")
	must(t, err)
	t.Cleanup(func() { os.RemoveAll(dir) })
	must(t, os.Chmod(dir, 0o711))
	return &line{t, map[string]string{"TAGALONG_DATA": filepath.Join(dir, "shop"), "TAGALONG_LISTEN": "127.0.0.1:0"}}
}

// TestBackupIsPutBackElsewhere backs a shop up while it is served and worked
// in, and puts it back in another private database: the record compares clean,
// the people sign with the PINs they had, and work goes on.
func TestBackupIsPutBackElsewhere(t *testing.T) {
	first, second := privateLine(t), privateLine(t)
	dir := filepath.Join(t.TempDir(), "kept", "monday")
	var verified, kept string
	t.Run("the shop", func(t *testing.T) {
		base := demoServer(t, first)
		kept = demoBrowser(t, base).keeps(picture(t, "orientation-6.jpg"))
		verified = first.ok("verify")
		stop := working(t, base)
		if said := first.ok("backup", "--to", dir); !strings.Contains(said, dir) || !strings.Contains(said, "keys") {
			t.Errorf("backup said %q", said)
		}
		stop()
		first.fails(1, "is there already", "backup", "--to", dir)
	})
	modes := map[string]os.FileMode{".": 0o700, backup.Record: 0o600, backup.Keys: 0o600, backup.Sums: 0o600}
	for name, want := range modes {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: %v %v, want %v", name, info, err, want)
		}
	}
	check := exec.CommandContext(t.Context(), "sha256sum", "--strict", "-c", backup.Sums)
	check.Dir = dir
	if out, err := check.CombinedOutput(); err != nil {
		t.Errorf("sha256sum: %v %s", err, out)
	}

	second.ok("migrate") // a server may have been started on it, empty
	said := second.ok("restore", "--from", dir)
	if !strings.Contains(said, "; 0 faults") || lastEvent(t, said) < lastEvent(t, verified) {
		t.Errorf("restore said:\n%sthe shop was:\n%s", said, verified)
	}
	if again := second.ok("verify"); !strings.HasSuffix(said, again) {
		t.Errorf("verified again it is:\n%s%s", said, again)
	}
	second.fails(1, "holds a shop already", "restore", "--from", dir)
	if !strings.Contains(said, " 1 photo verified") {
		t.Errorf("the photo is not back: %s", said)
	}
	goesOn(t, second, lastEvent(t, said), kept)
}

var upTo = regexp.MustCompile(`verified up to event (\d+)`)

// lastEvent is the number of the last event of a shop, from what verify says.
func lastEvent(t *testing.T, verified string) int64 {
	t.Helper()
	m := upTo.FindStringSubmatch(verified)
	if m == nil {
		t.Fatalf("no last event in:\n%s", verified)
	}
	n, err := strconv.ParseInt(m[1], 10, 64)
	must(t, err)
	return n
}

// demoBrowser is a browser at the inspection bay of a demo shop.
func demoBrowser(t *testing.T, base string) *browser {
	t.Helper()
	s := &testShop{t: t, url: base, now: time.Now()}
	bay := s.browser()
	if got := bay.form("/demo/tablet", url.Values{"station": {"INSPECT-1"}}); got.StatusCode != http.StatusSeeOther {
		t.Fatalf("become a tablet: %d", got.StatusCode)
	}
	return bay
}

// working asks for holds as fast as the server answers, until stopped; the
// first one is on record when it returns.
func working(t *testing.T, base string) (stop func()) {
	t.Helper()
	bay, badge := demoBrowser(t, base), demoBadge(t, inspector)
	s := bay.shop
	ctx, cancel := context.WithCancel(t.Context())
	begun, ended := make(chan bool), make(chan bool)
	go func() {
		defer close(ended)
		begin := sync.OnceFunc(func() { close(begun) })
		for n := 0; ctx.Err() == nil; n++ {
			body := core.PlaceHold{Scope: core.HoldHeat, Ref: fmt.Sprintf("H%d", n), Reason: "certificate in doubt"}
			got := bay.post("place-hold", s.request(body).with("sign", []app.Sign{{Badge: badge, PIN: shopgen.PIN(inspector)}}))
			if got.StatusCode == http.StatusOK {
				begin()
			}
		}
	}()
	select {
	case <-begun:
	case <-time.After(2 * time.Minute):
		t.Fatal("nothing is recorded")
	}
	return func() { cancel(); <-ended }
}

func demoBadge(t *testing.T, p core.PersonID) string {
	t.Helper()
	badge, err := shopgen.Badge(p, 1)
	must(t, err)
	return badge.Text()
}

// goesOn works in a restored shop: the photo taken before is there, a badge with the PIN it had signs, and who
// follows the log hears of it, though the new server counts its transactions
// from the start again.
func goesOn(t *testing.T, l *line, last int64, kept string) {
	t.Helper()
	base := demoServer(t, l)
	address, err := privatepg.URL(l.env["TAGALONG_DATA"], database, privatepg.AppRole)
	must(t, err)
	store, err := postgres.Open(t.Context(), address, postgres.Options{MaxConns: 2})
	must(t, err)
	defer store.Close()
	tip, err := store.Tip(t.Context())
	must(t, err)

	bay := demoBrowser(t, base)
	s := bay.shop
	if got := bay.get("/photos/" + kept); photo.HashOf([]byte(got.body)).String() != kept {
		t.Errorf("the photo in the restored shop: %d, %d bytes", got.StatusCode, len(got.body))
	}
	again := core.PlaceHold{Scope: core.HoldHeat, Ref: "H5-20882", Reason: "certificate in doubt"}
	got := bay.post("place-hold", s.request(again).with("sign", []app.Sign{{Badge: demoBadge(t, inspector), PIN: shopgen.PIN(inspector)}}))
	if got.StatusCode != http.StatusOK {
		t.Fatalf("a hold in the restored shop: %d %s", got.StatusCode, got.body)
	}
	for deadline := time.Now().Add(time.Minute); ; time.Sleep(20 * time.Millisecond) {
		changes, _, err := store.Since(t.Context(), tip, 100)
		must(t, err)
		if slices.ContainsFunc(changes, func(c app.Change) bool { return c.Seq > last && c.Kind == core.EvHeld }) {
			return
		}
		if time.Now().After(deadline) {
			t.Fatalf("who follows the log hears of %+v", changes)
		}
	}
}

// TestBackupIntoADatabaseOfOnesOwn restores where another looks after the
// database, and finds what can't be put back.
func TestBackupIntoADatabaseOfOnesOwn(t *testing.T) {
	l := demoLine(t)
	dir := filepath.Join(t.TempDir(), "monday")
	l.ok("backup", "--to", dir)
	verified := l.ok("verify")
	empty := func() *line {
		return &line{t, map[string]string{"TAGALONG_DATABASE_URL": pgtest.NewEmpty(t).SuperURL, "TAGALONG_DATA": t.TempDir()}}
	}
	other := empty()
	if said := other.ok("restore", "--from", dir); !strings.HasSuffix(said, verified) {
		t.Errorf("restored:\n%sit was:\n%s", said, verified)
	}
	keys := func(l *line) []byte {
		text, err := os.ReadFile(filepath.Join(l.env["TAGALONG_DATA"], keyFile))
		must(t, err)
		return text
	}
	if !bytes.Equal(keys(l), keys(other)) {
		t.Error("the keys are others")
	}

	untouched := empty()
	nothing := filepath.Join(t.TempDir(), "nothing")
	untouched.fails(1, "No backup was made", "backup", "--to", nothing)
	if left, err := filepath.Glob(nothing + "*"); err != nil || len(left) > 0 {
		t.Errorf("a backup that failed left %v (%v)", left, err)
	}
	conn, err := pgx.Connect(t.Context(), untouched.env["TAGALONG_DATABASE_URL"])
	must(t, err)
	defer conn.Close(t.Context())
	var made bool
	must(t, conn.QueryRow(t.Context(), "SELECT to_regnamespace($1) IS NOT NULL", privatepg.Schema).Scan(&made))
	if made {
		t.Error("backing up changed the database")
	}

	l.fails(2, "--to is missing", "backup")
	l.fails(2, "--from is missing", "restore")
	l.fails(1, "is no backup", "restore", "--from", t.TempDir())
	for name, spoil := range map[string]func(path string) error{
		"damaged in record.dump": func(dir string) error {
			return os.Truncate(filepath.Join(dir, backup.Record), 4000)
		},
		"damaged in server.key": func(dir string) error { return os.Remove(filepath.Join(dir, backup.Keys)) },
		"is incomplete":         func(dir string) error { return os.WriteFile(filepath.Join(dir, backup.Sums), nil, 0o600) },
	} {
		copied := filepath.Join(t.TempDir(), "copy")
		must(t, os.CopyFS(copied, os.DirFS(dir)))
		must(t, spoil(copied))
		fresh := empty()
		fresh.fails(1, name, "restore", "--from", copied)
		if _, err := os.Stat(filepath.Join(fresh.env["TAGALONG_DATA"], keyFile)); err == nil {
			t.Errorf("%s: a key was put back", name)
		}
	}
}
