package app

import (
	"context"
	"maps"
	"slices"
	"time"

	"tagalong/internal/core"
)

// mostSnags bounds the snags of one consignment.
const mostSnags = 500

// Mine is what the bearer of a link sees: one consignment, box by box, what of
// it is at the site, and what was found on it. Nothing of who ordered it, of
// prices or of anything else.
type Mine struct {
	AsOf time.Time
	Ends time.Time // of the link
	core.Consignment
	SiteName string
	Boxes    []MineBox   // in the order of the packing list
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
	Code  core.PalletCode
	State BoxState
	Parts []MinePart // as listed; of one that came, none
}

// MinePart is so many like parts in a box.
type MinePart struct {
	Lot  core.LotID
	Name string
	Qty  int
}

// Box finds a box by its code.
func (m Mine) Box(code core.PalletCode) (MineBox, bool) {
	i := slices.IndexFunc(m.Boxes, func(b MineBox) bool { return b.Code == code })
	if i < 0 {
		return MineBox{}, false
	}
	return m.Boxes[i], true
}

// Open counts the snags that are not dealt with.
func (m Mine) Open() int {
	n := 0
	for _, s := range m.Snags {
		if !s.Over {
			n++
		}
	}
	return n
}

// Mine reads the page of the bearer who asks.
func (s *Service) Mine(ctx context.Context, by Caller) (Mine, error) {
	m, err := s.Brought(ctx, by.Bearer.Consignment)
	if err != nil {
		return m, err
	}
	for i := range m.Snags { // others' photos are not for a bearer to see
		if x := &m.Snags[i]; !bearsFor(x.By, m.Code) {
			x.Photos = nil
		}
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

// Brought reads one consignment as its site sees it. The error is ErrNotFound
// where there is none of that code.
func (s *Service) Brought(ctx context.Context, c core.ConsignmentCode) (Mine, error) {
	w, err := s.look(ctx, core.Names{Consignments: []core.ConsignmentCode{c}})
	if err != nil {
		return Mine{}, err
	}
	if w.State == nil || w.State.Consignments[c].Code == "" {
		return Mine{}, ErrNotFound
	}
	m := Mine{AsOf: inZone(s.Clock(), w.Book), Consignment: w.State.Consignments[c]}
	m.SiteName = siteName(w.Book, m.Site)
	for _, p := range m.Pallets {
		m.Boxes = append(m.Boxes, mineBox(w, m.Consignment, p))
	}
	if m.Gone.IsZero() {
		return m, nil
	}
	m.Gone, m.Received = inZone(m.Gone, w.Book), inZone(m.Received, w.Book)
	orders, err := s.siteOrders(ctx, w.Book, []core.StationID{core.StationID(m.Site)})
	if err != nil {
		return m, err
	}
	for _, o := range orders {
		o.Trucks = slices.DeleteFunc(o.Trucks, func(t SiteTruck) bool { return t.Code != c })
		if len(o.Trucks) > 0 {
			m.Orders = append(m.Orders, o)
		}
	}
	m.Snags, err = s.snags(ctx, w.Book, m.Consignment)
	return m, err
}

func mineBox(w core.World, c core.Consignment, p core.PalletCode) MineBox {
	b := MineBox{Code: p}
	switch {
	case slices.Contains(c.Came, p):
		b.State = BoxCame
		return b
	case slices.Contains(c.Missed, p):
		b.State = BoxMissed
	}
	for _, id := range slices.Sorted(maps.Keys(w.State.Lots)) {
		l := w.State.Lots[id]
		n := l.Qty
		switch l.Place {
		case core.Place{Kind: core.InConsignment, Ref: string(c.Code)}:
		case core.Place{Kind: core.Unexplained, Ref: string(c.Code)}: // in a box that was missed
			n = l.Lost
		default:
			continue
		}
		if l.Box == p && n > 0 {
			b.Parts = append(b.Parts, MinePart{id, itemName(w.Book, l.Item), n})
		}
	}
	return b
}

// Snag is something found at a site on parts of a consignment, and what becomes
// of it.
type Snag struct {
	core.Problem
	Name  string // of the item
	Held  bool   // the parts may not be used until somebody has decided
	Over  bool   // nothing more is to come of it
	State string // "being made again"
}

// SnagEntry is a nonconformity found at a site, its lot, and what was made to
// replace it.
type SnagEntry struct {
	RegisterEntry
	Again []core.Lot
}

func (s *Service) snags(ctx context.Context, b *core.Book, c core.Consignment) ([]Snag, error) {
	sent, err := s.sendings(ctx, []core.ConsignmentCode{c.Code}, nil)
	if err != nil {
		return nil, err
	}
	var lots []core.LotID
	for _, x := range sent {
		lots = append(lots, x.lots()...)
	}
	found, err := s.Store.Snags(ctx, lots, c.Gone, mostSnags)
	if err != nil {
		return nil, err
	}
	mine := bearing{sent: sent}
	var out []Snag
	for _, e := range found {
		if came := sentBy(e.Lot); came != "" && !mine.brought(e.Lot) || e.Problem.Station != "" && string(e.Problem.Station) != c.Site {
			continue // of a part that was split off before it left, and came on another
		}
		out = append(out, newSnag(b, e))
	}
	return out, nil
}

func newSnag(b *core.Book, e SnagEntry) Snag {
	p := e.Problem
	p.At = inZone(p.At, b)
	s := Snag{Problem: p, Name: itemName(b, e.Lot.Item), Held: p.Open()}
	s.State, s.Over = snagState(e)
	return s
}

// snagState says what has become of a snag, and whether that is all.
func snagState(e SnagEntry) (string, bool) {
	p := e.Problem
	if p.Open() {
		return "reported; the shop has not decided yet", false
	}
	switch p.Disposition {
	case core.DisposeUseAsIs:
		return "may be used as it is", true
	case core.DisposeRework:
		return "to be put right", true
	case core.DisposeScrap:
		return "not to be used; none is made again", true
	case core.DisposeRemake:
		return remakeState(e)
	}
	return "taken back", true
}

func remakeState(e SnagEntry) (string, bool) {
	at := func(f func(core.Lot) bool) bool { return slices.ContainsFunc(e.Again, f) }
	switch {
	case at(func(l core.Lot) bool { return l.Place.Kind == core.AtSite }):
		return "made again, and at the site", true
	case at(func(l core.Lot) bool { return l.Place.Kind == core.InConsignment && sentBy(l) != "" }):
		return "made again, and on its way", false
	case e.Cut || len(e.Again) > 0:
		return "being made again", false
	}
	return "to be made again: asked for at the shop", false
}
