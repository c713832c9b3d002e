package crowd

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"tagalong/internal/core"
)

// demand is an item, at whatever revision, that an order line asks for.
type demand struct {
	owner core.Owner
	item  core.ItemID
}

// standing is what there is of it.
type standing struct{ asked, shipped, live, spoilt, made, gone, toCut, short int }

// equation works out, for every order line and exploded item, asked = shipped +
// live + to cut + short. Parts inside a unit are where the unit is, and its
// owner's. More than was asked for belongs to stock, not to the line.
func (k *Books) equation() error {
	sums := k.sums()
	for _, d := range slices.SortedFunc(maps.Keys(sums), func(a, b demand) int {
		return cmp.Or(cmp.Compare(a.owner.String(), b.owner.String()), cmp.Compare(a.item, b.item))
	}) {
		x := sums[d]
		switch {
		case x.shipped+x.live+x.spoilt != x.made-x.gone:
			return fmt.Errorf("%s %s: %d shipped, %d live and %d inside what is gone are not the %d made less %d gone", d.owner, d.item, x.shipped, x.live, x.spoilt, x.made, x.gone)
		case x.short < 0:
			return fmt.Errorf("%s %s: %d asked for, %d shipped and %d live; a surplus belongs to stock", d.owner, d.item, x.asked, x.shipped, x.live)
		case x.asked != x.shipped+x.live+x.toCut+x.short:
			return fmt.Errorf("%s %s does not add up: %+v", d.owner, d.item, x)
		}
	}
	return nil
}

func (k *Books) sums() map[demand]standing {
	out := map[demand]standing{}
	add := func(o core.Owner, item core.ItemID, change func(*standing)) {
		if o.Stock() {
			return
		}
		x := out[demand{o, item}]
		change(&x)
		out[demand{o, item}] = x
	}
	for _, o := range k.orders {
		for _, l := range o.Lines {
			k.explode(l.Item, l.Qty, func(item core.ItemID, n int) { add(l.Owner, item, func(x *standing) { x.asked += n }) })
		}
	}
	for _, l := range k.lots {
		outer := k.outermost(l)
		add(outer.owner, l.item.Item, func(x *standing) {
			switch {
			case outer.qty == 0:
				x.spoilt += l.qty
			case outer.at.Kind == core.InConsignment || outer.at.Kind == core.AtSite:
				x.shipped += l.qty
			case outer.at.Kind == core.OnPallet || outer.at.Kind == core.InBuild:
				x.live += l.qty
			default:
				x.spoilt += l.qty
			}
			x.made += l.made
			x.gone += l.scrap + l.lost
		})
	}
	for _, n := range k.nests {
		for _, p := range n.Parts {
			if !n.Separated {
				add(p.Owner, p.Item.Item, func(x *standing) { x.toCut += p.Qty })
			}
		}
	}
	for d, x := range out {
		if x.asked == 0 { // cut for somebody who never asked: sheets and the like
			delete(out, d)
			continue
		}
		need := x.asked - x.shipped - x.live
		x.toCut = min(x.toCut, max(need, 0)) // what is nested beyond the need becomes stock when it is cut
		x.short = need - x.toCut
		out[d] = x
	}
	return out
}

// explode calls for an item and everything inside it.
func (k *Books) explode(item core.ItemRev, qty int, f func(core.ItemID, int)) {
	f(item.Item, qty)
	for _, c := range k.book.Items[item].Bill {
		k.explode(c.Item, c.Qty*qty, f)
	}
}

// outermost is the unit a lot is part of, as the lot that unit is now; or the
// lot itself.
func (k *Books) outermost(l *entry) *entry {
	for l.qty > 0 && l.at.Kind == core.Inside {
		unit := k.lots[core.LotID(l.at.Ref)]
		for id := l.at.Ref; unit.qty == 0 && k.became[core.LotID(id)] != ""; unit = k.lots[core.LotID(id)] {
			id = string(k.became[core.LotID(id)])
		}
		l = unit
	}
	return l
}
