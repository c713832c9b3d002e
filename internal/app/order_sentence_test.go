package app_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/core"
)

const hospital = "Larkfield Hospital"

// order41 is an order of four wall panels and two door leaves, the lot of every
// case below.
func order41(t *testing.T, promised core.Date) *apptest.Floor {
	s := apptest.New(t)
	return s.Order(core.Order{No: "4117", Customer: hospital, Promised: promised, Lines: []core.OrderLine{
		{Item: s.Item("WP-2400"), Qty: 4}, {Item: s.Item("DL-L"), Qty: 2},
	}})
}

var panels, leaves = core.Owner{Order: "4117", Line: 1}, core.Owner{Order: "4117", Line: 2}

// fourPanels puts a panel on each of four pallets, all before the stage.
func fourPanels(s *apptest.Floor, at core.StationID, before core.StageName) {
	for _, p := range []core.PalletCode{"PAAAAAAA", "PBBBBBBB", "PCCCCCCC", "PDDDDDDD"} {
		s.Pallet(p, at)
		s.Lot(p, "WP-2400", panels, 1, before)
	}
}

// sentBack has the order at its site, fitted out, but for a panel that was sent
// back and stands at a station.
func sentBack(s *apptest.Floor, at core.StationID) {
	fourPanels(s, "DOCK-1", "")
	s.Pallet("PEEEEEEE", "DOCK-1")
	s.Lot("PEEEEEEE", "DL-L", leaves, 2, "")
	s.Gone("CAAAAAAA", "SITE-LARKFIELD", 3, "PAAAAAAA", "PBBBBBBB", "PCCCCCCC", "PDDDDDDD", "PEEEEEEE")
	s.Received("CAAAAAAA", 30, core.IsUnpacked, core.IsFitted)
	delete(s.World.State.Lots, "L004")
	s.Pallet("PFFFFFFF", at)
	id := s.Lot("PFFFFFFF", "WP-2400", panels, 1, "pack")
	s.ChangeLot(id, func(l *core.Lot) { l.Facts[core.Fact{Name: core.IsReturned}] = core.Standing{Value: core.Yes} })
	s.Problem("N1", id, 1, "return", "SITE-LARKFIELD", "Corner dented", 0)
}

func TestSentence(t *testing.T) {
	cases := []struct {
		name     string
		promised core.Date
		set      func(*apptest.Floor)
		want     string
	}{
		{"nothing begun", "2026-12-03", func(*apptest.Floor) {},
			"Order 4117 for Larkfield Hospital: nothing of it is cut yet. Promised for Thursday 3 December."},
		{"four of five coated, the leaves wait", "2026-12-03", func(s *apptest.Floor) {
			fourPanels(s, "COAT-TABLE-1", "pack")
			s.Pallet("PEEEEEEE", "INSPECT-1")
			s.Lot("PEEEEEEE", "DL-L", leaves, 2, "weld-inspect")
		}, "Order 4117 for Larkfield Hospital: four of its five pallets are coated; the left door leaves wait for weld inspection at the inspection bay. Promised for Thursday 3 December."},
		{"two of the coated packed", "2026-12-03", func(s *apptest.Floor) {
			fourPanels(s, "DOCK-1", "pack")
			for _, l := range []core.LotID{"L001", "L002"} {
				s.ChangeLot(l, func(l *core.Lot) { l.Facts[core.Fact{Name: core.IsPacked}] = core.Standing{Value: core.Yes} })
			}
			s.Pallet("PEEEEEEE", "")
			s.Lot("PEEEEEEE", "DL-L", leaves, 2, "rivet-nut")
			s.Change("PEEEEEEE", func(p *core.PalletRow) { p.Bound = "HARDWARE-1" })
		}, "Order 4117 for Larkfield Hospital: four of its five pallets are coated, two of them packed; the left door leaves are on the way to the hardware bench for rivet nuts. Promised for Thursday 3 December."},
		{"those coated are packed and one is loaded", "2026-12-03", func(s *apptest.Floor) {
			fourPanels(s, "DOCK-1", "")
			s.World.State.Consignments["CAAAAAAA"] = core.Consignment{Code: "CAAAAAAA", Pallets: []core.PalletCode{"PAAAAAAA"}}
			s.Change("PAAAAAAA", func(p *core.PalletRow) { p.Consignment = "CAAAAAAA" })
			s.Pallet("PEEEEEEE", "OVEN-1")
			s.Lot("PEEEEEEE", "DL-L", leaves, 2, "cure")
		}, "Order 4117 for Larkfield Hospital: four of its five pallets are coated and packed, one of them loaded; the left door leaves wait for curing at the curing oven. Promised for Thursday 3 December."},
		{"all packed", "2026-11-26", func(s *apptest.Floor) {
			fourPanels(s, "DOCK-1", "")
			s.Pallet("PEEEEEEE", "DOCK-1")
			s.Lot("PEEEEEEE", "DL-L", leaves, 2, "")
		}, "Order 4117 for Larkfield Hospital: all its five pallets are packed. Promised for tomorrow, Thursday 26 November."},
		{"held, and late", "2026-11-23", func(s *apptest.Floor) {
			fourPanels(s, "COAT-TABLE-1", "coat-inspect")
			s.Pallet("PEEEEEEE", "WELD-2")
			s.Lot("PEEEEEEE", "DL-L", leaves, 1, "rivet-nut")
			s.Lot("PEEEEEEE", "DL-L", leaves, 1, "rivet-nut")
			s.Hold("H1", core.HoldPallet, "PAAAAAAA", "Coat under 48 µm on the inside.", 2*time.Hour)
		}, "Order 4117 for Larkfield Hospital: none of its five pallets is coated yet; the wall panel 2400 is held at the coat inspection table (coat under 48 µm on the inside), and two more things are open. Promised for Monday 23 November, two days ago: all of it is late."},
		{"some gone, the rest late", "2026-11-24", func(s *apptest.Floor) {
			fourPanels(s, "DOCK-1", "")
			s.Gone("CAAAAAAA", "Larkfield", 2, "PAAAAAAA", "PBBBBBBB", "PCCCCCCC", "PDDDDDDD")
			s.Pallet("PEEEEEEE", "INSPECT-1")
			id := s.Lot("PEEEEEEE", "DL-L", leaves, 2, "weld-inspect")
			s.ChangeLot(id, func(l *core.Lot) {
				l.Started = &core.Started{Step: 20, By: "P18", Station: "INSPECT-1", At: apptest.Now}
			})
		}, "Order 4117 for Larkfield Hospital: four of its five pallets left on Monday 23 November; weld inspection of the left door leaves has begun at the inspection bay. Promised for yesterday, Tuesday 24 November: two left door leaves are late."},
		{"all gone", "2026-11-24", func(s *apptest.Floor) {
			fourPanels(s, "DOCK-1", "")
			s.Pallet("PEEEEEEE", "DOCK-1")
			s.Lot("PEEEEEEE", "DL-L", leaves, 2, "")
			s.Gone("CAAAAAAA", "Larkfield", 2, "PAAAAAAA", "PBBBBBBB", "PCCCCCCC", "PDDDDDDD", "PEEEEEEE")
		}, "Order 4117 for Larkfield Hospital: all its five pallets left on Monday 23 November. Promised for yesterday, Tuesday 24 November."},
		{"some at the site, the rest on its way", "2026-11-24", func(s *apptest.Floor) {
			fourPanels(s, "DOCK-1", "")
			s.Gone("CAAAAAAA", "SITE-LARKFIELD", 3, "PAAAAAAA", "PBBBBBBB", "PCCCCCCC")
			s.Received("CAAAAAAA", 30, core.IsUnpacked)
			for _, f := range []string{core.IsFitted, core.IsAtClient} {
				s.ChangeLot("L003", func(l *core.Lot) { l.Facts[core.Fact{Name: f}] = core.Standing{Value: core.Yes} })
			}
			s.Pallet("PEEEEEEE", "DOCK-1")
			s.Lot("PEEEEEEE", "DL-L", leaves, 2, "")
			s.Gone("CBBBBBBB", "SITE-LARKFIELD", 1, "PDDDDDDD", "PEEEEEEE")
		}, "Order 4117 for Larkfield Hospital: three wall panels 2400 are at the fitting site, Larkfield (one accepted, two unpacked); the other two pallets left on Tuesday 24 November. Promised for yesterday, Tuesday 24 November."},
		{"all at the site", "2026-11-24", func(s *apptest.Floor) {
			fourPanels(s, "DOCK-1", "")
			s.Pallet("PEEEEEEE", "DOCK-1")
			s.Lot("PEEEEEEE", "DL-L", leaves, 2, "")
			s.Gone("CAAAAAAA", "SITE-LARKFIELD", 3, "PAAAAAAA", "PBBBBBBB", "PCCCCCCC", "PDDDDDDD", "PEEEEEEE")
			s.Received("CAAAAAAA", 30)
		}, "Order 4117 for Larkfield Hospital: all of it is at the fitting site, Larkfield, not unpacked yet. Promised for yesterday, Tuesday 24 November."},
		{"one to come back", "2026-11-24", func(s *apptest.Floor) { sentBack(s, "SITE-LARKFIELD") },
			"Order 4117 for Larkfield Hospital: three wall panels 2400 and two left door leaves are at the fitting site, Larkfield, and fitted out; the wall panel 2400 is to come back from the fitting site, Larkfield (corner dented). Promised for yesterday, Tuesday 24 November: one wall panel 2400 is late."},
		{"one came back", "2026-11-24", func(s *apptest.Floor) { sentBack(s, "DOCK-1") },
			"Order 4117 for Larkfield Hospital: three wall panels 2400 and two left door leaves are at the fitting site, Larkfield, and fitted out; the wall panel 2400, sent back from the site, is held at the packing and dock (corner dented). Promised for yesterday, Tuesday 24 November: one wall panel 2400 is late."},
		{"one came back and is used as it is", "2026-11-24", func(s *apptest.Floor) {
			sentBack(s, "DOCK-1")
			delete(s.World.State.Problems, "N1")
		}, "Order 4117 for Larkfield Hospital: three wall panels 2400 and two left door leaves are at the fitting site, Larkfield, and fitted out; the wall panel 2400, sent back from the site, waits for packing at the packing and dock. Promised for yesterday, Tuesday 24 November: one wall panel 2400 is late."},
		{"one leaf lost", "2026-12-03", func(s *apptest.Floor) {
			fourPanels(s, "DOCK-1", "pack")
			s.Pallet("PEEEEEEE", "DOCK-1")
			s.Lot("PEEEEEEE", "DL-L", leaves, 1, "pack")
			s.World.State.Nests["N9"] = core.Nest{ID: "N9", Parts: []core.NestPart{
				{No: 1, Item: s.Item("DS-L"), Owner: leaves, Qty: 1},
				{No: 2, Item: s.Item("DF-STILE"), Owner: leaves, Qty: 2},
				{No: 3, Item: s.Item("DF-RAIL"), Owner: leaves, Qty: 2},
			}}
			s.World.State.Nests["N10"] = core.Nest{ID: "N10", Sheet: "SAAAAAAA", Parts: []core.NestPart{
				{No: 1, Item: s.Item("DH-BACK"), Owner: leaves, Qty: 3},
			}}
		}, "Order 4117 for Larkfield Hospital: all its five pallets are coated; three hinge backing plates are cut and still in their sheets; one left door skin, two door stiles and two door rails are not yet cut. Promised for Thursday 3 December."},
		{"components wait for their set", "2026-12-03", func(s *apptest.Floor) {
			fourPanels(s, "DOCK-1", "pack")
			s.Pallet("PEEEEEEE", "WELD-2")
			s.Lot("PEEEEEEE", "DS-L", leaves, 2, "")
			s.Lot("PEEEEEEE", "DF-STILE", leaves, 4, "")
			s.Lot("PEEEEEEE", "DF-RAIL", leaves, 4, "")
			s.Lot("PEEEEEEE", "DH-BACK", leaves, 6, "")
		}, "Order 4117 for Larkfield Hospital: four of its five pallets are finished; the left door skins, the door stiles and two other kinds of part wait for welding at weld bench 2; two left door leaves are still to be put together. Promised for Thursday 3 December."},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := order41(t, c.promised)
			c.set(s)
			v, err := app.NewOrderView(s.World, "4117", nil)
			if err != nil {
				t.Fatal(err)
			}
			if got := app.Sentence(v); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// What the sentence leaves out stands below it, one line each.
func TestDetails(t *testing.T) {
	s := order41(t, "2026-11-23")
	fourPanels(s, "COAT-TABLE-1", "coat-inspect")
	s.Pallet("PEEEEEEE", "WELD-2")
	s.Lot("PEEEEEEE", "DL-L", leaves, 1, "rivet-nut")
	s.Hold("H1", core.HoldPallet, "PAAAAAAA", "Coat under 48 µm on the inside.", 2*time.Hour)
	v, err := app.NewOrderView(s.World, "4117", nil)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"The wall panel 2400 is held at the coat inspection table (coat under 48 µm on the inside).",
		"One left door skin, two door stiles and two other kinds of part are missing, neither cut nor on a nest.",
		"The left door leaf waits for rivet nuts at weld bench 2.",
		"The wall panels 2400 wait for coat inspection at the coat inspection table.",
	}
	if got := app.Details(v); !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	if got := app.Sentence(v); !strings.Contains(got, "is held at the coat inspection table (coat under 48 µm on the inside), and three more things are open.") {
		t.Error(got)
	}
	fine := order41(t, "2026-12-03")
	fourPanels(fine, "COAT-TABLE-1", "pack")
	if v, err = app.NewOrderView(fine.World, "4117", nil); err != nil {
		t.Fatal(err)
	}
	if got := app.Details(v); got != nil {
		t.Errorf("the sentence says it all, and below it stands %q", got)
	}
}
