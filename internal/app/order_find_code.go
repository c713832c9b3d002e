package app

import (
	"context"
	"errors"
	"slices"
	"strings"

	"tagalong/internal/code"
	"tagalong/internal/core"
)

func (s *Service) whereIsCode(ctx context.Context, found Whereabouts, c code.Code) (Whereabouts, error) {
	switch c.Kind() {
	case code.Consignment:
		return s.whereIsConsignment(ctx, found, core.ConsignmentCode(c))
	case code.Pallet, code.Sheet:
		return s.whereIsPallet(ctx, found, core.PalletCode(c))
	case code.Unit:
		return s.whereIsBuild(ctx, found, core.BuildCode(c))
	}
	found.Sentence = "Code " + c.Spaced() + " is of a " + c.Kind().String() + ", which is not looked for here."
	return found, nil
}

// look reads rows and finds the book where the store did not bring it.
func (s *Service) look(ctx context.Context, n core.Names) (core.World, error) {
	w, err := s.World(ctx, n, "")
	if err == nil && w.Book == nil {
		w.Book, err = s.Book(ctx)
	}
	return w, err
}

func (s *Service) whereIsPallet(ctx context.Context, found Whereabouts, c core.PalletCode) (Whereabouts, error) {
	w, err := s.look(ctx, core.Names{Pallets: []core.PalletCode{c}})
	if err != nil && !errors.Is(err, ErrNotFound) {
		return found, err
	}
	if w.State == nil || w.State.Pallets[c].Code == "" {
		return notFound(found, "Code "+spaced(string(c))+" is well formed, but no pallet of this shop carries it."), nil
	}
	v := newPalletView(w, c)
	if err := s.leftOn(ctx, w, &v); err != nil {
		return found, err
	}
	found.Pallet, found.Sentence = &v, PalletSentence(v, found.AsOf)
	return found, nil
}

// leftOn gives a pallet whose parts have left what was on it then.
func (s *Service) leftOn(ctx context.Context, w core.World, v *PalletView) error {
	if w.State.Consignments[v.Consignment].Gone.IsZero() {
		return nil
	}
	c, err := s.consignment(ctx, v.Consignment)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(c.Pallets, func(p OrderPallet) bool { return p.Code == v.Code })
	if i < 0 {
		return nil
	}
	v.Lots, v.Reach, v.Left = c.Pallets[i].Lots, c.Pallets[i].Reach, true
	v.Orders = nil
	var nos []string
	for _, l := range v.Lots {
		if no := l.Owner.Order; no != "" && !slices.Contains(nos, no) {
			nos = append(nos, no)
		}
	}
	orders, err := s.look(ctx, core.Names{Orders: nos})
	if err != nil {
		return err
	}
	for _, no := range nos {
		v.Orders = append(v.Orders, orders.State.Orders[no])
	}
	sortOrders(v.Orders)
	return nil
}

func sortOrders(os []core.Order) {
	slices.SortFunc(os, func(a, b core.Order) int { return strings.Compare(string(a.Promised)+a.No, string(b.Promised)+b.No) })
}

func newPalletView(w core.World, c core.PalletCode) PalletView {
	var lots []OrderLot
	v := PalletView{}
	for _, l := range w.State.Lots {
		if on, ok := carrierOf(w.State, nil, &l); !ok || on != c || l.Qty == 0 {
			continue
		}
		lots = append(lots, orderLot(w, l))
		if o, ok := w.State.Orders[l.Owner.Order]; ok && !slices.ContainsFunc(v.Orders, func(x core.Order) bool { return x.No == o.No }) {
			v.Orders = append(v.Orders, o)
		}
	}
	slices.SortFunc(lots, func(a, b OrderLot) int { return strings.Compare(string(a.ID), string(b.ID)) })
	sortOrders(v.Orders)
	v.OrderPallet = orderPallet(w, c, lots)
	return v
}

func (s *Service) whereIsBuild(ctx context.Context, found Whereabouts, c core.BuildCode) (Whereabouts, error) {
	w, err := s.look(ctx, core.Names{Builds: []core.BuildCode{c}})
	if err != nil && !errors.Is(err, ErrNotFound) {
		return found, err
	}
	if w.State == nil || w.State.Builds[c].Code == "" {
		return notFound(found, "Code "+spaced(string(c))+" is well formed, but no unit of this shop carries it."), nil
	}
	b := w.State.Builds[c]
	whose := "number " + inWords(b.Unit) + " of " + ownerName(b.Owner)
	if b.Owner.Stock() {
		whose = "for stock" // nobody counts those
	}
	if b.Lot != "" {
		found.Sentence = "Unit " + spaced(string(c)) + " was built: " + itemName(w.Book, b.Item) + ", " + whose + "."
	} else {
		n := 0
		for _, l := range w.State.Lots {
			if l.Place == (core.Place{Kind: core.InBuild, Ref: string(c)}) {
				n += l.Qty
			}
		}
		found.Sentence = "Unit " + spaced(string(c)) + ", " + itemName(w.Book, b.Item) + " " + whose +
			", is being built at " + placeName(stationName(w.Book, b.Station)) + ": " + counted(n, "part") + " gathered."
	}
	if b.Owner.Order != "" {
		found.Hits = []Hit{{Kind: "order", Key: b.Owner.Order, Title: b.Owner.Order, Sub: w.State.Orders[b.Owner.Order].Customer}}
	}
	return found, nil
}

// ownerName is "order 4117 line 2", or "stock".
func ownerName(o core.Owner) string {
	if o.Stock() {
		return "stock"
	}
	return "order " + o.Order
}

func (s *Service) whereIsConsignment(ctx context.Context, found Whereabouts, c core.ConsignmentCode) (Whereabouts, error) {
	v, err := s.consignment(ctx, c)
	if errors.Is(err, ErrNotFound) {
		return notFound(found, "Code "+spaced(string(c))+" is well formed, but no consignment of this shop carries it."), nil
	}
	if err != nil {
		return found, err
	}
	found.Consignment, found.Sentence = v, ConsignmentSentence(*v, found.AsOf)
	return found, nil
}
