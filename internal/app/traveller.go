package app

import (
	"context"

	"tagalong/internal/core"
)

// Letter names the lots of a pallet in their order, from 0, as its traveller
// and the tablets do: A, B, … Z, AA, AB.
func Letter(i int) string { return letter(i) }

// Lots reads lots by id, whatever became of them.
func (s *Service) Lots(ctx context.Context, ids []core.LotID) ([]core.Lot, error) {
	return s.Store.Lots(ctx, ids)
}

// Events lists what happened to a pallet, a lot (by descent) or an order, as it
// was recorded, oldest first.
func (s *Service) Events(ctx context.Context, q HistoryQuery) ([]Recorded, error) {
	return s.Store.History(ctx, q)
}

// LotEvents is Events of each of several lots, the latest HistoryLimit of each.
func (s *Service) LotEvents(ctx context.Context, lots []core.LotID) (map[core.LotID][]Recorded, error) {
	return s.Store.LotHistories(ctx, lots, HistoryLimit)
}
