package app

import (
	"cmp"
	"context"
	"slices"
	"time"

	"tagalong/internal/core"
)

// carriersOut is how many consignments with carriers still out the dock lists.
const carriersOut = 40

// CarriersDue is how long carriers of the shop's own may be away before the dock
// is reminded to ask for them. Common practice, no source: two weeks.
const CarriersDue = 14 * 24 * time.Hour

// CarriersAway is what of the shop's own a consignment took and has not brought
// back.
type CarriersAway struct {
	core.Consignment
	SiteName string
	Since    time.Time // in the shop's zone
	Due      bool      // away for longer than [CarriersDue]
}

func (s *Service) carriersAway(ctx context.Context, b *core.Book) ([]CarriersAway, error) {
	found, err := s.Store.CarriersOut(ctx, carriersOut)
	if err != nil {
		return nil, err
	}
	var out []CarriersAway
	for _, c := range found {
		out = append(out, CarriersAway{
			Consignment: c, SiteName: siteName(b, c.Site), Since: inZone(c.Gone, b), Due: s.Clock().Sub(c.Gone) > CarriersDue,
		})
	}
	return out, nil
}

// TruckLoad is a truck's carriers in the order they are placed on it, and what
// they weigh together by the drawings: no carrier and no packaging is counted.
type TruckLoad struct {
	Order   []StowedPallet
	Mass    float64           // kg, of those whose mass is known
	Unknown []core.PalletCode // those whose is not
}

// StowedPallet is one carrier with its place in the load.
type StowedPallet struct {
	OrderPallet
	No     int     // 1 goes on first
	Mass   float64 // kg, of the parts; 0: not known
	Gross  float64 // kg, as it was weighed; 0: it was not
	Orders []string
	Length float64 // mm, of its longest part as cut flat; 0: not known
	Width  float64
}

// loadOf says in what order a truck's pallets are placed on it. Where it goes to
// one site only, there is one drop; else the nearest site is unloaded first.
func loadOf(b *core.Book, v ConsignmentView, orders []DockOrder) TruckLoad {
	drops := dropOrder(b, orders)
	var out TruckLoad
	var stowed []core.Stowed
	by := map[core.PalletCode]StowedPallet{}
	for _, p := range v.Pallets {
		x := StowedPallet{OrderPallet: p, Mass: LotsMass(b, p.Lots), Gross: v.GrossOf(p.Code)}
		drop := 0
		for _, l := range p.Lots {
			if no := l.Owner.Order; no != "" && !slices.Contains(x.Orders, no) {
				x.Orders = append(x.Orders, no)
			}
			drop = max(drop, drops[l.Owner.Order])
			length, width := flatSize(b, l.Item, 0)
			x.Length, x.Width = max(x.Length, length), max(x.Width, width)
		}
		slices.Sort(x.Orders)
		by[p.Code] = x
		stowed = append(stowed, core.Stowed{Pallet: p.Code, Kind: p.Kind, Drop: drop, Mass: cmp.Or(x.Gross, x.Mass)})
		if out.Mass += x.Mass; x.Mass == 0 {
			out.Unknown = append(out.Unknown, p.Code)
		}
	}
	for i, s := range core.LoadOrder(stowed) {
		x := by[s.Pallet]
		x.No = i + 1
		out.Order = append(out.Order, x)
	}
	return out
}

// flatSize is the longer and the shorter side of the largest blank in an item,
// mm: what it is folded and welded to is no larger than its parts laid flat, side
// by side, but may be larger than any one of them.
func flatSize(b *core.Book, item core.ItemRev, depth int) (length, width float64) {
	rev := b.Items[item]
	length, width = max(rev.Length, rev.Width), min(rev.Length, rev.Width)
	if depth > 20 || length > 0 {
		return length, width
	}
	for _, c := range rev.Bill {
		l, w := flatSize(b, c.Item, depth+1)
		length, width = max(length, l), max(width, w)
	}
	return length, width
}

// dropOrder numbers the sites of orders as they are unloaded: nearest first,
// then as the shop lists its sites.
func dropOrder(b *core.Book, orders []DockOrder) map[string]int {
	var sites []string
	for _, o := range orders {
		if !slices.Contains(sites, o.Order.Site) {
			sites = append(sites, o.Order.Site)
		}
	}
	slices.SortFunc(sites, func(x, y string) int {
		a, c := b.Stations[core.StationID(x)], b.Stations[core.StationID(y)]
		return cmp.Or(cmp.Compare(a.Km, c.Km), cmp.Compare(a.Order, c.Order), cmp.Compare(x, y))
	})
	out := map[string]int{}
	for _, o := range orders {
		out[o.Order.No] = slices.Index(sites, o.Order.Site) + 1
	}
	return out
}

// LotsMass is the mass of lots in kilograms, by the drawings; 0 where that of one
// of them is not known.
func LotsMass(b *core.Book, lots []OrderLot) float64 {
	sum := 0.0
	for _, l := range lots {
		each := MassOf(b, l.Item)
		if each == 0 {
			return 0
		}
		sum += each * float64(l.Qty)
	}
	return sum
}

// PackingOfLots lists what the way to an order's site asks of any of some lots,
// in the order of the table.
func PackingOfLots(b *core.Book, o core.Order, lots []core.Lot) []core.Packing {
	var out []core.Packing
	for _, p := range core.Packings() {
		if slices.ContainsFunc(lots, func(l core.Lot) bool {
			return slices.ContainsFunc(core.PackingFor(b, o, l), func(x core.Packing) bool { return x.ID == p.ID })
		}) {
			out = append(out, p)
		}
	}
	return out
}

// packingOf is what the way asks of all that an order delivers.
func packingOf(b *core.Book, o core.Order) []core.Packing {
	var lots []core.Lot
	for _, line := range o.Lines {
		for item := range core.Deliverables(b, line.Item, line.Qty) {
			lots = append(lots, core.Lot{Item: item})
		}
	}
	return PackingOfLots(b, o, lots)
}
