package core_test

import (
	"slices"
	"testing"

	"tagalong/internal/core"
)

// opened is a welded panel sent over the rework in which a late part joins it,
// with the components for two panels at the bench.
func opened(t *testing.T) (*shop, core.Lot) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	s.until(id, "weld-inspect")
	s.bring(id, "INSPECT-1")
	bad := mustWork(s, id)
	bad.Lots = []core.LotWork{{Lot: id, Bad: 1, Why: "stiffener of the wrong gauge"}}
	e := s.must(bad, "INSPECT-1", "P18")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "change the stiffener",
		Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: 30}, "", "P18")
	s.bring(id, "WELD-1")
	return s, s.state.Lots[id]
}

// inside is a component lot inside a unit.
func (s *shop) inside(unit core.LotID, item core.ItemRev) core.Lot {
	for _, l := range s.state.LotsAt(core.Place{Kind: core.Inside, Ref: string(unit)}) {
		if l.Item == item {
			return l
		}
	}
	s.t.Fatalf("no %s inside %s", item, unit)
	return core.Lot{}
}

// onBench is a lot of an item on a pallet at the weld bench.
func (s *shop) onBench(item core.ItemRev) core.Lot {
	for _, l := range s.live() {
		if l.Item == item && s.state.Pallets[core.PalletCode(l.Place.Ref)].Station == "WELD-1" {
			return l
		}
	}
	s.t.Fatalf("no %s at the bench", item)
	return core.Lot{}
}

func TestALateComponentTakesTheOthersPlace(t *testing.T) {
	s, unit := opened(t)
	code := core.PalletCode(unit.Place.Ref)
	fresh, old := s.onBench(stiffener), s.inside(unit.ID, stiffener)
	join := core.JoinLate{Pallet: code, Unit: unit.ID, In: []core.Pick{{Lot: fresh.ID, Qty: 1}}, Out: []core.Pick{{Lot: old.ID, Qty: 1}}, Why: "wrong gauge"}
	with := func(change func(*core.JoinLate)) core.JoinLate {
		j := join
		j.In, j.Out = slices.Clone(j.In), slices.Clone(j.Out)
		change(&j)
		return j
	}
	s.refused("late-part-not-gathered", mustWork(s, unit.ID), "WELD-1", "P13")
	s.refused("late-part-not-gathered", with(func(j *core.JoinLate) { j.In = nil }), "WELD-1", "P13")
	s.refused("unit-over", with(func(j *core.JoinLate) { j.Out = nil }), "WELD-1", "P13")
	r := s.refused("unit-short", with(func(j *core.JoinLate) { j.Out[0].Qty = 2 }), "WELD-1", "P13")
	if !r.Absolute {
		t.Error("a unit may be signed short")
	}
	s.refused("not-inside", with(func(j *core.JoinLate) { j.Out[0].Lot = fresh.ID }), "WELD-1", "P13")
	s.refused("more-than-there", with(func(j *core.JoinLate) { j.In[0].Qty = 99 }), "WELD-1", "P13")
	s.refused("why-missing", with(func(j *core.JoinLate) { j.Why = "" }), "WELD-1", "P13")
	s.refused("signature-missing", join, "WELD-1")
	s.refused("wrong-station", join, "HARDWARE-1", "P13")

	e := s.must(join, "WELD-1", "P13")
	same(t, "kind", e.Kind, core.EvJoinedLate)
	there := map[core.ItemRev]int{}
	for _, l := range s.state.LotsAt(core.Place{Kind: core.Inside, Ref: string(unit.ID)}) {
		there[l.Item] += l.Qty
	}
	for _, c := range s.book.Items[panel].Bill {
		same(t, "inside "+c.Item.String(), there[c.Item], c.Qty)
	}
	unit = s.state.Lots[unit.ID]
	if !slices.ContainsFunc(unit.Parents, func(p core.LotID) bool { return p == fresh.ID || slices.Contains(s.state.Lots[p].Parents, fresh.ID) }) {
		t.Error("the new part is not among the unit's parents")
	}

	// What came out is stock, held, and nobody knows what its edges are like now.
	out := core.Lot{}
	for _, l := range s.live() {
		if slices.Contains(l.Parents, old.ID) && l.Place.Kind == core.OnPallet {
			out = l
		}
	}
	same(t, "out", out.Qty, 1)
	same(t, "owner", out.Owner, core.Owner{})
	same(t, "edges", out.Facts.At(core.Fact{Name: core.EdgesRounded}, s.now), core.Unsure)
	if _, held := core.HeldBy(s.state, out); !held {
		t.Error("what was cut out lies about freely")
	}

	// Welded and inspected again: by nobody who welded it, old weld or new.
	for _, f := range []string{core.Welded, core.WeldAccepted, core.WeldDressed} {
		same(t, f, unit.Facts.At(core.Fact{Name: f}, s.now), core.No)
	}
	var did []core.StageName
	for s.state.Lots[unit.ID].Rework != nil {
		did = append(did, s.step(unit.ID))
	}
	same(t, "rework", did, []core.StageName{"weld", "weld-dress", "hand-round"})
	same(t, "back at", core.NextSteps(s.book, s.state.Lots[unit.ID])[0].Stage, core.StageName("weld-inspect"))
	s.finish(unit.ID)
	s.agrees()
}

// A component that is not through its own route, or is held, joins nothing.
func TestALateComponentIsJudgedLikeAnyOther(t *testing.T) {
	s, unit := opened(t)
	old := s.inside(unit.ID, stiffener)
	fresh := s.onBench(stiffener)
	join := core.JoinLate{Pallet: core.PalletCode(unit.Place.Ref), Unit: unit.ID, In: []core.Pick{{Lot: fresh.ID, Qty: 1}},
		Out: []core.Pick{{Lot: old.ID, Qty: 1}}, Why: "wrong gauge"}
	hold := s.must(core.PlaceHold{Scope: core.HoldLot, Ref: string(fresh.ID), Reason: "thickness in doubt"}, "", "P03")
	s.refused("lot-held", join, "WELD-1", "P13")
	s.must(core.LiftHold{Hold: hold.Effects[0].HoldPut.ID, Reason: "measured"}, "", "P03")

	s.nest("T-late", sheet5005, panels, core.Component{Item: stiffener, Qty: 1})
	sharp := s.separate("T-late")[0]
	code := core.PalletCode(sharp.Place.Ref)
	p := s.state.Pallets[code]
	p.Station = "WELD-1" // pushed there without a scan
	s.state.Pallets[code] = p
	s.pushed = append(s.pushed, code)
	join.In[0].Lot = sharp.ID
	s.refused("component-not-done", join, "WELD-1", "P13")
}

// A unit that changed its owner is another lot with the same parts in it, and
// what is inside a component is not the unit's to count.
func TestLatePartsOfAUnitThatWasAnotherLot(t *testing.T) {
	s, unit := opened(t)
	inner := s.inside(unit.ID, post)
	s.state.Lots["inner"] = core.Lot{ID: "inner", Item: stiffener, Qty: 5, Place: core.Place{Kind: core.Inside, Ref: string(inner.ID)}}
	e := s.must(core.ChangeOwner{Pallet: core.PalletCode(unit.Place.Ref), Lot: unit.ID, Qty: 1, To: core.Owner{}, Reason: "kept for later"}, "", "P02")
	for _, l := range s.state.LotsAt(core.On(e.Pallets[0])) {
		if l.Unit == unit.Unit {
			unit = l
		}
	}
	old := s.state.LotsAt(core.Place{Kind: core.Inside, Ref: string(unit.Parents[len(unit.Parents)-1])})
	i := slices.IndexFunc(old, func(l core.Lot) bool { return l.Item == stiffener })
	fresh := s.onBench(stiffener)
	s.refused("other-owner", core.JoinLate{Pallet: e.Pallets[0], Unit: unit.ID, In: []core.Pick{{Lot: fresh.ID, Qty: 1}},
		Out: []core.Pick{{Lot: old[i].ID, Qty: 1}}, Why: "wrong gauge"}, "WELD-1", "P13")
	on := s.must(core.ChangeOwner{Pallet: core.PalletCode(fresh.Place.Ref), Lot: fresh.ID, Qty: 1, To: core.Owner{}, Reason: "for the same unit"}, "", "P02")
	for _, f := range on.Effects {
		if f.LotBorn != nil {
			fresh = *f.LotBorn
		}
	}
	s.must(core.JoinLate{Pallet: e.Pallets[0], Unit: unit.ID, In: []core.Pick{{Lot: fresh.ID, Qty: 1}},
		Out: []core.Pick{{Lot: old[i].ID, Qty: 1}}, Why: "wrong gauge"}, "WELD-1", "P13")
}
