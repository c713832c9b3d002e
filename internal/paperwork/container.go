package paperwork

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
)

// Containers is what container labels are filled in from.
type Containers interface {
	Book(ctx context.Context) (*core.Book, error)
	Shop(ctx context.Context) (app.Shop, error)
	DockTruck(ctx context.Context, c core.ConsignmentCode) (*app.DockTruck, error)
	DockOrder(ctx context.Context, no string) (app.DockOrder, error)
}

// handling are the marks of every container: coated panels and kits are packed
// to stand upright, dry and unstruck (common practice, no source).
var handling = []paper.Mark{paper.Fragile, paper.ThisWayUp, paper.KeepDry}

// ContainerLabels fills in the label of each pallet and box of a consignment,
// numbered in the order they were loaded and put together by order; with only
// named, that one's alone.
// The error is app.ErrNotFound for a consignment there isn't, one with nothing
// on it, or one without the pallet named.
func ContainerLabels(ctx context.Context, from Containers, truck core.ConsignmentCode, only core.PalletCode) ([]paper.ContainerLabel, error) {
	t, err := from.DockTruck(ctx, truck)
	if err != nil {
		return nil, err
	}
	b, errBook := from.Book(ctx)
	shop, errShop := from.Shop(ctx)
	if err := errors.Join(errBook, errShop); err != nil {
		return nil, err
	}
	var out []paper.ContainerLabel
	for i, p := range t.Pallets {
		if only != "" && p.Code != only {
			continue
		}
		l := container(b, shop, p)
		l.Consignment, l.No, l.Of = code.Code(t.Code).Spaced(), i+1, len(t.Pallets)
		l.Site, l.Leaves, l.GrossKg = t.Site, t.Day.Time(b.Zone), t.GrossOf(p.Code)
		numberOrders(l.Orders, t.Pallets, p.Code)
		if name := b.Stations[core.StationID(t.Site)].Name; name != "" {
			l.Site = name
		}
		for _, o := range t.Orders {
			if holds(l, o.Order.No) {
				l.Customer = cmp.Or(l.Customer, o.Order.Customer)
				l.Packaging = cmp.Or(l.Packaging, packagingText(b, o.Order, p.Lots))
			}
		}
		out = append(out, l)
	}
	if len(out) == 0 {
		return nil, app.ErrNotFound
	}
	slices.SortStableFunc(out, func(a, b paper.ContainerLabel) int { return cmp.Compare(firstOrder(a), firstOrder(b)) })
	return out, nil
}

// OrderLabels fills in the label of each carrier with packed parts of an order
// that has not left: those on consignments, then those not loaded yet, numbered
// among themselves. The error is app.ErrNotFound for an order there isn't, or
// one of which nothing is packed.
func OrderLabels(ctx context.Context, from interface {
	Containers
	Source
}, no string) ([]paper.ContainerLabel, error) {
	o, err := from.DockOrder(ctx, no)
	if err != nil {
		return nil, err
	}
	var out []paper.ContainerLabel
	for _, p := range o.Loaded {
		l, err := ContainerLabels(ctx, from, p.Consignment, p.Code)
		if err != nil {
			return nil, err
		}
		out = append(out, l...)
	}
	slices.SortStableFunc(out, func(a, b paper.ContainerLabel) int {
		return cmp.Or(cmp.Compare(a.Consignment, b.Consignment), cmp.Compare(a.No, b.No))
	})
	for _, p := range o.Ready {
		l, err := ContainerLabel(ctx, from, p.Code)
		if err != nil {
			return nil, err
		}
		numberOrders(l.Orders, o.Ready, p.Code)
		out = append(out, l)
	}
	if len(out) == 0 {
		return nil, app.ErrNotFound
	}
	return out, nil
}

// numberOrders says of each order on a carrier which it is of those that hold
// its parts.
func numberOrders(orders []paper.OrderPart, of []app.OrderPallet, carrier core.PalletCode) {
	for i := range orders {
		for _, p := range of {
			if !slices.ContainsFunc(p.Lots, func(l app.OrderLot) bool { return l.Owner.Order == orders[i].Order }) {
				continue
			}
			if orders[i].Of++; p.Code == carrier {
				orders[i].Nth = orders[i].Of
			}
		}
	}
}

func holds(l paper.ContainerLabel, order string) bool {
	return slices.ContainsFunc(l.Orders, func(o paper.OrderPart) bool { return o.Order == order })
}

func firstOrder(l paper.ContainerLabel) string {
	if len(l.Orders) == 0 {
		return ""
	}
	return l.Orders[0].Order
}

// ContainerLabel fills in the label of one pallet or box, numbered where it is
// on a consignment. The error is app.ErrNotFound for a pallet there isn't, or
// one with nothing on it.
func ContainerLabel(ctx context.Context, from interface {
	Containers
	Source
}, pallet core.PalletCode) (paper.ContainerLabel, error) {
	w, err := from.World(ctx, core.Names{Pallets: []core.PalletCode{pallet}}, "")
	if err != nil {
		return paper.ContainerLabel{}, err
	}
	row, ok := w.State.Pallets[pallet]
	if !ok {
		return paper.ContainerLabel{}, app.ErrNotFound
	}
	if row.Consignment != "" {
		labels, err := ContainerLabels(ctx, from, row.Consignment, pallet)
		if err != nil {
			return paper.ContainerLabel{}, err
		}
		return labels[0], nil
	}
	shop, err := from.Shop(ctx)
	if err != nil {
		return paper.ContainerLabel{}, err
	}
	p := app.OrderPallet{PalletRow: row}
	for _, x := range w.State.PrintState(pallet) {
		l := w.State.Lots[x.Lot]
		p.Lots = append(p.Lots, app.OrderLot{Lot: l, Name: w.Book.Items[l.Item].Name})
	}
	if len(p.Lots) == 0 {
		return paper.ContainerLabel{}, app.ErrNotFound
	}
	out := container(w.Book, shop, p)
	out.Site = "not on a consignment yet"
	for _, x := range out.Orders {
		o := w.State.Orders[x.Order]
		out.Customer = cmp.Or(out.Customer, o.Customer)
		out.Packaging = cmp.Or(out.Packaging, packagingText(w.Book, o, p.Lots))
	}
	return out, nil
}

// packagingText is what the way to an order's site asks of its lots on a
// container; empty where it asks nothing.
func packagingText(b *core.Book, o core.Order, lots []app.OrderLot) string {
	var own []core.Lot
	for _, l := range lots {
		if l.Owner.Order == o.No {
			own = append(own, l.Lot)
		}
	}
	packing := app.PackingOfLots(b, o, own)
	if len(packing) == 0 {
		return ""
	}
	return core.JourneyOf(b, o).Text() + ": " + core.PackingText(packing)
}

// container is what a label says of the container itself.
func container(b *core.Book, shop app.Shop, p app.OrderPallet) paper.ContainerLabel {
	out := paper.ContainerLabel{Kind: string(p.Kind), Code: spaced(p.Code), Address: code.Address(shop.Address, code.Code(p.Code), 0), Marks: handling, Shop: shop.Name}
	if shop.Demo {
		out.Notice = DemoNotice
	}
	out.MassKg = app.LotsMass(b, p.Lots)
	for _, l := range p.Lots {
		if no := l.Owner.Order; no != "" && !holds(out, no) {
			out.Orders = append(out.Orders, paper.OrderPart{Order: no})
		}
		out.CutHazard = out.CutHazard || b.Items[l.Item].EdgesAsCut
		out.Contents = append(out.Contents, paper.Content{Count: l.Qty, Item: string(l.Item.Item) + " rev " + l.Item.Rev, Name: l.Name})
	}
	return out
}
