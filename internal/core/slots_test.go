package core_test

import (
	"testing"
	"time"

	"tagalong/internal/core"
)

// inStore is a shop with two pallets of trays, the first in slot C4 of the store.
func inStore(t *testing.T) (s *shop, first, second core.PalletCode) {
	t.Helper()
	s = newShop(t)
	for _, n := range []string{"T-21", "T-22"} {
		s.nest(n, sheet5005, trays, core.Component{Item: tray, Qty: 4})
		code := core.PalletCode(s.separate(n)[0].Place.Ref)
		s.must(core.PrintTraveller{Pallet: code}, "BENCH-1")
		first, second = second, code
	}
	e := s.must(core.TakeIn{Pallet: first, Slot: " c4 "}, "STORE-1")
	if e.Kind != core.EvTakenIn || e.Ref != "C4" {
		t.Fatalf("took in by %s, slot %q", e.Kind, e.Ref)
	}
	return s, first, second
}

func TestAPalletIsTakenInToASlotAndPutIntoAnother(t *testing.T) {
	s, code, _ := inStore(t)
	row := s.state.Pallets[code]
	if row.Station != "STORE-1" || row.Bound != "" || row.Slot != "C4" {
		t.Fatalf("the pallet is %+v", row)
	}
	s.refused("already-in-slot", core.TakeIn{Pallet: code, Slot: "C4"}, "STORE-1")
	s.refused("already-here", core.TakeIn{Pallet: code}, "STORE-1")
	since := row.Since
	s.now = s.now.Add(time.Hour)
	if e := s.must(core.TakeIn{Pallet: code, Slot: "A1"}, "STORE-1"); e.Kind != core.EvSlotted || e.Ref != "A1" {
		t.Errorf("another slot is recorded as %s %q", e.Kind, e.Ref)
	}
	if row = s.state.Pallets[code]; row.Slot != "A1" || !row.Since.Equal(since) {
		t.Errorf("in slot %q of the store since %s, want A1 and %s", row.Slot, row.Since, since)
	}
	s.must(core.HandOver{Pallet: code, To: "ROUND-AL"}, "STORE-1")
	if row = s.state.Pallets[code]; row.Slot != "" {
		t.Errorf("a pallet on its way is in slot %q", row.Slot)
	}
}

// A slot with another pallet in it is a question: the shop may stack two.
func TestASlotWithAnotherPalletInItIsAsked(t *testing.T) {
	s, first, second := inStore(t)
	take := core.TakeIn{Pallet: second, Slot: "C4"}
	r := s.refused("slot-taken", take, "STORE-1")
	if !r.Ask || r.Params["pallet"] != string(first) || r.Params["slot"] != "C4" {
		t.Errorf("told %+v", r)
	}
	s.send(core.Command{Body: take, Station: "STORE-1", Confirm: []string{"slot-taken"}})
	if got := s.state.Pallets[second].Slot; got != "C4" {
		t.Errorf("confirmed, it is in slot %q", got)
	}
	// One that is on its way elsewhere is in nobody's way any more.
	s.must(core.HandOver{Pallet: first, To: "ROUND-AL"}, "STORE-1")
	s.must(core.HandOver{Pallet: second, To: "ROUND-AL"}, "STORE-1")
	s.must(core.TakeIn{Pallet: first, Slot: "C4"}, "STORE-1")
}

func TestOnlyAStoreHasSlots(t *testing.T) {
	s, code, second := inStore(t)
	s.must(core.HandOver{Pallet: code, To: "ROUND-AL"}, "STORE-1")
	s.refused("no-slots-here", core.TakeIn{Pallet: code, Slot: "C4"}, "ROUND-AL")
	s.refused("slot-too-long", core.TakeIn{Pallet: second, Slot: "THE SHELF BEHIND THE SAW"}, "STORE-1")
	for _, st := range s.book.Stations {
		if st.Store() != (st.ID == "STORE-1") {
			t.Errorf("%s is a store: %t", st.Name, st.Store())
		}
	}
}
