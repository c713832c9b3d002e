package core_test

import (
	"testing"

	"tagalong/internal/core"
)

// received is a shop whose trays have come to their site, and the lot.
func received(t *testing.T) (*shop, core.Lot) {
	s := newShop(t)
	id, _ := s.four()
	s.finish(id)
	code := core.PalletCode(s.state.Lots[id].Place.Ref)
	e := s.must(core.Load{Site: s.state.Orders[trays.Order].Site, Day: "2026-11-26", Pallets: []core.PalletCode{code}}, "DOCK-1", "P25")
	truck := core.ConsignmentCode(e.Ref)
	out := s.sendOff(truck, "SI26 TEX", "trays first")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	site := core.StationID(s.state.Consignments[truck].Site)
	s.refused("lot-not-at-site", core.WorkAtSite{Stage: "unpack", Picks: []core.Pick{{Lot: id, Qty: 4}}}, site, "P27")
	s.must(core.ReceiveAtSite{Consignment: truck}, site, "P27")
	return s, s.state.Lots[id]
}

func TestWorkAtTheSiteGoesInOrder(t *testing.T) {
	s, l := received(t)
	site := core.StationID(l.Place.Ref)
	at := func(stage core.StageName, qty int) core.WorkAtSite {
		return core.WorkAtSite{Stage: stage, Picks: []core.Pick{{Lot: l.ID, Qty: qty}}}
	}
	s.refused("not-unpacked", at("fit-out", 4), site, "P27")
	s.refused("not-unpacked", at("fit-out", 4), "", "P27")
	s.refused("not-site-work", at("receive", 4), site, "P27")
	s.refused("not-site-work", at("coat", 4), site, "P27")
	s.refused("more-than-there", at("unpack", 5), site, "P27")
	s.refused("role-missing", at("unpack", 4), site, "P21")
	s.refused("lot-not-at-site", at("unpack", 4), "SITE-FARNESS", "P27")
	s.must(at("unpack", 4), site, "P27")
	same(t, "after unpacking", s.refused("step-done", at("unpack", 4), site, "P27").Params["next"], "Fit out")
	s.refused("not-fitted", at("accept", 4), site, "P27")

	e := s.must(at("fit-out", 3), site, "P27") // three of four are fitted
	fitted := s.state.Lots[e.Lots[0].Lot]
	for _, x := range s.state.LotsAt(l.Place) {
		if x.ID != l.ID {
			fitted = x
		}
	}
	same(t, "fitted", fitted.Qty, 3)
	s.must(core.WorkAtSite{Stage: "accept", Picks: []core.Pick{{Lot: fitted.ID, Qty: 3}}}, site, "P27")
	same(t, "accepted", s.state.Lots[fitted.ID].Facts.At(core.Fact{Name: core.IsAtClient}, s.now), core.Yes)
	again := core.WorkAtSite{Stage: "accept", Picks: []core.Pick{{Lot: fitted.ID, Qty: 3}}}
	same(t, "after accepting", s.refused("step-done", again, site, "P27").Params["next"], "nothing more at the site")
	same(t, "the other is not", s.state.Lots[l.ID].Facts.At(core.Fact{Name: core.IsFitted}, s.now), core.No)
	s.agrees()
}

// What comes back is on a pallet of the shop, held, and to be packed again.
func TestReturnedPartsAreHeldAndPackedAgain(t *testing.T) {
	s, l := received(t)
	site := core.StationID(l.Place.Ref)
	back := core.WorkAtSite{Stage: "return", Picks: []core.Pick{{Lot: l.ID, Qty: 1}}}
	s.refused("reason-missing", back, site, "P27")
	back.Note = "corner dented on the way"
	e := s.must(back, site, "P27")
	same(t, "kind", e.Kind, core.EvSentBack)
	code := e.Pallets[0]
	dented := s.state.LotsAt(core.On(code))[0]
	same(t, "one", dented.Qty, 1)
	same(t, "three stay", s.state.Lots[l.ID].Qty, 3)
	for _, f := range []string{core.IsPacked, core.IsShipped, core.IsReceived} {
		same(t, f, dented.Facts.At(core.Fact{Name: f}, s.now), core.No)
	}
	same(t, "coat stays", dented.Facts.At(core.Fact{Name: core.CoatAccepted, Of: "all"}, s.now), core.Yes)
	same(t, "next", core.NextSteps(s.book, dented)[0].Stage, core.StageName("pack"))

	same(t, "stands at the site", s.state.Pallets[code].Station, site)

	s.must(core.TakeIn{Pallet: code}, "DOCK-1")
	s.refused("lot-held", mustWork(s, dented.ID), "DOCK-1", "P26")
	s.must(core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeUseAsIs, Reason: "hidden once fitted"}, "", "P03", "P18")
	s.must(mustWork(s, dented.ID), "DOCK-1", "P26")
	e = s.must(core.Load{Site: string(site), Day: "2026-11-30", Pallets: []core.PalletCode{code}}, "DOCK-1", "P25")
	out := s.sendOff(core.ConsignmentCode(e.Ref), "SI26 TEX", "again")
	if out.Refusal != nil {
		t.Fatal(out.Refusal)
	}
	s.must(core.ReceiveAtSite{Consignment: core.ConsignmentCode(e.Ref)}, site, "P27")

	// Again, on the pallet they came on, which stands empty at the site.
	s.nest("T-other", sheet5005, trays, core.Component{Item: tray, Qty: 1})
	s.separate("T-other")
	s.refused("pallet-not-empty", core.WorkAtSite{Stage: "return", Picks: []core.Pick{{Lot: l.ID, Qty: 3}}, To: core.PalletCode(s.live()[0].Place.Ref), Note: "all of them"}, site, "P27")
	s.must(core.WorkAtSite{Stage: "return", Picks: []core.Pick{{Lot: dented.ID, Qty: 1}}, To: code, Note: "dented again"}, site, "P27")
	s.must(core.TakeIn{Pallet: code}, "DOCK-1")
	s.agrees()
}
