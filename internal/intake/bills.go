package intake

import (
	"fmt"
	"slices"
	"strings"

	"tagalong/internal/core"
)

const (
	maxQty      = 1_000_000
	maxReceived = 1000 // what goods-in takes at once; more is several deliveries
)

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
			x.fault("item", "a bill for the "+kindWord(v.Kind)+" "+v.String(), "an assembly, product or kit")
		}
		if isMaterial(part.Kind) || part.Kind == core.ProductItem {
			x.fault("component", "the "+kindWord(part.Kind)+" "+part.String()+" as a component", "a part, assembly, kit or bought item")
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
	if r.absent("bills.csv") {
		r.keepBills()
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

// keepBills leaves known items the bills they have.
func (r *reader) keepBills() {
	told := false
	for i := range r.out.Items {
		v := &r.out.Items[i]
		old, known := r.known.item(v.ItemRev)
		if known {
			v.Bill = old.Bill
		}
		if hasBill(v.Kind) && !known && !told {
			told = true
			r.lacks(r.itemRow[v.ItemRev], "bills.csv", "the "+kindWord(v.Kind)+" "+v.String()+",", "what assemblies, products and kits are made of")
		}
	}
}

// judgeBills reports bills that are missing and bills that go round in a circle.
func (r *reader) judgeBills(edges map[[2]core.ItemRev]row) {
	for _, v := range r.out.Items {
		if hasBill(v.Kind) && len(v.Bill) == 0 && r.sound("bills.csv") && !r.absent("bills.csv") {
			x := r.itemRow[v.ItemRev]
			x.fault("kind", "the "+kindWord(v.Kind)+" "+v.String()+" without a bill", "its components in bills.csv")
		}
	}
	const walking, done = 1, 2
	state, height := map[core.ItemRev]int{}, map[core.ItemRev]int{}
	var path []core.ItemRev
	var walk func(core.ItemRev)
	walk = func(at core.ItemRev) {
		state[at] = walking
		path = append(path, at)
		v, _ := r.item(at)
		for _, c := range v.Bill {
			if state[c.Item] == walking {
				edges[[2]core.ItemRev{at, c.Item}].fault("component", "a bill that goes round in a circle, "+circle(path, c.Item),
					"components that do not contain the item they are part of")
				continue
			}
			if state[c.Item] == 0 {
				walk(c.Item)
			}
			height[at] = max(height[at], height[c.Item]+1)
		}
		if height[at] == maxDepth+1 {
			r.billRow[at].fault("item", fmt.Sprintf("a bill %d levels deep under item %s", height[at], at), fmt.Sprintf("at most %d levels", maxDepth))
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

const maxDepth = 20

// circle names the items of a path from the one that closes it.
func circle(path []core.ItemRev, back core.ItemRev) string {
	var words []string
	for _, i := range path[slices.Index(path, back):] {
		words = append(words, i.String())
	}
	return strings.Join(append(words, back.String()), " > ")
}

// need is how many of each item one unit takes, itself and all levels of its
// bill. Items are taken after all that contain them, each once, so that a
// component used in many places costs no more than one used in one.
func (r *reader) need(unit core.ItemRev) map[core.ItemRev]int {
	if out, ok := r.needs[unit]; ok {
		return out
	}
	var inward []core.ItemRev
	seen := map[core.ItemRev]bool{}
	var walk func(core.ItemRev)
	walk = func(at core.ItemRev) {
		seen[at] = true
		v, _ := r.item(at)
		for _, c := range v.Bill {
			if !seen[c.Item] {
				walk(c.Item)
			}
		}
		inward = append(inward, at)
	}
	walk(unit)
	out := map[core.ItemRev]int{unit: 1}
	for _, at := range slices.Backward(inward) {
		v, _ := r.item(at)
		for _, c := range v.Bill {
			out[c.Item] = min(out[c.Item]+out[at]*c.Qty, maxNeed)
		}
	}
	r.needs[unit] = out
	return out
}

// maxNeed keeps absurd bills from overflowing: it times maxQty fits an int.
const maxNeed = 1 << 42

func (r *reader) bought() {
	seen := once{}
	for _, x := range r.rows("bought.csv") {
		b := Bought{No: x.key("delivery"), Qty: x.whole("qty", 1, maxReceived), Batch: x.key("batch"), Expires: x.date("expires"),
			Slot: x.key("slot"), Certificate: x.text("certificate")}
		v, ok := r.itemOr(x, "item", "rev")
		if ok && v.Kind != core.BoughtItem && v.Kind != "" {
			x.fault("item", "the "+kindWord(v.Kind)+" "+v.String(), "a bought item")
		}
		b.Item = v.ItemRev
		if b.No == "" || !seen.first(x, "delivery", "delivery "+b.No, b.No) {
			continue
		}
		if old, known := r.known.Bought[b.No]; known && (old.Item != b.Item || old.Qty != b.Qty || old.Batch != b.Batch) {
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
			x.fault("material", "the "+kindWord(v.Kind)+" "+v.String(), "a sheet or bar")
		}
		s.Material = v.ItemRev
		if s.No == "" || !seen.first(x, "sheet", "sheet "+s.No, s.No) {
			continue
		}
		if old, known := r.known.Sheets[s.No]; known && (old.Material != s.Material || old.Heat != s.Heat) {
			again(x, "sheet", "sheet "+s.No, fmt.Sprintf("material %s and heat %s, or another sheet number", old.Material, old.Heat))
		}
		r.out.Sheets = append(r.out.Sheets, s)
	}
}
