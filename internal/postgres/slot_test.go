package postgres_test

import (
	"fmt"
	"sync"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// Tablets that fill one empty slot at the same moment: one pallet goes in, all
// the others are asked about it, though there is no row of a slot to lock.
func TestOneSlotFilledByManyTablets(t *testing.T) {
	s := newFloor(t)
	const tablets = 6
	sheet := core.ItemRev{Item: "SH-5005-3", Rev: "1"}
	e := s.must(core.ReceiveGoods{Item: sheet, Qty: tablets, Heat: "H5-1", Label: "M-1", Identified: true}, "GOODS-1", "P05")
	if len(e.Pallets) != tablets {
		t.Fatalf("%d sheets came in", len(e.Pallets))
	}
	answers := make([]app.Answer, tablets)
	var all sync.WaitGroup
	for i, code := range e.Pallets {
		all.Go(func() {
			c := core.Command{ID: core.CommandID(fmt.Sprintf("slot-%d", i)), Station: "STORE-1", Happened: s.clock.Now(), Body: core.TakeIn{Pallet: code, Slot: "C4"}}
			a, err := s.Execute(t.Context(), c, shaOf(string(c.ID)), func(w core.World) core.Outcome { return core.Decide(w, c) })
			if err != nil {
				t.Error(err)
			}
			answers[i] = a
		})
	}
	all.Wait()
	in, asked := 0, 0
	for _, a := range answers {
		switch {
		case a.Refusal == nil:
			in++
		case a.Refusal.Code == "slot-taken" && a.Refusal.Ask:
			asked++
		}
	}
	if in != 1 || asked != tablets-1 {
		t.Errorf("%d went in and %d were asked, want 1 and %d", in, asked, tablets-1)
	}
	cards := must(s.InSlot(t.Context(), "STORE-1", "C4"))(t)
	if len(cards) != 1 || cards[0].Slot != "C4" || cards[0].Station != "STORE-1" {
		t.Fatalf("in the slot stand %+v", cards)
	}
	s.must(core.TakeIn{Pallet: cards[0].Code, Slot: "A1"}, "STORE-1")
	if cards := must(s.InSlot(t.Context(), "STORE-1", "C4"))(t); len(cards) != 0 {
		t.Errorf("after it was moved there stand %+v", cards)
	}
	// What came in at no station, as an import's sheets do, lies in the store's slots too.
	old := s.must(core.ReceiveGoods{Item: sheet, Qty: 1, Heat: "H5-2", Label: "M-2", Slot: "C4", Identified: true, Before: true}, "", "P01").Pallets[0]
	s.refused("slot-taken", core.TakeIn{Pallet: cards[0].Code, Slot: "C4"}, "STORE-1")
	if cards := must(s.InSlot(t.Context(), "STORE-1", "C4"))(t); len(cards) != 1 || cards[0].Code != old {
		t.Errorf("beside it there stand %+v", cards)
	}
}
