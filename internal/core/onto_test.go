package core_test

import (
	"testing"

	"tagalong/internal/core"
)

// atRounding is four trays taken in at the rounding line.
func atRounding(t *testing.T) (*shop, core.LotID, core.SignOff) {
	s := newShop(t)
	id, _ := s.four()
	s.until(id, "edge-round")
	s.bring(id, "ROUND-AL")
	return s, id, mustWork(s, id)
}

// The far end of the rounding line: off one pallet, on to others, in the motion
// of the sign-off. What was not done stays on its own pallet.
func TestGoodPartsArePutDownOnOtherPallets(t *testing.T) {
	s, id, w := atRounding(t)
	w.Lots[0].Good, w.Lots[0].NotDone = 3, 1
	put := func(onto ...core.Onto) core.SignOff {
		c := w
		c.Lots = []core.LotWork{w.Lots[0]}
		c.Lots[0].Onto = onto
		return c
	}
	s.refused("put-down-more", put(core.Onto{Pallet: "new:A", Qty: 2}, core.Onto{Pallet: "new:B", Qty: 2}), "ROUND-AL", "P21")
	s.refused("count-impossible", put(core.Onto{Pallet: "new:A"}), "ROUND-AL", "P21")
	s.refused("same-pallet", put(core.Onto{Pallet: w.Pallet, Qty: 1}), "ROUND-AL", "P21")
	s.refused("pallet-unknown", put(core.Onto{Pallet: "P-nowhere", Qty: 1}), "ROUND-AL", "P21")

	on := put(core.Onto{Pallet: "new:A", Qty: 1}, core.Onto{Pallet: "new:B", Qty: 2})
	on.HandTo = "BRAKE-1"
	out := s.send(core.Command{Body: on, Station: "ROUND-AL", Confirm: []string{"reprint-due"}}, "P21")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	stays := s.state.LotsAt(core.On(w.Pallet))
	same(t, "what stays", len(stays), 1)
	same(t, "not done", stays[0].Qty, 1)
	same(t, "its place", s.state.Pallets[w.Pallet].Station, core.StationID("ROUND-AL"))
	sizes := map[int]int{}
	for _, code := range out.Events[0].Pallets {
		if code == w.Pallet {
			continue
		}
		lots := s.state.LotsAt(core.On(code))
		same(t, "lots on "+string(code), len(lots), 1)
		sizes[lots[0].Qty]++
		same(t, "rounded", lots[0].Facts.At(core.Fact{Name: core.EdgesRounded}, s.now), core.Yes)
		same(t, "bound for", s.state.Pallets[code].Bound, core.StationID("BRAKE-1"))
	}
	same(t, "a pallet of one", sizes[1], 1)
	same(t, "a pallet of two", sizes[2], 1)
	same(t, "left of the lot", s.state.Lots[id].Qty, 1)
	s.agrees()
}

// A carrier that parts are put on is where they are put on it; one with other
// work on it is asked about.
func TestPartsArePutOnAPalletThatIsHere(t *testing.T) {
	s := newShop(t)
	s.nest("T-3", sheet5005, trays, core.Component{Item: tray, Qty: 2}, core.Component{Item: cableTray, Qty: 3})
	lots := s.separate("T-3")
	away, here := core.PalletCode(lots[0].Place.Ref), core.PalletCode(lots[1].Place.Ref)
	s.bring(lots[0].ID, "ROUND-AL")
	move := core.Divide{From: here, To: away, Picks: []core.Pick{{Lot: lots[1].ID, Qty: 3}}}
	r := s.refused("pallet-elsewhere", move, "BENCH-1")
	if !r.Ask {
		t.Error("a pallet that stands before the person is refused for good")
	}
	out := s.send(core.Command{Body: move, Station: "BENCH-1", Confirm: []string{"pallet-elsewhere"}}, "P06")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	same(t, "where it is", s.state.Pallets[away].Station, core.StationID("BENCH-1"))
	// The emptied one is used again, wherever it was last seen.
	s.bring(lots[0].ID, "ROUND-AL")
	s.must(core.Divide{From: away, To: here, Picks: []core.Pick{{Lot: lots[0].ID, Qty: 1}}}, "ROUND-AL")
	same(t, "the empty one", s.state.Pallets[here].Station, core.StationID("ROUND-AL"))
	s.agrees()
}

// No part slips out of a hold by leaving the pallet that is held, or the order.
func TestAHoldFollowsItsParts(t *testing.T) {
	s := newShop(t)
	id, code := s.four()
	hold := s.must(core.PlaceHold{Scope: core.HoldPallet, Ref: string(code), Reason: "fork through the side"}, "", "P03").Effects[0].HoldPut.ID
	to := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 2}}}, "BENCH-1").Pallets[0]
	off := s.state.LotsAt(core.On(to))[0]
	if _, held := core.HeldBy(s.state, off); !held {
		t.Fatal("parts slipped out of their pallet's hold")
	}
	further := s.must(core.Divide{From: to, Picks: []core.Pick{{Lot: off.ID, Qty: 1}}}, "BENCH-1").Pallets[0]
	if _, held := core.HeldBy(s.state, s.state.LotsAt(core.On(further))[0]); !held {
		t.Fatal("parts slipped out by a second move")
	}
	s.must(core.LiftHold{Hold: hold, Reason: "bent nothing"}, "", "P03")
	for _, l := range s.live() {
		if h, held := core.HeldBy(s.state, l); held {
			t.Errorf("%s is still held by %s", l.ID, h.ID)
		}
	}
	s.must(core.PlaceHold{Scope: core.HoldOrder, Ref: trays.Order, Reason: "drawing in doubt"}, "", "P03")
	s.refused("lot-held", core.ChangeOwner{Pallet: code, Lot: id, Qty: 1, To: core.Owner{}, Reason: "lent"}, "", "P02")
	s.agrees()
}
