package apptest

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// AtStation lists pallets at the station and those bound for it.
func (s *Store) AtStation(_ context.Context, at core.StationID, part app.Part) (out app.Standing, err error) {
	for _, p := range s.World.State.Pallets {
		c, ok := s.palletCard(p)
		switch {
		case !ok:
		case p.Bound == at:
			out.Coming = append(out.Coming, c)
		case p.Station == at && p.Bound == "":
			out.Here = append(out.Here, c)
		}
	}
	slices.SortFunc(out.Here, byPromise)
	slices.SortFunc(out.Coming, byPromise)
	out.HereAll, out.ComingAll = len(out.Here), len(out.Coming)
	return out.Part(part), s.Fault
}

func byPromise(a, b app.PalletCard) int {
	return cmp.Or(cmp.Compare(a.Promised, b.Promised), strings.Compare(string(a.Code), string(b.Code)))
}

// InSlot lists what stands in a slot of a store.
func (s *Store) InSlot(_ context.Context, at core.StationID, slot string) ([]app.PalletCard, error) {
	var out []app.PalletCard
	for _, p := range s.World.State.Pallets {
		if c, ok := s.palletCard(p); ok && p.Slot == slot && p.Bound == "" && (p.Station == at || p.Station == "") {
			out = append(out, c)
		}
	}
	slices.SortFunc(out, byPromise)
	return out, s.Fault
}

// Pallets lists the pallets that carry something, by code.
func (s *Store) Pallets(_ context.Context, limit int) ([]app.PalletCard, error) {
	var out []app.PalletCard
	for _, p := range s.World.State.Pallets {
		if c, ok := s.palletCard(p); ok {
			out = append(out, c)
		}
	}
	slices.SortFunc(out, func(a, b app.PalletCard) int { return strings.Compare(string(a.Code), string(b.Code)) })
	return out[:min(len(out), limit)], s.Fault
}

func (s *Store) palletCard(p core.PalletRow) (app.PalletCard, bool) {
	lots := s.World.State.LotsAt(core.On(p.Code))
	c := app.PalletCard{Code: p.Code, Kind: p.Kind, Label: p.Label, Station: p.Station, Bound: p.Bound, Slot: p.Slot, Since: p.Since, Lots: len(lots)}
	slices.SortStableFunc(lots, func(a, b core.Lot) int { return b.Qty - a.Qty })
	for _, l := range lots {
		c.Parts += l.Qty
		if n := s.World.Book.Items[l.Item].Name; !slices.Contains(c.Names, n) {
			c.Names = append(c.Names, n)
		}
		if l.Owner.Order != "" && !slices.Contains(c.Orders, l.Owner.Order) {
			c.Orders = append(c.Orders, l.Owner.Order)
		}
		if c.Promised == "" || l.Promised.Before(c.Promised) {
			c.Promised, c.Customer = l.Promised, s.World.State.Orders[l.Owner.Order].Customer
		}
		if next := core.NextSteps(s.World.Book, l); len(next) > 0 && c.NextStage == "" {
			c.NextStage = next[0].Stage
		}
		_, held := core.HeldBy(s.World.State, l)
		c.Held = c.Held || held
		c.Begun = c.Begun || l.Started != nil
	}
	return c, len(lots) > 0
}
