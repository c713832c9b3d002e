package app

import (
	"context"
	"maps"
	"slices"

	"tagalong/internal/core"
)

// OrderPrints is an order with the pallets that carry parts of it and are in the
// shop or on a truck that hasn't left, by their codes.
type OrderPrints struct {
	Order   core.Order
	Pallets []PalletPrint
}

// PalletPrint is a pallet and what its newest traveller is worth.
type PalletPrint struct {
	Code    core.PalletCode
	Place   string   // "at weld bench 2, slot C4"
	Newest  int      // number of its newest print; 0: never printed
	Changes []string // since then: "wall panel: 20 became 15"
}

// Due reports whether the pallet needs another print.
func (p PalletPrint) Due() bool { return p.Newest == 0 || len(p.Changes) > 0 }

// Due counts the pallets that need another print.
func (o OrderPrints) Due() int {
	n := 0
	for _, p := range o.Pallets {
		if p.Due() {
			n++
		}
	}
	return n
}

// OrderPrints tells of the travellers of an order; ErrNotFound where there is no
// such order.
func (s *Service) OrderPrints(ctx context.Context, no string) (OrderPrints, error) {
	w, err := s.Store.ReadCarriers(ctx, no)
	if err != nil {
		return OrderPrints{}, err
	}
	if w.Book == nil {
		if w.Book, err = s.Book(ctx); err != nil {
			return OrderPrints{}, err
		}
	}
	carries := map[core.PalletCode]bool{}
	for _, l := range w.State.Lots {
		if l.Owner.Order == no && l.Place.Kind == core.OnPallet && l.Qty > 0 {
			carries[core.PalletCode(l.Place.Ref)] = true
		}
	}
	now, stale := inZone(s.Clock(), w.Book), core.StalePrints(w.State, w.Book)
	out := OrderPrints{Order: w.State.Orders[no], Pallets: make([]PalletPrint, 0, len(carries))}
	for _, code := range slices.Sorted(maps.Keys(carries)) {
		row := w.State.Pallets[code]
		p := PalletPrint{Code: code, Place: palletPlace(w, row, now), Changes: stale[code]}
		if n := len(row.Prints); n > 0 {
			p.Newest = row.Prints[n-1].No
		}
		out.Pallets = append(out.Pallets, p)
	}
	return out, nil
}
