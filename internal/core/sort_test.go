package core_test

import (
	"testing"

	"tagalong/internal/core"
)

// A lot that its inspection refuses is sorted, every part of it: the bad ones
// stay behind and the good are presented again.
func TestARefusedLotIsSortedAndPresentedAgain(t *testing.T) {
	s := newShop(t)
	s.nest("T-21", sheet5005, trays, core.Component{Item: tray, Qty: 2})
	id := s.separate("T-21")[0].ID
	s.until(id, "coat-inspect")
	refused := core.Fact{Name: core.SampleRefused}
	w, at := s.work(id)
	s.bring(id, at)
	inspect := w.Stage
	rejoin := core.NextSteps(s.book, s.state.Lots[id])[0].No
	w.Lots[0].Good, w.Lots[0].Bad, w.Lots[0].Why = 0, 2, "sample at 40 µm"
	e := s.must(w, at, hand(inspect))
	same(t, "refused", s.state.Lots[id].Facts.At(refused, s.now), core.Yes)
	s.refused("lot-held", core.SignOff{Pallet: w.Pallet, Stage: inspect, Lots: []core.LotWork{{Lot: id, Good: 2, Checks: s.checksOf(id, inspect)}}}, at, hand(inspect))

	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "sort",
		Route: core.RouteRef{Name: "SORT", Version: 1}, Rejoin: rejoin}, "", "P03")
	sorting, at := s.work(id)
	s.bring(id, at)
	sorting.Lots[0].Good, sorting.Lots[0].NotDone = 1, 1
	s.refused("sort-every-part", sorting, at, hand("sort"))
	sorting.Lots[0].NotDone, sorting.Lots[0].Bad, sorting.Lots[0].Why = 0, 1, "thin on one face"
	e = s.must(sorting, at, hand("sort"))
	good, bad := s.state.Lots[id], s.state.Lots[s.state.Problems[core.ProblemID(e.Ref)].Lot]
	same(t, "good ones", good.Qty, 1)
	same(t, "no longer refused", good.Facts.At(refused, s.now), core.No)
	same(t, "presented again", core.NextSteps(s.book, good)[0].Stage, inspect)
	same(t, "the bad one", bad.Facts.At(refused, s.now), core.Yes)
	if _, held := core.HeldBy(s.state, bad); !held {
		t.Error("the bad part is free")
	}
	s.finish(id)
	s.agrees()
}
