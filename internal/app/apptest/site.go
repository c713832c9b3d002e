package apptest

import (
	"context"
	"slices"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// Snags lists the problems found at a site on the lots named.
func (s *Store) Snags(_ context.Context, lots []core.LotID, since time.Time, limit int) ([]app.SnagEntry, error) {
	var out []app.SnagEntry
	for _, p := range s.World.State.Problems {
		if slices.Contains(lots, p.Lot) && !p.At.Before(since) && (p.Stage == "receive" || p.Stage == "return") {
			out = append(out, app.SnagEntry{RegisterEntry: app.RegisterEntry{Problem: p, Lot: s.World.State.Lots[p.Lot]}})
		}
	}
	slices.SortFunc(out, func(a, b app.SnagEntry) int { return b.Problem.At.Compare(a.Problem.At) })
	return out[:min(len(out), limit)], s.Fault
}

// OrderSnags lists the problems found at a site on an order's lots.
func (s *Store) OrderSnags(ctx context.Context, order string, limit int) ([]app.SnagEntry, error) {
	var lots []core.LotID
	for id, l := range s.World.State.Lots {
		if l.Owner.Order == order {
			lots = append(lots, id)
		}
	}
	return s.Snags(ctx, lots, time.Time{}, limit)
}

// SiteLinks lists none: a caller bears what the test says.
func (s *Store) SiteLinks(context.Context, core.ConsignmentCode) ([]app.SiteLink, error) {
	return nil, s.Fault
}

// SnagsOf lists the orders' snags.
func (s *Store) SnagsOf(_ context.Context, orders []string, limit int) ([]core.Snag, error) {
	var out []core.Snag
	for _, x := range s.World.State.Snags {
		if slices.Contains(orders, x.Order) {
			out = append(out, x)
		}
	}
	slices.SortFunc(out, func(a, b core.Snag) int { return b.At.Compare(a.At) })
	return out[:min(len(out), limit)], s.Fault
}
