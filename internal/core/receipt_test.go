package core_test

import (
	"slices"
	"testing"

	"tagalong/internal/core"
)

// onTheRoad is a consignment of two pallets, four and three parts, under way.
func onTheRoad(t *testing.T) (s *shop, truck core.ConsignmentCode, site core.StationID, four, three core.Lot) {
	s = newShop(t)
	s.nest("T-road", sheet5005, trays, core.Component{Item: tray, Qty: 4}, core.Component{Item: cableTray, Qty: 3})
	var codes []core.PalletCode
	for _, l := range s.separate("T-road") {
		if l.Item == cableTray { // onto a pallet of its own
			s.must(core.Divide{From: core.PalletCode(l.Place.Ref), Picks: []core.Pick{{Lot: l.ID, Qty: l.Qty}}}, "BENCH-1")
			three = l
		} else {
			four = l
		}
	}
	for _, l := range []core.Lot{four, three} {
		s.finish(l.ID)
		codes = append(codes, core.PalletCode(s.state.Lots[l.ID].Place.Ref))
	}
	e := s.must(core.Load{Site: s.state.Orders[trays.Order].Site, Day: "2026-11-26", Pallets: codes}, "DOCK-1", "P25")
	truck = core.ConsignmentCode(e.Ref)
	out := s.sendOff(truck, "SI26 TEX", "trays first")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	return s, truck, core.StationID(s.state.Consignments[truck].Site), s.state.Lots[four.ID], s.state.Lots[three.ID]
}

// A consignment received one short, with a damaged part: each box once, what is
// missing unexplained, what is damaged held, the rest goes on.
func TestAConsignmentIsReceivedBoxByBox(t *testing.T) {
	s, truck, site, four, three := onTheRoad(t)
	same(t, "its box", four.Box == three.Box || four.Box == "", false)
	first := core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{four.Box},
		Counts: []core.SiteCount{{Lot: four.ID, Found: 3, Damaged: 1, Why: "corner dented", Wanted: "2026-12-03"}}}
	with := func(c core.SiteCount) core.ReceiveAtSite {
		b := first
		c.Lot = four.ID
		b.Counts = []core.SiteCount{c}
		return b
	}
	s.refused("more-than-sent", with(core.SiteCount{Found: 5}), site, "P27")
	s.refused("numbers-dont-sum", with(core.SiteCount{Found: 1, Damaged: 2, Why: "dent"}), site, "P27")
	s.refused("why-missing", with(core.SiteCount{Found: 4, Damaged: 1}), site, "P27")
	s.refused("lot-not-in-box", core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{four.Box}, Counts: []core.SiteCount{{Lot: three.ID, Found: 1}}}, site, "P27")
	s.refused("box-not-listed", core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{"P-other"}}, site, "P27")
	s.refused("box-received", core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{four.Box, four.Box}}, site, "P27")
	if r := s.refused("came-short", first, site, "P27"); !r.Ask {
		t.Error("what did not come can't be said")
	}
	out := s.send(core.Command{Body: first, Station: site, Confirm: []string{"came-short"}}, "P27")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	count := out.Events[0].Lots[0]
	same(t, "good", count.Good, 2)
	same(t, "bad", count.Bad, 1)
	same(t, "missing", count.NotDone, 1)
	same(t, "lost", s.lost(truck)[0].Lost, 1)
	same(t, "lost of what came", s.state.Lots[four.ID].Lost, 0)
	same(t, "not yet whole", s.state.Consignments[truck].Received.IsZero(), true)
	s.refused("box-received", core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{four.Box}}, site, "P27")

	var damaged core.Problem
	for _, p := range s.state.Problems {
		damaged = p
	}
	same(t, "wanted by", damaged.Wanted, core.Date("2026-12-03"))
	s.refused("lot-held", core.WorkAtSite{Stage: "unpack", Picks: []core.Pick{{Lot: damaged.Lot, Qty: 1}}}, site, "P27")
	s.must(core.WorkAtSite{Stage: "unpack", Picks: []core.Pick{{Lot: four.ID, Qty: 2}}}, site, "P27")

	s.must(core.ReceiveAtSite{Consignment: truck}, site, "P27") // the rest of it
	same(t, "received", s.state.Consignments[truck].Received.IsZero(), false)
	same(t, "the other box", s.state.Lots[three.ID].Place.Kind, core.AtSite)
	s.refused("consignment-received", core.ReceiveAtSite{Consignment: truck}, site, "P27")

	s.refused("rework-in-shop", core.Dispose{Problem: damaged.ID, Disposition: core.DisposeRework, Reason: "dress it",
		Route: core.RouteRef{Name: "COAT-AGAIN", Version: 1}, Rejoin: 40}, "", "P03")
	again := core.Dispose{Problem: damaged.ID, Disposition: core.DisposeRemake, Reason: "make it again", Arose: "pack", Hours: 1.5}
	bad := again
	bad.Hours = -1
	s.refused("hours-impossible", bad, "", "P03")
	bad = again
	bad.Arose = "gilding"
	s.refused("stage-unknown", bad, "", "P03")
	s.must(again, "", "P03")
	same(t, "arose at", s.state.Problems[damaged.ID].Arose, core.StageName("pack"))
	same(t, "cost in hours", s.state.Problems[damaged.ID].Hours, 1.5)
	same(t, "the damaged part", s.state.Lots[damaged.Lot].Place.Kind, core.Scrapped)
	nest := s.state.Nests["remake "+string(damaged.ID)]
	same(t, "to be cut again", nest.Parts[0].Qty, 1)
	nest.Material = sheet5005
	s.must(core.Enlist{Nests: []core.Nest{nest}, Source: "the office"}, "") // a sheet was chosen for it
	remade := s.separate(nest.ID)[0]
	same(t, "made for", remade.Remake, damaged.ID)
	same(t, "due when the site wants it", remade.Promised, core.Date("2026-12-03"))
	s.agrees()
}

// A box that did not come is missed, and its parts are a shortage; if it turns
// up it is received like any other.
func TestABoxThatDidNotCome(t *testing.T) {
	s, truck, site, four, three := onTheRoad(t)
	miss := core.ReceiveAtSite{Consignment: truck, Missing: []core.PalletCode{three.Box}}
	s.refused("came-short", miss, site, "P27")
	if out := s.send(core.Command{Body: miss, Station: site, Confirm: []string{"came-short"}}, "P27"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	same(t, "what came", s.state.Lots[four.ID].Place.Kind, core.AtSite)
	same(t, "what did not", s.state.Lots[three.ID].Qty, 0)
	same(t, "lost", s.state.Lots[three.ID].Lost, 3)
	same(t, "awaited", len(s.state.Consignments[truck].Awaited()), 0)
	s.must(core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{three.Box}}, site, "P27")
	same(t, "turned up", s.state.Lots[three.ID].Place.Kind, core.AtSite)
	same(t, "how many", s.state.Lots[three.ID].Qty, 3)
	same(t, "lost no longer", s.state.Lots[three.ID].Lost, 0)
	s.refused("consignment-received", core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{three.Box}}, site, "P27")
	s.agrees()
}

// What a missed box brings after its like was made again is beyond what the order
// asks for: it is received all the same, as stock.
func TestABoxThatTurnsUpAfterItsPartsWereMadeAgain(t *testing.T) {
	s, truck, site, four, _ := onTheRoad(t)
	for i, o := range s.state.Orders[four.Owner.Order].Lines {
		if o.Owner == four.Owner {
			s.state.Orders[four.Owner.Order].Lines[i].Qty = 5
		}
	}
	if out := s.send(core.Command{Body: core.ReceiveAtSite{Consignment: truck, Missing: []core.PalletCode{four.Box}}, Station: site, Confirm: []string{"came-short"}}, "P27"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	s.nest("T-again", sheet5005, four.Owner, core.Component{Item: four.Item, Qty: 2})
	s.separate("T-again")
	e := s.must(core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{four.Box}}, site, "P27")
	got := map[core.Owner]int{}
	for _, l := range s.state.LotsAt(core.Place{Kind: core.AtSite, Ref: string(site)}) {
		if slices.Contains(e.Pallets, l.Box) {
			got[l.Owner] += l.Qty
		}
	}
	same(t, "of the box", got, map[core.Owner]int{four.Owner: 3, {}: 1})
	names := core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{four.Box}}.Names()
	same(t, "the orders are looked at", names.Whole, true)
}

// A problem found at the site, when a part is fitted, stays there and is held.
func TestAProblemIsReportedAtTheSite(t *testing.T) {
	s, l := received(t)
	site := core.StationID(l.Place.Ref)
	report := core.ReportProblem{Lot: l.ID, Qty: 1, What: "hole in the wrong place", Wanted: "2026-12-04"}
	s.refused("lot-not-at-site", report, "SITE-FARNESS", "P27")
	s.refused("more-than-there", core.ReportProblem{Lot: l.ID, Qty: 9, What: "x"}, site, "P27")
	s.refused("why-missing", core.ReportProblem{Lot: l.ID, Qty: 1}, site, "P27")
	s.must(report, site, "P27")
	same(t, "the others", s.state.Lots[l.ID].Qty, 3)
	for _, p := range s.state.Problems {
		same(t, "where", s.state.Lots[p.Lot].Place, l.Place)
		same(t, "wanted", p.Wanted, core.Date("2026-12-04"))
		s.refused("lot-held", core.WorkAtSite{Stage: "unpack", Picks: []core.Pick{{Lot: p.Lot, Qty: 1}}}, site, "P27")
	}
	s.agrees()
}

// lost are the lots of a consignment that nobody found.
func (s *shop) lost(truck core.ConsignmentCode) []core.Lot {
	var out []core.Lot
	for _, l := range s.state.Lots {
		if l.Place == (core.Place{Kind: core.Unexplained, Ref: string(truck)}) && l.Lost > 0 {
			out = append(out, l)
		}
	}
	return out
}

// Parts that were miscounted within a box turn up later, in two finds: each is a
// move back out of the unexplained, and they go on from where they are, though
// the others were fitted meanwhile.
func TestPartsThatWereMiscountedTurnUp(t *testing.T) {
	s, truck, site, four, three := onTheRoad(t)
	short := core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{four.Box}, Counts: []core.SiteCount{{Lot: four.ID, Found: 1}}}
	if out := s.send(core.Command{Body: short, Station: site, Confirm: []string{"came-short"}}, "P27"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	for _, stage := range []core.StageName{"unpack", "fit-out"} {
		s.must(core.WorkAtSite{Stage: stage, Picks: []core.Pick{{Lot: four.ID, Qty: 1}}}, site, "P27")
	}
	missing := s.lost(truck)[0]
	find := func(lot core.LotID, n int) core.TurnUp {
		return core.TurnUp{Consignment: truck, Finds: []core.Pick{{Lot: lot, Qty: n}}, Note: "under the other box"}
	}
	s.refused("more-than-missing", find(missing.ID, 4), site, "P27")
	s.refused("more-than-missing", find(missing.ID, 0), site, "P27")
	s.refused("lot-not-missing", find(four.ID, 1), site, "P27")
	s.refused("lot-not-missing", find(three.ID, 1), site, "P27")
	s.refused("role-missing", find(missing.ID, 1), site, "P21")
	s.refused("no-lots", core.TurnUp{Consignment: truck}, site, "P27")
	s.refused("consignment-unknown", core.TurnUp{Consignment: "C-none"}, site, "P27")
	twice := find(missing.ID, 1)
	twice.Finds = append(twice.Finds, twice.Finds[0])
	s.refused("lot-twice", twice, site, "P27")

	e := s.must(find(missing.ID, 2), site, "P27")
	same(t, "kind", e.Kind, core.EvTurnedUp)
	same(t, "found", e.Lots[0].Good, 2)
	same(t, "where", s.state.Lots[missing.ID].Place, core.Place{Kind: core.AtSite, Ref: string(site)})
	same(t, "still missing", s.lost(truck)[0].Lost, 1)
	s.refused("not-unpacked", core.WorkAtSite{Stage: "fit-out", Picks: []core.Pick{{Lot: missing.ID, Qty: 2}}}, site, "P27")
	s.must(core.WorkAtSite{Stage: "unpack", Picks: []core.Pick{{Lot: missing.ID, Qty: 2}}}, site, "P27")
	s.must(find(s.lost(truck)[0].ID, 1), site, "P27")
	same(t, "nothing is missing", len(s.lost(truck)), 0)

	miss := core.ReceiveAtSite{Consignment: truck, Missing: []core.PalletCode{three.Box}}
	if out := s.send(core.Command{Body: miss, Station: site, Confirm: []string{"came-short"}}, "P27"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	s.refused("box-missing-still", find(three.ID, 1), site, "P27") // the box itself is awaited
	s.agrees()
}

// What turns up after others were made in its place is nobody's, and stock.
func TestWhatTurnsUpTooLateIsStock(t *testing.T) {
	s, truck, site, four, _ := onTheRoad(t)
	short := core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{four.Box}, Counts: []core.SiteCount{{Lot: four.ID, Found: 2}}}
	if out := s.send(core.Command{Body: short, Station: site, Confirm: []string{"came-short"}}, "P27"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	s.nest("T-again", sheet5005, trays, core.Component{Item: tray, Qty: 97}) // of the 100 the line asks, one is left to find
	s.separate("T-again")
	missing := s.lost(truck)[0]
	e := s.must(core.TurnUp{Consignment: truck, Finds: []core.Pick{{Lot: missing.ID, Qty: 2}}}, site, "P27")
	same(t, "its own", s.state.Lots[missing.ID].Qty, 1)
	same(t, "two lots", len(e.Lots), 2)
	for _, l := range s.state.LotsAt(core.Place{Kind: core.AtSite, Ref: string(site)}) {
		if l.Owner.Stock() {
			same(t, "stock", l.Qty, 1)
			same(t, "it was sent", l.Facts.At(core.Fact{Name: core.IsReceived}, s.now), core.Yes)
		}
	}
	s.agrees()
}

// A box with parts of two orders is received by each client by themselves: what
// is the other's stays awaited, nothing is counted twice, and each order is
// ticked off by itself.
func TestEachOrderIsReceivedByItself(t *testing.T) {
	s, truck, site, four, three := onTheRoad(t)
	l := s.state.Lots[three.ID] // lay it into the first box, as another client's
	l.Owner, l.Box = hospital, four.Box
	s.state.Lots[three.ID] = l
	c := s.state.Consignments[truck]
	c.Pallets = []core.PalletCode{four.Box}
	s.state.Consignments[truck] = c

	of := func(order string) core.ReceiveAtSite {
		return core.ReceiveAtSite{Consignment: truck, Order: order, Boxes: []core.PalletCode{four.Box}}
	}
	same(t, "which box", s.refused("order-not-in-box", of("O-9999"), site, "P27").Params["order"], "O-9999")
	s.refused("order-not-awaited", core.ReceiveAtSite{Consignment: truck, Order: "O-9999"}, site, "P27")
	theirs := of(trays.Order)
	theirs.Counts = []core.SiteCount{{Lot: three.ID, Found: 1}}
	s.refused("lot-not-in-box", theirs, site, "P27")
	s.must(of(trays.Order), site, "P27")
	same(t, "own", s.state.Lots[four.ID].Place.Kind, core.AtSite)
	same(t, "the other's", s.state.Lots[three.ID].Place.Kind, core.InConsignment)
	c = s.state.Consignments[truck]
	same(t, "the box is awaited", len(c.Awaited()), 1)
	same(t, "received", len(c.Receipts), 1)
	same(t, "which", c.Receipts[0].Order, trays.Order)
	s.refused("box-received", of(trays.Order), site, "P27")
	s.refused("order-not-awaited", core.ReceiveAtSite{Consignment: truck, Order: trays.Order}, site, "P27")

	missing := core.ReceiveAtSite{Consignment: truck, Order: hospital.Order, Missing: []core.PalletCode{four.Box}}
	if out := s.send(core.Command{Body: missing, Station: site, Confirm: []string{"came-short"}}, "P27"); out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	c = s.state.Consignments[truck]
	same(t, "the box came, if not all of it", c.Came[0], four.Box)
	same(t, "missed", len(c.Missed), 0)
	same(t, "all of it", c.Received.IsZero(), false)
	same(t, "both", len(c.Receipts), 2)
	s.must(core.TurnUp{Consignment: truck, Finds: []core.Pick{{Lot: three.ID, Qty: 1}}}, site, "P27") // its line takes one

	accept := core.WorkAtSite{Stage: "accept", Picks: []core.Pick{{Lot: four.ID, Qty: 4}, {Lot: three.ID, Qty: 1}}}
	for _, stage := range []core.StageName{"unpack", "fit-out"} {
		both := accept
		both.Stage = stage
		s.must(both, site, "P27")
	}
	same(t, "the other", s.refused("clients-apart", accept, site, "P27").Params["other"], hospital.Order)
	accept.Picks = accept.Picks[:1]
	s.must(accept, site, "P27")
}
