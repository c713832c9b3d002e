package app_test

import (
	"context"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// The set of an order at its site: what is there and may be fitted, what is held
// there, what is missing and where that is.
func TestTheSetAtTheSite(t *testing.T) {
	s, svc := larkfield(t)
	s.Problem("N1", "L002", 1, "receive", "SITE-LARKFIELD", "corner dented", 0)
	s.Hold("N1", core.HoldLot, "L002", "corner dented", 0)
	p, err := svc.Site(context.Background(), app.SiteQuery{Site: "SITE-LARKFIELD", Order: "4117", At: "SITE-LARKFIELD"})
	if err != nil || len(p.Set.Lines) != 2 {
		t.Fatalf("%+v, %v", p.Set, err)
	}
	panel := p.Set.Lines[0]
	if panel.Asked != 4 || panel.Here != 1 || panel.Held != 1 || panel.Short() != 3 || len(panel.Not) != 2 {
		t.Errorf("the panels: %+v", panel)
	}
	where := map[core.PalletCode]string{}
	for _, x := range panel.Not {
		where[x.Pallet] = x.Place
	}
	if where["PCCCCCCC"] != "left on Tuesday 24 November" || where["PDDDDDDD"] != "at the packing and dock" {
		t.Errorf("where the others are: %v", where)
	}
	leaf := p.Set.Lines[1]
	if leaf.Asked != 2 || leaf.Here != 0 || leaf.Made+leaf.None != 2 {
		t.Errorf("the door leaves: %+v", leaf)
	}
	if here, asked := p.Set.Counts(); here != 1 || asked != 6 || p.Set.Complete() || len(p.Set.Lacking()) != 2 {
		t.Errorf("%d of %d", here, asked)
	}
	if len(p.Snags) != 1 || p.Snags[0].Parts != "1 wall panel 2400" || !p.Snags[0].Held {
		t.Errorf("snags: %+v", p.Snags)
	}
}

// What did not come with its consignment is told as lost, not as never made.
func TestWhatDidNotComeIsMissingFromTheSet(t *testing.T) {
	s, svc := larkfield(t)
	s.ChangeLot("L001", func(l *core.Lot) {
		l.Place, l.Qty, l.Lost = core.Place{Kind: core.Unexplained, Ref: "CAAAAAAA"}, 0, 1
	})
	p, err := svc.Site(context.Background(), app.SiteQuery{Site: "SITE-LARKFIELD", Order: "4117", At: "SITE-LARKFIELD"})
	if err != nil {
		t.Fatal(err)
	}
	if l := p.Set.Lines[0]; l.Here != 1 || l.Lost != 1 || l.None != 0 {
		t.Errorf("the panels: %+v", l)
	}
}

// An order's snags are of two kinds in one list: of parts, and not.
func TestTheSnagsOfAnOrder(t *testing.T) {
	s, svc := larkfield(t)
	s.Problem("N1", "L001", 1, "receive", "SITE-LARKFIELD", "corner dented", 60)
	s.World.State.Snags = map[core.SnagID]core.Snag{
		"G1": {ID: "G1", Order: "4117", Consignment: "CAAAAAAA", Site: "SITE-LARKFIELD", What: "wall scratched", By: "P27", At: s.World.Now},
		"G2": {ID: "G2", Order: "4117", Unit: "L002", What: "door binds", By: "P27", At: s.World.Now.AddDate(0, 0, -9), Done: "hinge set", Closer: "P27", Closed: s.World.Now},
		"G4": {ID: "G4", Order: "4117", Consignment: "CAAAAAAA", What: "seal torn", By: "L-CAAAAAAA-1", At: s.World.Now.AddDate(0, 0, -1),
			PutRight: &core.PutRight{Done: "new seal", By: "L-CAAAAAAA-1", Photos: []string{"ab"}}},
		"G3": {ID: "G3", Order: "O-other", What: "not theirs", At: s.World.Now},
	}
	got, err := svc.SnagsOfOrder(context.Background(), "4117")
	if err != nil || len(got.Snags) != 4 || got.Open() != 3 {
		t.Fatalf("%+v, %v", got, err)
	}
	if x := got.Snags[0]; x.What != "wall scratched" || x.Held || x.Over || x.State != "to be put right" || x.Parts != "" {
		t.Errorf("%+v", x)
	}
	if x := got.Snags[2]; x.Over || x.State != "put right, to be closed, says the bearer of the link for consignment CAAA AAAA: new seal" || len(x.Shown) != 1 {
		t.Errorf("%+v", x)
	}
	if x := got.Snags[3]; x.Parts != "1 wall panel 2400" || !x.Over || x.State != "closed by "+x.Who+": hinge set" {
		t.Errorf("%+v", x)
	}
	m, err := svc.Brought(context.Background(), "CAAAAAAA", "")
	if err != nil || len(m.Snags) != 3 { // the door's is of no consignment
		t.Errorf("of the consignment: %+v, %v", m.Snags, err)
	}
	if x := m.Snags[0]; x.Who == "" {
		t.Errorf("who reported it is not told to the shop: %+v", x)
	}
	mine, err := svc.Mine(context.Background(), app.Caller{Bearer: app.Bearer{Link: "L-CAAAAAAA-1", Consignment: "CAAAAAAA"}})
	if err != nil || len(mine.Snags) != 3 || mine.Snags[0].Who+mine.Snags[1].Who+mine.Snags[2].Who != "" {
		t.Errorf("a bearer is told who in the shop did what: %+v, %v", mine.Snags, err)
	}
	if x := mine.Snags[2]; x.State != "put right, the shop has not closed it yet: new seal" || len(x.Shown) != 1 {
		t.Errorf("to its bearer: %+v", x)
	}
	if m.Several() || len(m.Receipts) != 1 || m.Receipts[0].Order != "4117" {
		t.Errorf("receipts: %+v", m.Receipts)
	}
	if m, _ := svc.Brought(context.Background(), "CAAAAAAA", "O-other"); len(m.Boxes)+len(m.Orders)+len(m.Snags) != 0 {
		t.Errorf("another order sees %+v", m)
	}
}
