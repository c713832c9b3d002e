package postgres_test

import (
	"errors"
	"sync"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

func TestBadges(t *testing.T) {
	f := newFixture(t)
	ctx := t.Context()
	missing := func(err error) {
		t.Helper()
		if !errors.Is(err, app.ErrNotFound) {
			t.Errorf("%v, want not found", err)
		}
	}
	_, err := f.BadgeHolder(ctx, shaOf("one"))
	missing(err)
	_, err = f.HolderOf(ctx, "P1")
	missing(err)
	missing(f.RevokeBadge(ctx, "P1", "P9"))

	must(0, f.IssueBadge(ctx, "P1", shaOf("one"), "P9"))(t)
	must(0, f.NewSession(ctx, shaOf("session"), "P1", f.clock.Now().Add(time.Hour)))(t)
	first := must(f.BadgeHolder(ctx, shaOf("one")))(t)
	if first.Person != "P1" || first.Revoked || first.Badge.IsZero() || first.PINHash != "" {
		t.Errorf("first badge: %+v", first)
	}
	must(0, f.SetPIN(ctx, "P1", "hash", "P9"))(t)
	must(0, f.IssueBadge(ctx, "P1", shaOf("two"), "P9"))(t)
	if old := must(f.BadgeHolder(ctx, shaOf("one")))(t); !old.Revoked || !old.Badge.After(first.Badge) {
		t.Errorf("the badge before: %+v", old)
	}
	if now := must(f.BadgeHolder(ctx, shaOf("two")))(t); now.Revoked || now.PINHash != "hash" {
		t.Errorf("the badge now: %+v", now)
	}
	_, err = f.Session(ctx, shaOf("session"), f.clock.Now())
	missing(err)
	must(0, f.RevokeBadge(ctx, "P1", "P9"))(t)
	if h := must(f.HolderOf(ctx, "P1"))(t); !h.Revoked || h.PINHash != "hash" || !h.Badge.IsZero() {
		t.Errorf("without a badge: %+v", h)
	}
	if all := must(f.Holders(ctx))(t); len(all) != 1 || all[0].Person != "P1" {
		t.Errorf("holders: %+v", all)
	}
}

func TestPINCodes(t *testing.T) {
	f := newFixture(t)
	ctx := t.Context()
	soon := f.clock.Now().Add(time.Hour)
	must(0, f.NewPINCode(ctx, shaOf("first"), "P1", soon, "P9"))(t)
	must(0, f.NewPINCode(ctx, shaOf("second"), "P1", soon, "P9"))(t)
	for what, err := range map[string]error{
		"followed by another": f.UsePINCode(ctx, shaOf("first"), "P1", "hash", f.clock.Now()),
		"another's":           f.UsePINCode(ctx, shaOf("second"), "P2", "hash", f.clock.Now()),
		"too old":             f.UsePINCode(ctx, shaOf("second"), "P1", "hash", soon.Add(time.Second)),
		"unknown":             f.UsePINCode(ctx, shaOf("third"), "P1", "hash", f.clock.Now()),
	} {
		if !errors.Is(err, app.ErrNotFound) {
			t.Errorf("a code %s: %v", what, err)
		}
	}
	must(0, f.UsePINCode(ctx, shaOf("second"), "P1", "hash", f.clock.Now()))(t)
	if err := f.UsePINCode(ctx, shaOf("second"), "P1", "other", f.clock.Now()); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("a code used twice: %v", err)
	}
	if h := must(f.HolderOf(ctx, "P1"))(t); h.PINHash != "hash" {
		t.Errorf("holder: %+v", h)
	}
}

// Guessing at once on many tablets counts every guess.
func TestTriesAreCountedUnderConcurrency(t *testing.T) {
	f := newFixture(t)
	wrong := func(p, tablet app.Tries) (app.Tries, app.Tries, error) {
		p.Wrong, tablet.Wrong = p.Wrong+1, tablet.Wrong+1
		p.Since, p.Until = f.clock.Now(), f.clock.Now().Add(time.Minute)
		return p, tablet, nil
	}
	var wg sync.WaitGroup
	for i := range 12 {
		wg.Go(func() {
			// Two persons on two tablets, in every pairing.
			p, tablet := core.PersonID(name("P", i%2)), core.TabletID(name("T", i/2%2))
			if err := f.Try(t.Context(), p, tablet, wrong); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	failed := errors.New("the key is gone")
	err := f.Try(t.Context(), "P-0", "T-0", func(p, tablet app.Tries) (app.Tries, app.Tries, error) {
		if p.Wrong != 6 || tablet.Wrong != 6 || p.Until.IsZero() || p.Since.IsZero() || !tablet.Until.IsZero() {
			t.Errorf("person %+v, tablet %+v", p, tablet)
		}
		return app.Tries{}, app.Tries{}, failed
	})
	if !errors.Is(err, failed) {
		t.Errorf("%v, want the failure", err)
	}
	right := func(p, tablet app.Tries) (app.Tries, app.Tries, error) {
		if p.Wrong != 6 {
			t.Errorf("a failed try changed the counter to %d", p.Wrong)
		}
		return app.Tries{}, tablet, nil
	}
	must(0, f.Try(t.Context(), "P-0", "T-0", right))(t)
	must(0, f.Try(t.Context(), "P-0", "T-0", func(p, tablet app.Tries) (app.Tries, app.Tries, error) {
		if p != (app.Tries{}) || tablet.Wrong != 6 {
			t.Errorf("person %+v, tablet %+v", p, tablet)
		}
		return p, tablet, nil
	}))(t)
}

// A right PIN changes nothing, so it must not cost a write: no transaction
// number is taken.
func TestARightPINWritesNothing(t *testing.T) {
	f := newFixture(t)
	conn := connect(t, f.db.SuperURL)
	next := func() (n string) {
		if err := conn.QueryRow(t.Context(), "SELECT pg_snapshot_xmax(pg_current_snapshot())::text").Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	// Other tests on this server take numbers as well: one try during which none
	// was taken shows that a try takes none; one that writes would never show it.
	for range 200 {
		before := next()
		must(0, f.Try(t.Context(), "P", "T", func(p, tablet app.Tries) (app.Tries, app.Tries, error) { return p, tablet, nil }))(t)
		if next() == before {
			return
		}
	}
	t.Error("a transaction number was taken in every one of 200 tries")
}

func TestTablets(t *testing.T) {
	f := newFixture(t)
	ctx := t.Context()
	until := f.clock.Now().Add(time.Hour)
	must(0, f.NewEnrolment(ctx, shaOf("code"), "WELD-1", until, "P9"))(t)
	if _, err := f.Enrol(ctx, shaOf("code"), shaOf("secret"), "T1", until.Add(time.Second)); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("a code too old: %v", err)
	}
	var wg sync.WaitGroup
	var enrolled, refused int
	var mu sync.Mutex
	for i := range 4 {
		wg.Go(func() {
			at, err := f.Enrol(ctx, shaOf("code"), shaOf(name("secret", i)), core.TabletID(name("T", i)), f.clock.Now())
			mu.Lock()
			defer mu.Unlock()
			if err == nil && at == "WELD-1" {
				enrolled++
			} else if errors.Is(err, app.ErrNotFound) {
				refused++
			}
		})
	}
	wg.Wait()
	if enrolled != 1 || refused != 3 {
		t.Fatalf("one code enrolled %d tablets and refused %d", enrolled, refused)
	}
	all := must(f.Tablets(ctx))(t)
	if len(all) != 1 || all[0].Station != "WELD-1" {
		t.Fatalf("tablets %+v", all)
	}
	var secret [32]byte
	for i := range 4 {
		if core.TabletID(name("T", i)) == all[0].ID {
			secret = shaOf(name("secret", i))
		}
	}
	if got := must(f.TabletBySecret(ctx, secret))(t); got.ID != all[0].ID || got.LastSeen.IsZero() {
		t.Errorf("tablet %+v", got)
	}
	must(0, f.RevokeTablet(ctx, all[0].ID, "P9"))(t)
	if got := must(f.TabletBySecret(ctx, secret))(t); got.Revoked.IsZero() {
		t.Errorf("revoked tablet %+v", got)
	}
	if err := f.RevokeTablet(ctx, all[0].ID, "P9"); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("revoked twice: %v", err)
	}
}

func TestSessions(t *testing.T) {
	f := newFixture(t)
	ctx := t.Context()
	until := f.clock.Now().Add(time.Hour)
	must(0, f.NewSession(ctx, shaOf("a"), "P1", until))(t)
	if p := must(f.Session(ctx, shaOf("a"), f.clock.Now()))(t); p != "P1" {
		t.Errorf("the session is of %s", p)
	}
	if _, err := f.Session(ctx, shaOf("a"), until.Add(time.Second)); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("a session over: %v", err)
	}
	must(0, f.EndSession(ctx, shaOf("a")))(t)
	if _, err := f.Session(ctx, shaOf("a"), f.clock.Now()); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("a session ended: %v", err)
	}
}
