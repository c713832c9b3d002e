package core_test

import (
	"slices"
	"testing"

	"tagalong/internal/core"
)

// stiffenerToChange is a welded panel found with a bad stiffener inside, not yet
// decided on, with the components for another panel at the bench.
func stiffenerToChange(t *testing.T) (s *shop, unit core.Lot, dispose core.Dispose) {
	t.Helper()
	s = newShop(t)
	s.panelParts()
	id := s.weldPanel()
	unit = s.state.Lots[id]
	e := s.must(core.ReportProblem{Pallet: core.PalletCode(unit.Place.Ref), Lot: id, Qty: 1, What: "stiffener twisted", Stay: true}, "WELD-1", "P13")
	return s, unit, core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "change the stiffener",
		Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: 30,
		Unit: id, Change: []core.Pick{{Lot: s.inside(id, stiffener).ID, Qty: 1}}}
}

// One component of a made unit is made again by itself: it is cut for nobody's
// order, kept for its unit, goes into no other, and comes in place of the one
// the decision named.
func TestOneComponentOfAMadeUnitIsMadeAgain(t *testing.T) {
	s, unit, dispose := stiffenerToChange(t)
	old := dispose.Change[0].Lot
	s.must(dispose, "", "P03")
	nest := s.state.Nests["remake "+string(dispose.Problem)]
	same(t, "asked for", nest.Parts, []core.NestPart{{No: 1, Item: stiffener, Qty: 1, For: unit.Unit}})
	same(t, "by", nest.Wanted, unit.Promised)

	sheet := s.cutSheet("T-again", sheet5005)
	fresh := s.state.Lots[s.must(core.Separate{Sheet: sheet, Nest: nest.ID, Ticks: []core.PartTick{{Line: 1, Good: 1, To: "new:A"}}}, "BENCH-1", "P06").Lots[0].Lot]
	same(t, "kept for", fresh.For, unit.Unit)
	same(t, "owner", fresh.Owner, core.Owner{})
	same(t, "promised", fresh.Promised, unit.Promised)
	same(t, "remake", fresh.Remake, dispose.Problem)
	s.finish(fresh.ID)
	s.must(core.TakeIn{Pallet: core.PalletCode(s.state.Lots[fresh.ID].Place.Ref)}, "WELD-1")
	s.agrees()

	// Another panel does not get it, neither by itself nor asked for.
	other := core.BuildCode(s.must(core.Gather{Item: panel, Owner: panels, Picks: []core.Pick{{Lot: s.onBench(skin).ID, Qty: 1}}}, "WELD-1").Ref)
	r := s.refused("kept-for-unit", core.Gather{Build: other, Item: panel, Owner: panels, Picks: []core.Pick{{Lot: fresh.ID, Qty: 1}}}, "WELD-1")
	same(t, "build", r.Params["build"], string(unit.Unit))

	s.bring(unit.ID, "WELD-1")
	join := core.JoinLate{Pallet: core.PalletCode(s.state.Lots[unit.ID].Place.Ref), Unit: unit.ID, In: []core.Pick{{Lot: fresh.ID, Qty: 1}}, Why: "twisted"}
	r = s.refused("change-left-inside", join, "WELD-1", "P13")
	same(t, "left", r.Params["left"], "1 × wall stiffener")
	join.Out = []core.Pick{{Lot: old, Qty: 1}}
	s.must(join, "WELD-1", "P13")
	unit = s.state.Lots[unit.ID]
	same(t, "still to change", len(unit.Rework.Change), 0)
	if !slices.Contains(unit.Parents, fresh.ID) {
		t.Error("the new stiffener is not among the unit's parents")
	}
	for _, l := range core.Components(s.state, unit) {
		same(t, "kept inside "+l.Item.String(), l.For, core.BuildCode(""))
	}
	s.agrees()
}

func TestOnlyWhatIsInsideIsChanged(t *testing.T) {
	s, unit, dispose := stiffenerToChange(t)
	with := func(change func(*core.Dispose)) core.Dispose {
		b := dispose
		b.Change = slices.Clone(b.Change)
		change(&b)
		return b
	}
	s.refused("not-inside", with(func(b *core.Dispose) { b.Change[0].Lot = s.onBench(stiffener).ID }), "", "P03")
	s.refused("more-than-there", with(func(b *core.Dispose) { b.Change[0].Qty = 99 }), "", "P03")
	s.refused("more-than-there", with(func(b *core.Dispose) { b.Change[0].Qty = 0 }), "", "P03")
	s.refused("more-than-there", with(func(b *core.Dispose) {
		there := s.state.Lots[b.Change[0].Lot].Qty
		b.Change = append(b.Change, core.Pick{Lot: b.Change[0].Lot, Qty: there})
	}), "", "P03")
	s.refused("rework-joins-nothing", with(func(b *core.Dispose) { b.Route.Name = "WELD-REPAIR" }), "", "P03")
	s.refused("unit-not-gathered", with(func(b *core.Dispose) { b.Unit = s.onBench(skin).ID }), "", "P03")
	if s.state.Lots[unit.ID].Rework != nil {
		t.Error("a refused decision sent the unit to rework")
	}
}

// A component that is spoilt on its way is asked for once more, for the same
// unit; one cut beyond what was asked is anybody's.
func TestAKeptComponentIsAskedForOnceMore(t *testing.T) {
	s, unit, dispose := stiffenerToChange(t)
	s.must(dispose, "", "P03")
	sheet := s.cutSheet("T-again", sheet5005)
	e := s.must(core.Separate{Sheet: sheet, Nest: "remake " + string(dispose.Problem), Ticks: []core.PartTick{{Line: 1, Good: 2, Extra: 1, To: "new:A"}}}, "BENCH-1", "P06")
	var kept core.Lot
	for _, n := range e.Lots {
		if l := s.state.Lots[n.Lot]; l.For != "" {
			kept = l
		}
	}
	same(t, "kept", kept.Qty, 1)
	same(t, "lots", len(e.Lots), 2)
	e = s.must(core.ReportProblem{Pallet: core.PalletCode(kept.Place.Ref), Lot: kept.ID, Qty: 1, What: "bent"}, "BENCH-1", "P06")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRemake, Reason: "too far"}, "", "P03")
	same(t, "asked for", s.state.Nests["remake "+e.Ref].Parts, []core.NestPart{{No: 1, Item: stiffener, Qty: 1, For: unit.Unit}})
	s.agrees()
}

// What was made again for a unit that is scrapped after all goes into the unit
// that is built in its place.
func TestAKeptComponentGoesIntoTheUnitBuiltAnew(t *testing.T) {
	s, unit, dispose := stiffenerToChange(t)
	s.must(dispose, "", "P03")
	sheet := s.cutSheet("T-again", sheet5005)
	fresh := s.must(core.Separate{Sheet: sheet, Nest: "remake " + string(dispose.Problem), Ticks: []core.PartTick{{Line: 1, Good: 1, To: "new:A"}}}, "BENCH-1", "P06").Lots[0].Lot
	s.finish(fresh)
	s.must(core.TakeIn{Pallet: core.PalletCode(s.state.Lots[fresh].Place.Ref)}, "WELD-1")
	e := s.must(core.ReportProblem{Pallet: core.PalletCode(s.state.Lots[unit.ID].Place.Ref), Lot: unit.ID, Qty: 1, What: "run over", Stay: true}, "WELD-1", "P13")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeScrap, Reason: "flat"}, "", "P03")
	s.must(core.Gather{Build: unit.Unit, Item: panel, Owner: panels, Picks: []core.Pick{{Lot: fresh, Qty: 1}}}, "WELD-1")
	s.agrees()
}
