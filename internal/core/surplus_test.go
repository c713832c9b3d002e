package core_test

import (
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

// An order line never owns more than it asks for, whichever way parts come to
// it: what is beyond that is stock's. Found by the walk of the order equation.

// equationShop is the shop of the equation with components at the bench.
func equationShop(t *testing.T) *shop {
	t.Helper()
	return equationShops(t)[1]
}

// owned sums what rests somewhere of an item for an owner, outside of units.
func (s *shop) owned(o core.Owner, item core.ItemRev) int {
	n := 0
	for _, l := range s.state.Lots {
		if l.Owner == o && l.Item == item && l.Live() {
			n += l.Qty
		}
	}
	return n
}

// of is a lot on a pallet of an item and owner.
func (s *shop) of(o core.Owner, item core.ItemRev) core.Lot {
	s.t.Helper()
	for _, l := range s.live() {
		if l.Owner == o && l.Item == item {
			return l
		}
	}
	s.t.Fatalf("no %s of %s", item, o)
	return core.Lot{}
}

// lend takes parts of a lot to another owner and returns them.
func (s *shop) lend(l core.Lot, qty int, to core.Owner) core.Lot {
	s.t.Helper()
	e := s.must(core.ChangeOwner{Pallet: core.PalletCode(l.Place.Ref), Lot: l.ID, Qty: qty, To: to, Reason: "they leave first"}, "", "P02")
	for _, f := range e.Effects {
		if f.LotBorn != nil {
			return s.state.Lots[f.LotBorn.ID]
		}
	}
	s.t.Fatal("nothing was lent")
	return core.Lot{}
}

func TestGoodsBeyondWhatAnOrderAsksAreStock(t *testing.T) {
	s := equationShops(t)[0]
	s.must(core.ReceiveGoods{Item: crowd.Bag, Qty: 5, Heat: "BAG-2", Owner: eqSets, Identified: true}, "GOODS-1", "P06")
	same(t, "asked for", s.owned(eqSets, crowd.Bag), 4)
	same(t, "surplus", s.owned(core.Owner{}, crowd.Bag), 1)
	s.must(core.ReceiveGoods{Item: crowd.Bag, Qty: 2, Heat: "BAG-3", Owner: eqSets, Identified: true}, "GOODS-1", "P06")
	same(t, "all surplus", s.owned(core.Owner{}, crowd.Bag), 3)
	s.agrees()
}

// A line that has all its plates takes none from stock into a build.
func TestAnOrdersOwnPartsGoInBeforeStock(t *testing.T) {
	s := equationShop(t)
	own := s.of(eqSets, crowd.Plate) // four, all that is asked for
	spare := s.lend(s.of(eqFrames, crowd.Plate), 1, core.Owner{})
	take := core.Gather{Item: crowd.Joint, Owner: eqSets, Picks: []core.Pick{{Lot: spare.ID, Qty: 1}}}
	r := s.refused("owner-has-enough", take, "WELD-1")
	same(t, "of what", r.Params["item"], string(crowd.Plate.Item))
	s.lend(own, 1, core.Owner{})
	s.must(take, "WELD-1")
	s.agrees()
}

// A unit that is lent brings what is inside it.
func TestALentUnitCountsForWhatIsInIt(t *testing.T) {
	s := equationShop(t)
	joint := s.unit(crowd.Joint, eqSets, "WELD-1", "P13")
	at := core.PalletCode(s.state.Lots[joint].Place.Ref)
	lend := core.ChangeOwner{Pallet: at, Lot: joint, Qty: 1, To: eqFrames, Reason: "they leave first"}
	r := s.refused("owner-has-enough", lend, "", "P02")
	same(t, "of what", r.Params["item"], string(crowd.Plate.Item))
	s.lend(s.of(eqFrames, crowd.Plate), 1, core.Owner{})
	s.must(lend, "", "P02")
	same(t, "lent", s.owned(eqFrames, crowd.Joint), 1)
	// What left with the unit is missing now, so that others may come.
	s.nest("T-more", sheet5005, eqSets, core.Component{Item: crowd.Plate, Qty: 1})
	s.separate("T-more")
	same(t, "plates again", s.owned(eqSets, crowd.Plate), 4)
	s.agrees()
}

// What is inside a scrapped unit is gone with it: the order takes as many again,
// and another unit may be made.
func TestAScrappedUnitIsMadeAgain(t *testing.T) {
	s := equationShop(t)
	first, second := s.unit(crowd.Joint, eqSets, "WELD-1", "P13"), s.unit(crowd.Joint, eqSets, "WELD-1", "P13")
	s.refused("build-enough", core.Gather{Item: crowd.Joint, Owner: eqSets}, "WELD-1")
	code := core.PalletCode(s.state.Lots[first].Place.Ref)
	e := s.must(core.ReportProblem{Pallet: code, Lot: first, Qty: 1, What: "burnt through", Stay: true}, "WELD-1", "P13")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeScrap, Reason: "burnt through"}, "", "P03")
	s.nest("T-plate", sheet5005, eqSets, core.Component{Item: crowd.Plate, Qty: 1})
	s.nest("T-strut", bar, eqSets, core.Component{Item: crowd.Strut, Qty: 2})
	for _, l := range append(s.separate("T-plate"), s.separate("T-strut")...) {
		same(t, "owner", l.Owner, eqSets)
		s.finish(l.ID)
		s.must(core.TakeIn{Pallet: core.PalletCode(l.Place.Ref)}, "WELD-1")
	}
	build := s.state.Lots[first].Unit // scrapped, and open again
	s.must(core.Gather{Build: build}, "WELD-1")
	s.must(crowd.Assembly(s.book, s.state, build), "WELD-1", "P13")
	same(t, "units", s.qty(second)+s.qty(s.state.Builds[build].Lot), 2)
	s.refused("build-enough", core.Gather{Item: crowd.Joint, Owner: eqSets}, "WELD-1")
	s.agrees()
}

// Parts missed and replaced, then found: the line has others by now.
func TestWhatIsFoundAgainAfterItWasReplacedIsStock(t *testing.T) {
	s := equationShop(t)
	own := s.of(eqSets, crowd.Plate)
	code := core.PalletCode(own.Place.Ref)
	count := func(n int) {
		t.Helper()
		if r := s.send(core.Command{Body: core.Recount{Pallet: code, Lot: own.ID, Found: n, Reason: "counted"}, Confirm: []string{"count-differs"}}, "P06").Refusal; r != nil {
			t.Fatal(r)
		}
	}
	count(3)
	s.lend(s.of(eqFrames, crowd.Plate), 1, eqSets)
	count(4)
	same(t, "asked for", s.owned(eqSets, crowd.Plate), 4)
	same(t, "found again", s.owned(core.Owner{}, crowd.Plate), 1)
	s.agrees()
}

// A lending cannot be taken back once the lender has got others.
func TestALendingIsNotTakenBackOntoOthers(t *testing.T) {
	s := equationShop(t)
	s.lend(s.of(eqSets, crowd.Plate), 1, core.Owner{})
	lending := s.events[len(s.events)-1].ID
	s.lend(s.of(eqFrames, crowd.Plate), 1, eqSets)
	s.refused("owner-has-enough", core.Correct{Event: lending, Reason: "wrong pallet"}, "", "P02")
	s.agrees()
}

// Damaged parts come out of a nest as they may: none is refused, and what the
// line does not ask for is stock's.
func TestDamagedPartsBeyondWhatIsAskedAreStock(t *testing.T) {
	s := equationShop(t)
	s.nest("T-over", sheet5005, eqSets, core.Component{Item: crowd.Plate, Qty: 2})
	e := s.must(core.Separate{Sheet: s.sheet("T-over"), Nest: "T-over", Ticks: []core.PartTick{{Line: 1, Damaged: 2}}}, "BENCH-1", "P06")
	same(t, "owner", s.state.Lots[e.Lots[0].Lot].Owner, core.Owner{})
	s.agrees()
}

// Two units lie on one pallet as two lots: each holds parts of its own.
func TestUnitsDoNotFuse(t *testing.T) {
	s := equationShop(t)
	a, b := s.unit(crowd.Joint, eqSets, "WELD-1", "P13"), s.unit(crowd.Joint, eqSets, "WELD-1", "P13")
	to := core.PalletCode(s.state.Lots[a].Place.Ref)
	s.must(core.Divide{From: core.PalletCode(s.state.Lots[b].Place.Ref), To: to, Picks: []core.Pick{{Lot: b, Qty: 1}}}, "WELD-1")
	s.refused("fuse-units", core.Fuse{Pallet: to, Lots: []core.LotID{a, b}, Mix: true}, "WELD-1")
	s.agrees()
}

// A unit found beyond the count is not the one made: nothing is known to be in it.
func TestAUnitFoundBeyondTheCountHoldsNothing(t *testing.T) {
	s := equationShop(t)
	unit := s.state.Lots[s.unit(crowd.Joint, eqSets, "WELD-1", "P13")]
	s.send(core.Command{Body: core.Recount{Pallet: core.PalletCode(unit.Place.Ref), Lot: unit.ID, Found: 2}, Confirm: []string{"count-differs"}}, "P06")
	found := s.of(core.Owner{}, crowd.Joint)
	same(t, "unit", found.Unit, core.BuildCode(""))
	same(t, "inside", len(core.Components(s.state, found)), 0)
	same(t, "inside the other", len(core.Components(s.state, unit)), 2)
	s.agrees()
}

// A hold on a pallet follows what leaves the pallet, through a split of a split.
func TestAHoldOnAPalletFollowsASplitOfASplit(t *testing.T) {
	s := equationShop(t)
	l := s.of(eqSets, crowd.Plate)
	off := func(l core.Lot, qty int) core.Lot {
		e := s.must(core.Divide{From: core.PalletCode(l.Place.Ref), Picks: []core.Pick{{Lot: l.ID, Qty: qty}}}, "WELD-1")
		return s.state.LotsAt(core.On(e.Pallets[0]))[0]
	}
	hold := s.must(core.PlaceHold{Scope: core.HoldPallet, Ref: l.Place.Ref, Reason: "certificate in doubt"}, "", "P03").Effects[0].HoldPut.ID
	left := off(l, 2)
	again := off(left, 1)
	for _, x := range []core.Lot{left, again} {
		if _, held := core.HeldBy(s.state, s.state.Lots[x.ID]); !held {
			t.Errorf("%s is free", x.ID)
		}
	}
	s.refused("lot-held", core.Gather{Item: crowd.Joint, Owner: eqSets, Picks: []core.Pick{{Lot: again.ID, Qty: 1}}}, "WELD-1")
	s.must(core.LiftHold{Hold: hold, Reason: "certificate found"}, "", "P03")
	for _, h := range s.state.Holds {
		if h.Open() {
			t.Errorf("hold %s is left over", h.ID)
		}
	}
	s.agrees()
}

// Parts that are moved back by a correction stay held.
func TestACorrectionFreesNothing(t *testing.T) {
	s := equationShop(t)
	l := s.of(eqSets, crowd.Plate)
	e := s.must(core.Divide{From: core.PalletCode(l.Place.Ref), Picks: []core.Pick{{Lot: l.ID, Qty: 1}}}, "WELD-1")
	s.must(core.PlaceHold{Scope: core.HoldPallet, Ref: string(e.Pallets[0]), Reason: "wet"}, "", "P03")
	s.must(core.Correct{Event: e.ID, Reason: "wrong pallet"}, "", "P03")
	if _, held := core.HeldBy(s.state, s.state.Lots[l.ID]); !held {
		t.Error("moved back, and free")
	}
	s.agrees()
}

func TestGoodsComeForAnOrderLineThatIsThere(t *testing.T) {
	s := newShop(t)
	s.refused("owner-unknown", core.ReceiveGoods{Item: sheet5005, Qty: 1, Heat: "H", Identified: true, Owner: core.Owner{Order: panels.Order, Line: -1}}, "GOODS-1", "P06")
	s.refused("owner-unknown", core.ReceiveGoods{Item: sheet5005, Qty: 1, Heat: "H", Identified: true, Owner: core.Owner{Order: "O-none", Line: 1}}, "GOODS-1", "P06")
}
