package app

import (
	"context"
	"maps"
	"slices"

	"tagalong/internal/core"
)

// Kit reports whether the unit is a kit: bought goods gathered and checked at the
// dock, not parts joined at a bench.
func (v BuildView) Kit() bool { return v.Revision.Kind == core.KitItem }

// withStock adds the stock at a station to what was read of an order: units take
// from it what the order's own parts don't cover.
func withStock(w *core.World, near core.World, at core.StationID) {
	for _, l := range stockAt(near.State, at) {
		w.State.Lots[l.ID] = l
		code := core.PalletCode(l.Place.Ref)
		w.State.Pallets[code] = near.State.Pallets[code]
	}
	maps.Copy(w.State.Holds, near.State.Holds)
	maps.Copy(w.State.Problems, near.State.Problems)
}

// kitsAt lists the kits a station could make up of the stock there, for open
// orders beside those named: bought goods belong to no order, so that no pallet
// here says whose kit they are for.
func (s *Service) kitsAt(ctx context.Context, st core.Station, near core.World, but []string) ([]BuildView, error) {
	kits := kitsOf(near.Book, st, stockAt(near.State, st.ID))
	if len(kits) == 0 {
		return nil, nil
	}
	cards, err := s.Store.Docket(ctx, dockOrders)
	if err != nil {
		return nil, err
	}
	names := core.Names{Near: true}
	for _, c := range cards {
		asks := slices.ContainsFunc(c.Lines, func(l core.OrderLine) bool {
			asked := core.Asked(near.Book, c.Order, l.Line)
			return slices.ContainsFunc(kits, func(k core.ItemRev) bool { return asked[k] > 0 })
		})
		if asks && !slices.Contains(but, c.No) {
			names.Orders = append(names.Orders, c.No)
		}
	}
	if len(names.Orders) == 0 {
		return nil, nil
	}
	w, err := s.World(ctx, names, st.ID)
	if err != nil {
		return nil, err
	}
	var out []BuildView
	for _, no := range names.Orders {
		out = append(out, slices.DeleteFunc(unitsOf(w, no, st, nil), func(v BuildView) bool { return !v.Kit() })...)
	}
	return out, nil
}

// kitsOf lists the kits a station makes up that one of the lots could go into.
func kitsOf(b *core.Book, st core.Station, lots []core.Lot) []core.ItemRev {
	var out []core.ItemRev
	for ref, rev := range b.Items {
		steps := b.Routes[rev.Route].Steps
		if rev.Kind != core.KitItem || len(steps) == 0 || !st.Does(steps[0].Stage) || !builds(b, steps[0].Stage) {
			continue
		}
		if slices.ContainsFunc(rev.Bill, func(c core.Component) bool {
			return slices.ContainsFunc(lots, func(l core.Lot) bool { return l.Item == c.Item })
		}) {
			out = append(out, ref)
		}
	}
	return out
}

// palletsSearched is how many live pallets are looked over for bought goods.
const palletsSearched = 2000

// findBought says where in the shop the bought goods are that a unit lacks.
func (s *Service) findBought(ctx context.Context, v *BuildView, at core.StationID) error {
	b, err := s.Store.Book(ctx)
	if err != nil {
		return err
	}
	lacks := map[string]*BuildLine{}
	for i := range v.Lines {
		if l := &v.Lines[i]; l.Short() > 0 && b.Items[l.Item].Kind == core.BoughtItem {
			lacks[l.Name] = l
		}
	}
	if len(lacks) == 0 {
		return nil
	}
	cards, err := s.Store.Pallets(ctx, palletsSearched)
	if err != nil {
		return err
	}
	var names core.Names
	for _, c := range cards {
		elsewhere := c.Station != at || c.Bound != ""
		if elsewhere && slices.ContainsFunc(c.Names, func(n string) bool { return lacks[n] != nil }) {
			names.Pallets = append(names.Pallets, c.Code)
		}
	}
	if len(names.Pallets) == 0 {
		return nil
	}
	w, err := s.World(ctx, names, at)
	if err != nil {
		return err
	}
	x := needing{drawing: &drawing{w: w}}
	today := core.DateOf(inZone(w.Now, w.Book))
	for _, lot := range sortedLots(w.State, "") {
		l := lacks[itemName(w.Book, lot.Item)]
		if l == nil || l.Item != lot.Item || lot.Place.Kind != core.OnPallet || !slices.Contains(names.Pallets, core.PalletCode(lot.Place.Ref)) ||
			lot.Expires.Before(today) {
			continue
		}
		there := orderLot(w, lot)
		spot := x.spot(&there)
		spot.Stage = "" // packed only where they travel by themselves
		l.Not = append(l.Not, spot)
	}
	return nil
}
