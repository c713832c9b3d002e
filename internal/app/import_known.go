package app

import (
	"context"
	"fmt"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// importKnown answers an import's questions about what the shop has, each
// answer kept. The first error stays in err: the questions themselves have none.
type importKnown struct {
	ctx        context.Context
	store      Store
	book       *core.Book
	orders     map[string]*core.Order
	nests      map[string]*core.Nest
	sheets     map[string]*intake.Sheet
	deliveries map[string]*intake.Bought
	err        error
}

func (s *Service) importKnown(ctx context.Context) (*importKnown, error) {
	book, err := s.Store.Book(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the catalogue: %w", err)
	}
	return &importKnown{ctx: ctx, store: s.Store, book: book, orders: map[string]*core.Order{}, nests: map[string]*core.Nest{},
		sheets: map[string]*intake.Sheet{}, deliveries: map[string]*intake.Bought{}}, nil
}

func (k *importKnown) known() intake.Known {
	return intake.Known{Book: k.book, Order: k.order, Nest: k.nest, Sheet: k.sheet, Delivery: k.delivery}
}

// ask looks a key up once; find returns nil where the shop has no such row.
func ask[T any](k *importKnown, kept map[string]*T, key string, find func() (*T, error)) (T, bool) {
	var none T
	if k.err != nil || key == "" {
		return none, false
	}
	found, asked := kept[key]
	if !asked {
		if found, k.err = find(); k.err != nil {
			return none, false
		}
		kept[key] = found
	}
	if found == nil {
		return none, false
	}
	return *found, true
}

func (k *importKnown) order(no string) (core.Order, bool) {
	return ask(k, k.orders, no, func() (*core.Order, error) {
		w, err := k.store.Load(k.ctx, core.Names{Orders: []string{no}}, "")
		if err != nil {
			return nil, fmt.Errorf("look for order %s: %w", no, err)
		}
		return inMap(w.State.Orders, no), nil
	})
}

func (k *importKnown) nest(id string) (core.Nest, bool) {
	return ask(k, k.nests, id, func() (*core.Nest, error) {
		w, err := k.store.Load(k.ctx, core.Names{Nests: []string{id}}, "")
		if err != nil {
			return nil, fmt.Errorf("look for nest %s: %w", id, err)
		}
		return inMap(w.State.Nests, id), nil
	})
}

func inMap[K comparable, V any](m map[K]V, key K) *V {
	if v, ok := m[key]; ok {
		return &v
	}
	return nil
}

func (k *importKnown) sheet(no string) (intake.Sheet, bool) {
	return ask(k, k.sheets, no, func() (*intake.Sheet, error) {
		l, err := k.received(sheetID(no))
		if err != nil || l == nil {
			return nil, err
		}
		return &intake.Sheet{No: no, Material: l.Item, Heat: firstOf(l.Heats)}, nil
	})
}

func (k *importKnown) delivery(no string) (intake.Bought, bool) {
	return ask(k, k.deliveries, no, func() (*intake.Bought, error) {
		l, err := k.received(deliveryID(no))
		if err != nil || l == nil {
			return nil, err
		}
		// The lot may have been split since: how many came stands in its first event.
		events, err := k.store.History(k.ctx, HistoryQuery{Lot: l.ID, Limit: 1})
		if err != nil {
			return nil, fmt.Errorf("look for delivery %s: %w", no, err)
		}
		b := intake.Bought{No: no, Item: l.Item, Batch: firstOf(l.Heats)}
		for _, e := range events {
			for _, c := range e.Lots {
				if c.Lot == l.ID && e.Kind == core.EvGoodsReceived {
					b.Qty = c.Good
				}
			}
		}
		return &b, nil
	})
}

// received is the lot a receiving command made; nil where it was never sent.
func (k *importKnown) received(id core.CommandID) (*core.Lot, error) {
	lots, err := k.store.Lots(k.ctx, []core.LotID{firstLot(id)})
	if err != nil {
		return nil, fmt.Errorf("look for goods received: %w", err)
	}
	if len(lots) == 0 {
		return nil, nil
	}
	return &lots[0], nil
}

func firstOf(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return list[0]
}

func (k *importKnown) newSheets(all []intake.Sheet) []intake.Sheet {
	var out []intake.Sheet
	for _, x := range all {
		if _, known := k.sheet(x.No); !known {
			out = append(out, x)
		}
	}
	return out
}

func (k *importKnown) newBought(all []intake.Bought) []intake.Bought {
	var out []intake.Bought
	for _, x := range all {
		if _, known := k.delivery(x.No); !known {
			out = append(out, x)
		}
	}
	return out
}

// counts says how many rows of each kind were new, changed or the same.
func (k *importKnown) counts(all, news intake.Bundle) Imported {
	return Imported{Notes: all.Notes, Rows: []ImportCount{
		countNews("stations", all.Stations, news.Stations, func(x core.Station) bool { _, ok := k.book.Stations[x.ID]; return ok }),
		countNews("people", all.People, news.People, func(x core.Person) bool { _, ok := k.book.People[x.ID]; return ok }),
		countNews("instruments", all.Instruments, news.Instruments, func(x core.Instrument) bool { _, ok := k.book.Instruments[x.ID]; return ok }),
		countNews("batches", all.Batches, news.Batches, func(x core.Batch) bool { _, ok := k.book.Batches[x.Batch]; return ok }),
		countNews("routes", all.Routes, news.Routes, func(x core.Route) bool { _, ok := k.book.Routes[x.RouteRef]; return ok }),
		countNews("items", all.Items, news.Items, func(x core.Revision) bool { _, ok := k.book.Items[x.ItemRev]; return ok }),
		countNews("orders", all.Orders, news.Orders, func(x core.Order) bool { _, ok := k.order(x.No); return ok }),
		countNews("nests", all.Nests, news.Nests, func(x core.Nest) bool { _, ok := k.nest(x.ID); return ok }),
		countNews("sheets", all.Sheets, news.Sheets, func(intake.Sheet) bool { return false }),
		countNews("deliveries", all.Bought, news.Bought, func(intake.Bought) bool { return false }),
	}}
}

func countNews[T any](what string, all, news []T, known func(T) bool) ImportCount {
	c := ImportCount{What: what, Same: len(all) - len(news)}
	for _, x := range news {
		if known(x) {
			c.Changed++
		} else {
			c.Added++
		}
	}
	return c
}
