package intake

import (
	"cmp"
	"fmt"
	"slices"

	"tagalong/internal/core"
)

const maxLine = 100_000

func (r *reader) orders() {
	r.orderAt = map[string]int{}
	seen, rows := once{}, map[string]row{}
	for _, x := range r.rows("orders.csv") {
		o := core.Order{
			No:        x.key("order"),
			Customer:  x.text("customer"),
			Site:      x.text("site"),
			Reference: x.text("reference"),
			Promised:  x.date("promised"),
			LongHaul:  x.yes("long_haul"),
			Priority:  x.whole("priority", 0, 1000),
			Consent:   x.yes("consent"),
		}
		if o.No == "" || !seen.first(x, "order", "order "+o.No, o.No) {
			continue
		}
		r.orderAt[o.No], rows[o.No] = len(r.out.Orders), x
		r.out.Orders = append(r.out.Orders, o)
	}
	r.lines()
	if r.absent("lines.csv") {
		r.keepLines(rows)
	}
	for i := range r.out.Orders {
		o := &r.out.Orders[i]
		slices.SortFunc(o.Lines, func(a, b core.OrderLine) int { return cmp.Compare(a.Line, b.Line) })
		if len(o.Lines) == 0 && r.sound("lines.csv") && !r.absent("lines.csv") {
			x := rows[o.No]
			x.fault("order", "order "+o.No+" without a line", "at least one line for it in lines.csv")
		}
		r.judgeKnownOrder(rows[o.No], *o)
	}
}

// keepLines leaves known orders the lines they have.
func (r *reader) keepLines(rows map[string]row) {
	told := false
	for i := range r.out.Orders {
		o := &r.out.Orders[i]
		old, known := r.known.Orders[o.No]
		if known {
			o.Lines = slices.Clone(old.Lines)
		} else if !told {
			told = true
			r.lacks(rows[o.No], "lines.csv", "order "+o.No+",", "what each order is for")
		}
	}
}

func (r *reader) lines() {
	seen := once{}
	for _, x := range r.rows("lines.csv") {
		no := x.key("order")
		l := core.OrderLine{Owner: core.Owner{Order: no, Line: x.whole("line", 1, maxLine)}, Qty: x.whole("qty", 1, maxQty)}
		v, ok := r.itemOr(x, "item", "rev")
		if ok && isMaterial(v.Kind) {
			x.fault("item", "the "+kindWord(v.Kind)+" "+v.String(), "an item that is made or bought, not a material")
		}
		l.Item = v.ItemRev
		if no == "" || l.Line == 0 {
			continue
		}
		i, ok := r.orderAt[no]
		if !ok {
			if r.sound("orders.csv") {
				x.fault("order", "the unknown order "+quoted(no), "an order of orders.csv in this folder")
			}
			continue
		}
		if seen.first(x, "line", "line "+l.Owner.String(), l.Owner.String()) {
			r.out.Orders[i].Lines = append(r.out.Orders[i].Lines, l)
		}
	}
}

// judgeKnownOrder lets an order that is here already gain lines, other counts
// and another date, but not lose a line or turn one into something else. Whether
// it may ask for less the shop decides, which knows what is made.
func (r *reader) judgeKnownOrder(x row, o core.Order) {
	old, ok := r.known.Orders[o.No]
	if !ok || same(old, o) {
		return
	}
	for _, was := range old.Lines {
		kept := slices.ContainsFunc(o.Lines, func(l core.OrderLine) bool { return l.Owner == was.Owner && l.Item == was.Item })
		if !kept && r.sound("lines.csv") {
			x.fault("order", "order "+o.No+" without its line "+was.Owner.String()+" as the shop has it",
				fmt.Sprintf("%s on that line; its count and the order's date may change, what it asks for may not", was.Item))
		}
	}
	r.note(x, "order "+o.No+" is here already and will be changed to what the file says")
}

func (r *reader) note(x row, sentence string) {
	r.out.Notes = append(r.out.Notes, Note{File: x.t.spec.file, Line: x.line, Text: sentence})
}

func (r *reader) order(no string) (core.Order, bool) {
	if i, ok := r.orderAt[no]; ok {
		return r.out.Orders[i], true
	}
	o, ok := r.known.Orders[no]
	return o, ok
}

// wanted is one item for one owner, over all nests of the folder.
type wanted struct {
	owner core.Owner
	item  core.ItemRev
}

func (r *reader) nests() {
	at, parts, first := map[string]int{}, once{}, map[string]row{}
	cut, last := map[wanted]int{}, map[wanted]row{}
	var order []wanted
	for _, x := range r.rows("nests.csv") {
		id := x.key("nest")
		material, _ := r.itemOr(x, "material", "material_rev")
		p := core.NestPart{No: x.whole("part", 1, maxLine), Qty: x.whole("qty", 1, maxQty)}
		v, itemOK := r.itemOr(x, "item", "rev")
		p.Item = v.ItemRev
		owner, ownerOK := r.owner(x)
		p.Owner = owner
		if itemOK {
			judgeNested(x, v, material)
		}
		if itemOK && ownerOK && !owner.Stock() {
			w := wanted{owner, v.ItemRev}
			if r.asked(w) == 0 {
				x.fault("line", fmt.Sprintf("item %s for order line %s, which does not ask for it", v, owner), "an order line that asks for the item, itself or in a bill; or neither order nor line, for stock")
			} else if cut[w] == 0 {
				order = append(order, w)
			}
			cut[w] += p.Qty
			last[w] = x
		}
		if id == "" || p.No == 0 || !parts.first(x, "part", fmt.Sprintf("part %d of nest %s", p.No, id), fmt.Sprint(id, "/", p.No)) {
			continue
		}
		i, ok := at[id]
		if !ok {
			i = len(r.out.Nests)
			at[id], first[id] = i, x
			r.out.Nests = append(r.out.Nests, core.Nest{ID: id, Material: material.ItemRev})
		}
		n := &r.out.Nests[i]
		if material.Item != "" && n.Material.Item != "" && n.Material != material.ItemRev {
			x.fault("material", "the material "+material.String()+" for nest "+id, fmt.Sprintf("%s, as on line %d of the same nest", n.Material, first[id].line))
		}
		n.Parts = append(n.Parts, p)
	}
	for _, w := range order {
		if asked := r.asked(w); cut[w] > asked {
			r.note(last[w], fmt.Sprintf("the nests cut %d of %s for order line %s, which asks for %d; the other %d go to stock", cut[w], w.item, w.owner, asked, cut[w]-asked))
			r.toStock(w, cut[w]-asked)
		}
	}
	for _, n := range r.out.Nests {
		if old, known := r.known.Nests[n.ID]; known && !same(AsPlanned(old), n) {
			again(first[n.ID], "nest", "nest "+n.ID, "another nest number, because a nest is cut as it was planned")
		}
	}
}

// toStock gives what the nests cut beyond an order line's asking to stock, from
// the last nest backwards: a line cut for both becomes two.
func (r *reader) toStock(w wanted, surplus int) {
	for i := len(r.out.Nests) - 1; i >= 0; i-- {
		n := &r.out.Nests[i]
		for j := len(n.Parts) - 1; j >= 0 && surplus > 0; j-- {
			p := &n.Parts[j]
			if p.Item != w.item || p.Owner != w.owner {
				continue
			}
			if p.Qty <= surplus {
				surplus -= p.Qty
				p.Owner = core.Owner{}
				continue
			}
			p.Qty -= surplus
			n.Parts = append(n.Parts, core.NestPart{No: freePart(n.Parts), Item: w.item, Qty: surplus})
			surplus = 0
		}
	}
}

// freePart is the number after the highest of a nest's parts.
func freePart(parts []core.NestPart) int {
	most := 0
	for _, p := range parts {
		most = max(most, p.No)
	}
	return most + 1
}

// owner reads the order line a nested part is for; both empty means stock.
func (r *reader) owner(x row) (core.Owner, bool) {
	o := core.Owner{Order: x.key("order"), Line: x.whole("line", 1, maxLine)}
	if x.has("order") != x.has("line") {
		x.fault("line", "an order without its line, or a line without its order", "both, or neither for stock")
		return o, false
	}
	if o.Stock() || o.Line == 0 {
		return o, !x.has("order")
	}
	order, ok := r.order(o.Order)
	if !ok {
		if r.sound("orders.csv") {
			x.fault("order", "the unknown order "+quoted(o.Order), "an order of orders.csv or of the shop, or neither order nor line for stock")
		}
		return o, false
	}
	if !slices.ContainsFunc(order.Lines, func(l core.OrderLine) bool { return l.Owner == o }) {
		if r.sound("lines.csv") {
			x.fault("line", "the unknown order line "+o.String(), "a line that order has")
		}
		return o, false
	}
	return o, true
}

// asked is how many of an item its order line takes, all levels of the bill.
func (r *reader) asked(w wanted) int {
	order, _ := r.order(w.owner.Order)
	for _, l := range order.Lines {
		if l.Owner == w.owner {
			return min(r.need(l.Item)[w.item], maxNeed/maxQty) * l.Qty
		}
	}
	return 0
}

// judgeNested holds a nested part against the material it is cut from.
func judgeNested(x row, v, material core.Revision) {
	if v.Kind != core.PartItem && v.Kind != "" {
		x.fault("item", "the "+kindWord(v.Kind)+" "+v.String()+" on a nest", "a part, which can be cut from a sheet or bar")
		return
	}
	if material.Item == "" {
		return
	}
	if !isMaterial(material.Kind) && material.Kind != "" {
		x.fault("material", "the "+kindWord(material.Kind)+" "+material.String(), "a sheet or bar")
		return
	}
	if v.Grade != material.Grade || v.Thickness != material.Thickness && material.Kind == core.SheetItem {
		x.fault("material", fmt.Sprintf("%s, %s, for item %s, %s", material, metalOf(material), v, metalOf(v)),
			"a material of the part's own grade and thickness")
	}
}

func metalOf(v core.Revision) string {
	if v.Thickness == 0 {
		return v.Grade
	}
	return v.Grade + " " + number(v.Thickness) + " mm"
}
