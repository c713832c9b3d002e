package core_test

import (
	"testing"

	"tagalong/internal/core"
)

// A unit made again: each metal it takes is asked for as a nest of its own, its
// bought goods come from stock, and its build is open again.
func TestAUnitIsMadeAgainFromItsParts(t *testing.T) {
	s := newShop(t)
	s.panelParts()
	id := s.weldPanel()
	unit := s.state.Lots[id]
	e := s.must(core.ReportProblem{Pallet: core.PalletCode(unit.Place.Ref), Lot: id, Qty: 1, What: "run over", Stay: true}, "WELD-1", "P13")
	problem := core.ProblemID(e.Ref)
	s.must(core.Dispose{Problem: problem, Disposition: core.DisposeRemake, Reason: "flat as a sheet"}, "", "P03")

	asked := map[core.ItemRev]int{}
	for _, n := range s.state.Nests {
		if core.RemakeOf(n.ID) != problem {
			continue
		}
		first := s.book.Items[n.Parts[0].Item]
		for _, p := range n.Parts {
			rev := s.book.Items[p.Item]
			asked[p.Item] += p.Qty
			if rev.Grade != first.Grade || rev.Thickness != first.Thickness {
				t.Errorf("nest %s asks for %s and %s of one sheet", n.ID, first.Grade, rev.Grade)
			}
		}
	}
	for _, c := range s.book.Items[panel].Bill {
		want := 0
		if s.book.Items[c.Item].Kind == core.PartItem {
			want = c.Qty
		}
		same(t, "asked again: "+c.Item.String(), asked[c.Item], want)
	}
	build := s.state.Builds[unit.Unit]
	same(t, "the build", build.Lot, core.LotID(""))
	s.must(core.Gather{Build: build.Code, Item: panel, Owner: panels, Picks: []core.Pick{{Lot: s.toBench(skin), Qty: 1}}}, "WELD-1")
	s.agrees()
}

// A remake is cut from metal that suits its parts, though nobody drew its nest.
func TestARemakeIsNotCutFromAnotherMetal(t *testing.T) {
	s := newShop(t)
	id, code := s.four()
	e := s.must(core.ReportProblem{Pallet: code, Lot: id, Qty: 1, What: "bent"}, "BENCH-1", "P06")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRemake, Reason: "too far"}, "", "P03")
	nest := s.state.Nests["remake "+e.Ref]
	nest.Material = core.ItemRev{}
	s.state.Nests[nest.ID] = nest
	stainless := s.cutSheet("T-steel", core.ItemRev{Item: "SH-304-2", Rev: "1"})
	r := s.refused("nest-other-metal", core.Separate{Sheet: stainless, Nest: nest.ID, Ticks: []core.PartTick{{Line: 1, Good: 1}}}, "BENCH-1", "P06")
	same(t, "wanted", r.Params["want"], "5005-H32, 3 mm")
}
