package app

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"tagalong/internal/core"
)

// siteLots is how many lots at the sites one page reads.
const siteLots = 1000

// SitePage is what a fitter sees: what is on its way, what is at the sites by
// order, what is to go back, and one consignment or order in full.
type SitePage struct {
	AsOf     time.Time
	Name     string             // of the caller's site; empty: all sites are shown
	Coming   []core.Consignment // gone, not received
	Received []core.Consignment // the latest
	Orders   []SiteOrder        // with parts at a site, by promised date
	Back     []SiteReturn       // pallets with parts to go back to the shop
	Truck    *Mine              // the one looked at
	Order    *SiteOrder         // or this
	Set      SiteSet            // of Order
	Snags    []Snag             // of Order, latest first
	Returned *SiteReturn        // the pallet just sent back
}

// SiteQuery chooses what the fitters' page shows: Site those bound for, and at,
// one; Truck or Order what is shown in full, At where the order is; Back a
// pallet that parts were sent back on.
type SiteQuery struct {
	Site  core.StationID
	Truck core.ConsignmentCode
	Order string
	At    core.StationID
	Back  core.PalletCode
}

// Site reads the fitters' page. The error is ErrNotFound where the consignment
// or the order asked for is not known there.
func (s *Service) Site(ctx context.Context, q SiteQuery) (SitePage, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return SitePage{}, err
	}
	p := SitePage{AsOf: inZone(s.Clock(), b)}
	sites := []core.StationID{q.Site}
	if q.Site == "" {
		sites = siteIDs(b)
	} else {
		p.Name = stationName(b, q.Site)
	}
	if err := s.siteTrucks(ctx, q.Site, &p); err != nil {
		return p, err
	}
	if q.Truck != "" {
		m, err := s.Brought(ctx, q.Truck, "")
		p.Truck = &m
		return p, err
	}
	if p.Back, err = s.siteReturns(ctx, b, sites); err != nil {
		return p, err
	}
	if i := slices.IndexFunc(p.Back, func(r SiteReturn) bool { return r.Code == q.Back }); i >= 0 {
		p.Returned = &p.Back[i]
	}
	if p.Orders, err = s.siteOrders(ctx, b, sites); err != nil || q.At == "" {
		return p, err
	}
	i := slices.IndexFunc(p.Orders, func(o SiteOrder) bool { return o.No == q.Order && o.At == q.At })
	if i < 0 && p.Returned == nil { // with the last of it sent back, the pallet is still to be told of
		return p, ErrNotFound
	}
	if i < 0 {
		return p, nil
	}
	p.Order = &p.Orders[i]
	if p.Set, err = s.siteSet(ctx, p.Order.No, p.Order.At); err != nil || p.Order.No == "" {
		return p, err
	}
	all, err := s.SnagsOfOrder(ctx, p.Order.No)
	p.Snags = all.Snags
	return p, err
}

func siteIDs(b *core.Book) []core.StationID {
	var out []core.StationID
	for _, x := range dockSites(b) {
		out = append(out, x.ID)
	}
	return out
}

func (s *Service) siteTrucks(ctx context.Context, site core.StationID, p *SitePage) error {
	all, err := s.Store.Consignments(ctx, dockTrucks)
	if err != nil {
		return err
	}
	for _, c := range all {
		switch {
		case c.Gone.IsZero() || site != "" && !strings.EqualFold(c.Site, string(site)):
		case c.Received.IsZero():
			p.Coming = append(p.Coming, c)
		default:
			p.Received = append(p.Received, c)
		}
	}
	return nil
}

// SiteReturn is a pallet with parts that are to go back to the shop.
type SiteReturn struct {
	OrderPallet
	Site   string // name
	Orders []string
	Print  int // number of its newest print; 0: none
	Due    bool
}

// siteReturns lists the pallets that stand at the sites with parts on them.
func (s *Service) siteReturns(ctx context.Context, b *core.Book, sites []core.StationID) ([]SiteReturn, error) {
	var codes []core.PalletCode
	for _, site := range sites {
		there, err := s.Store.AtStation(ctx, site, Part{})
		if err != nil {
			return nil, err
		}
		for _, c := range there.Here {
			codes = append(codes, c.Code)
		}
	}
	if len(codes) == 0 {
		return nil, nil
	}
	w, err := s.look(ctx, core.Names{Pallets: codes})
	if err != nil {
		return nil, err
	}
	var out []SiteReturn
	for _, c := range codes {
		v := newPalletView(w, c)
		j := judgePrint(w, v.PalletRow, 0)
		r := SiteReturn{OrderPallet: v.OrderPallet, Site: stationName(b, v.PalletRow.Station), Print: j.Newest, Due: j.Due}
		for _, o := range v.Orders {
			r.Orders = append(r.Orders, o.No)
		}
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(x, y SiteReturn) int { return cmp.Or(x.Since.Compare(y.Since), cmp.Compare(x.Code, y.Code)) })
	return out, nil
}
