package postgres

import (
	"maps"
	"slices"

	"tagalong/internal/core"
)

// rowKind is what sort of row a name is of; with the name it makes a lock.
type rowKind string

const (
	aPallet      rowKind = "pallet"
	aLot         rowKind = "lot"
	aBuild       rowKind = "build"
	aConsignment rowKind = "consignment"
	aHold        rowKind = "hold"
	aProblem     rowKind = "problem"
	aSnag        rowKind = "snag"
	anAbrasive   rowKind = "abrasive"
	anOrder      rowKind = "order"
	aNest        rowKind = "nest"
	aSite        rowKind = "site"
	aSlot        rowKind = "slot"
	anEvent      rowKind = "event"
)

// scope is every row a command sees and locks. It begins with the rows the
// command names and grows by the rows those lead to.
type scope struct {
	station core.StationID
	near    bool
	slot    string // of the station: the pallets in it are wanted
	whole   bool
	alone   bool         // everybody else is kept out
	inside  []core.LotID // units whose components are wanted
	names   map[rowKind]map[string]bool
}

// newScope is what a command at a station names, with the station's abrasive.
func newScope(n core.Names, station core.StationID, b *core.Book) *scope {
	sc := &scope{station: station, near: n.Near, whole: n.Whole, alone: n.Alone, inside: n.Inside, names: map[rowKind]map[string]bool{}}
	addAll(sc, aPallet, n.Pallets)
	addAll(sc, aLot, n.Lots)
	addAll(sc, aBuild, n.Builds)
	addAll(sc, aConsignment, n.Consignments)
	addAll(sc, aHold, n.Holds)
	addAll(sc, aProblem, n.Problems)
	addAll(sc, aSnag, n.Snags)
	addAll(sc, anAbrasive, n.Abrasives)
	addAll(sc, anOrder, n.Orders)
	addAll(sc, aNest, n.Nests)
	addAll(sc, anEvent, n.Events)
	if n.Slot != "" {
		// Two tablets may fill one empty slot at once: there is no row of it to lock.
		sc.slot = n.Slot
		sc.add(aSlot, string(station)+" "+n.Slot)
	}
	sc.addAbrasive(b)
	return sc
}

// addAbrasive adds what is mounted at the station by this book, and reports
// whether that is new.
func (sc *scope) addAbrasive(b *core.Book) bool {
	return sc.add(anAbrasive, b.Stations[sc.station].Abrasive)
}

func addAll[T ~string](sc *scope, kind rowKind, ids []T) bool {
	grew := false
	for _, id := range ids {
		grew = sc.add(kind, string(id)) || grew
	}
	return grew
}

// add reports whether the name is new; an empty one, or no kind, is none.
func (sc *scope) add(kind rowKind, id string) bool {
	if kind == "" || id == "" || sc.names[kind][id] {
		return false
	}
	if sc.names[kind] == nil {
		sc.names[kind] = map[string]bool{}
	}
	sc.names[kind][id] = true
	return true
}

// of lists the names of a kind; never nil, for SQL would take that for null.
func (sc *scope) of(kind rowKind) []string {
	return append([]string{}, slices.Sorted(maps.Keys(sc.names[kind]))...)
}

// locks lists every name with its kind.
func (sc *scope) locks() []string {
	var out []string
	for kind, ids := range sc.names {
		for id := range ids {
			out = append(out, string(kind)+":"+id)
		}
	}
	return out
}

// follow adds what the rows read lead to: a lot leads to where it rests, a
// consignment to its pallets, a problem to its lot, an event to all it touched.
// It reports whether there was anything new.
func (sc *scope) follow(s *core.State, past []core.Event) bool {
	grew := false
	reopens := len(sc.inside) > 0 || len(sc.names[aProblem]) > 0 // a unit taken apart or scrapped is to be built again
	for _, l := range s.Lots {
		grew = sc.addPlace(l.Place) || grew
		if reopens {
			grew = sc.add(aBuild, string(l.Unit)) || grew
		}
		if !sc.near { // what lies near is there to be chosen from
			grew = sc.addOwner(l.Owner) || grew
		}
	}
	for code, p := range s.Pallets {
		grew = sc.add(aPallet, string(code)) || grew
		grew = sc.add(aConsignment, string(p.Consignment)) || grew
	}
	for _, c := range s.Consignments {
		grew = addAll(sc, aPallet, c.Pallets) || grew
	}
	for _, n := range s.Nests {
		for _, p := range n.Parts {
			grew = sc.addOwner(p.Owner) || grew
		}
	}
	for code, b := range s.Builds {
		if sc.names[aBuild][string(code)] {
			grew = sc.addOwner(b.Owner) || grew
		}
		switch {
		case b.Lot == "":
			grew = sc.add(aBuild, string(code)) || grew
		case sc.names[aBuild][string(code)]:
			grew = sc.add(aLot, string(b.Lot)) || grew
		}
	}
	for id := range sc.names[aProblem] {
		grew = sc.add(aLot, string(s.Problems[core.ProblemID(id)].Lot)) || grew
	}
	for id, h := range s.Holds {
		if sc.names[aProblem][string(h.Problem)] {
			grew = sc.add(aHold, string(id)) || grew
		}
	}
	for _, e := range past {
		// Later events of the same lots are there to be looked at, not undone.
		if sc.names[anEvent][string(e.ID)] {
			grew = sc.followEvent(e) || grew
		}
	}
	return grew
}

func (sc *scope) followEvent(e core.Event) bool {
	grew := addAll(sc, aPallet, e.Pallets)
	for _, l := range e.Lots {
		grew = sc.add(aLot, string(l.Lot)) || grew
	}
	for _, f := range e.Effects {
		grew = sc.followEffect(f) || grew
	}
	return grew
}

func (sc *scope) followEffect(f core.Effect) bool {
	grew := sc.add(aLot, string(f.Lot()))
	switch {
	case f.Moved != nil:
		from, to := sc.addPlace(f.Moved.From), sc.addPlace(f.Moved.To)
		return grew || from || to
	case f.PalletPut != nil:
		return sc.add(aPallet, string(f.PalletPut.Code))
	case f.BuildPut != nil:
		return sc.add(aBuild, string(f.BuildPut.Code))
	case f.ConsignmentPut != nil:
		return sc.add(aConsignment, string(f.ConsignmentPut.Code))
	case f.HoldPut != nil:
		return sc.add(aHold, string(f.HoldPut.ID))
	case f.ProblemPut != nil:
		return sc.add(aProblem, string(f.ProblemPut.ID))
	case f.SnagPut != nil:
		return sc.add(aSnag, string(f.SnagPut.ID))
	case f.AbrasivePut != nil:
		return sc.add(anAbrasive, f.AbrasivePut.ID)
	case f.OrderPut != nil:
		return sc.add(anOrder, f.OrderPut.No)
	case f.NestPut != nil:
		return sc.add(aNest, f.NestPut.ID)
	}
	return grew
}

// addOwner adds the order whose lots are counted, and locks it: parts may come
// to it from two sides at once.
func (sc *scope) addOwner(o core.Owner) bool { return sc.whole && sc.add(anOrder, o.Order) }

func (sc *scope) addPlace(p core.Place) bool { return sc.add(placeLock(p), p.Ref) }

// hasPlace reports whether a place parts rest at is locked.
func (sc *scope) hasPlace(p core.Place) bool { return sc.names[placeLock(p)][p.Ref] }

// placeLock is the kind of row that is locked for a place. Sources and sinks
// keep no balance and have none.
func placeLock(p core.Place) rowKind {
	switch p.Kind {
	case core.OnPallet:
		return aPallet
	case core.InBuild:
		return aBuild
	case core.InConsignment:
		return aConsignment
	case core.Inside:
		return aLot
	case core.AtSite:
		return aSite
	}
	return ""
}
