package shopgen

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"tagalong/internal/app"
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
			if _, err := h.do(h.dock(), core.Weigh{Consignment: c.Code, Gross: h.scale(c)}); err != nil {
				return err
			}
			_, err := h.do(h.dock(), core.Ship{Consignment: c.Code, Vehicle: h.plate(), HandedTo: core.SignedOnPaper, Carriers: h.lent(c)}, crew[h.dock()][1])
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

// scale is what carriers show on it: their parts by the drawings and a pallet of
// 25 kg with its packaging (invented, as all of the shop is).
func (h *hands) scale(c core.Consignment) []core.GrossMass {
	const pallet = 25
	var out []core.GrossMass
	for _, code := range c.Pallets {
		kg := 0.0
		for _, l := range h.lots(code) {
			kg += app.MassOf(h.book, l.Item) * float64(l.Qty)
		}
		out = append(out, core.GrossMass{Pallet: code, Kg: math.Ceil(2*(kg+pallet)) / 2})
	}
	return out
}

// lent is what of the shop's own a truck takes along: long loads stand in
// stillages, the others on pallets.
func (h *hands) lent(c core.Consignment) []core.CarrierCount {
	kind := core.ReturnPallet
	if core.JourneyOf(h.book, core.Order{Site: c.Site}).Haul == core.LongHaul {
		kind = core.ReturnStillage
	}
	n := 0
	for _, code := range c.Pallets {
		if h.state.Pallets[code].Kind != core.BoxCarrier {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	return []core.CarrierCount{{Kind: kind, Count: n}}
}

// homeDeed counts in carriers that a truck brings back from where one went long
// enough before. Of three consignments one's all come back, one's but for one,
// and one's stay away.
func (h *hands) homeDeed(all []core.Consignment) deed {
	for _, c := range all {
		came := c.Owed()
		since := c.Received
		if !h.book.Stations[core.StationID(c.Site)].Site {
			since = c.Gone
		}
		if len(came) == 0 || len(c.Back) > 0 || since.IsZero() || h.clock.Now().Sub(since) < h.home {
			continue
		}
		switch kept := c.Code[len(c.Code)-1] % 3; {
		case kept == 0:
			continue
		case kept == 1 && came[0].Count > 1:
			came[0].Count--
		}
		return deed{about: string(c.Code), do: func() error {
			_, err := h.do(h.dock(), core.TakeBack{Consignment: c.Code, Carriers: came, Note: "on the truck that came back"})
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
