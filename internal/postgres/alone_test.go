package postgres_test

import (
	"sync/atomic"
	"testing"

	"tagalong/internal/core"
)

// A hold on a gauge stops lots that it does not name. Work that began before it
// ends before it: what is recorded behind a hold has seen it.
func TestWorkUnderWayEndsBeforeAHoldOnMoreThanItNames(t *testing.T) {
	s := newFloor(t)
	s.nest("T-1", sheet5005, panels, core.Component{Item: skin, Qty: 4})
	l := s.separate("T-1", sheet5005)[0]
	code := core.PalletCode(l.Place.Ref)
	held, done := make(chan error, 1), atomic.Bool{}
	place := core.Command{ID: "hold", Body: core.PlaceHold{Scope: core.HoldGauge, Ref: "CA-01", Reason: "fell down"}, Signers: []core.Signature{{Person: "P03"}}}
	move := core.Command{ID: "move", Station: "BENCH-1", Body: core.Divide{From: code, Picks: []core.Pick{{Lot: l.ID, Qty: 1}}}}
	look := connect(t, s.db.SuperURL)
	_, err := s.Execute(t.Context(), move, shaOf("move"), func(w core.World) core.Outcome {
		go func() {
			_, err := s.Execute(t.Context(), place, shaOf("hold"), func(w core.World) core.Outcome { return core.Decide(w, place) })
			done.Store(true)
			held <- err
		}()
		for waits := 0; waits == 0 && !done.Load(); {
			if err := look.QueryRow(t.Context(), `SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND NOT granted AND database = (SELECT oid FROM pg_database WHERE datname = $1)`, s.db.Name).Scan(&waits); err != nil {
				t.Error(err)
				break
			}
		}
		if done.Load() {
			t.Error("the hold was placed while a lot it may stop was worked on")
		}
		return core.Decide(w, move)
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := <-held; err != nil {
		t.Fatal(err)
	}
	events := must(look.Query(t.Context(), "SELECT kind FROM tagalong.event ORDER BY seq DESC LIMIT 2"))(t)
	var kinds []string
	for events.Next() {
		var k string
		if err := events.Scan(&k); err != nil {
			t.Fatal(err)
		}
		kinds = append(kinds, k)
	}
	if len(kinds) != 2 || kinds[0] != string(core.EvHeld) || kinds[1] != string(core.EvDivided) {
		t.Errorf("recorded last are %v", kinds)
	}
}
