package shopgen

import (
	"fmt"
	"maps"
	"slices"

	"tagalong/internal/core"
)

// dockDeed loads a complete order, sends it off, and receives it at its site.
func (h *hands) dockDeed(o core.Order) deed {
	for _, code := range slices.Sorted(maps.Keys(h.state.Consignments)) {
		c := h.state.Consignments[code]
		if !h.carries(c, o.No) {
			continue
		}
		if d := h.truckDeed(c); d.do != nil {
			return d
		}
	}
	pallets := h.complete(o)
	if len(pallets) == 0 {
		return deed{}
	}
	return deed{about: o.No, do: func() error {
		h.pass(10, 20)
		site := o.Site
		if site == "" {
			site = o.Customer + ", own yard"
		}
		_, err := h.do(h.dock(), core.Load{Site: site, Day: h.today(), Pallets: pallets})
		return err
	}}
}

// truckDeed sends a consignment off, or receives it where it has come.
func (h *hands) truckDeed(c core.Consignment) deed {
	switch {
	case slices.ContainsFunc(c.Pallets, h.apart):
		return deed{}
	case c.Gone.IsZero():
		return deed{about: string(c.Code), do: func() error {
			h.pass(10, 20)
			_, err := h.do(h.dock(), core.Ship{Consignment: c.Code, Vehicle: h.plate(), HandedTo: core.SignedOnPaper}, crew[h.dock()][1])
			return err
		}}
	case c.Received.IsZero() && h.clock.Now().Sub(c.Gone) > h.road:
		site := core.StationID(c.Site)
		if !h.book.Stations[site].Site {
			return deed{}
		}
		return deed{about: string(c.Code), do: func() error {
			h.pass(10, 30)
			_, err := h.do(site, core.ReceiveAtSite{Consignment: c.Code, Note: "all pallets whole"}, crew[site][0])
			return err
		}}
	}
	return deed{}
}

// carries reports whether a consignment took pallets of an order.
func (h *hands) carries(c core.Consignment, no string) bool {
	for _, l := range h.lotsOf(no) {
		if l.Place.Kind == core.InConsignment && l.Place.Ref == string(c.Code) ||
			l.Place.Kind == core.OnPallet && slices.Contains(c.Pallets, core.PalletCode(l.Place.Ref)) {
			return true
		}
	}
	return false
}

// complete lists the pallets of an order that is packed as a whole and not
// loaded; none where anything is missing.
func (h *hands) complete(o core.Order) []core.PalletCode {
	pallets := map[core.PalletCode]bool{}
	for _, line := range o.Lines {
		want := core.Deliverables(h.book, line.Item, line.Qty)
		for _, l := range h.lotsOf(o.No) {
			if l.Owner != line.Owner {
				continue
			}
			switch l.Place.Kind {
			case core.InConsignment, core.AtSite:
				want[l.Item] -= l.Qty
			case core.OnPallet:
				if code := core.PalletCode(l.Place.Ref); h.ready(code) {
					want[l.Item] -= l.Qty
					pallets[code] = true
				}
			}
		}
		for _, n := range want {
			if n > 0 {
				return nil
			}
		}
	}
	return slices.Sorted(maps.Keys(pallets))
}

// ready reports whether a pallet stands packed at the dock, nothing on it held.
func (h *hands) ready(code core.PalletCode) bool {
	row := h.state.Pallets[code]
	if row.Station != h.dock() || row.Bound != "" || row.Consignment != "" || h.apart(code) {
		return false
	}
	for _, l := range h.lots(code) {
		_, held := core.HeldBy(h.state, l)
		if held || l.Facts.At(core.Fact{Name: core.IsPacked}, h.clock.Now()) != core.Yes {
			return false
		}
	}
	return true
}

func (h *hands) dock() core.StationID {
	for _, id := range slices.Sorted(maps.Keys(h.book.Stations)) {
		if h.book.Stations[id].Dock {
			return id
		}
	}
	return ""
}

// plate is an invented registration that no country issues.
func (h *hands) plate() string { return fmt.Sprintf("LARK %03d", h.rng.IntN(1000)) }
