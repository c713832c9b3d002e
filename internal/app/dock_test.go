package app_test

import (
	"context"
	"errors"
	"slices"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/core"
)

func missingText(ms []app.Missing) []string {
	var out []string
	for _, m := range ms {
		for _, w := range m.Where {
			out = append(out, m.Name+": "+w.String())
		}
	}
	return out
}

func TestDockOrder(t *testing.T) {
	s := order41(t, "2026-12-03")
	fourPanels(s, "DOCK-1", "")
	s.Hold("H1", core.HoldPallet, "PAAAAAAA", "Scratched in transit", 0)
	s.Gone("CAAAAAAA", "SITE-LARKFIELD", 1, "PBBBBBBB")
	s.Pallet("PEEEEEEE", "INSPECT-1")
	s.Lot("PEEEEEEE", "DL-L", leaves, 1, "weld-inspect")
	s.Pallet("PFFFFFFF", "WELD-1")
	s.Lot("PFFFFFFF", "DS-L", leaves, 1, "")
	s.Lot("PFFFFFFF", "DF-STILE", leaves, 2, "fold")
	s.World.State.Nests["N9"] = core.Nest{ID: "N9", Parts: []core.NestPart{{No: 1, Item: s.Item("DF-RAIL"), Owner: leaves, Qty: 2}}}
	svc := (&apptest.Store{Floor: s}).Service(t)

	o, err := svc.DockOrder(context.Background(), "4117")
	if err != nil {
		t.Fatal(err)
	}
	var ready []core.PalletCode
	for _, p := range o.Ready {
		ready = append(ready, p.Code)
	}
	if !slices.Equal(ready, []core.PalletCode{"PCCCCCCC", "PDDDDDDD"}) {
		t.Errorf("ready: %v; the held one and the one gone are not", ready)
	}
	want := []string{
		"door leaf, left: 1 at the inspection bay, waits for weld inspection",
		"door leaf, left: 1 to be put together, which waits for:",
		"door leaf, left: 2 door stiles at weld bench 1, wait for folding",
		"door leaf, left: 2 door rails on a nest, not cut yet",
		"door leaf, left: 3 hinge backing plates nowhere: neither here nor on a nest",
	}
	if got := missingText(o.Missing); !slices.Equal(got, want) {
		t.Errorf("missing\ngot  %q\nwant %q", got, want)
	}
}

// A product without a route goes out as its components, so those are missing.
func TestDockProductShipsAsComponents(t *testing.T) {
	s := apptest.New(t)
	svc := (&apptest.Store{Floor: s}).Service(t)
	o, err := svc.DockOrder(context.Background(), "O-4104") // two ENC-2400
	if err != nil {
		t.Fatal(err)
	}
	asked := core.Deliverables(s.World.Book, s.Item("ENC-2400"), 2)
	if len(o.Missing) != len(asked) {
		t.Errorf("%d items missing, %d asked", len(o.Missing), len(asked))
	}
	for _, m := range o.Missing {
		if m.Count != asked[m.Item] {
			t.Errorf("%s: %d missing, %d asked", m.Name, m.Count, asked[m.Item])
		}
	}
	if o.Complete() {
		t.Error("an order with nothing made is complete")
	}
}

func TestDock(t *testing.T) {
	s := order41(t, "2026-11-19")
	fourPanels(s, "DOCK-1", "")
	s.World.State.Consignments["CAAAAAAA"] = core.Consignment{Code: "CAAAAAAA", Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: []core.PalletCode{"PAAAAAAA"}}
	s.Change("PAAAAAAA", func(p *core.PalletRow) { p.Consignment = "CAAAAAAA" })
	svc := (&apptest.Store{Floor: s}).Service(t)
	p, err := svc.Dock(context.Background(), app.DockQuery{})
	if err != nil {
		t.Fatal(err)
	}
	if p.Order == nil || p.Order.Order.No != "4117" || len(p.Order.Loaded) != 1 || len(p.Order.Ready) != 3 {
		t.Errorf("the first order of the list: %+v", p.Order)
	}
	if len(p.Trucks) != 1 || len(p.Sites) != 2 || p.Days[0].Date != "2026-11-19" {
		t.Errorf("trucks %v, sites %v, days %v", p.Trucks, p.Sites, p.Days)
	}
	p, err = svc.Dock(context.Background(), app.DockQuery{Truck: "CAAAAAAA"})
	if err != nil {
		t.Fatal(err)
	}
	if short := p.Truck.Short(); len(short) != 1 || short[0].Order.No != "4117" {
		t.Errorf("what would leave incomplete: %+v", short)
	}
	for _, q := range []app.DockQuery{{Order: "none"}, {Truck: "CZZZZZZZ"}} {
		if _, err := svc.Dock(context.Background(), q); !errors.Is(err, app.ErrNotFound) {
			t.Errorf("%+v: %v", q, err)
		}
	}
}
