package app

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"tagalong/internal/core"
)

// OrderView is one order as it stands: what it asks, what of it is there, and
// where. Made by [NewOrderView]; nothing in it is a forecast.
type OrderView struct {
	Order core.Order
	AsOf  time.Time // in the shop's zone
	// Pallets carry parts of the order, in the shop, on a truck or gone. The
	// one furthest behind comes first.
	Pallets []OrderPallet
	// Loose lots are on no pallet: gathered for a unit, or at the site.
	Loose []OrderLot
	Needs []Need // one for each order line
}

// Today is the day of AsOf.
func (v OrderView) Today() core.Date { return core.DateOf(v.AsOf) }

// Late reports whether the promised day has passed with something still here.
func (v OrderView) Late() bool { return v.Order.Promised.Before(v.Today()) && !v.Gone() }

// Gone reports whether all that was asked has left.
func (v OrderView) Gone() bool {
	return len(v.Needs) > 0 && !slices.ContainsFunc(v.Needs, func(n Need) bool { return n.Asked > n.Shipped })
}

// Reach is how far a lot has come.
type Reach int

// The reaches, in order of work.
const (
	InWork Reach = iota
	Finished
	Packed
	Loaded
	Shipped
	Received
)

// OrderPallet is a pallet with what it carries of the order.
type OrderPallet struct {
	core.PalletRow
	Lots  []OrderLot
	Place string // "at weld bench 2, slot C4"; "left on Monday 23 November"
	Gone  time.Time
	Reach Reach // of the lot furthest behind
}

// OrderLot is a lot of the order.
type OrderLot struct {
	core.Lot
	Name    string // of its item
	Next    *core.Step
	Stage   core.Stage // of Next; where its own route has ended, what the assembly it goes into begins with
	Station string     // name of where it is; "" where that is not known
	Strip   []StripMark
	Reach   Reach
	Coat    bool   // its revision asks for a coat
	Held    bool   // an open hold or problem stops it
	Why     string // of the stop
	HeldAt  time.Time
	Where   string    // of a lot on no pallet: "gathered for unit U4K7 M2QX at weld bench 2"
	AtSite  SiteReach // of a lot that is at its site
	Back    Return    // it came, or is to come, back from its site
}

// Waits reports whether the lot waits for its next step.
func (l OrderLot) Waits() bool { return l.Next != nil && l.Started == nil && !l.Held }

// StripMark is one step on the drawn strip of a route.
type StripMark struct {
	Stage core.StageName
	Title string
	Mark  core.Mark
	Hold  bool // a hold point
	Done  bool
	Next  bool
}

// NewOrderView reads an order out of a world as [Ledger.LoadOrder] loads it.
// Sheets say which parts are still to be cut or broken out.
func NewOrderView(w core.World, no string, sheets []SheetCard) (OrderView, error) {
	return newOrderView(w, no, sheets, nil)
}

// newOrderView is NewOrderView, told which pallets the lots on trucks left on.
func newOrderView(w core.World, no string, sheets []SheetCard, left map[core.LotID]core.PalletCode) (OrderView, error) {
	o, ok := w.State.Orders[no]
	if !ok {
		return OrderView{}, ErrNotFound
	}
	v := OrderView{Order: o, AsOf: inZone(w.Now, w.Book)}
	d := drawing{w: w}
	lots := d.lots(no)
	v.Needs = d.needs(o, sheets, left, lots)
	into := joining(w.Book, o)
	var on []carried
	for i := range lots {
		ol := &lots[i]
		if ol.Next == nil && ol.Reach < Packed {
			ol.Stage = into[ol.Item]
		}
		p, onPallet := carrierOf(w.State, left, &ol.Lot)
		switch {
		case onPallet:
			on = append(on, carried{p, i})
		case ol.Place.Kind == core.InBuild, ol.Place.Kind == core.AtSite, ol.Place.Kind == core.InConsignment:
			ol.Where = loosePlace(ol)
			v.Loose = append(v.Loose, *ol)
		}
	}
	v.Pallets = d.pallets(lots, on)
	return v, nil
}

// lots draws the lots of an order, in order.
func (d *drawing) lots(no string) []OrderLot {
	ids := sortedOwn(d.w.State, no)
	out := make([]OrderLot, len(ids))
	for i, id := range ids {
		out[i].Lot = d.w.State.Lots[id]
		d.draw(&out[i])
	}
	return out
}

// carried is a pallet with one of the lots it carries.
type carried struct {
	by  core.PalletCode
	lot int
}

// pallets draws the pallets that carry lots, the one furthest behind first.
func (d *drawing) pallets(lots []OrderLot, on []carried) []OrderPallet {
	type pallet struct {
		code  core.PalletCode
		lots  []OrderLot
		reach Reach
		done  int
	}
	slices.SortFunc(on, func(a, b carried) int { return cmp.Or(strings.Compare(string(a.by), string(b.by)), a.lot-b.lot) })
	all := make([]pallet, 0, len(on))
	for len(on) > 0 {
		n := 1
		for n < len(on) && on[n].by == on[0].by {
			n++
		}
		its := lots[on[0].lot : on[0].lot+1 : on[0].lot+1] // of most pallets all; a lot is large to copy
		for _, c := range on[1:n] {
			its = append(its, lots[c.lot])
		}
		all = append(all, pallet{on[0].by, its, leastReach(its), progress(its)})
		on = on[n:]
	}
	slices.SortFunc(all, func(a, b pallet) int {
		return cmp.Or(int(a.reach-b.reach), a.done-b.done, strings.Compare(string(a.code), string(b.code)))
	})
	out := make([]OrderPallet, len(all))
	for i, p := range all {
		out[i] = d.pallet(p.code, p.lots)
	}
	return out
}

func leastReach(lots []OrderLot) Reach {
	least := Received
	for i := range lots {
		least = min(least, lots[i].Reach)
	}
	return least
}

// joining tells, for every component of what an order asks, the stage that its
// assembly begins with.
func joining(b *core.Book, o core.Order) map[core.ItemRev]core.Stage {
	out, seen := map[core.ItemRev]core.Stage{}, map[core.ItemRev]bool{}
	var walk func(item core.ItemRev)
	walk = func(item core.ItemRev) {
		rev := b.Items[item]
		if seen[item] {
			return
		}
		seen[item] = true
		first := b.Routes[rev.Route].Steps
		for _, c := range rev.Bill {
			if len(first) > 0 {
				out[c.Item], _ = b.Table.Stage(first[0].Stage)
			}
			walk(c.Item)
		}
	}
	for _, l := range o.Lines {
		walk(l.Item)
	}
	return out
}

func inZone(t time.Time, b *core.Book) time.Time {
	if b != nil && b.Zone != nil && !t.IsZero() {
		return t.In(b.Zone)
	}
	return t
}

func sortedLots(s *core.State, order string) []core.Lot {
	ids := sortedOwn(s, order)
	out := make([]core.Lot, len(ids))
	for i, id := range ids {
		out[i] = s.Lots[id]
	}
	return out
}

// sortedOwn names what an order has, by its lines.
func sortedOwn(s *core.State, order string) []core.LotID {
	type named struct {
		line int
		id   core.LotID
	}
	own := make([]named, 0, len(s.Lots))
	for id, l := range s.Lots {
		if l.Owner.Order == order && l.Qty > 0 {
			own = append(own, named{l.Owner.Line, id})
		}
	}
	slices.SortFunc(own, func(a, b named) int { return cmp.Or(a.line-b.line, strings.Compare(string(a.id), string(b.id))) })
	ids := make([]core.LotID, len(own))
	for i, l := range own {
		ids[i] = l.id
	}
	return ids
}

// carrierOf is the pallet a lot is on. A lot on a truck is on the pallet it left
// on, where that is told; else the last print of a pallet of that truck still
// names it. At the site parts are taken off their pallets, which then carry
// something else.
func carrierOf(s *core.State, left map[core.LotID]core.PalletCode, l *core.Lot) (core.PalletCode, bool) {
	if l.Place.Kind == core.OnPallet {
		return core.PalletCode(l.Place.Ref), true
	}
	if l.Place.Kind != core.InConsignment {
		return "", false
	}
	if p, ok := left[l.ID]; ok {
		return p, true
	}
	for _, p := range s.Pallets {
		if string(p.Consignment) != l.Place.Ref || len(p.Prints) == 0 {
			continue
		}
		last := p.Prints[len(p.Prints)-1]
		if slices.ContainsFunc(last.Lines, func(x core.PrintLine) bool { return x.Lot == l.ID }) {
			return p.Code, true
		}
	}
	return "", false
}

func orderPallet(w core.World, code core.PalletCode, lots []OrderLot) OrderPallet {
	return (&drawing{w: w}).pallet(code, lots)
}

func (d *drawing) pallet(code core.PalletCode, lots []OrderLot) OrderPallet {
	p := OrderPallet{PalletRow: d.w.State.Pallets[code], Lots: lots, Reach: leastReach(lots)}
	p.Code = code
	p.Place = d.place(&p.PalletRow)
	if p.Consignment != "" {
		p.Gone = d.w.State.Consignments[p.Consignment].Gone
	}
	return p
}

// palletPlace says where a pallet is: "at weld bench 2", "on its way to the
// dock", "in slot C4 of the pallet store", "left on Monday 23 November".
func palletPlace(w core.World, p core.PalletRow, now time.Time) string {
	if c, ok := w.State.Consignments[p.Consignment]; ok && p.Consignment != "" {
		return consignmentPlace(w.Book, c, now)
	}
	return placeOf(w.Book, p)
}

// consignmentPlace says where what is on a consignment is.
func consignmentPlace(b *core.Book, c core.Consignment, now time.Time) string {
	switch {
	case !c.Received.IsZero():
		return "received at the site " + onDay(inZone(c.Received, b), now)
	case !c.Gone.IsZero():
		return "left " + onDay(inZone(c.Gone, b), now)
	}
	return "loaded on consignment " + spaced(string(c.Code))
}

func placeOf(b *core.Book, p core.PalletRow) string {
	slot := ""
	if p.Slot != "" {
		slot = ", slot " + p.Slot
	}
	switch {
	case p.Bound != "":
		return "on its way to " + placeName(stationName(b, p.Bound)) + slot
	case b.Stations[p.Station].Site:
		return "at " + placeName(stationName(b, p.Station)) + ", to go back to the shop"
	case p.Station != "":
		return "at " + placeName(stationName(b, p.Station)) + slot
	case p.Slot != "":
		return "in slot " + p.Slot
	}
	return "not taken in anywhere yet"
}

func onDay(t, now time.Time) string {
	if d := core.DateOf(t); d != core.DateOf(now) {
		return "on " + dayName(d, core.DateOf(now))
	}
	return "today at " + t.Format("15:04")
}
