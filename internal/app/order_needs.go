package app

import (
	"slices"
	"time"

	"tagalong/internal/core"
)

// Need is so many of one item that an order asks, with what is there of it. For
// units not yet built, Parts says the same of their components.
type Need struct {
	Line  int
	Item  core.ItemRev
	Name  string
	Kind  core.ItemKind
	Asked int

	There    int // made: in the shop, loaded or gone
	Packed   int // of those: packed, loaded and gone included
	Loaded   int // of those: on a truck, gone included
	Shipped  int // of those: gone
	ToBreak  int // cut, still in the sheet
	ToCut    int // on a nest that is not cut yet
	Gathered int // in a unit build
	// Missing are neither here nor on a nest; for a unit that is made of
	// components, see Parts instead.
	Missing int
	// Made says the shop assembles the item from Parts; Delivered that it goes
	// out as its components, so that only Parts count.
	Made, Delivered bool
	Spots           []Spot
	Parts           []Need
}

// ToBuild is how many units still have to be assembled.
func (n Need) ToBuild() int {
	if !n.Made {
		return 0
	}
	return max(0, n.Asked-n.There)
}

// Ready reports whether all that was asked is packed.
func (n Need) Ready() bool { return n.Packed >= n.Asked }

// Spot is where some of an item are.
type Spot struct {
	Qty     int
	Pallet  core.PalletCode
	Place   string // "at weld bench 2"
	Stage   string // what it waits for: "weld inspection"; "" where its route has ended
	Held    bool
	Why     string
	Reach   Reach
	Lot     core.LotID
	Begun   bool
	Promise core.Date
	Since   time.Time     // since when it waits for Stage
	Then    []string      // what is still to be done to it after that: "folding"
	Usual   time.Duration // how long that all usually takes from here; 0 where that is not known
	left    []core.StageName
	Remake  bool // made to replace what a problem spoilt
}

// needing carries what the explosion of one order's bills looks up and uses up.
type needing struct {
	*drawing
	order string
	cut   map[nestKey]int // parts in cut sheets not yet broken out
	toCut map[nestKey]int // parts on nests not yet cut
	left  map[core.LotID]core.PalletCode
	lots  map[nestKey][]*OrderLot // of the order, in order
}

type nestKey struct {
	owner core.Owner
	item  core.ItemRev
}

func (d *drawing) needs(o core.Order, sheets []SheetCard, left map[core.LotID]core.PalletCode, lots []OrderLot) []Need {
	w := d.w
	x := needing{drawing: d, order: o.No, cut: map[nestKey]int{}, toCut: map[nestKey]int{}, left: left, lots: map[nestKey][]*OrderLot{}}
	for i := range lots {
		key := nestKey{lots[i].Owner, lots[i].Item}
		x.lots[key] = append(x.lots[key], &lots[i])
	}
	seen := map[string]bool{}
	nest := func(n core.Nest, cut bool) {
		if n.ID == "" || seen[n.ID] || n.Separated {
			return
		}
		seen[n.ID] = true
		for _, p := range n.Parts {
			if p.Owner.Order != o.No {
				continue
			}
			if cut {
				x.cut[nestKey{p.Owner, p.Item}] += p.Qty
			} else {
				x.toCut[nestKey{p.Owner, p.Item}] += p.Qty
			}
		}
	}
	// A cut sheet comes with every nest it may have been cut for. Which it was is
	// known only where there is one: the others don't count as cut for it.
	candidates := map[core.PalletCode]int{}
	for _, s := range sheets {
		candidates[s.Code]++
	}
	for _, s := range sheets {
		if s.Cut && (s.Nest.Sheet == s.Code || candidates[s.Code] == 1) {
			nest(s.Nest, true)
		}
	}
	for _, s := range sheets {
		nest(s.Nest, false)
	}
	for _, n := range w.State.Nests {
		nest(n, n.Sheet != "")
	}
	var out []Need
	for _, line := range o.Lines {
		owner := core.Owner{Order: o.No, Line: line.Line}
		n := x.need(owner, line.Item, line.Qty, map[core.ItemRev]bool{})
		n.Line = line.Line
		out = append(out, n)
	}
	return out
}

// need counts one item of one order line. Parts follow for the units not yet
// built; path stops a bill that, by a fault, holds itself.
func (x needing) need(owner core.Owner, item core.ItemRev, asked int, path map[core.ItemRev]bool) Need {
	rev := x.w.Book.Items[item]
	n := Need{Item: item, Name: itemName(x.w.Book, item), Kind: rev.Kind, Asked: asked}
	n.Made = len(rev.Bill) > 0 && rev.Kind != core.KitItem
	n.Delivered = n.Made && rev.Route.Name == ""
	x.there(&n, owner)
	if n.Made {
		x.explode(&n, owner, rev, path)
		return n
	}
	key := nestKey{owner, item}
	lack := max(0, asked-n.There)
	n.ToBreak = take(x.cut, key, lack)
	n.ToCut = take(x.toCut, key, lack-n.ToBreak)
	n.Missing = lack - n.ToBreak - n.ToCut
	return n
}

func (x needing) explode(n *Need, owner core.Owner, rev core.Revision, path map[core.ItemRev]bool) {
	units := n.ToBuild()
	if units == 0 || path[rev.ItemRev] {
		return
	}
	path[rev.ItemRev] = true
	defer delete(path, rev.ItemRev)
	for _, c := range rev.Bill {
		n.Parts = append(n.Parts, x.need(owner, c.Item, units*c.Qty, path))
	}
	if !n.Delivered {
		return
	}
	// It goes out as its components: as many units as the scarcest allows.
	n.Packed, n.Loaded, n.Shipped, n.There = units, units, units, units
	for i, c := range rev.Bill {
		p := n.Parts[i]
		n.There = min(n.There, p.There/c.Qty)
		n.Packed = min(n.Packed, p.Packed/c.Qty)
		n.Loaded = min(n.Loaded, p.Loaded/c.Qty)
		n.Shipped = min(n.Shipped, p.Shipped/c.Qty)
	}
}

// take uses up at most want of what a map holds under key.
func take(m map[nestKey]int, key nestKey, want int) int {
	got := min(max(want, 0), m[key])
	m[key] -= got
	return got
}

// there counts the lots of an order line that are of the item, and notes where
// they are. Components inside an assembly count as the assembly.
func (x needing) there(n *Need, owner core.Owner) {
	lots := x.lots[nestKey{owner, n.Item}]
	n.Spots = slices.Grow(n.Spots, len(lots))
	for _, ol := range lots {
		switch ol.Place.Kind {
		case core.OnPallet, core.InBuild, core.InConsignment, core.AtSite:
		default:
			continue
		}
		n.There += ol.Qty
		if ol.Place.Kind == core.InBuild {
			n.Gathered += ol.Qty
		}
		if ol.Reach >= Packed {
			n.Packed += ol.Qty
		}
		if ol.Reach >= Loaded {
			n.Loaded += ol.Qty
		}
		if ol.Reach >= Shipped {
			n.Shipped += ol.Qty
		}
		n.Spots = append(n.Spots, x.spot(ol))
	}
	slices.SortStableFunc(n.Spots, func(a, b Spot) int { return int(a.Reach - b.Reach) })
}

func (x needing) spot(l *OrderLot) Spot {
	s := Spot{Qty: l.Qty, Held: l.Held, Why: l.Why, Reach: l.Reach, Lot: l.ID, Begun: l.Started != nil}
	if code, ok := carrierOf(x.w.State, x.left, &l.Lot); ok {
		s.Pallet = code
		p := x.w.State.Pallets[code]
		s.Place = x.place(&p)
	} else {
		s.Place = loosePlace(l)
	}
	if l.Next != nil {
		s.Stage = stageNoun(l.Stage)
	}
	return s
}

// loosePlace says where a lot is that is on no pallet.
func loosePlace(l *OrderLot) string {
	switch l.Place.Kind {
	case core.InBuild:
		at := ""
		if l.Station != "" {
			at = " at " + placeName(l.Station)
		}
		return "gathered for unit " + spaced(l.Place.Ref) + at
	case core.AtSite:
		return "at " + placeName(l.Station) + ", " + siteWords[l.AtSite]
	}
	return "on consignment " + spaced(l.Place.Ref)
}
