package app

import (
	"context"
	"errors"
	"slices"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/words"
)

// StationPage is a station at rest: what is here, what is on its way, and the
// units it could build.
type StationPage struct {
	Standing
	Station core.Station
	Book    *core.Book
	Builds  []BuildView // at stations that weld or assemble
	Builder bool        // the station makes units, even if none waits now
}

// BuildView is one unit a station could build next: its bill against what is
// gathered and what is here.
type BuildView struct {
	Build    core.Build // the zero Build while nothing was gathered
	Item     core.ItemRev
	Name     string
	Owner    core.Owner
	Customer string
	Promised core.Date
	ToBuild  int // units of the order line not built or begun elsewhere, this one included
	Step     core.Step
	Stage    core.Stage
	Revision core.Revision
	Lines    []BuildLine
	Taken    []Taken // gathered lots, to be put back
	// Start is what starting on a gathered unit would be refused with, StartWhy
	// its text; nil where it may be started, was started, or nothing is gathered.
	Start    *core.Refusal
	StartWhy words.Text
	Inputs   []InputChoice
}

// Key names the unit in an address: its build, or the item and order line that
// the next build would be for.
func (v BuildView) Key() string {
	if v.Build.Code != "" {
		return string(v.Build.Code)
	}
	return v.Item.Key() + "|" + v.Owner.String()
}

// Ready reports whether all the bill asks is gathered.
func (v BuildView) Ready() bool {
	return !slices.ContainsFunc(v.Lines, func(l BuildLine) bool { return l.Gathered < l.Asked })
}

// Fits counts the parts that could be gathered now.
func (v BuildView) Fits() int {
	n := 0
	for _, l := range v.Lines {
		n += min(l.Here, max(0, l.Asked-l.Gathered))
	}
	return n
}

// Short counts the parts of the bill that are neither gathered nor here.
func (v BuildView) Short() int {
	n := 0
	for _, l := range v.Lines {
		n += l.Short()
	}
	return n
}

// Taken is a gathered lot.
type Taken struct {
	Lot  core.LotID
	Name string
	Qty  int
}

// BuildLine is one line of a unit's bill.
type BuildLine struct {
	Item     core.ItemRev
	Name     string
	Asked    int // for one unit
	Gathered int
	Here     int          // on pallets at the station, done and not held
	Not      []Spot       // elsewhere, unfinished or held
	Cut      []InSheet    // in sheets and nests still
	Again    []Again      // asked to be cut again, and in a sheet still
	Batches  []BuildBatch // what is gathered, and what is here
}

// BuildBatch is so many of a component of one batch.
type BuildBatch struct {
	Qty      int
	Batch    string // heat or batch numbers; "" where none was recorded
	Expires  core.Date
	Gathered bool
	Pallet   core.PalletCode // of what is not gathered yet
	Refused  words.Text      // why it can't be gathered; zero where it can
}

// Short is how many are neither gathered nor here.
func (l BuildLine) Short() int { return max(0, l.Asked-l.Gathered-l.Here) }

// Part is which of a list are asked for.
type Part struct {
	From int             // how many are left out before, of the pallets that are here
	Most int             // 0: all, as far as lists go
	With core.PalletCode // is there as well, wherever in the list it stands
}

// Standing is what is at a station and on its way there, or a part of it.
type Standing struct {
	Here, Coming       []PalletCard // oldest promised date first
	HereAll, ComingAll int          // how many there are, in the list or not
}

// Part keeps of a whole list what is asked for.
func (x Standing) Part(p Part) Standing {
	if p.Most <= 0 {
		return x
	}
	some := func(all []PalletCard, from int) []PalletCard {
		from = min(from, len(all))
		upto := min(from+p.Most, len(all))
		out := slices.Clone(all[from:upto])
		for i, c := range all {
			if c.Code == p.With && (i < from || i >= upto) {
				out = append(out, c)
			}
		}
		return out
	}
	x.Here, x.Coming = some(x.Here, p.From), some(x.Coming, 0)
	return x
}

// StationPage reads the caller's station, with a part of what stands there.
func (s *Service) StationPage(ctx context.Context, caller Caller, part Part) (StationPage, error) {
	b, err := s.Store.Book(ctx)
	if err != nil {
		return StationPage{}, err
	}
	st, ok := b.Stations[caller.Station]
	if !ok {
		return StationPage{}, ErrNotFound
	}
	p := StationPage{Station: st, Book: b}
	if p.Builder = slices.ContainsFunc(st.Stages, func(n core.StageName) bool { return builds(b, n) }); !p.Builder {
		p.Standing, err = s.Store.AtStation(ctx, st.ID, part)
		return p, err
	}
	// What can be built follows from all that is here.
	if p.Standing, err = s.Store.AtStation(ctx, st.ID, Part{}); err != nil {
		return StationPage{}, err
	}
	p.Builds, err = s.unitsAt(ctx, st, p.Here)
	p.Standing = p.Part(part)
	return p, err
}

// BuildPage reads one unit a station could build, by the key of its view.
func (s *Service) BuildPage(ctx context.Context, caller Caller, key string) (BuildView, error) {
	p, err := s.StationPage(ctx, caller, Part{Most: 1})
	if err != nil {
		return BuildView{}, err
	}
	for _, v := range p.Builds {
		if v.Key() == key || string(v.Build.Code) == key || v.startKey() == key {
			return v, errors.Join(s.findBought(ctx, &v, caller.Station), s.sinceDecided(ctx, &v, caller.Station), s.usually(ctx, &v))
		}
	}
	return BuildView{}, ErrNotFound
}

// startKey is the key the view had before anything was gathered, so that a page
// opened then still finds it.
func (v BuildView) startKey() string { return v.Item.Key() + "|" + v.Owner.String() }

// builds reports whether a stage makes units out of components.
func builds(b *core.Book, n core.StageName) bool {
	st, ok := b.Table.Stage(n)
	return ok && slices.Contains(st.Predicates, core.BuildComplete) && n != "join-late"
}

// unitsAt lists the units the station could build of the orders that have
// something here, those already begun here, and the kits that stock here would
// go into; oldest promise first.
func (s *Service) unitsAt(ctx context.Context, st core.Station, here []PalletCard) ([]BuildView, error) {
	orders, err := s.begunAt(ctx, st.ID)
	if err != nil {
		return nil, err
	}
	for _, c := range here {
		for _, o := range c.Orders {
			if !slices.Contains(orders, o) {
				orders = append(orders, o)
			}
		}
	}
	near, err := s.World(ctx, core.Names{Near: true}, st.ID)
	if err != nil {
		return nil, err
	}
	out, err := s.kitsAt(ctx, st, near, orders)
	if err != nil || len(orders) == 0 {
		return out, err
	}
	sheets, err := s.Store.OpenSheets(ctx)
	if err != nil {
		return nil, err
	}
	worlds, err := s.Store.LoadOrders(ctx, orders)
	if err != nil {
		return nil, err
	}
	for i, w := range worlds {
		w.Now = near.Now
		withStock(&w, near, st.ID)
		out = append(out, unitsOf(w, orders[i], st, sheets)...)
	}
	slices.SortStableFunc(out, func(a, b BuildView) int {
		if a.Promised != b.Promised {
			return strings.Compare(string(a.Promised), string(b.Promised))
		}
		return a.Short() - b.Short()
	})
	return out, nil
}

// begunAt lists the orders whose units were begun at the station.
func (s *Service) begunAt(ctx context.Context, st core.StationID) ([]string, error) {
	builds, err := s.Store.OpenBuilds(ctx, st)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, b := range builds {
		if b.Owner.Order != "" {
			out = append(out, b.Owner.Order)
		}
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}
