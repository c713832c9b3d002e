package intake

import (
	"fmt"
	"slices"
	"strings"

	"tagalong/internal/core"
)

const maxQty = 1_000_000

func (r *reader) bills() {
	r.billRow = map[core.ItemRev]row{}
	seen := once{}
	edges := map[[2]core.ItemRev]row{}
	for _, x := range r.rows("bills.csv") {
		qty := x.whole("qty", 1, maxQty)
		part, partOK := r.itemOr(x, "component", "component_rev")
		v, ok := r.ownItem(x)
		if !ok || !partOK {
			continue
		}
		if !hasBill(v.Kind) && v.Kind != "" {
			x.fault("item", "a bill for the "+string(v.Kind)+" "+v.String(), "an assembly, product or kit")
		}
		if isMaterial(part.Kind) || part.Kind == core.ProductItem {
			x.fault("component", "the "+string(part.Kind)+" "+part.String()+" as a component", "a part, assembly, kit or bought item")
		}
		if !seen.first(x, "component", "component "+part.String()+" of item "+v.String(), v.Key()+" "+part.Key()) {
			continue
		}
		if _, there := r.billRow[v.ItemRev]; !there {
			r.billRow[v.ItemRev] = x
		}
		edges[[2]core.ItemRev{v.ItemRev, part.ItemRev}] = x
		v.Bill = append(v.Bill, core.Component{Item: part.ItemRev, Qty: qty})
	}
	r.judgeBills(edges)
	for _, v := range r.out.Items {
		old, ok := r.known.item(v.ItemRev)
		if !ok {
			continue
		}
		old.Route = v.Route // an item may move to a later version of its route
		if !same(old, v) {
			again(r.itemRow[v.ItemRev], "rev", "item "+v.String(), "a new revision, because parts were made to this one")
		}
	}
}

// judgeBills reports bills that are missing and bills that go round in a circle.
func (r *reader) judgeBills(edges map[[2]core.ItemRev]row) {
	for _, v := range r.out.Items {
		if hasBill(v.Kind) && len(v.Bill) == 0 && r.sound("bills.csv") {
			x := r.itemRow[v.ItemRev]
			x.fault("kind", "the "+string(v.Kind)+" "+v.String()+" without a bill", "its components in bills.csv")
		}
	}
	const walking, done = 1, 2
	state := map[core.ItemRev]int{}
	var path []core.ItemRev
	var walk func(core.ItemRev)
	walk = func(at core.ItemRev) {
		state[at] = walking
		path = append(path, at)
		v, _ := r.item(at)
		for _, c := range v.Bill {
			switch state[c.Item] {
			case 0:
				walk(c.Item)
			case walking:
				ring := append(slices.Clone(path[slices.Index(path, c.Item):]), c.Item)
				var words []string
				for _, i := range ring {
					words = append(words, i.String())
				}
				edges[[2]core.ItemRev{at, c.Item}].fault("component", "a bill that goes round in a circle, "+strings.Join(words, " > "),
					"components that do not contain the item they are part of")
			}
		}
		path = path[:len(path)-1]
		state[at] = done
	}
	for _, v := range r.out.Items {
		if state[v.ItemRev] == 0 {
			walk(v.ItemRev)
		}
	}
}

// need is how many of each item so many units take, all levels of the bill.
// A bill that goes round was reported already; depth keeps the walk finite.
func (r *reader) need(ref core.ItemRev, qty int) map[core.ItemRev]int {
	out := map[core.ItemRev]int{}
	var add func(core.ItemRev, int, int)
	add = func(ref core.ItemRev, n, depth int) {
		out[ref] = min(out[ref]+n, maxNeed)
		v, ok := r.item(ref)
		if !ok || depth > maxDepth {
			return
		}
		for _, c := range v.Bill {
			add(c.Item, min(n*c.Qty, maxNeed), depth+1)
		}
	}
	add(ref, qty, 0)
	return out
}

const (
	maxDepth = 20
	maxNeed  = 1 << 40
)

func (r *reader) bought() {
	seen := once{}
	for _, x := range r.rows("bought.csv") {
		b := Bought{No: x.key("delivery"), Qty: x.whole("qty", 1, maxQty), Batch: x.key("batch"), Expires: x.date("expires"),
			Slot: x.key("slot"), Certificate: x.text("certificate")}
		v, ok := r.itemOr(x, "item", "rev")
		if ok && v.Kind != core.BoughtItem && v.Kind != "" {
			x.fault("item", "the "+string(v.Kind)+" "+v.String(), "a bought item")
		}
		b.Item = v.ItemRev
		if b.No == "" || !seen.first(x, "delivery", "delivery "+b.No, b.No) {
			continue
		}
		if old, known := look(r.known.Delivery, b.No); known && !same(old, b) {
			again(x, "delivery", "delivery "+b.No, "what was received, or another delivery number")
		}
		r.out.Bought = append(r.out.Bought, b)
	}
}

func (r *reader) sheets() {
	seen := once{}
	for _, x := range r.rows("sheets.csv") {
		s := Sheet{No: x.key("sheet"), Heat: x.key("heat"), Slot: x.key("slot"), Certificate: x.text("certificate")}
		v, ok := r.itemOr(x, "material", "material_rev")
		if ok && !isMaterial(v.Kind) && v.Kind != "" {
			x.fault("material", "the "+string(v.Kind)+" "+v.String(), "a sheet or bar")
		}
		s.Material = v.ItemRev
		if s.No == "" || !seen.first(x, "sheet", "sheet "+s.No, s.No) {
			continue
		}
		if old, known := look(r.known.Sheet, s.No); known && !same(old, s) {
			again(x, "sheet", "sheet "+s.No, fmt.Sprintf("material %s and heat %s, or another sheet number", old.Material, old.Heat))
		}
		r.out.Sheets = append(r.out.Sheets, s)
	}
}
