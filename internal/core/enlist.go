package core

import (
	"slices"
	"strconv"
)

// enlist brings orders and nests into the state. Rows that say what is already
// known change nothing.
func (d *deciding) enlist(b Enlist) *Refusal {
	d.ev.Kind, d.ev.Note = EvImported, b.Source
	for _, o := range b.Orders {
		old := d.s.Orders[o.No]
		if sameOrder(old, o) {
			continue
		}
		r := d.orderSound(o)
		if r == nil {
			r = d.notBelowMade(old, o)
		}
		if r != nil {
			return r
		}
		d.emit(Effect{OrderPut: &o})
	}
	for _, n := range b.Nests {
		old, there := d.s.Nests[n.ID]
		if there && old.Separated {
			continue // its parts are on pallets: the past is not imported over
		}
		n.Sheet, n.Wanted = old.Sheet, old.Wanted
		if there && slices.Equal(old.Parts, n.Parts) && old.Material == n.Material {
			continue
		}
		if r := d.nestSound(n); r != nil {
			return r
		}
		d.emit(Effect{NestPut: &n})
	}
	if len(d.ev.Effects) == 0 {
		return refuse("nothing-new", "source", b.Source)
	}
	return nil
}

// orderSound: each line is one of this order's, and asks for one or more of an
// item on record.
func (d *deciding) orderSound(o Order) *Refusal {
	seen := map[Owner]bool{}
	for _, l := range o.Lines {
		switch {
		case l.Order != o.No || o.No == "" || seen[l.Owner]:
			return refuse("order-line-astray", "line", l.Owner.String(), "order", o.No)
		case l.Qty < 1 || l.Qty > mostParts:
			return refuse("line-impossible", "line", strconv.Itoa(l.Line), "of", "order "+o.No, "asked", strconv.Itoa(l.Qty))
		case !d.known(l.Item):
			return refuse("item-unknown", "item", l.Item.String())
		}
		seen[l.Owner] = true
	}
	return nil
}

// mostParts is more than any line of an order or nest asks for.
const mostParts = 1_000_000

// nestSound: each line is there once, and gives one or more of an item on record.
func (d *deciding) nestSound(n Nest) *Refusal {
	if n.ID == "" {
		return refuse("nest-unnamed")
	}
	if n.Material.Item != "" && !d.known(n.Material) {
		return refuse("item-unknown", "item", n.Material.String())
	}
	seen := map[int]bool{}
	for _, p := range n.Parts {
		switch {
		case p.Qty < 1 || p.Qty > mostParts || seen[p.No]:
			return refuse("line-impossible", "line", strconv.Itoa(p.No), "of", "nest "+n.ID, "asked", strconv.Itoa(p.Qty))
		case !d.known(p.Item):
			return refuse("item-unknown", "item", p.Item.String())
		}
		seen[p.No] = true
	}
	return nil
}

func (d *deciding) known(item ItemRev) bool {
	_, known := d.w.Book.Items[item]
	return known
}

// notBelowMade: a line that asks for less than before still asks for what it
// has. The surplus is taken to stock first, by somebody who says which.
func (d *deciding) notBelowMade(was, now Order) *Refusal {
	for _, l := range was.Lines {
		before, asks := Asked(d.w.Book, was, l.Line), byItem(Asked(d.w.Book, now, l.Line))
		asked, have := byItem(before), holdings(d.s, d.w.Book, l.Owner)
		for _, rev := range sortedItems(before) {
			if n := asks[rev.Item]; n < asked[rev.Item] && n < have[rev.Item] {
				return refuse("order-below-made", "owner", l.Owner.String(), "name", d.w.Book.Items[rev].Name,
					"asked", strconv.Itoa(n), "have", strconv.Itoa(have[rev.Item]))
			}
		}
	}
	return nil
}

func sameOrder(a, b Order) bool {
	return a.No == b.No && a.Customer == b.Customer && a.Site == b.Site && a.Reference == b.Reference && a.Promised == b.Promised &&
		a.LongHaul == b.LongHaul && a.Priority == b.Priority && a.Consent == b.Consent && slices.Equal(a.Lines, b.Lines)
}
