package postgres_test

import (
	"reflect"
	"testing"

	"tagalong/internal/core"
)

// TestALotReadAgainIsAsStored: lots are kept by the bytes they are stored as, so
// what another server changed is seen at once, and what a decision makes of a
// lot changes nobody else's.
func TestALotReadAgainIsAsStored(t *testing.T) {
	s := newFloor(t)
	pallet := s.heap("kept", 1, 20)
	before := s.pallet(pallet).State.Lots["kept/1"]
	other := openStore(t, s.db.AppURL, s.clock)
	here := &floor{fixture: &fixture{other, s.db, s.clock}, t: t, book: s.book, n: 1000}
	if got := here.pallet(pallet).State.Lots["kept/1"]; !reflect.DeepEqual(got, before) {
		t.Fatalf("another server reads %+v, this one %+v", got, before)
	}
	here.must(core.Divide{From: pallet, Picks: []core.Pick{{Lot: "kept/1", Qty: 5}}}, "BENCH-1")
	if got := s.pallet(pallet).State.Lots["kept/1"]; got.Qty != 15 {
		t.Errorf("after 5 of 20 were taken by another server, this one reads %d", got.Qty)
	}
	if before.Qty != 20 {
		t.Errorf("the lot read before has %d parts now", before.Qty)
	}
}
