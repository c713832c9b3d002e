package app

import (
	"context"
	"maps"
	"slices"
	"time"

	"tagalong/internal/core"
)

// Mine is what the site of one consignment sees of it, all of it or one order's
// part: box by box, what of it is at the site, and what was found on it. Nothing
// of prices or of anything else.
type Mine struct {
	AsOf time.Time
	Ends time.Time // of the link; zero: no link was used
	core.Consignment
	Only     string // the one order shown; empty: all of the consignment
	SiteName string
	Boxes    []MineBox   // in the order of the packing list
	Missing  []MinePart  // short in boxes that came
	Receipts []Receipt   // of each order on it
	Orders   []SiteOrder // what came on it and is at the site
	Snags    []Snag      // latest first
}

// BoxState says whether a box of a consignment has come.
type BoxState int

// The states of a box.
const (
	BoxAwaited BoxState = iota
	BoxCame
	BoxMissed // said not to have come; it may come after all
)

// MineBox is one carrier of a consignment: to count, where it has not come yet.
type MineBox struct {
	Code   core.PalletCode
	State  BoxState
	Listed []MinePart // what left in it, or lies in it
	Parts  []MinePart // of those, what has not come; of one that came, none
}

// MinePart is so many like parts in a box.
type MinePart struct {
	Lot   core.LotID
	Name  string
	Qty   int
	Order string
	Box   core.PalletCode
}

// Receipt is how far one order on a consignment is received.
type Receipt struct {
	Order   string
	Boxes   int       // still awaited
	Missing int       // parts
	At      time.Time // since when none is awaited; zero: some are
}

// Box finds a box by its code.
func (m Mine) Box(code core.PalletCode) (MineBox, bool) {
	i := slices.IndexFunc(m.Boxes, func(b MineBox) bool { return b.Code == code })
	if i < 0 {
		return MineBox{}, false
	}
	return m.Boxes[i], true
}

// InState lists the boxes in a state.
func (m Mine) InState(s BoxState) []core.PalletCode {
	var out []core.PalletCode
	for _, b := range m.Boxes {
		if b.State == s {
			out = append(out, b.Code)
		}
	}
	return out
}

// Several reports whether parts of more than one order are shown.
func (m Mine) Several() bool { return len(m.Receipts) > 1 }

// Open counts the snags that are not dealt with.
func (m Mine) Open() int { return openSnags(m.Snags) }

// Mine reads the page of the bearer who asks.
func (s *Service) Mine(ctx context.Context, by Caller) (Mine, error) {
	m, err := s.Brought(ctx, by.Bearer.Consignment, by.Bearer.Order)
	if err != nil {
		return m, err
	}
	for i := range m.Snags {
		m.Snags[i] = m.Snags[i].forBearer(m.Code)
	}
	links, err := s.Store.SiteLinks(ctx, m.Code)
	if err != nil {
		return m, err
	}
	if i := slices.IndexFunc(links, func(l SiteLink) bool { return l.ID == by.Bearer.Link }); i >= 0 {
		m.Ends = links[i].Ends().In(m.AsOf.Location())
	}
	return m, nil
}

// Brought reads one consignment as its site sees it, or what is of one order on
// it. The error is ErrNotFound where there is none of that code.
func (s *Service) Brought(ctx context.Context, c core.ConsignmentCode, only string) (Mine, error) {
	w, err := s.look(ctx, core.Names{Consignments: []core.ConsignmentCode{c}})
	if err != nil {
		return Mine{}, err
	}
	if w.State == nil || w.State.Consignments[c].Code == "" {
		return Mine{}, ErrNotFound
	}
	m := Mine{AsOf: inZone(s.Clock(), w.Book), Consignment: w.State.Consignments[c], Only: only}
	m.SiteName = siteName(w.Book, m.Site)
	sent, err := s.sendings(ctx, []core.ConsignmentCode{c}, nil)
	if err != nil {
		return m, err
	}
	listed, err := s.listed(ctx, w, m.Consignment, sent)
	if err != nil {
		return m, err
	}
	for _, p := range m.Pallets {
		if b := mineBox(w, m.Consignment, p, listed[p], only); only == "" || len(b.Listed) > 0 {
			m.Boxes = append(m.Boxes, b)
		}
	}
	m.Missing, m.Receipts = missingWithin(w, m.Consignment, only), receipts(w, m, listed)
	if m.Gone.IsZero() {
		return m, nil
	}
	m.Gone, m.Consignment.Received = inZone(m.Gone, w.Book), inZone(m.Consignment.Received, w.Book)
	if err := s.atSiteOf(ctx, w, &m); err != nil {
		return m, err
	}
	m.Snags, err = s.snagsOn(ctx, w.Book, m, sent)
	return m, err
}

// atSiteOf reads what came on the consignment and is at its site.
func (s *Service) atSiteOf(ctx context.Context, w core.World, m *Mine) error {
	orders, err := s.siteOrders(ctx, w.Book, []core.StationID{core.StationID(m.Site)})
	if err != nil {
		return err
	}
	for _, o := range orders {
		o.Trucks = slices.DeleteFunc(o.Trucks, func(t SiteTruck) bool { return t.Code != m.Code })
		if len(o.Trucks) > 0 && (m.Only == "" || o.No == m.Only) {
			m.Orders = append(m.Orders, o)
		}
	}
	return nil
}

// listed tells what left in each box of a consignment, or lies in it.
func (s *Service) listed(ctx context.Context, w core.World, c core.Consignment, sent []sending) (map[core.PalletCode][]MinePart, error) {
	out := map[core.PalletCode][]MinePart{}
	add := func(p core.PalletCode, l core.Lot, n int) {
		out[p] = append(out[p], MinePart{l.ID, itemName(w.Book, l.Item), n, l.Owner.Order, p})
	}
	if c.Gone.IsZero() {
		for _, p := range c.Pallets {
			for _, l := range w.State.LotsAt(core.On(p)) {
				add(p, l, l.Qty)
			}
		}
		return out, nil
	}
	var ids []core.LotID
	for _, x := range sent {
		ids = append(ids, x.lots()...)
	}
	lots, err := s.Store.Lots(ctx, ids)
	if err != nil {
		return nil, err
	}
	for _, x := range sent {
		for _, y := range x.Lots {
			if i := slices.IndexFunc(lots, func(l core.Lot) bool { return l.ID == y.Lot }); i >= 0 {
				add(y.Pallet, lots[i], y.Qty)
			}
		}
	}
	return out, nil
}

// ordersIn lists the orders of parts listed, in order.
func ordersIn(listed map[core.PalletCode][]MinePart) []string {
	var out []string
	for _, parts := range listed {
		for _, x := range parts {
			if x.Order != "" {
				out = append(out, x.Order)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// mineBox is one box, or what is of one order in it.
func mineBox(w core.World, c core.Consignment, p core.PalletCode, listed []MinePart, only string) MineBox {
	b := MineBox{Code: p}
	for _, x := range listed {
		if only == "" || x.Order == only {
			b.Listed = append(b.Listed, x)
		}
	}
	counted := slices.Contains(c.Came, p) || !c.Received.IsZero() && !slices.Contains(c.Missed, p) || slices.Contains(c.Counted, core.BoxOrder{Box: p, Order: only})
	awaits := false
	for _, x := range lotsOf(w, c) {
		if x.Box != p || only != "" && x.Order != only {
			continue
		}
		awaits = awaits || !x.lost
		b.Parts = append(b.Parts, x.MinePart)
	}
	switch {
	case counted:
		b.State, b.Parts = BoxCame, nil
	case slices.Contains(c.Missed, p), only != "" && !awaits && len(b.Parts) > 0:
		b.State = BoxMissed
	case only != "" && !awaits && !c.Gone.IsZero():
		b.State = BoxCame // counted with the whole box
	}
	return b
}

// onTruck is what of a consignment did not come to its site: on its way still,
// or lost.
type onTruck struct {
	MinePart
	lost bool
}

func lotsOf(w core.World, c core.Consignment) []onTruck {
	var out []onTruck
	for _, id := range slices.Sorted(maps.Keys(w.State.Lots)) {
		l := w.State.Lots[id]
		x := onTruck{MinePart: MinePart{id, itemName(w.Book, l.Item), l.Qty, l.Owner.Order, l.Box}}
		switch l.Place {
		case core.Place{Kind: core.InConsignment, Ref: string(c.Code)}:
		case core.Place{Kind: core.Unexplained, Ref: string(c.Code)}:
			x.Qty, x.lost = l.Lost, true
		default:
			continue
		}
		if x.Qty > 0 {
			out = append(out, x)
		}
	}
	return out
}

// missingWithin lists what was short in boxes that came.
func missingWithin(w core.World, c core.Consignment, only string) []MinePart {
	var out []MinePart
	for _, x := range lotsOf(w, c) {
		if x.lost && slices.Contains(c.Came, x.Box) && (only == "" || x.Order == only) {
			out = append(out, x.MinePart)
		}
	}
	return out
}

// receipts says of each order on a consignment how far it is received.
func receipts(w core.World, m Mine, listed map[core.PalletCode][]MinePart) []Receipt {
	var out []Receipt
	for _, no := range ordersIn(listed) {
		if m.Only != "" && no != m.Only {
			continue
		}
		r := Receipt{Order: no}
		if i := slices.IndexFunc(m.Consignment.Receipts, func(x core.OrderReceipt) bool { return x.Order == no }); i >= 0 {
			r.At = inZone(m.Consignment.Receipts[i].At, w.Book)
		}
		boxes := map[core.PalletCode]bool{}
		for _, x := range lotsOf(w, m.Consignment) {
			switch {
			case x.Order != no:
			case x.lost:
				r.Missing += x.Qty
			default:
				boxes[x.Box] = true
			}
		}
		r.Boxes = len(boxes)
		out = append(out, r)
	}
	return out
}
