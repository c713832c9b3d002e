package core_test

import (
	"maps"
	"slices"
	"testing"

	"tagalong/internal/core"
)

// The invented shop of the order equation: two orders that ask for the same
// things at every depth, so that parts can be lent both ways, over routes just
// long enough for each kind of work to matter.
var (
	eqPlate = core.ItemRev{Item: "EQ-PLATE", Rev: "A"}
	eqStrut = core.ItemRev{Item: "EQ-STRUT", Rev: "A"}
	eqCap   = core.ItemRev{Item: "EQ-CAP", Rev: "A"}
	eqJoint = core.ItemRev{Item: "EQ-JOINT", Rev: "A"} // a component that is an assembly itself
	eqFrame = core.ItemRev{Item: "EQ-FRAME", Rev: "A"}
	eqBag   = core.ItemRev{Item: "EQ-BAG", Rev: "1"}
	eqTube  = core.ItemRev{Item: "EQ-TUBE", Rev: "1"}
	eqKit   = core.ItemRev{Item: "EQ-KIT", Rev: "A"}
	eqSet   = core.ItemRev{Item: "EQ-SET", Rev: "A"} // a product, put together at the site

	eqSets   = core.Owner{Order: "E-1", Line: 1}
	eqCaps   = core.Owner{Order: "E-1", Line: 2}
	eqOthers = core.Owner{Order: "E-2", Line: 1}
	eqFrames = core.Owner{Order: "E-2", Line: 2}
	eqOwners = []core.Owner{eqSets, eqCaps, eqOthers, eqFrames}
)

const eqSite = "SITE-LARKFIELD"

// equationBook is the sample shop's people, stations and stages with items and
// routes of our own.
func equationBook(t testing.TB) (*core.Book, []core.Order) {
	t.Helper()
	b, _ := sampleBook(t)
	route := func(name string, stages ...core.StageName) core.RouteRef {
		r := core.Route{RouteRef: core.RouteRef{Name: name, Version: 1}}
		for i, s := range stages {
			step := core.Step{No: 10 * (i + 1), Stage: s}
			if s == "final-check" && name == "EQ-CAP" {
				step.Sampling = []core.SampleRow{{UpTo: 2, Size: 1}, {Size: 2}}
			}
			r.Steps = append(r.Steps, step)
		}
		b.Routes[r.RouteRef] = r
		return r.RouteRef
	}
	add := func(id core.ItemRev, kind core.ItemKind, route core.RouteRef, bill ...core.Component) {
		rev := core.Revision{ItemRev: id, Kind: kind, Name: string(id.Item), Route: route, Bill: bill}
		if kind == core.PartItem || kind == core.AssemblyItem {
			rev.Metal, rev.Grade, rev.Thickness = core.Aluminium, "5005-H32", 3
		}
		b.Items[id] = rev
	}
	bought := route("EQ-BOUGHT", "goods-in", "pack")
	add(eqPlate, core.PartItem, route("EQ-PLATE", "cut", "separate", "edge-round"))
	add(eqStrut, core.PartItem, route("EQ-STRUT", "cut", "separate", "hand-round"))
	add(eqCap, core.PartItem, route("EQ-CAP", "cut", "separate", "edge-round", "final-check", "pack"))
	add(eqBag, core.BoughtItem, bought)
	add(eqTube, core.BoughtItem, bought)
	add(eqJoint, core.AssemblyItem, route("EQ-JOINT", "weld", "hand-round"), core.Component{Item: eqPlate, Qty: 1}, core.Component{Item: eqStrut, Qty: 2})
	add(eqFrame, core.AssemblyItem, route("EQ-FRAME", "weld", "hand-round", "weld-inspect", "final-check", "pack"),
		core.Component{Item: eqJoint, Qty: 1}, core.Component{Item: eqPlate, Qty: 1})
	add(eqKit, core.KitItem, route("EQ-KIT", "kit-check", "pack"), core.Component{Item: eqBag, Qty: 2}, core.Component{Item: eqTube, Qty: 1})
	add(eqSet, core.ProductItem, core.RouteRef{}, core.Component{Item: eqFrame, Qty: 1}, core.Component{Item: eqKit, Qty: 1}, core.Component{Item: eqCap, Qty: 2})
	line := func(o core.Owner, item core.ItemRev, qty int) core.OrderLine {
		return core.OrderLine{Owner: o, Item: item, Qty: qty}
	}
	return b, []core.Order{
		{No: "E-1", Customer: "Invented Works", Site: eqSite, Promised: "2026-12-04", Lines: []core.OrderLine{line(eqSets, eqSet, 2), line(eqCaps, eqCap, 3)}},
		{No: "E-2", Customer: "Invented Halls", Site: eqSite, Promised: "2026-12-11", Consent: true, Lines: []core.OrderLine{line(eqOthers, eqSet, 1), line(eqFrames, eqFrame, 2)}},
	}
}

func TestTheEquationsOwnRoutesCanBeWorkedToTheirEnd(t *testing.T) {
	b, _ := equationBook(t)
	for _, item := range []core.ItemRev{eqPlate, eqStrut, eqCap, eqJoint, eqFrame, eqBag, eqTube, eqKit} {
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
	st.Abrasives, st.Orders, st.Nests = maps.Clone(st.Abrasives), maps.Clone(st.Orders), maps.Clone(st.Nests)
	c.state, c.events, c.pushed = &st, slices.Clip(s.events), nil
	return &c
}

// equationShops are the shops a random walk begins in: with everything to cut,
// with components at the bench, with units made, one of them opened again, and
// with some of it on a truck, or at the site.
func equationShops(t testing.TB) []*shop {
	t.Helper()
	book, orders := equationBook(t)
	s := &shop{t: t, book: book, state: core.NewState(), now: wednesday, quick: true}
	s.must(core.Enlist{Orders: orders, Source: "invented"}, "")
	s.nest("N-1", sheet5005, eqSets, core.Component{Item: eqPlate, Qty: 4}, core.Component{Item: eqCap, Qty: 4})
	s.nest("N-2", bar, eqSets, core.Component{Item: eqStrut, Qty: 4})
	s.nest("N-3", sheet5005, eqFrames, core.Component{Item: eqPlate, Qty: 4})
	s.nest("N-4", bar, eqFrames, core.Component{Item: eqStrut, Qty: 3})
	s.nest("N-5", sheet5005, eqCaps, core.Component{Item: eqCap, Qty: 3})
	out := []*shop{s.fork()}

	for _, n := range []string{"N-1", "N-2", "N-3"} {
		for _, l := range s.separate(n) {
			if l.Item != eqCap {
				s.finish(l.ID)
				s.must(core.TakeIn{Pallet: core.PalletCode(l.Place.Ref)}, "WELD-1")
			}
		}
	}
	s.bag(eqBag, 7, "BAG-1", "")
	s.bag(eqTube, 4, "TUBE-1", "2027-01-31")
	out = append(out, s.fork())

	joint := s.unit(eqJoint, eqSets, "WELD-1", "P13")
	s.finish(joint)
	s.must(core.TakeIn{Pallet: core.PalletCode(s.state.Lots[joint].Place.Ref)}, "WELD-1")
	frame := s.unit(eqFrame, eqSets, "WELD-1", "P13")
	kit := s.unit(eqKit, eqSets, "DOCK-1", "P26")
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
	truck := core.ConsignmentCode(s.must(core.Load{Site: eqSite, Day: "2026-11-26", Pallets: on}, "DOCK-1", "P25").Ref)
	out = append(out, s.fork())
	if r := s.sendOff(truck, "EQ26 UAL", "the first set").Refusal; r != nil {
		t.Fatal(r)
	}
	out = append(out, s.fork())
	s.must(core.ReceiveAtSite{Consignment: truck}, eqSite, "P27")
	return append(out, s)
}

// unit gathers and makes one unit and returns its lot.
func (s *shop) unit(item core.ItemRev, owner core.Owner, at core.StationID, by core.PersonID) core.LotID {
	s.t.Helper()
	build := core.BuildCode(s.must(core.Gather{Item: item, Owner: owner}, at).Ref)
	s.must(s.assembly(build), at, by)
	return s.state.Builds[build].Lot
}

// assembly is the sign-off of a build, ready to be sent.
func (s *shop) assembly(code core.BuildCode) core.Assemble {
	b := s.state.Builds[code]
	step := s.book.Routes[s.book.Items[b.Item].Route].Steps[0]
	return core.Assemble{Build: code, Inputs: inputs(s.book, core.Lot{Item: b.Item}, step, step.Stage), Checks: checks(s.book, step)}
}
