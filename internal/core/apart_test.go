package core_test

import (
	"testing"

	"tagalong/internal/core"
)

// A bench starts a set that is short by concession only, and signs short never.
func TestAUnitIsStartedWhole(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	e := s.must(core.Gather{Item: panel, Owner: panels, Picks: []core.Pick{{Lot: s.toBench(skin), Qty: 1}}}, "WELD-1")
	start := core.BeginUnit{Build: core.BuildCode(e.Ref)}
	s.refused("wrong-station", start, "HARDWARE-1", "P13")
	s.refused("build-unknown", core.BeginUnit{Build: "U-none"}, "WELD-1", "P13")
	r := s.refused("start-short", start, "WELD-1", "P13")
	if r.Absolute {
		t.Error("no concession lets a bench start short")
	}
	short := core.Command{Body: start, Station: "WELD-1", Waive: []core.Waiver{{Code: "start-short", Reason: "the posts come at noon"}}}
	if out := s.send(short, "P13"); out.Refusal == nil || out.Refusal.Code != "concession-needs-two" {
		t.Fatalf("one signature let a bench start short: %v", out.Refusal)
	}
	if out := s.send(short, "P13", "P03"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	if s.state.Builds[start.Build].Begun.IsZero() {
		t.Error("the unit is not begun")
	}
	s.refused("unit-begun", start, "WELD-1", "P13")
	if r := s.refused("build-short", core.Assemble{Build: start.Build}, "WELD-1", "P13"); !r.Absolute {
		t.Error("a unit may be signed short")
	}
	s.agrees()
}

// toBench brings a lot of an item to the weld bench.
func (s *shop) toBench(item core.ItemRev) core.LotID {
	for _, l := range s.live() {
		if l.Item == item {
			s.bring(l.ID, "WELD-1")
			return l.ID
		}
	}
	s.t.Fatalf("no %s in the shop", item)
	return ""
}

// A welded unit taken apart: every component is back on a pallet, held until
// somebody has looked, its edges in doubt; the build stands open again.
func TestAUnitIsTakenApartOnRecord(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	unit := s.state.Lots[id]
	code := core.PalletCode(unit.Place.Ref)
	apart := core.TakeApart{Pallet: code, Unit: id, Why: "skin of the wrong alloy"}
	s.refused("not-taken-in", apart, "WELD-2", "P13")
	s.refused("signature-missing", apart, "WELD-1")
	s.refused("role-missing", apart, "WELD-1", "P25")
	s.refused("reason-missing", core.TakeApart{Pallet: code, Unit: id}, "WELD-1", "P13")
	skins := s.toBench(skin)
	s.refused("unit-not-gathered", core.TakeApart{Pallet: core.PalletCode(s.state.Lots[skins].Place.Ref), Unit: skins, Why: "x"}, "WELD-1", "P13")

	e := s.must(apart, "WELD-1", "P13")
	same(t, "the unit", s.state.Lots[id].Qty, 0)
	out := map[core.ItemRev]int{}
	for _, l := range s.state.LotsAt(core.On(e.Pallets[0])) {
		out[l.Item] += l.Qty
		if _, held := core.HeldBy(s.state, l); !held {
			t.Errorf("%s came out of a weld and is not held", l.Item)
		}
		same(t, "edges of "+l.Item.String(), l.Facts.At(core.Fact{Name: core.EdgesRounded}, s.now), core.Unsure)
	}
	for _, c := range s.book.Items[panel].Bill {
		same(t, "came out: "+c.Item.String(), out[c.Item], c.Qty)
	}
	build := s.state.Builds[unit.Unit]
	same(t, "the build", build.Lot, core.LotID(""))
	s.must(core.Gather{Build: build.Code, Item: panel, Owner: panels}, "WELD-1")
	s.agrees()
}

// A unit that was lent is the borrower's, and so is what comes out of it: the
// lender, who has been given others since, gets nothing back unasked.
func TestALentUnitTakenApartIsTheBorrowers(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	e := s.must(core.ChangeOwner{Pallet: code, Lot: id, Qty: 1, Reason: "nobody wants it now"}, "", "P02")
	lent := e.Lots[0].Lot
	for _, l := range s.state.LotsAt(core.On(code)) {
		lent = l.ID
	}
	s.nest("T-again", sheet5005, panels, core.Component{Item: skin, Qty: 4})
	s.separate("T-again")
	apart := core.TakeApart{Pallet: code, Unit: lent, Why: "skin of the wrong alloy"}
	on := s.must(apart, "WELD-1", "P13").Pallets[0]
	n := 0
	for _, l := range s.state.LotsAt(core.On(on)) {
		n += l.Qty
		same(t, "owner of "+l.Item.String(), l.Owner, core.Owner{})
	}
	same(t, "came out", n > 0, true)
	build := s.state.Builds[s.state.Lots[id].Unit]
	same(t, "the build is open", build.Lot, core.LotID(""))
	same(t, "for", build.Owner, core.Owner{})
	same(t, "the orders are looked at", apart.Names().Whole, true)
	s.agrees()
}

// What was wrong with a unit stays with all that came out of it: one
// disposition still finds every part.
func TestTakingApartEscapesNoHold(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	e := s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 1, What: "cracked all along", Stay: true}, "WELD-1", "P13")
	hold := s.must(core.PlaceHold{Scope: core.HoldItem, Ref: panel.Key(), Reason: "drawing in doubt"}, "", "P03").Effects[0].HoldPut.ID
	on := s.must(core.TakeApart{Pallet: code, Unit: id, Why: "to save the posts"}, "WELD-1", "P13").Pallets[0]
	for _, l := range s.state.LotsAt(core.On(on)) {
		stopped := map[core.ProblemID]bool{}
		follows := false
		for _, h := range s.state.Holds {
			if h.Open() && h.Ref == string(l.ID) {
				stopped[h.Problem] = true
				follows = follows || h.Follows == hold
			}
		}
		if !stopped[core.ProblemID(e.Ref)] || !follows {
			t.Errorf("%s slipped out: %v, follows %v", l.Item, stopped, follows)
		}
	}
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeScrap, Reason: "not worth it"}, "", "P03")
	for _, c := range s.book.Items[panel].Bill {
		for _, l := range s.state.LotsAt(core.On(on)) {
			if l.Item == c.Item {
				t.Errorf("%s was not scrapped with the rest", l.Item)
			}
		}
	}
	s.agrees()
}
