package postgres_test

import (
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

// A unit for stock has no order that would bring its build along: taken apart or
// scrapped, its build stands open all the same.
func TestAStockUnitsBuildIsOpenedAgain(t *testing.T) {
	h := openHall(t)
	for _, c := range []core.Component{{Item: crowd.Bag, Qty: 4}, {Item: crowd.Tube, Qty: 2}} {
		on := h.must(core.ReceiveGoods{Item: c.Item, Qty: c.Qty, Heat: "B-1", Identified: true}, "GOODS-1", "P06").Pallets[0]
		h.must(core.TakeIn{Pallet: on}, "DOCK-1")
	}
	kit := func() (core.BuildCode, core.Lot) {
		code := core.BuildCode(h.must(core.Gather{Item: crowd.Kit}, "DOCK-1").Ref)
		w := must(h.Load(t.Context(), core.Names{Builds: []core.BuildCode{code}}, ""))(t)
		h.must(crowd.Assembly(h.book, w.State, code), "DOCK-1", "P26")
		return code, h.lot(must(h.Load(t.Context(), core.Names{Builds: []core.BuildCode{code}}, ""))(t).State.Builds[code].Lot)
	}
	open := func(code core.BuildCode) {
		t.Helper()
		if b := must(h.Load(t.Context(), core.Names{Builds: []core.BuildCode{code}}, ""))(t).State.Builds[code]; b.Code != code || b.Lot != "" {
			t.Errorf("the build is %+v", b)
		}
	}
	apart, unit := kit()
	h.must(core.TakeApart{Pallet: core.PalletCode(unit.Place.Ref), Unit: unit.ID, Why: "crooked"}, "DOCK-1", "P26")
	open(apart)
	scrapped, unit := kit()
	e := h.must(core.ReportProblem{Pallet: core.PalletCode(unit.Place.Ref), Lot: unit.ID, Qty: 1, What: "crushed"}, "DOCK-1", "P26")
	h.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeScrap, Reason: "crushed"}, "", "P03")
	open(scrapped)
	h.agrees()
}
