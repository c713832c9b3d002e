package app

import (
	"context"
	"strings"
	"time"

	"tagalong/internal/core"
)

// SitePage is what a fitter sees: what is on its way to the sites, and one
// consignment in full.
type SitePage struct {
	AsOf     time.Time
	Coming   []core.Consignment // gone, not received
	Received []core.Consignment // the latest
	Truck    *ConsignmentView
}

// Site reads the fitters' page; site chooses those bound for one, truck the one
// shown in full.
func (s *Service) Site(ctx context.Context, site string, truck core.ConsignmentCode) (SitePage, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return SitePage{}, err
	}
	p := SitePage{AsOf: inZone(s.Clock(), b)}
	all, err := s.Store.Consignments(ctx, dockTrucks)
	if err != nil {
		return p, err
	}
	for _, c := range all {
		switch {
		case c.Gone.IsZero() || site != "" && !strings.EqualFold(c.Site, site):
		case c.Received.IsZero():
			p.Coming = append(p.Coming, c)
		default:
			p.Received = append(p.Received, c)
		}
	}
	if truck == "" {
		return p, nil
	}
	p.Truck, err = s.consignment(ctx, truck)
	return p, err
}

// consignment reads one consignment with its pallets; ErrNotFound where its
// code is not known.
func (s *Service) consignment(ctx context.Context, c core.ConsignmentCode) (*ConsignmentView, error) {
	w, err := s.look(ctx, core.Names{Consignments: []core.ConsignmentCode{c}})
	if err != nil {
		return nil, err
	}
	if w.State == nil || w.State.Consignments[c].Code == "" {
		return nil, ErrNotFound
	}
	v := newConsignmentView(w, c)
	return &v, nil
}
