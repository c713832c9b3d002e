package core_test

import (
	"maps"
	"slices"
	"testing"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

var (
	eqSets   = core.Owner{Order: "E-1", Line: 1}
	eqCaps   = core.Owner{Order: "E-1", Line: 2}
	eqFrames = core.Owner{Order: "E-2", Line: 2}
)

// equationBook is the sample shop's people, stations and stages with the items
// and routes of the crowd.
func equationBook(t testing.TB) *core.Book {
	t.Helper()
	b, _ := sampleBook(t)
	routes, items := crowd.Catalogue()
	for _, r := range routes {
		b.Routes[r.RouteRef] = r
	}
	for _, i := range items {
		b.Items[i.ItemRev] = i
	}
	return b
}

func TestTheEquationsOwnRoutesCanBeWorkedToTheirEnd(t *testing.T) {
	b := equationBook(t)
	for _, item := range crowd.Items {
		for _, f := range core.Walk(b, item) {
			t.Errorf("%s: step %d: %v", item, f.Step.No, f.Refusal)
		}
	}
}

// fork is a copy of a shop that goes its own way from here; values of a state
// are never changed in place, so its maps are all there is to copy.
func (s *shop) fork() *shop {
	c := *s
	st := *s.state
	st.Lots, st.Pallets, st.Builds = maps.Clone(st.Lots), maps.Clone(st.Pallets), maps.Clone(st.Builds)
	st.Consignments, st.Holds, st.Problems = maps.Clone(st.Consignments), maps.Clone(st.Holds), maps.Clone(st.Problems)
	st.Abrasives, st.Orders, st.Nests, st.Snags = maps.Clone(st.Abrasives), maps.Clone(st.Orders), maps.Clone(st.Nests), maps.Clone(st.Snags)
	c.state, c.events, c.pushed = &st, slices.Clip(s.events), nil
	return &c
}

// equationShops are the shops a random walk begins in: with everything to cut,
// with components at the bench, with units made, one of them opened again, and
// with some of it on a truck, or at the site.
func equationShops(t testing.TB) []*shop {
	t.Helper()
	s := &shop{t: t, book: equationBook(t), state: core.NewState(), now: wednesday, quick: true}
	s.must(core.Enlist{Orders: []core.Order{crowd.Sets("E-1"), crowd.Frames("E-2")}, Source: "invented"}, "")
	s.nest("N-1", sheet5005, eqSets, core.Component{Item: crowd.Plate, Qty: 4}, core.Component{Item: crowd.Cap, Qty: 4})
	s.nest("N-2", bar, eqSets, core.Component{Item: crowd.Strut, Qty: 4})
	s.nest("N-3", sheet5005, eqFrames, core.Component{Item: crowd.Plate, Qty: 4})
	s.nest("N-4", bar, eqFrames, core.Component{Item: crowd.Strut, Qty: 3})
	s.nest("N-5", sheet5005, eqCaps, core.Component{Item: crowd.Cap, Qty: 3})
	out := []*shop{s.fork()}

	for _, n := range []string{"N-1", "N-2", "N-3"} {
		for _, l := range s.separate(n) {
			if l.Item != crowd.Cap {
				s.finish(l.ID)
				s.must(core.TakeIn{Pallet: core.PalletCode(l.Place.Ref)}, "WELD-1")
			}
		}
	}
	s.bag(crowd.Bag, 7, "BAG-1", "")
	s.bag(crowd.Tube, 4, "TUBE-1", "2027-01-31")
	out = append(out, s.fork())

	joint := s.unit(crowd.Joint, eqSets, "WELD-1", "P13")
	s.finish(joint)
	s.must(core.TakeIn{Pallet: core.PalletCode(s.state.Lots[joint].Place.Ref)}, "WELD-1")
	frame := s.unit(crowd.Frame, eqSets, "WELD-1", "P13")
	kit := s.unit(crowd.Kit, eqSets, "DOCK-1", "P26")
	s.finish(kit)
	out = append(out, s.fork())

	late := s.fork()
	code := core.PalletCode(late.state.Lots[frame].Place.Ref)
	e := late.must(core.ReportProblem{Pallet: code, Lot: frame, Qty: 1, What: "wrong part in it", Stay: true}, "WELD-1", "P18")
	late.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "change it",
		Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: 20}, "", "P03")
	out = append(out, late)

	s.finish(frame)
	var on []core.PalletCode
	for _, id := range []core.LotID{frame, kit} {
		on = append(on, core.PalletCode(s.state.Lots[id].Place.Ref))
	}
	truck := core.ConsignmentCode(s.must(core.Load{Site: crowd.Site, Day: "2026-11-26", Pallets: on}, "DOCK-1", "P25").Ref)
	out = append(out, s.fork())
	if r := s.sendOff(truck, "EQ26 UAL", "the first set").Refusal; r != nil {
		t.Fatal(r)
	}
	out = append(out, s.fork())
	s.must(core.ReceiveAtSite{Consignment: truck}, crowd.Site, "P27")
	return append(out, s)
}

// unit gathers and makes one unit and returns its lot.
func (s *shop) unit(item core.ItemRev, owner core.Owner, at core.StationID, by core.PersonID) core.LotID {
	s.t.Helper()
	build := core.BuildCode(s.must(core.Gather{Item: item, Owner: owner}, at).Ref)
	s.must(crowd.Assembly(s.book, s.state, build), at, by)
	return s.state.Builds[build].Lot
}
