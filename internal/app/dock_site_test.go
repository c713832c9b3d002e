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

// larkfield is a shop whose order has one panel on its way, one received and
// one fitted out at the site.
func larkfield(t *testing.T) (*apptest.Floor, *app.Service) {
	s := order41(t, "2026-11-19")
	fourPanels(s, "DOCK-1", "")
	s.Gone("CAAAAAAA", "SITE-LARKFIELD", 2, "PAAAAAAA", "PBBBBBBB")
	s.Received("CAAAAAAA", 20)
	s.ChangeLot("L002", func(l *core.Lot) {
		for _, f := range []string{core.IsUnpacked, core.IsFitted} {
			l.Facts[core.Fact{Name: f}] = core.Standing{Value: core.Yes}
		}
	})
	s.Gone("CBBBBBBB", "SITE-LARKFIELD", 1, "PCCCCCCC")
	return s, (&apptest.Store{Floor: s}).Service(t)
}

func TestSite(t *testing.T) {
	s, svc := larkfield(t)
	p, err := svc.Site(context.Background(), app.SiteQuery{Site: "SITE-LARKFIELD", Order: "4117", At: "SITE-LARKFIELD"})
	if err != nil || len(p.Coming) != 1 || p.Coming[0].Code != "CBBBBBBB" || len(p.Received) != 1 {
		t.Fatalf("%+v, %v", p, err)
	}
	if p.Order == nil || p.Order.Customer != hospital || p.Order.Counts() != [4]int{1, 0, 1, 0} {
		t.Fatalf("at the site: %+v", p.Order)
	}
	if n := len(p.Order.Trucks); n != 1 || p.Order.Trucks[0].Code != "CAAAAAAA" || p.Order.Trucks[0].Lots[0].Pallet != "PAAAAAAA" {
		t.Errorf("how it came: %+v", p.Order.Trucks)
	}
	if got := p.Order.Emptied(); !slices.Equal(got, []core.PalletCode{"PBBBBBBB"}) {
		t.Errorf("emptied %v: a pallet is empty once all on it is unpacked", got)
	}

	// The consignment is told as it left, though a pallet of it goes back with something else.
	s.Change("PBBBBBBB", func(row *core.PalletRow) { row.Consignment, row.Station = "", "SITE-LARKFIELD" })
	back := s.Lot("PBBBBBBB", "WP-2400", panels, 1, "pack")
	s.ChangeLot(back, func(l *core.Lot) { l.Facts[core.Fact{Name: core.IsReturned}] = core.Standing{Value: core.Yes} })
	s.Problem("N1", back, 1, "return", "SITE-LARKFIELD", "corner dented", 0)
	p, err = svc.Site(context.Background(), app.SiteQuery{Truck: "CAAAAAAA"})
	if err != nil || p.Truck == nil || len(p.Truck.Boxes) != 2 {
		t.Fatalf("%+v, %v", p.Truck, err)
	}
	if on := p.Truck.Boxes[1]; on.State != app.BoxCame || len(on.Listed) != 1 || on.Listed[0].Lot != "L002" || len(on.Parts) > 0 {
		t.Errorf("on the second pallet: %+v", on)
	}
	p, err = svc.Site(context.Background(), app.SiteQuery{Back: "PBBBBBBB"})
	if err != nil || p.Returned == nil || len(p.Back) != 1 {
		t.Fatalf("to go back: %+v, %v", p.Back, err)
	}
	if r := p.Back[0]; r.Site != "fitting site, Larkfield" || !slices.Equal(r.Orders, []string{"4117"}) || !r.Due || r.Lots[0].Why != "corner dented" ||
		r.Place != "at the fitting site, Larkfield, to go back to the shop" {
		t.Errorf("to go back: %+v", r)
	}
	if _, err := svc.Site(context.Background(), app.SiteQuery{Order: "none", At: "SITE-LARKFIELD"}); !errors.Is(err, app.ErrNotFound) {
		t.Errorf("an order that is not there: %v", err)
	}
	if p, err := svc.Site(context.Background(), app.SiteQuery{Site: "SITE-FARNESS"}); err != nil || len(p.Coming)+len(p.Orders)+len(p.Back) != 0 {
		t.Errorf("the other site: %+v, %v", p, err)
	}
}
