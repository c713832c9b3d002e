package app

import (
	"context"

	"tagalong/internal/code"
	"tagalong/internal/core"
)

// SiteSet is an order's set at its site: what is asked, what of it is there and
// may be fitted, and where the rest is, with how long that usually takes. No day is made up.
type SiteSet struct {
	Order string
	Lines []SetLine
}

// SetLine is so many of one item of a set.
type SetLine struct {
	Item  core.ItemRev
	Name  string
	For   string // the product that is put together of it at the site; empty: by itself
	Asked int
	Here  int    // at the site, and not held
	Held  int    // at the site, and not to be fitted before the shop has decided
	Lost  int    // was sent, and did not come
	Not   []Spot // where the rest is, as far as it is made
	Made  int    // still to be put together in the shop
	Cut   int    // in its sheet, to be broken out
	Uncut int    // on a nest, to be cut
	None  int    // neither made nor on a nest; of a kit, not made up; of a bought item, not here
	Kind  core.ItemKind
	Again []Again // asked for once more
}

// Short is how many are not there.
func (l SetLine) Short() int { return max(0, l.Asked-l.Here) }

// Complete reports whether all of the set is there.
func (s SiteSet) Complete() bool { return s.Short() == 0 }

// Short is how many parts of the set are not there.
func (s SiteSet) Short() int {
	n := 0
	for _, l := range s.Lines {
		n += l.Short()
	}
	return n
}

// Counts are how many parts are there, and how many are asked.
func (s SiteSet) Counts() (here, asked int) {
	for _, l := range s.Lines {
		here, asked = here+min(l.Here, l.Asked), asked+l.Asked
	}
	return here, asked
}

// Lacking lists the lines of which some are not there.
func (s SiteSet) Lacking() []SetLine {
	var out []SetLine
	for _, l := range s.Lines {
		if l.Short() > 0 {
			out = append(out, l)
		}
	}
	return out
}

// SetsOf reads the sets of the orders of which something came on a consignment.
func (s *Service) SetsOf(ctx context.Context, m Mine) ([]SiteSet, error) {
	var out []SiteSet
	for _, o := range m.Orders {
		set, err := s.siteSet(ctx, o.No, o.At)
		if err != nil {
			return nil, err
		}
		out = append(out, set)
	}
	return out, nil
}

// siteSet reads the set of an order at a site; one that is not known has none.
func (s *Service) siteSet(ctx context.Context, no string, at core.StationID) (SiteSet, error) {
	if no == "" {
		return SiteSet{}, nil
	}
	sheets, err := s.Store.OpenSheets(ctx)
	if err != nil {
		return SiteSet{}, err
	}
	w, v, err := s.orderStands(ctx, no, sheets)
	if err != nil {
		return SiteSet{}, err
	}
	set := newSiteSet(w, v, at)
	if set.Complete() {
		return set, nil
	}
	usual, err := s.Store.Usual(ctx)
	for _, l := range set.Lines {
		usual.tell(w.Book, l.Item, l.Not, l.Again, w.Now)
	}
	return set, err
}

func newSiteSet(w core.World, v OrderView, at core.StationID) SiteSet {
	out := SiteSet{Order: v.Order.No}
	x := needing{drawing: &drawing{w: w}, order: v.Order.No}
	var walk func(owner core.Owner, n Need, whole string)
	walk = func(owner core.Owner, n Need, whole string) {
		if n.Delivered { // it goes out as its components, and is put together there
			for _, p := range n.Parts {
				walk(owner, p, n.Name)
			}
			return
		}
		out.Lines = append(out.Lines, x.setLine(owner, n, whole, at))
	}
	for _, n := range v.Needs {
		walk(core.Owner{Order: v.Order.No, Line: n.Line}, n, "")
	}
	return out
}

func (x needing) setLine(owner core.Owner, n Need, whole string, at core.StationID) SetLine {
	l := SetLine{Item: n.Item, Name: n.Name, For: whole, Asked: n.Asked, Made: n.ToBuild(), Cut: n.ToBreak, Uncut: n.ToCut, Kind: n.Kind}
	for _, lot := range sortedLots(x.w.State, owner.Order) {
		if lot.Owner != owner || lot.Item != n.Item || !lot.Place.Kind.Holds() || lot.Place.Kind == core.Inside {
			continue
		}
		_, stopped := stopOf(x.w.State, &lot)
		here := lot.Place == core.Place{Kind: core.AtSite, Ref: string(at)}
		switch {
		case here && stopped:
			l.Held += lot.Qty
		case here:
			l.Here += lot.Qty
		default:
			l.Not = append(l.Not, x.component(lot))
		}
	}
	for _, lot := range x.w.State.Lots {
		sent := code.Code(lot.Place.Ref).Kind() == code.Consignment
		if lot.Owner == owner && lot.Item == n.Item && lot.Place.Kind == core.Unexplained && sent {
			l.Lost += lot.Lost
		}
	}
	l.Again = cutAgain(x.w.State, owner, n.Item)
	for _, a := range l.Again { // told by itself
		if a.Cut {
			l.Cut = max(0, l.Cut-a.Qty)
		} else {
			l.Uncut = max(0, l.Uncut-a.Qty)
		}
	}
	l.None = max(0, n.Missing-l.Lost)
	return l
}
