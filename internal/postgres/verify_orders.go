package postgres

import (
	"context"
	"maps"
	"slices"

	"tagalong/internal/core"
)

// demand is one item an order line asks for, itself or inside what it asks for.
type demand struct {
	owner core.Owner
	item  core.ItemID
}

// supply is what there is of it: shipped and live by the rows, made and lost by
// the moves. Lots inside an assembly count where the outermost one is.
type supply struct {
	shipped, live, spoilt int // spoilt: inside what is neither
	made, lost            int
	toCut                 int
}

// orders holds, for every order line and exploded item: asked = shipped + live +
// to cut + short, where short is what was never made and what was lost. More
// than asked is a fault: a surplus belongs to stock.
func (v *verification) orders(context.Context) error {
	if v.broken {
		return nil
	}
	there := v.supplies()
	for _, no := range slices.Sorted(maps.Keys(v.state.Orders)) {
		order := v.state.Orders[no]
		for _, line := range order.Lines {
			owner := core.Owner{Order: no, Line: line.Line}
			asked := map[core.ItemID]int{}
			for rev, n := range core.Asked(v.book, order, line.Line) {
				asked[rev.Item] += n
			}
			for _, item := range slices.Sorted(maps.Keys(asked)) {
				v.line(demand{owner, item}, asked[item], there[demand{owner, item}])
			}
		}
	}
	return nil
}

func (v *verification) line(d demand, asked int, s supply) {
	ref := d.owner.String() + " " + string(d.item)
	if s.shipped+s.live+s.spoilt != s.made-s.lost {
		v.fault(FaultOrder, ref, "%d shipped, %d live and %d spoilt are not the %d made less %d lost",
			s.shipped, s.live, s.spoilt, s.made, s.lost)
		return
	}
	need := asked - s.shipped - s.live
	// What a nest would cut beyond the need is a plan that parts were lent for;
	// it becomes a surplus, or pays the lender back, when it is cut.
	s.toCut = min(s.toCut, max(need, 0))
	short := need - s.toCut
	switch lost := min(s.lost+s.spoilt, short); { // what was lost and has been replaced is short no more
	case need < 0:
		v.fault(FaultOrder, ref, "%d are asked for and %d more are there; a surplus belongs to stock", asked, -need)
	case short > 0:
		v.report.Short = append(v.report.Short, Shortage{Owner: d.owner, Item: d.item, Asked: asked,
			Shipped: s.shipped, Live: s.live, ToCut: s.toCut, Unmade: short - lost, Lost: lost})
	}
}

func (v *verification) supplies() map[demand]supply {
	out := map[demand]supply{}
	units := map[core.BuildCode]core.Lot{}
	for _, l := range v.stored {
		if l.Unit != "" && l.Qty > 0 {
			units[l.Unit] = l
		}
	}
	for id, l := range v.stored {
		outer := v.outermost(l, units)
		if outer.Owner.Stock() {
			continue
		}
		d := demand{outer.Owner, l.Item.Item}
		s := out[d]
		switch {
		case lotShipped(outer) > 0:
			s.shipped += l.Qty
		case outer.Live():
			s.live += l.Qty
		default:
			s.spoilt += l.Qty
		}
		if a := v.ledger[id]; a != nil {
			s.made, s.lost = s.made+a.made, s.lost+a.lost
		}
		out[d] = s
	}
	for _, n := range v.state.Nests {
		if n.Separated {
			continue
		}
		for _, p := range n.Parts {
			d := demand{p.Owner, p.Item.Item}
			s := out[d]
			s.toCut += p.Qty
			out[d] = s
		}
	}
	return out
}

// outermost is the assembly a lot is part of, or the lot itself. A unit that was
// lent is another lot by now, and nobody moved what is in it.
func (v *verification) outermost(l core.Lot, units map[core.BuildCode]core.Lot) core.Lot {
	for range 30 { // no product is nested deeper
		if l.Place.Kind != core.Inside || l.Qty == 0 {
			return l
		}
		outer, there := v.stored[core.LotID(l.Place.Ref)]
		if !there {
			return l
		}
		if now, made := units[outer.Unit]; made && slices.Contains(now.Parents, outer.ID) { // not one made after it was scrapped
			outer = now
		}
		l = outer
	}
	return l
}
