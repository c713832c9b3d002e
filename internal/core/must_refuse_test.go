package core_test

import (
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

// What must be refused, whoever asks and however: one test a rule, beside the
// tests of the commands themselves.

// beside brings a lot onto another's pallet.
func (s *shop) beside(id, onto core.LotID) core.PalletCode {
	s.t.Helper()
	to := core.PalletCode(s.state.Lots[onto].Place.Ref)
	l := s.state.Lots[id]
	out := s.send(core.Command{Body: core.Divide{From: core.PalletCode(l.Place.Ref), To: to, Picks: []core.Pick{{Lot: id, Qty: l.Qty}}},
		Station: "BENCH-1", Confirm: []string{"pallet-elsewhere"}})
	if out.Refusal != nil {
		s.t.Fatal(out.Refusal)
	}
	return to
}

// two are two lots of two roof trays each, from one nest, on a pallet each.
func (s *shop) two() (core.LotID, core.LotID) {
	s.t.Helper()
	id, code := s.four()
	e := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 2}}}, "BENCH-1")
	return id, s.state.LotsAt(core.On(e.Pallets[0]))[0].ID
}

func TestLotsThatDifferInMetalDoNotFuse(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.nest("T-steel", core.ItemRev{Item: "SH-304-2", Rev: "1"}, plates, core.Component{Item: hinge, Qty: 2})
	steel := s.separate("T-steel")[0].ID
	on := s.beside(steel, id)
	s.refused("fuse-metals", core.Fuse{Pallet: on, Lots: []core.LotID{id, steel}, Mix: true}, "BENCH-1")
}

func TestLotsOfDifferentItemsDoNotFuse(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.nest("T-skin", sheet5005, panels, core.Component{Item: skin, Qty: 2})
	on := s.beside(s.separate("T-skin")[0].ID, id)
	lots := s.state.LotsAt(core.On(on))
	s.refused("fuse-items", core.Fuse{Pallet: on, Lots: []core.LotID{lots[0].ID, lots[1].ID}, Mix: true}, "BENCH-1")
}

func TestLotsThatDifferInFinishDoNotFuse(t *testing.T) {
	s := newShop(t)
	coated, bare := s.two()
	s.until(coated, "cure")
	on := s.beside(bare, coated)
	s.refused("fuse-finishes", core.Fuse{Pallet: on, Lots: []core.LotID{coated, bare}, Mix: true}, "BENCH-1")
}

func TestAHeldLotDoesNotFuseWithAFreeOne(t *testing.T) {
	s := newShop(t)
	held, free := s.two()
	on := s.beside(free, held)
	s.must(core.PlaceHold{Scope: core.HoldLot, Ref: string(free), Reason: "doubt"}, "", "P03")
	s.refused("fuse-held", core.Fuse{Pallet: on, Lots: []core.LotID{held, free}}, "BENCH-1")
}

// A finish that nobody accepted is not packed, not even by concession for the
// step that was left out.
func TestNothingIsPackedWithItsFinishMissing(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.until(id, "coat-inspect")
	w := core.SignOff{Pallet: core.PalletCode(s.state.Lots[id].Place.Ref), Stage: "pack", Lots: []core.LotWork{{Lot: id, Good: 4, Checks: s.checksOf(id, "pack")}}}
	s.comes(w.Pallet, "DOCK-1")
	s.refused("step-skipped", w, "DOCK-1", "P26")
	out := s.send(core.Command{Body: w, Station: "DOCK-1", Waive: []core.Waiver{{Code: "step-skipped", Reason: "hurry"}}}, "P26", "P03")
	if out.Refusal == nil || out.Refusal.Code != "coat-not-accepted" {
		t.Errorf("past the skipped step: %v", out.Refusal)
	}
}

// A kit that nobody checked is not packed; its missing bag was told where it
// was to be put together.
func TestNoKitIsPackedUnchecked(t *testing.T) {
	s := newShop(t)
	e := s.must(core.ReceiveGoods{Item: kit, Qty: 1, Identified: true}, "GOODS-1", "P06")
	id := s.lotOn(e.Pallets[0])
	s.comes(e.Pallets[0], "DOCK-1")
	w := core.SignOff{Pallet: e.Pallets[0], Stage: "pack", Lots: []core.LotWork{{Lot: id, Good: 1, Checks: s.checksOf(id, "pack")}}}
	s.refused("step-skipped", w, "DOCK-1", "P26")
	out := s.send(core.Command{Body: w, Station: "DOCK-1", Waive: []core.Waiver{{Code: "step-skipped", Reason: "hurry"}}}, "P26", "P03")
	if out.Refusal == nil || out.Refusal.Code != "kit-not-checked" {
		t.Errorf("past the skipped step: %v", out.Refusal)
	}
}

// A unit whose part is missing is never made, so there is nothing to pack.
func TestNoUnitIsMadeWithAPartMissing(t *testing.T) {
	s := equationShop(t)
	strut := s.of(eqSets, crowd.Strut)
	s.must(core.ReportProblem{Pallet: core.PalletCode(strut.Place.Ref), Lot: strut.ID, Qty: 3, What: "bent"}, "WELD-1", "P13")
	e := s.must(core.Gather{Item: crowd.Joint, Owner: eqSets}, "WELD-1")
	c := core.Command{Body: crowd.Assembly(s.book, s.state, core.BuildCode(e.Ref)), Station: "WELD-1", Waive: []core.Waiver{{Code: "build-short", Reason: "hurry"}}}
	out := s.send(c, "P13", "P03")
	if out.Refusal == nil || out.Refusal.Code != "build-short" || !out.Refusal.Absolute {
		t.Errorf("short: %v", out.Refusal)
	}
}

// An open hold or nonconformity stops its own lots at the truck, whoever waives
// it; good parts beside a remake still go.
func TestGoodPartsBesideARemakeStillGo(t *testing.T) {
	s := newShop(t)
	id, _ := s.four()
	s.until(id, "coat-inspect")
	s.bring(id, "COAT-TABLE-1")
	w := mustWork(s, id)
	w.Lots[0].Good, w.Lots[0].Bad, w.Lots[0].Why = 3, 1, "runs"
	e := s.must(w, "COAT-TABLE-1", "P20")
	problem := s.state.Problems[core.ProblemID(e.Ref)]
	s.finish(id)
	good, bad := core.PalletCode(s.state.Lots[id].Place.Ref), core.PalletCode(s.state.Lots[problem.Lot].Place.Ref)
	site := s.state.Orders[trays.Order].Site
	for _, with := range [][]core.PalletCode{{bad}, {good, bad}} {
		out := s.send(core.Command{Body: core.Load{Site: site, Day: "2026-11-26", Pallets: with}, Station: "DOCK-1",
			Waive: []core.Waiver{{Code: "lot-held", Reason: "hurry"}, {Code: "problem-open", Reason: "hurry"}}}, "P25", "P03")
		if out.Refusal == nil || out.Refusal.Code != "lot-held" || !out.Refusal.Absolute {
			t.Errorf("loading %v: %v", with, out.Refusal)
		}
	}
	s.must(core.Dispose{Problem: problem.ID, Disposition: core.DisposeRemake, Reason: "make it again"}, "", "P03")
	truck := core.ConsignmentCode(s.must(core.Load{Site: site, Day: "2026-11-26", Pallets: []core.PalletCode{good}}, "DOCK-1", "P25").Ref)

	// Held after it was loaded: it stays here.
	ship := core.Command{Body: core.Ship{Consignment: truck, Vehicle: "SI26 TEX", HandedTo: "paper", Consents: []core.Consent{
		{Order: trays.Order, Who: "site management", Means: "telephone", Reason: "the rest follows"}}}, Station: "DOCK-1",
		Confirm: []string{"order-short"}, Waive: []core.Waiver{{Code: "lot-held", Reason: "hurry"}}}
	hold := s.must(core.PlaceHold{Scope: core.HoldLot, Ref: string(id), Reason: "doubt"}, "", "P03").Effects[0].HoldPut.ID
	if out := s.send(ship, "P25", "P03"); out.Refusal == nil || out.Refusal.Code != "lot-held" || !out.Refusal.Absolute {
		t.Errorf("shipping what is held: %v", out.Refusal)
	}
	s.must(core.LiftHold{Hold: hold, Reason: "looked"}, "", "P03")
	if out := s.send(ship, "P25", "P03"); out.Refusal != nil {
		t.Errorf("good parts beside a remake: %v", out.Refusal)
	}
	same(t, "gone", s.state.Lots[id].Place.Kind, core.InConsignment)
	s.agrees()
}

// comes is a pallet pushed to a station without a scan.
func (s *shop) comes(code core.PalletCode, at core.StationID) {
	p := s.state.Pallets[code]
	p.Station, p.Bound = at, ""
	s.state.Pallets[code] = p
	s.pushed = append(s.pushed, code)
}
