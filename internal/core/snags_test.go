package core_test

import (
	"testing"

	"tagalong/internal/core"
)

// A snag is of an order, or of a unit of it at the site; it holds nothing, is no
// nonconformity, and is closed once, by name, with what was done.
func TestASnagIsReportedAndClosed(t *testing.T) {
	s, l := received(t)
	site := core.StationID(l.Place.Ref)
	wall := core.ReportSnag{Order: trays.Order, What: "wall scratched beside the door", Wanted: "2026-12-03", Photos: []string{"ab"}}
	s.refused("snag-of-which-order", core.ReportSnag{What: "x"}, site, "P27")
	s.refused("snag-of-which-order", core.ReportSnag{Order: "O-9999", What: "x"}, site, "P27")
	s.refused("snag-unsaid", core.ReportSnag{Order: trays.Order, What: "  "}, site, "P27")
	s.refused("snag-other-site", wall, "SITE-FARNESS", "P27")
	s.refused("consignment-unknown", core.ReportSnag{Order: trays.Order, Consignment: "C-none", What: "x"}, site, "P27")
	s.refused("lot-not-at-site", core.ReportSnag{Order: "O-4101", Unit: l.ID, What: "x"}, site, "P27")
	s.refused("lot-not-at-site", core.ReportSnag{Unit: "L-none", What: "x"}, site, "P27")

	e := s.must(wall, site, "P27")
	same(t, "kind", e.Kind, core.EvSnagReported)
	same(t, "photos", len(e.Photos), 1)
	snag := s.state.Snags[core.SnagID(e.Ref)]
	same(t, "order", snag.Order, trays.Order)
	same(t, "site", snag.Site, site)
	same(t, "by", snag.By, core.PersonID("P27"))
	same(t, "no nonconformity", len(s.state.Problems), 0)
	same(t, "nothing held", len(s.state.Holds), 0)

	binds := s.state.Snags[core.SnagID(s.must(core.ReportSnag{Unit: l.ID, What: "door binds"}, site, "P27").Ref)]
	same(t, "of the unit's order", binds.Order, trays.Order)
	s.must(core.WorkAtSite{Stage: "unpack", Picks: []core.Pick{{Lot: l.ID, Qty: 4}}}, site, "P27") // goes on

	done := core.CloseSnag{Snag: snag.ID, Done: "filled and painted"}
	s.refused("snag-unknown", core.CloseSnag{Snag: "G-none", Done: "x"}, site, "P27")
	s.refused("snag-undone", core.CloseSnag{Snag: snag.ID, Done: " "}, site, "P27")
	s.refused("signature-missing", done, site)
	right := core.PutRightSnag{Snag: snag.ID, Done: " filled ", Photos: []string{"cd"}}
	s.refused("snag-unknown", core.PutRightSnag{Snag: "G-none", Done: "x"}, site, "P27")
	s.refused("snag-undone", core.PutRightSnag{Snag: snag.ID}, site, "P27")
	s.refused("signature-missing", right, site)
	e = s.must(right, site, "P27")
	same(t, "kind", e.Kind, core.EvSnagPutRight)
	same(t, "photos", e.Photos, []string{"cd"})
	said := s.state.Snags[snag.ID]
	same(t, "open, though it is put right", said.Open(), true)
	same(t, "as was said", said.PutRight.Done, "filled")
	same(t, "by", said.PutRight.By, core.PersonID("P27"))
	same(t, "said", s.refused("snag-put-right", right, site, "P27").Params["done"], "filled")
	s.must(done, "", "P27")
	s.refused("snag-closed", right, site, "P27")
	closed := s.state.Snags[snag.ID]
	same(t, "open", closed.Open(), false)
	same(t, "what was done", closed.Done, "filled and painted")
	same(t, "by name", closed.Closer, core.PersonID("P27"))
	same(t, "said", s.refused("snag-closed", done, "", "P27").Params["done"], "filled and painted")
	same(t, "the other", s.state.Snags[binds.ID].Open(), true)
	s.agrees()
}

// turnedUpAndSnagged is a part found again at its site, and a snag reported and
// closed there.
func turnedUpAndSnagged(t *testing.T) []core.Event {
	s, truck, site, four, _ := onTheRoad(t)
	s.send(core.Command{Body: core.ReceiveAtSite{Consignment: truck, Boxes: []core.PalletCode{four.Box},
		Counts: []core.SiteCount{{Lot: four.ID, Found: 3}}}, Station: site, Confirm: []string{"came-short"}}, "P27")
	found := s.must(core.TurnUp{Consignment: truck, Finds: []core.Pick{{Lot: s.lost(truck)[0].ID, Qty: 1}}, Note: "in the other box"}, site, "P27")
	snag := s.must(core.ReportSnag{Order: trays.Order, Consignment: truck, What: "wall scratched", Wanted: "2026-12-03"}, site, "P27")
	right := s.must(core.PutRightSnag{Snag: core.SnagID(snag.Ref), Done: "filled and painted"}, site, "P27")
	return []core.Event{found, snag, right, s.must(core.CloseSnag{Snag: core.SnagID(snag.Ref), Done: "painted"}, site, "P27")}
}
