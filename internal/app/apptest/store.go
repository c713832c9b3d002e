package apptest

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// Store answers the questions of the reading screens from a [Floor]. Asking
// anything else of it panics: it embeds no store.
type Store struct {
	app.Store
	*Floor
	Events []app.Recorded
	Said   []app.RefusalRow
	Glance app.Wall
	Times  app.Usual
	Sheets []app.SheetCard
	Lost   []app.MissingEntry
	Fault  error // what every question answers, when set
}

// Service is a service over the store whose clock stands at Now.
func (s *Store) Service(t testing.TB) *app.Service {
	t.Helper()
	return &app.Service{Store: s, Clock: func() time.Time { return Now }}
}

// Book is the sample catalogue.
func (s *Store) Book(context.Context) (*core.Book, error) { return s.World.Book, s.Fault }

// Load returns the whole state, whatever is named.
func (s *Store) Load(context.Context, core.Names, core.StationID) (core.World, error) {
	return s.World, s.Fault
}

// LoadOrder returns the whole state, for an order there is.
func (s *Store) LoadOrder(_ context.Context, no string) (core.World, error) {
	if _, ok := s.World.State.Orders[no]; !ok && s.Fault == nil {
		return core.World{}, app.ErrNotFound
	}
	return s.World, s.Fault
}

// ReadOrder returns the whole state too.
func (s *Store) ReadOrder(ctx context.Context, no string) (core.World, error) {
	return s.LoadOrder(ctx, no)
}

// ReadCarriers returns the whole state too.
func (s *Store) ReadCarriers(ctx context.Context, no string) (core.World, error) {
	return s.LoadOrder(ctx, no)
}

// LoadOrders returns the whole state for each.
func (s *Store) LoadOrders(ctx context.Context, nos []string) (out []core.World, err error) {
	for _, no := range nos {
		w, err := s.LoadOrder(ctx, no)
		if err != nil {
			return nil, err
		}
		out = append(out, w)
	}
	return out, nil
}

// Search finds a text in order numbers, references, customers, items and codes.
func (s *Store) Search(_ context.Context, text string, limit int) ([]app.Hit, error) {
	var out []app.Hit
	low := strings.ToLower(text)
	has := func(texts ...string) bool {
		return slices.ContainsFunc(texts, func(t string) bool { return strings.Contains(strings.ToLower(t), low) })
	}
	for _, o := range s.World.State.Orders {
		if has(o.No, o.Reference, o.Customer) {
			out = append(out, app.Hit{Kind: "order", Key: o.No, Title: o.No, Sub: o.Customer + ", " + string(o.Promised)})
		}
	}
	for _, r := range s.World.Book.Items {
		if has(string(r.Item), r.Name) {
			out = append(out, app.Hit{Kind: "item", Key: r.Key(), Title: r.ItemRev.String(), Sub: r.Name})
		}
	}
	slices.SortFunc(out, func(a, b app.Hit) int { return strings.Compare(a.Kind+a.Key, b.Kind+b.Key) })
	return out[:min(len(out), limit)], s.Fault
}

// Docket lists every order by promised date.
func (s *Store) Docket(_ context.Context, limit int) ([]app.OrderCard, error) {
	var out []app.OrderCard
	for _, o := range s.World.State.Orders {
		out = append(out, s.card(o))
	}
	slices.SortFunc(out, func(a, b app.OrderCard) int {
		return cmp.Or(cmp.Compare(a.Promised, b.Promised), cmp.Compare(a.No, b.No))
	})
	return out[:min(len(out), limit)], s.Fault
}

func (s *Store) card(o core.Order) app.OrderCard {
	c := app.OrderCard{Order: o, Late: o.Promised.Before(core.DateOf(Now))}
	v, err := app.NewOrderView(s.World, o.No, s.Sheets)
	if err != nil {
		return c
	}
	for _, n := range v.Needs {
		c.Asked += n.Asked
		c.Made += n.There
		c.Packed += n.Packed
		c.Shipped += n.Shipped
	}
	for _, p := range v.Pallets {
		for _, l := range p.Lots {
			c.Held = c.Held || l.Held
			c.Live += l.Qty
		}
	}
	return c
}

// OpenSheets lists Sheets.
func (s *Store) OpenSheets(context.Context) ([]app.SheetCard, error) { return s.Sheets, s.Fault }

// OpenBuilds lists units begun at a station and not made yet.
func (s *Store) OpenBuilds(_ context.Context, at core.StationID) ([]core.Build, error) {
	var out []core.Build
	for _, b := range s.World.State.Builds {
		if b.Station == at && b.Lot == "" {
			out = append(out, b)
		}
	}
	slices.SortFunc(out, func(a, b core.Build) int {
		return cmp.Or(a.Opened.Compare(b.Opened), cmp.Compare(a.Code, b.Code))
	})
	return out, s.Fault
}

// Wall is Glance.
func (s *Store) Wall(context.Context) (app.Wall, error) { return s.Glance, s.Fault }

// Problems lists the open problems.
func (s *Store) Problems(context.Context) ([]core.Problem, error) {
	var out []core.Problem
	for _, p := range s.World.State.Problems {
		if p.Open() {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b core.Problem) int { return a.At.Compare(b.At) })
	return out, s.Fault
}

// Register lists every problem, whenever it was found.
func (s *Store) Register(_ context.Context, q app.RegisterQuery, limit int) ([]app.RegisterEntry, error) {
	var out []app.RegisterEntry
	for _, p := range s.World.State.Problems {
		if !q.Open || p.Open() {
			out = append(out, app.RegisterEntry{Problem: p, Lot: s.World.State.Lots[p.Lot]})
		}
	}
	slices.SortFunc(out, func(a, b app.RegisterEntry) int { return b.Problem.At.Compare(a.Problem.At) })
	return out[:min(len(out), limit)], s.Fault
}

// Missing is Lost.
func (s *Store) Missing(context.Context, int) ([]app.MissingEntry, error) { return s.Lost, s.Fault }

// Usual is Times.
func (s *Store) Usual(context.Context) (app.Usual, error) { return s.Times, s.Fault }

// OpenHolds lists the open holds.
func (s *Store) OpenHolds(context.Context) ([]core.Hold, error) {
	var out []core.Hold
	for _, h := range s.World.State.Holds {
		if h.Open() {
			out = append(out, h)
		}
	}
	slices.SortFunc(out, func(a, b core.Hold) int { return a.At.Compare(b.At) })
	return out, s.Fault
}

// Consignments lists all.
func (s *Store) Consignments(_ context.Context, limit int) ([]core.Consignment, error) {
	var out []core.Consignment
	for _, c := range s.World.State.Consignments {
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b core.Consignment) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Code, b.Code))
	})
	return out[:min(len(out), limit)], s.Fault
}

// CarriersOut lists consignments whose carriers have not all come back.
func (s *Store) CarriersOut(_ context.Context, limit int) ([]core.Consignment, error) {
	var out []core.Consignment
	for _, c := range s.World.State.Consignments {
		if len(c.Owed()) > 0 {
			out = append(out, c)
		}
	}
	slices.SortFunc(out, func(a, b core.Consignment) int { return cmp.Or(a.Gone.Compare(b.Gone), cmp.Compare(a.Code, b.Code)) })
	return out[:min(len(out), limit)], s.Fault
}

// AtSites lists lots at fitting sites.
func (s *Store) AtSites(_ context.Context, sites []core.StationID, limit int) ([]core.Lot, error) {
	var out []core.Lot
	for _, site := range sites {
		out = append(out, s.World.State.LotsAt(core.Place{Kind: core.AtSite, Ref: string(site)})...)
	}
	return out[:min(len(out), limit)], s.Fault
}

// Sent lists what [Floor.Gone] recorded of the consignments, and the events named.
func (s *Store) Sent(_ context.Context, codes []core.ConsignmentCode, events []core.EventID) ([]app.Recorded, error) {
	var out []app.Recorded
	for _, e := range s.sent {
		if slices.Contains(codes, core.ConsignmentCode(e.Ref)) || slices.Contains(events, e.ID) {
			out = append(out, app.Recorded{Event: e})
		}
	}
	return out, s.Fault
}

// History lists Events, whatever is asked for.
func (s *Store) History(context.Context, app.HistoryQuery) ([]app.Recorded, error) {
	return s.Events, s.Fault
}

// Provided counts what any order has.
func (s *Store) Provided(context.Context, []string) (map[app.Provision]int, error) {
	out := map[app.Provision]int{}
	for _, l := range s.World.State.Lots {
		if l.Place.Kind.Holds() {
			out[app.Provision{Owner: l.Owner, Item: l.Item}] += l.Qty
		}
	}
	for _, n := range s.World.State.Nests {
		for _, p := range n.Parts {
			if !n.Separated {
				out[app.Provision{Owner: p.Owner, Item: p.Item}] += p.Qty
			}
		}
	}
	return out, s.Fault
}

// LotHistories lists Events for each lot.
func (s *Store) LotHistories(_ context.Context, lots []core.LotID, _ int) (map[core.LotID][]app.Recorded, error) {
	out := map[core.LotID][]app.Recorded{}
	for _, l := range lots {
		out[l] = s.Events
	}
	return out, s.Fault
}

// Refusals lists those of Said, the latest first. What a refused lot's pallet and
// owner are, the floor says as it is.
func (s *Store) Refusals(_ context.Context, q app.RefusalQuery) ([]app.RefusalRow, error) {
	of := map[core.LotID]bool{q.Lot: true}
	for _, parent := range s.World.State.Lots[q.Lot].Parents {
		of[parent] = true
	}
	about := func(r app.RefusalRow) bool {
		filed := r.Filed()
		lot := func(is func(core.Lot) bool) bool {
			return slices.ContainsFunc(filed.Lots, func(id core.LotID) bool { return is(s.World.State.Lots[id]) })
		}
		switch {
		case q.Pallet != "":
			return slices.Contains(filed.Pallets, q.Pallet) || lot(func(l core.Lot) bool { return l.Place == core.On(q.Pallet) })
		case q.Lot != "":
			return slices.ContainsFunc(filed.Lots, func(id core.LotID) bool { return of[id] })
		case q.Order != "":
			return slices.Contains(filed.Orders, q.Order) || lot(func(l core.Lot) bool { return l.Owner.Order == q.Order })
		}
		return true
	}
	var out []app.RefusalRow
	for _, r := range s.Said {
		if about(r) {
			out = append(out, r)
		}
	}
	slices.SortStableFunc(out, func(a, b app.RefusalRow) int { return b.At.Compare(a.At) })
	return out[:min(len(out), q.Limit)], s.Fault
}

// Lots reads lots by id.
func (s *Store) Lots(_ context.Context, ids []core.LotID) ([]core.Lot, error) {
	var out []core.Lot
	for _, id := range ids {
		if l, ok := s.World.State.Lots[id]; ok {
			out = append(out, l)
		}
	}
	return out, s.Fault
}

// Shop is the invented shop.
func (s *Store) Shop(context.Context) (app.Shop, error) {
	return app.Shop{Name: "Corrie Sheetworks", Zone: "Europe/London", Demo: true, Address: "HTTPS://SHOP.EXAMPLE"}, s.Fault
}
