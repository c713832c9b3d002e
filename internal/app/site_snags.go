package app

import (
	"cmp"
	"context"
	"slices"
	"time"

	"tagalong/internal/core"
)

// mostSnags bounds the snags of one consignment or order.
const mostSnags = 500

// Snag is something found at a site: on parts, which are then a nonconformity
// and held, or otherwise; and what becomes of it.
type Snag struct {
	Lot    core.LotID  // of the parts, or the unit it is about; empty: neither
	Parts  string      // "1 service cover"; empty: it is about no parts
	Loose  core.SnagID // of one that is no nonconformity
	Order  string
	What   string
	By     core.PersonID
	Who    string // By's name; a bearer is told none
	At     time.Time
	Wanted core.Date // by when it is to be put right
	Photos []string
	Said   string // how one that is no nonconformity was put right, as its fitter said; it may be open still
	SaidBy core.PersonID
	Shown  []string // photos that the fitter took of that
	Done   string   // about one that is closed
	After  []string // photos of that
	Held   bool     // the parts may not be used until somebody has decided
	Over   bool     // nothing more is to come of it
	State  string   // "being made again"
}

// forBearer is the snag without what is not for a bearer of a consignment's link
// to see: who in the shop did what, and photos that no bearer took.
func (s Snag) forBearer(c core.ConsignmentCode) Snag {
	if !bearsFor(s.By, c) {
		s.Photos = nil
	}
	if !bearsFor(s.SaidBy, c) {
		s.Shown = nil
	}
	s.Who, s.After = "", nil
	switch {
	case s.Done != "":
		s.State = "closed: " + s.Done
	case s.Said != "":
		s.State = "put right, the shop has not closed it yet: " + s.Said
	}
	return s
}

func openSnags(all []Snag) int {
	n := 0
	for _, s := range all {
		if !s.Over {
			n++
		}
	}
	return n
}

// SnagEntry is a nonconformity found at a site, its lot, and what was made to
// replace it.
type SnagEntry struct {
	RegisterEntry
	Again []core.Lot
}

// OrderSnags is the snags of one order.
type OrderSnags struct {
	AsOf time.Time
	core.Order
	SiteName string
	Snags    []Snag // latest first
}

// Open counts the snags that are not dealt with.
func (o OrderSnags) Open() int { return openSnags(o.Snags) }

// SnagsOfOrder reads the snags of one order; ErrNotFound where it is not known.
func (s *Service) SnagsOfOrder(ctx context.Context, no string) (OrderSnags, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return OrderSnags{}, err
	}
	w, err := s.World(ctx, core.Names{Orders: []string{no}}, "")
	if err != nil {
		return OrderSnags{}, err
	}
	order, known := w.State.Orders[no]
	if !known {
		return OrderSnags{}, ErrNotFound
	}
	o := OrderSnags{AsOf: inZone(w.Now, b), Order: order, SiteName: siteName(b, order.Site)}
	o.Snags, err = s.snagsOfOrder(ctx, b, no)
	return o, err
}

// snagsOfOrder reads what was found at the site on an order.
func (s *Service) snagsOfOrder(ctx context.Context, b *core.Book, no string) ([]Snag, error) {
	found, err := s.Store.OrderSnags(ctx, no, mostSnags)
	if err != nil {
		return nil, err
	}
	var out []Snag
	for _, e := range found {
		out = append(out, newSnag(b, e))
	}
	return s.looseSnags(ctx, b, out, []string{no}, func(core.Snag) bool { return true })
}

// snagsOn reads what was found on one consignment at its site.
func (s *Service) snagsOn(ctx context.Context, b *core.Book, m Mine, sent []sending) ([]Snag, error) {
	var lots []core.LotID
	for _, x := range sent {
		lots = append(lots, x.lots()...)
	}
	found, err := s.Store.Snags(ctx, lots, m.Gone, mostSnags)
	if err != nil {
		return nil, err
	}
	mine := bearing{sent: sent}
	var out []Snag
	for _, e := range found {
		switch came := sentBy(e.Lot); {
		case came != "" && !mine.brought(e.Lot): // of a part that was split off before it left, and came on another
		case e.Problem.Station != "" && string(e.Problem.Station) != m.Site:
		case m.Only != "" && e.Lot.Owner.Order != m.Only:
		default:
			out = append(out, newSnag(b, e))
		}
	}
	var orders []string
	for _, r := range m.Receipts {
		orders = append(orders, r.Order)
	}
	return s.looseSnags(ctx, b, out, orders, func(x core.Snag) bool { return x.Consignment == m.Code })
}

// looseSnags adds the orders' snags that are no nonconformities of parts.
func (s *Service) looseSnags(ctx context.Context, b *core.Book, out []Snag, orders []string, like func(core.Snag) bool) ([]Snag, error) {
	loose, err := s.Store.SnagsOf(ctx, orders, mostSnags)
	if err != nil {
		return nil, err
	}
	var units []core.LotID
	for _, x := range loose {
		if x.Unit != "" {
			units = append(units, x.Unit)
		}
	}
	lots, err := s.unitsNamed(ctx, units)
	if err != nil {
		return nil, err
	}
	for _, x := range loose {
		if like(x) {
			out = append(out, looseSnag(b, x, lots))
		}
	}
	slices.SortStableFunc(out, func(a, b Snag) int { return cmp.Or(b.At.Compare(a.At), cmp.Compare(a.What, b.What)) })
	return out, nil
}

func (s *Service) unitsNamed(ctx context.Context, units []core.LotID) (map[core.LotID]core.Lot, error) {
	out := map[core.LotID]core.Lot{}
	if len(units) == 0 {
		return out, nil
	}
	lots, err := s.Store.Lots(ctx, units)
	for _, l := range lots {
		out[l.ID] = l
	}
	return out, err
}

func looseSnag(b *core.Book, x core.Snag, units map[core.LotID]core.Lot) Snag {
	out := Snag{Lot: x.Unit, Loose: x.ID, Order: x.Order, What: x.What, By: x.By, Who: PersonName(b, x.By), At: inZone(x.At, b),
		Wanted: x.Wanted, Photos: x.Photos, Done: x.Done, After: x.After, Over: !x.Open(), State: "to be put right"}
	if l, ok := units[x.Unit]; ok {
		out.Parts = Named(max(1, l.Qty), itemName(b, l.Item))
	}
	if p := x.PutRight; p != nil {
		out.Said, out.SaidBy, out.Shown = p.Done, p.By, p.Photos
		out.State = "put right, to be closed, says " + PersonName(b, p.By) + ": " + p.Done
	}
	if !x.Open() {
		out.State = "closed by " + PersonName(b, x.Closer) + ": " + x.Done
	}
	return out
}

func newSnag(b *core.Book, e SnagEntry) Snag {
	p := e.Problem
	s := Snag{Lot: p.Lot, Parts: Named(p.Qty, itemName(b, e.Lot.Item)), Order: e.Lot.Owner.Order, What: p.What, By: p.By, Who: PersonName(b, p.By),
		At: inZone(p.At, b), Wanted: p.Wanted, Photos: p.Photos, Held: p.Open()}
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
