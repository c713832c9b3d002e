package app

import (
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
	at, into := map[core.PalletCode][]OrderLot{}, joining(w.Book, o)
	for _, l := range sortedLots(w.State, no) {
		ol := orderLot(w, l)
		if ol.Next == nil && ol.Reach < Packed {
			ol.Stage = into[l.Item]
		}
		p, onPallet := carrierOf(w.State, left, l)
		switch {
		case onPallet:
			at[p] = append(at[p], ol)
		case l.Place.Kind == core.InBuild, l.Place.Kind == core.AtSite, l.Place.Kind == core.InConsignment:
			ol.Where = loosePlace(ol)
			v.Loose = append(v.Loose, ol)
		}
	}
	for code, lots := range at {
		v.Pallets = append(v.Pallets, orderPallet(w, code, lots, v.AsOf))
	}
	slices.SortFunc(v.Pallets, func(a, b OrderPallet) int {
		if a.Reach != b.Reach {
			return int(a.Reach - b.Reach)
		}
		if x, y := progress(a.Lots), progress(b.Lots); x != y {
			return x - y
		}
		return strings.Compare(string(a.Code), string(b.Code))
	})
	v.Needs = orderNeeds(w, o, sheets, left)
	return v, nil
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
	var out []core.Lot
	for _, l := range s.Lots {
		if l.Owner.Order == order && l.Qty > 0 {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b core.Lot) int {
		if a.Owner.Line != b.Owner.Line {
			return a.Owner.Line - b.Owner.Line
		}
		return strings.Compare(string(a.ID), string(b.ID))
	})
	return out
}

// carrierOf is the pallet a lot is on. A lot on a truck is on the pallet it left
// on, where that is told; else the last print of a pallet of that truck still
// names it. At the site parts are taken off their pallets, which then carry
// something else.
func carrierOf(s *core.State, left map[core.LotID]core.PalletCode, l core.Lot) (core.PalletCode, bool) {
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

func orderLot(w core.World, l core.Lot) OrderLot {
	rev := w.Book.Items[l.Item]
	ol := OrderLot{Lot: l, Name: itemName(w.Book, l.Item), Coat: len(rev.Faces()) > 0, Strip: strip(w.Book, l)}
	if next := core.NextSteps(w.Book, l); len(next) > 0 {
		ol.Next = &next[0]
		ol.Stage, _ = w.Book.Table.Stage(next[0].Stage)
		if ol.Stage.Name == "" {
			ol.Stage = core.Stage{Name: next[0].Stage, Title: string(next[0].Stage)}
		}
	}
	ol.Reach, ol.AtSite = reachOf(w, l, rev), siteReach(l, w.Now)
	ol.Back = returnOf(w, l)
	if l.Place.Kind == core.AtSite {
		ol.Station = siteName(w.Book, l.Place.Ref)
	}
	if p, ok := w.State.Pallets[core.PalletCode(l.Place.Ref)]; ok && l.Place.Kind == core.OnPallet {
		ol.Station = stationName(w.Book, p.Station)
	}
	if b, ok := w.State.Builds[core.BuildCode(l.Place.Ref)]; ok && l.Place.Kind == core.InBuild {
		ol.Station = stationName(w.Book, b.Station)
	}
	if stop, ok := stopOf(w.State, l); ok && ol.Reach < Shipped {
		ol.Held, ol.Why, ol.HeldAt = true, stop.why, inZone(stop.since, w.Book)
	}
	return ol
}

func itemName(b *core.Book, r core.ItemRev) string {
	if n := b.Items[r].Name; n != "" {
		return n
	}
	return string(r.Item)
}

func stationName(b *core.Book, id core.StationID) string {
	if n := b.Stations[id].Name; n != "" {
		return n
	}
	return string(id)
}

func reachOf(w core.World, l core.Lot, rev core.Revision) Reach {
	yes := func(name string) bool { return l.Facts.At(core.Fact{Name: name}, w.Now) == core.Yes }
	switch {
	case yes(core.IsReceived), l.Place.Kind == core.AtSite:
		return Received
	case yes(core.IsShipped), gone(w.State, l):
		return Shipped
	case l.Place.Kind == core.InConsignment, loaded(w.State, l):
		return Loaded
	case yes(core.IsPacked):
		return Packed
	case finished(l, rev, w.Now):
		return Finished
	}
	return InWork
}

func gone(s *core.State, l core.Lot) bool {
	c, ok := consignmentOf(s, l)
	return ok && !c.Gone.IsZero()
}

func loaded(s *core.State, l core.Lot) bool { _, ok := consignmentOf(s, l); return ok }

func consignmentOf(s *core.State, l core.Lot) (core.Consignment, bool) {
	code := core.ConsignmentCode(l.Place.Ref)
	if l.Place.Kind == core.OnPallet {
		code = s.Pallets[core.PalletCode(l.Place.Ref)].Consignment
	}
	c, ok := s.Consignments[code]
	return c, ok && code != ""
}

// finished: every face asked is accepted; a part without a finish had its final
// check, a kit its kit check, a bought item its acceptance.
func finished(l core.Lot, rev core.Revision, now time.Time) bool {
	for _, face := range rev.Faces() {
		if l.Facts.At(core.Fact{Name: core.CoatAccepted, Of: string(face)}, now) != core.Yes {
			return false
		}
	}
	if len(rev.Faces()) > 0 {
		return true
	}
	for _, f := range []string{core.FinalAccepted, core.KitComplete, core.GoodsAccepted} {
		if l.Facts.At(core.Fact{Name: f}, now) == core.Yes {
			return true
		}
	}
	return false
}

type stop struct {
	why   string
	since time.Time
}

// stopOf finds the oldest open hold or problem that stops the lot.
func stopOf(s *core.State, l core.Lot) (stop, bool) {
	var found []stop
	if h, ok := core.HeldBy(s, l); ok {
		found = append(found, stop{h.Reason, h.At})
	}
	for _, p := range s.Problems {
		if p.Open() && p.Lot == l.ID {
			found = append(found, stop{p.What, p.At})
		}
	}
	if len(found) == 0 {
		return stop{}, false
	}
	return slices.MinFunc(found, func(a, b stop) int { return a.since.Compare(b.since) }), true
}

// holds reports whether one hold, were it open, stops the lot; the core says.
func holds(h core.Hold, l core.Lot) bool {
	h.Released = time.Time{}
	_, stops := core.HeldBy(&core.State{Holds: map[core.HoldID]core.Hold{h.ID: h}}, l)
	return stops
}

func strip(b *core.Book, l core.Lot) []StripMark {
	route, done := b.Routes[l.Route], l.Done
	var out []StripMark
	next := core.NextSteps(b, l)
	add := func(r core.Route, done []int, current bool) {
		for _, s := range r.Steps {
			st, _ := b.Table.Stage(s.Stage)
			out = append(out, StripMark{
				Stage: s.Stage, Title: st.Title, Mark: st.Mark, Hold: st.Hold,
				Done: slices.Contains(done, s.No),
				Next: current && len(next) > 0 && s.No == next[0].No && !slices.Contains(done, s.No),
			})
		}
	}
	if l.Rework != nil {
		add(b.Routes[l.Rework.Route], l.Rework.Done, true)
		return out
	}
	add(route, done, true)
	return out
}

// progress is the share of the route done of the lot furthest behind, per mille.
func progress(lots []OrderLot) int {
	least := 1000
	for _, l := range lots {
		done := 0
		for _, m := range l.Strip {
			if m.Done {
				done++
			}
		}
		if len(l.Strip) > 0 {
			least = min(least, 1000*done/len(l.Strip))
		}
	}
	return least
}

func orderPallet(w core.World, code core.PalletCode, lots []OrderLot, now time.Time) OrderPallet {
	p := OrderPallet{PalletRow: w.State.Pallets[code], Lots: lots, Reach: Received}
	p.Code = code
	for _, l := range lots {
		p.Reach = min(p.Reach, l.Reach)
	}
	p.Place = palletPlace(w, p.PalletRow, now)
	if p.Consignment != "" {
		p.Gone = w.State.Consignments[p.Consignment].Gone
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
