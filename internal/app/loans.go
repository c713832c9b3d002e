package app

import (
	"context"
	"slices"

	"tagalong/internal/core"
)

// Loan is parts of one order's line that another has and has not paid back.
type Loan struct {
	From core.Owner   `json:"from"`
	To   core.Owner   `json:"to"`
	Item core.ItemRev `json:"item"`
	Name string       `json:"name"`
	Qty  int          `json:"qty"`
}

// loansOf is what is still lent after the events of an order, oldest first:
// like parts given back pay a loan, whichever parts they are. What is given to
// stock, or comes from it, is no loan.
func loansOf(b *core.Book, order string, events []Recorded) []Loan {
	var undone []core.EventID
	for _, e := range events {
		if e.Corrects != "" {
			undone = append(undone, e.Corrects)
		}
	}
	var out []Loan
	for _, e := range events {
		x, ok := lent(e.Event)
		if !ok || slices.Contains(undone, e.ID) || x.From.Order != order && x.To.Order != order {
			continue
		}
		for i := range out {
			if y := &out[i]; y.From == x.To && y.To == x.From && y.Item.Item == x.Item.Item {
				paid := min(x.Qty, y.Qty)
				x.Qty, y.Qty = x.Qty-paid, y.Qty-paid
			}
		}
		i := slices.IndexFunc(out, func(y Loan) bool { return y.From == x.From && y.To == x.To && y.Item == x.Item })
		if i < 0 {
			i, out = len(out), append(out, Loan{From: x.From, To: x.To, Item: x.Item, Name: b.Items[x.Item].Name})
		}
		out[i].Qty += x.Qty
	}
	return slices.DeleteFunc(out, func(x Loan) bool { return x.Qty == 0 })
}

// lent reads a change of owner between two orders.
func lent(e core.Event) (x Loan, ok bool) {
	if e.Kind != core.EvOwnerChanged || len(e.Lots) == 0 {
		return x, false
	}
	for _, f := range e.Effects {
		if f.LotBorn != nil {
			x = Loan{From: e.Lots[0].Owner, To: f.LotBorn.Owner, Item: e.Lots[0].Item, Qty: e.Lots[0].Good}
		}
	}
	return x, !x.From.Stock() && !x.To.Stock() && x.From != x.To
}

// LendPage is a pallet whose parts may be given to other orders.
type LendPage struct {
	PalletPage
	Lot     LotView    // the one looked at
	Owed    []Loan     // what its owner has borrowed of this item: giving parts pays it
	Lent    []Loan     // what its owner has lent of it already
	Orders  []Borrower // that ask for the item, by promise
	Ordered int        // how many such order lines there are
}

// Borrower is an order line that asks for an item.
type Borrower struct {
	Owner    core.Owner
	Customer string
	Promised core.Date
}

// borrowers is how many order lines are offered; others are typed.
const borrowers = 6

// ordersLooked is how many open orders are looked through for an item.
const ordersLooked = 500

// LendPage reads a lot on a pallet and who could have its parts; the first lot
// where none is named. The error is ErrNotFound for a code that names no pallet,
// one that is not here, or one that carries nothing.
func (s *Service) LendPage(ctx context.Context, caller Caller, code core.PalletCode, lot core.LotID) (LendPage, error) {
	pallet, err := s.PalletPage(ctx, caller, code, 0, "")
	if err != nil {
		return LendPage{}, err
	}
	p := LendPage{PalletPage: pallet}
	if pallet.Empty() || !pallet.Here {
		return p, ErrNotFound
	}
	i := max(0, slices.IndexFunc(pallet.Lots, func(l LotView) bool { return l.Lot.ID == lot }))
	p.Lot = pallet.Lots[i]
	b, err := s.Book(ctx)
	if err != nil {
		return p, err
	}
	if owner := p.Lot.Lot.Owner; !owner.Stock() {
		loans, err := s.loans(ctx, b, owner.Order)
		if err != nil {
			return p, err
		}
		for _, x := range loans {
			switch {
			case x.Item.Item != p.Lot.Lot.Item.Item:
			case x.To == owner:
				p.Owed = append(p.Owed, x)
			case x.From == owner:
				p.Lent = append(p.Lent, x)
			}
		}
	}
	open, err := s.Store.Docket(ctx, ordersLooked)
	if err != nil {
		return p, err
	}
	for _, o := range open {
		for _, line := range o.Lines {
			owner := core.Owner{Order: o.No, Line: line.Line}
			if owner == p.Lot.Lot.Owner || !lineAsks(b, o.Order, line.Line, p.Lot.Lot.Item.Item) {
				continue
			}
			if p.Ordered++; len(p.Orders) < borrowers {
				p.Orders = append(p.Orders, Borrower{owner, o.Customer, o.Promised})
			}
		}
	}
	return p, nil
}

func lineAsks(b *core.Book, o core.Order, line int, item core.ItemID) bool {
	for rev := range core.Asked(b, o, line) {
		if rev.Item == item {
			return true
		}
	}
	return false
}

// loans is what an order has lent or borrowed and not settled.
func (s *Service) loans(ctx context.Context, b *core.Book, order string) ([]Loan, error) {
	var events []Recorded
	for _, kind := range []core.EventKind{core.EvOwnerChanged, core.EvCorrected} {
		found, err := s.Store.History(ctx, HistoryQuery{Order: order, Kind: kind, Limit: HistoryLimit})
		if err != nil {
			return nil, err
		}
		events = append(events, found...)
	}
	return loansOf(b, order, events), nil
}
