package app

import (
	"context"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// LatePage is a made unit at a station that joins late components to it: what
// its bill asks, what is inside, and what at the station could go in.
type LatePage struct {
	PalletPage
	Unit  LotView
	Lines []LateLine
}

// LateLine is one item of the unit's bill, or one that is inside without being asked.
type LateLine struct {
	Item   core.ItemRev
	Name   string
	Asked  int
	Inside []LatePart
	Beside []LatePart // on pallets at the station
}

// LatePart is so many of an item that are alike.
type LatePart struct {
	Lot    core.LotID
	Name   string
	Qty    int
	Change int             // of what is inside, how many the decision said are to come out
	Kept   bool            // was made to go into this unit
	Pallet core.PalletCode // of what is not inside
	Heat   string
	Waits  string // what comes first: "Round the edges"; "" where nothing does
	Held   bool
}

// Within counts what is inside.
func (l LateLine) Within() int {
	n := 0
	for _, p := range l.Inside {
		n += p.Qty
	}
	return n
}

// LatePage reads a unit on a pallet of the caller's station whose next step joins
// a late component. An empty unit is the first such one on the pallet. The error
// is ErrNotFound where there is none that may be worked on.
func (s *Service) LatePage(ctx context.Context, caller Caller, code core.PalletCode, print int, unit core.LotID) (LatePage, error) {
	pallet, err := s.PalletPage(ctx, caller, code, print, "")
	if err != nil {
		return LatePage{}, err
	}
	p := LatePage{PalletPage: pallet}
	i := slices.IndexFunc(pallet.Tasks, func(t Task) bool { return t.Stage.Name == "join-late" && len(t.Lots) > 0 })
	if i < 0 || !pallet.Here {
		return p, ErrNotFound
	}
	lots := pallet.Tasks[i].Lots
	j := slices.IndexFunc(lots, func(l LotView) bool { return l.Lot.ID == unit || unit == "" })
	if j < 0 {
		return p, ErrNotFound
	}
	p.Unit = lots[j]
	w, err := s.World(ctx, core.Names{Lots: []core.LotID{p.Unit.Lot.ID}, Inside: []core.LotID{p.Unit.Lot.ID}, Near: true}, caller.Station)
	if err != nil {
		return p, err
	}
	p.Lines = lateLines(w, p.Unit, caller.Station)
	return p, nil
}

func lateLines(w core.World, unit LotView, at core.StationID) []LateLine {
	var out []LateLine
	line := func(item core.ItemRev) *LateLine {
		i := slices.IndexFunc(out, func(l LateLine) bool { return l.Item == item })
		if i < 0 {
			out = append(out, LateLine{Item: item, Name: itemName(w.Book, item)})
			i = len(out) - 1
		}
		return &out[i]
	}
	for _, c := range unit.Revision.Bill {
		line(c.Item).Asked += c.Qty
	}
	for _, l := range core.Components(w.State, unit.Lot) {
		part := latePart(w, l)
		part.Change = toChange(unit.Lot, l.ID)
		x := line(l.Item)
		x.Inside = append(x.Inside, part)
	}
	beside := stockAt(w.State, at)
	if !unit.Lot.Owner.Stock() {
		beside = append(sortedLots(w.State, unit.Lot.Owner.Order), beside...)
	}
	for _, l := range beside {
		asked := slices.ContainsFunc(unit.Revision.Bill, func(c core.Component) bool { return c.Item == l.Item })
		whose := l.Owner == unit.Lot.Owner || l.Owner.Stock()
		free := l.For == "" || l.For == unit.Lot.Unit
		if asked && whose && free && l.Place.Kind == core.OnPallet && atStation(w.State, l, at) {
			part := latePart(w, l)
			part.Pallet, part.Kept = core.PalletCode(l.Place.Ref), l.For != ""
			x := line(l.Item)
			x.Beside = append(x.Beside, part)
		}
	}
	for _, l := range out {
		slices.SortStableFunc(l.Beside, func(a, b LatePart) int { return keptFirst(a) - keptFirst(b) })
	}
	return out
}

func keptFirst(p LatePart) int {
	if p.Kept {
		return 0
	}
	return 1
}

// toChange is how many of a component are to come out of a unit by the decision
// that sent it to rework.
func toChange(unit core.Lot, component core.LotID) int {
	n := 0
	if unit.Rework != nil {
		for _, k := range unit.Rework.Change {
			if k.Lot == component {
				n += k.Qty
			}
		}
	}
	return n
}

func latePart(w core.World, l core.Lot) LatePart {
	p := LatePart{Lot: l.ID, Name: itemName(w.Book, l.Item), Qty: l.Qty, Heat: strings.Join(l.Heats, ", ")}
	if next := core.OwnSteps(w.Book, l); len(next) > 0 {
		p.Waits = stageTitle(w.Book, next[0].Stage)
	}
	_, p.Held = core.HeldBy(w.State, l)
	return p
}
