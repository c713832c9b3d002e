package app

import (
	"cmp"
	"context"
	"slices"
	"time"

	"tagalong/internal/core"
)

// SiteReach is how far parts have come at their site.
type SiteReach int

// The reaches, in order of work.
const (
	SiteReceived SiteReach = iota // in their packing
	SiteUnpacked
	SiteFitted
	SiteAccepted
)

func siteReach(l *core.Lot, now time.Time) SiteReach {
	yes := func(name string) bool { return l.Facts.At(core.Fact{Name: name}, now) == core.Yes }
	switch {
	case yes(core.IsAtClient):
		return SiteAccepted
	case yes(core.IsFitted):
		return SiteFitted
	case yes(core.IsUnpacked):
		return SiteUnpacked
	}
	return SiteReceived
}

// siteWords say how far parts have come at their site.
var siteWords = map[SiteReach]string{
	SiteReceived: "not unpacked yet", SiteUnpacked: "unpacked", SiteFitted: "fitted out", SiteAccepted: "accepted",
}

// SiteText says how far a lot has come at its site: "fitted out".
func SiteText(r SiteReach) string { return siteWords[r] }

// Return says whether parts on a pallet were sent back from their site.
type Return int

// The returns.
const (
	NotReturned Return = iota
	ToComeBack         // they still stand at the site
	CameBack
)

func returnOf(w *core.World, l *core.Lot) Return {
	switch {
	case l.Place.Kind != core.OnPallet || l.Facts.At(core.Fact{Name: core.IsReturned}, w.Now) != core.Yes:
		return NotReturned
	case w.Book.Stations[w.State.Pallets[core.PalletCode(l.Place.Ref)].Station].Site:
		return ToComeBack
	}
	return CameBack
}

// aside tells of parts spoken of that they came back.
func (r Return) aside() string {
	if r == CameBack {
		return ", sent back from the site,"
	}
	return ""
}

// SiteOrder is what of one order is at one site.
type SiteOrder struct {
	core.Order // only the number where it is not known; empty: of no order
	At         core.StationID
	Name       string // of the site
	Trucks     []SiteTruck
}

// SiteTruck is what came on one consignment and is still at the site. A
// consignment without a code: nothing is on record of how it came.
type SiteTruck struct {
	core.Consignment
	Lots []SiteLot
}

// SiteLot is one lot at a site.
type SiteLot struct {
	core.Lot
	Name   string
	Pallet core.PalletCode // it came on
	Reach  SiteReach
}

// Counts are the parts at each reach.
func (o SiteOrder) Counts() [4]int {
	var out [4]int
	for _, t := range o.Trucks {
		for _, l := range t.Lots {
			out[l.Reach] += l.Qty
		}
	}
	return out
}

// Emptied lists the pallets the order's parts came on from which all of them
// are unpacked: those may carry parts back.
func (o SiteOrder) Emptied() []core.PalletCode {
	full := map[core.PalletCode]bool{}
	var out []core.PalletCode
	for _, t := range o.Trucks {
		for _, l := range t.Lots {
			full[l.Pallet] = full[l.Pallet] || l.Reach == SiteReceived
			if l.Pallet != "" && !slices.Contains(out, l.Pallet) {
				out = append(out, l.Pallet)
			}
		}
	}
	return slices.DeleteFunc(out, func(p core.PalletCode) bool { return full[p] })
}

// siteOrders reads what is at sites, by order and consignment, the earliest
// promised order first.
func (s *Service) siteOrders(ctx context.Context, b *core.Book, sites []core.StationID) ([]SiteOrder, error) {
	lots, err := s.Store.AtSites(ctx, sites, siteLots)
	if err != nil || len(lots) == 0 {
		return nil, err
	}
	var events []core.EventID
	var nos []string
	for _, l := range lots {
		if e := sentBy(l); !slices.Contains(events, e) {
			events = append(events, e)
		}
		if no := l.Owner.Order; no != "" && !slices.Contains(nos, no) {
			nos = append(nos, no)
		}
	}
	sent, err := s.sendings(ctx, nil, events)
	if err != nil {
		return nil, err
	}
	var trucks []core.ConsignmentCode
	for _, x := range sent {
		trucks = append(trucks, x.Consignment)
	}
	w, err := s.look(ctx, core.Names{Orders: nos, Consignments: trucks})
	if err != nil {
		return nil, err
	}
	var out []SiteOrder
	for _, l := range lots {
		out = addAtSite(out, w, sent, l)
	}
	for i := range out {
		slices.SortStableFunc(out[i].Trucks, func(x, y SiteTruck) int { return x.Received.Compare(y.Received) })
	}
	slices.SortStableFunc(out, func(x, y SiteOrder) int {
		return cmp.Or(cmp.Compare(x.Promised, y.Promised), cmp.Compare(x.No, y.No), cmp.Compare(x.At, y.At))
	})
	return out, nil
}

// addAtSite puts a lot under its order, site and consignment.
func addAtSite(out []SiteOrder, w core.World, sent []sending, l core.Lot) []SiteOrder {
	no, at := l.Owner.Order, core.StationID(l.Place.Ref)
	i := slices.IndexFunc(out, func(o SiteOrder) bool { return o.No == no && o.At == at })
	if i < 0 {
		o := w.State.Orders[no]
		o.No = no
		i, out = len(out), append(out, SiteOrder{Order: o, At: at, Name: stationName(w.Book, at)})
	}
	o := &out[i]
	from, on := cameOn(sent, l)
	j := slices.IndexFunc(o.Trucks, func(t SiteTruck) bool { return t.Code == from.Consignment })
	if j < 0 {
		j, o.Trucks = len(o.Trucks), append(o.Trucks, SiteTruck{Consignment: w.State.Consignments[from.Consignment]})
	}
	o.Trucks[j].Lots = append(o.Trucks[j].Lots, SiteLot{l, itemName(w.Book, l.Item), on.Pallet, siteReach(&l, w.Now)})
	return out
}
