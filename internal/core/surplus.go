package core

import (
	"maps"
	"math"
	"slices"
	"strconv"
)

// An order line owns no more of anything than it asks for; what is beyond that
// belongs to stock. A unit counts for everything its bill holds.

// asks is how many of each item, at whatever revision, an order line asks for.
func (d *deciding) asks(o Owner) map[ItemID]int {
	return byItem(Asked(d.w.Book, d.s.Orders[o.Order], o.Line))
}

func byItem(counts map[ItemRev]int) map[ItemID]int {
	out := map[ItemID]int{}
	for rev, n := range counts {
		out[rev.Item] += n
	}
	return out
}

// holdings is how many of each item an owner has in the shop, on trucks and at
// its site.
func holdings(s *State, b *Book, o Owner) map[ItemID]int {
	out := map[ItemID]int{}
	for _, l := range s.Lots {
		if l.Owner != o || l.Qty == 0 || l.Place.Kind == Inside || !l.Place.Kind.Holds() {
			continue
		}
		whole := map[ItemRev]int{}
		explode(b, l.Item, l.Qty, whole, 0)
		for rev, n := range whole {
			out[rev.Item] += n
		}
	}
	return out
}

// room is how many more of an item, with all that its bill holds, an owner takes:
// what stock takes has no bound, nor what a line that asks for none was given all
// the same, by whoever drew its nest.
func (d *deciding) room(o Owner, item ItemRev) int {
	asked, has := d.asks(o), holdings(d.s, d.w.Book, o)
	whole := map[ItemRev]int{}
	explode(d.w.Book, item, 1, whole, 0)
	n := math.MaxInt
	for rev, each := range whole {
		if asked[rev.Item] > 0 {
			n = min(n, max(0, asked[rev.Item]-has[rev.Item])/each)
		}
	}
	return n
}

// noSurplus refuses what would leave an order line with more than it asks for,
// whichever way the parts come to it.
func (d *deciding) noSurplus() *Refusal {
	moved := map[Owner]Lot{}
	for _, f := range d.ev.Effects {
		if f.Moved != nil {
			l := d.s.Lots[f.Moved.Lot]
			moved[l.Owner] = l
		}
	}
	delete(moved, Owner{})
	for _, o := range slices.SortedFunc(maps.Keys(moved), func(a, b Owner) int { return compareText(a.String(), b.String()) }) {
		asked, was, now := d.asks(o), holdings(d.w.State, d.w.Book, o), holdings(d.s, d.w.Book, o)
		for _, item := range slices.Sorted(maps.Keys(asked)) {
			if n := now[item]; n > asked[item] && n > was[item] {
				r := d.about(refuse("owner-has-enough", "owner", o.String(), "asked", strconv.Itoa(asked[item]), "have", strconv.Itoa(was[item])), moved[o], moved[o].Qty)
				r.Params["item"] = string(item)
				return r
			}
		}
	}
	return nil
}
