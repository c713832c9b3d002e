package core_test

import (
	"testing"
	"time"

	"tagalong/internal/core"
)

// Ways in which parts could slip past a rule that each command by itself keeps.

// A split of a split stays in the problem of the first, and its disposition.
func TestSplittingAProblemTwiceEscapesNothing(t *testing.T) {
	s := newShop(t)
	id, code := s.four()
	e := s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 4, What: "wrong alloy?", Stay: true}, "BENCH-1", "P06")
	first := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 3}}}, "BENCH-1").Pallets[0]
	child := s.state.LotsAt(core.On(first))[0].ID
	second := s.must(core.Divide{From: first, Picks: []core.Pick{{Lot: child, Qty: 1}}}, "BENCH-1").Pallets[0]
	grandchild := s.state.LotsAt(core.On(second))[0].ID
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeScrap, Reason: "wrong alloy"}, "", "P03")
	for _, l := range []core.LotID{id, child, grandchild} {
		same(t, string(l), s.state.Lots[l].Place.Kind, core.Scrapped)
	}
	s.agrees()
}

// Parts of two problems are not fused: one disposition would lose the other.
func TestPartsOfTwoProblemsDoNotFuse(t *testing.T) {
	s := newShop(t)
	id, code := s.four()
	d := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 2}}}, "BENCH-1")
	other := s.state.LotsAt(core.On(d.Pallets[0]))[0].ID
	e := s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 2, What: "dent"}, "BENCH-1", "P06")
	q := core.PalletCode(s.state.Lots[s.state.Problems[core.ProblemID(e.Ref)].Lot].Place.Ref)
	s.must(core.ReportProblem{Pallet: d.Pallets[0], Lot: other, Qty: 2, What: "scratch", To: q}, "BENCH-1", "P06")
	lots := s.state.LotsAt(core.On(q))
	same(t, "lots", len(lots), 2)
	s.refused("fuse-held", core.Fuse{Pallet: q, Lots: []core.LotID{lots[0].ID, lots[1].ID}, Mix: true}, "BENCH-1")
}

// A packed unit sent back to rework leaves on no truck before it has come all
// the way round again.
func TestReworkAfterPackingShipsNothing(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	s.finish(id)
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	e := s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 1, What: "crack seen on the dock", Stay: true}, "DOCK-1", "P26")
	load := core.Load{Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: []core.PalletCode{code}}
	s.refused("lot-held", load, "DOCK-1", "P25")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "reweld",
		Route: core.RouteRef{Name: "COAT-AGAIN", Version: 1}, Rejoin: 40}, "", "P03")
	r := s.refused("step-skipped", load, "DOCK-1", "P25")
	if !r.Absolute {
		t.Error("a unit under rework may leave by concession")
	}
}

// A rework within a rework gives up none of the steps the first one owed.
func TestReworkWithinReworkOwesTheEarlierSteps(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	s.until(id, "mask")
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	reweld := core.Route{RouteRef: core.RouteRef{Name: "REWELD", Version: 1}, Rework: true, Steps: []core.Step{
		{No: 10, Stage: "weld"}, {No: 20, Stage: "weld-dress"}, {No: 30, Stage: "hand-round"}}}
	s.book.Routes[reweld.RouteRef] = reweld
	again := func(route core.RouteRef, rejoin int) {
		e := s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 1, What: "undercut", Stay: true}, s.state.Pallets[code].Station, "P18")
		s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "reweld", Route: route, Rejoin: rejoin}, "", "P03")
	}
	main := s.book.Routes[s.state.Lots[id].Route]
	again(core.RouteRef{Name: "WELD-REPAIR", Version: 1}, main.Steps[2].No)
	s.step(id)
	again(reweld.RouteRef, main.Steps[4].No)
	for s.state.Lots[id].Rework != nil {
		s.step(id)
	}
	same(t, "next", core.NextSteps(s.book, s.state.Lots[id])[0].No, main.Steps[2].No)
	s.agrees()
}

// A gauge found wrong stops what it measured, also fused or built in since.
func TestGaugeHoldFindsWhatWasFusedOrBuiltIn(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	for id, l := range s.state.Lots {
		if l.Item == skin {
			l.Gauges = map[string]time.Time{"OR-01": s.now}
			s.state.Lots[id] = l
		}
	}
	unit := s.weldPanel()
	s.must(core.PlaceHold{Scope: core.HoldGauge, Ref: "OR-01", Since: wednesday, Reason: "reads 20 µm low"}, "", "P03")
	if _, held := core.HeldBy(s.state, s.state.Lots[unit]); !held {
		t.Error("the unit with parts measured by the gauge is free")
	}

	s = newShop(t)
	id, code := s.four()
	d := s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: id, Qty: 2}}}, "BENCH-1")
	other := s.state.Lots[s.state.LotsAt(core.On(d.Pallets[0]))[0].ID]
	other.Gauges = map[string]time.Time{"OR-01": s.now}
	s.state.Lots[other.ID] = other
	s.must(core.Divide{From: d.Pallets[0], To: code, Picks: []core.Pick{{Lot: other.ID, Qty: 2}}}, "BENCH-1")
	s.must(core.Fuse{Pallet: code, Lots: []core.LotID{id, other.ID}}, "BENCH-1")
	s.must(core.PlaceHold{Scope: core.HoldGauge, Ref: "OR-01", Since: wednesday, Reason: "reads 20 µm low"}, "", "P03")
	if _, held := core.HeldBy(s.state, s.state.LotsAt(core.On(code))[0]); !held {
		t.Error("the fused lot is free")
	}
}

// A hold on a lot stops the unit it was built into, through every split.
func TestHoldOnALotFindsTheUnitItIsIn(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	unit := s.weldPanel()
	for _, p := range s.state.Lots[unit].Parents {
		for _, grandparent := range s.state.Lots[p].Parents {
			h := core.Hold{ID: "H", Scope: core.HoldLot, Ref: string(grandparent), Reason: "certificate in doubt", At: s.now}
			s.state.Holds[h.ID] = h
			if _, held := core.HeldBy(s.state, s.state.Lots[unit]); !held {
				t.Errorf("a hold on %s does not reach the unit", grandparent)
			}
		}
	}
}

// A pallet loaded on another consignment is off the first.
func TestAPalletLeavesOnOneTruckOnly(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	s.finish(id)
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	load := core.Load{Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: []core.PalletCode{code}}
	first := core.ConsignmentCode(s.must(load, "DOCK-1", "P25").Ref)
	second := core.ConsignmentCode(s.must(load, "DOCK-1", "P25").Ref)
	same(t, "on the first", len(s.state.Consignments[first].Pallets), 0)
	same(t, "on the second", len(s.state.Consignments[second].Pallets), 1)
	s.refused("consignment-empty", core.Ship{Consignment: first, Vehicle: "HA26 ULR"}, "DOCK-1", "P25")
	s.agrees()
}
