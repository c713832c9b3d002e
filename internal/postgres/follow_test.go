package postgres_test

import (
	"context"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/postgres"
)

// A reader that follows while many write must meet every event exactly once,
// also those that took their number early and committed late.
func TestFollowingLosesNoLateCommit(t *testing.T) {
	f := newFixture(t)
	const tablets, rounds = 6, 30
	codes := make([]core.PalletCode, tablets)
	for i := range codes {
		codes[i], _ = f.bear(t, name("born", i), 1, core.Owner{})
	}
	cursor := must(f.Tip(t.Context()))(t)
	// Where a transaction of another test on this server is older, the births lie
	// beyond the tip as well.
	var born int64
	if err := connect(t, f.db.SuperURL).QueryRow(t.Context(), "SELECT max(seq) FROM tagalong.event").Scan(&born); err != nil {
		t.Fatal(err)
	}

	// Somebody takes a number and a transaction, and commits only at the end.
	late := connect(t, f.db.SuperURL)
	if _, err := late.Exec(t.Context(), "BEGIN"); err != nil {
		t.Fatal(err)
	}
	var lateSeq int64
	if err := late.QueryRow(t.Context(), `
		INSERT INTO tagalong.event (id, command_id, kind, v, happened_at, recorded_at, parts, pallets, lots, device, payload)
		VALUES ('late.1', 'late', 'begun', 1, now(), now(), 0, '{}', '{}', '{}', '{}') RETURNING seq`).Scan(&lateSeq); err != nil {
		t.Fatal(err)
	}

	var done atomic.Bool
	seen := map[int64]int{}
	follow := func() {
		for {
			changes, next, err := f.Since(t.Context(), cursor, 7)
			if err != nil {
				t.Error(err)
				return
			}
			cursor = next
			for _, c := range changes {
				if c.Seq > born {
					seen[c.Seq]++
				}
			}
			if len(changes) == 0 {
				return
			}
		}
	}
	var reader, writers sync.WaitGroup
	reader.Go(func() {
		for !done.Load() {
			follow()
		}
	})
	for tablet := range tablets {
		writers.Go(func() {
			for round := range rounds {
				id := name("touch", tablet, round)
				code := codes[(tablet+round)%tablets]
				f.do(t, id, on(code), func(w core.World) core.Outcome {
					p := w.State.Pallets[code]
					p.Version++
					return happen(id, w, core.EvTakenIn, core.Effect{PalletPut: &p})
				})
			}
		})
	}
	writers.Wait()
	if _, err := late.Exec(t.Context(), "COMMIT"); err != nil {
		t.Fatal(err)
	}
	done.Store(true)
	reader.Wait()
	// Transactions of other tests on this server may still be older.
	for deadline := time.Now().Add(10 * time.Second); len(seen) <= tablets*rounds && time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		follow()
	}
	if len(seen) != tablets*rounds+1 {
		t.Errorf("%d events were met, want %d", len(seen), tablets*rounds+1)
	}
	if seen[lateSeq] != 1 {
		t.Errorf("the late commit was met %d times", seen[lateSeq])
	}
	for seq, n := range seen {
		if n != 1 {
			t.Errorf("event %d was met %d times", seq, n)
		}
	}
}

// A commit wakes readers in the same process at once and those of other servers
// on the database soon.
func TestACommitWakesEveryServer(t *testing.T) {
	f := newFixture(t)
	other, err := postgres.Open(t.Context(), f.db.AppURL, postgres.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(other.Close)
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	// The other server may still be about to listen: write until it hears.
	heard := make(chan error, 1)
	tip := must(other.Tip(ctx))(t)
	go func() {
		for {
			if err := other.Wait(ctx); err != nil {
				heard <- err
				return
			}
			if changes, _, err := other.Since(ctx, tip, 1); err != nil || len(changes) > 0 {
				heard <- err
				return
			}
		}
	}()
	for n := 0; ; n++ {
		own := f.Upcoming()
		f.bear(t, name("born", n), 1, core.Owner{})
		select {
		case <-own:
		default:
			t.Error("a commit didn't wake its own process")
		}
		select {
		case err := <-heard:
			if err != nil {
				t.Error(err)
			}
			return
		case <-time.After(100 * time.Millisecond):
		}
	}
}
