package core

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// remakeNest begins the name of a nest request that a problem's remake made.
const remakeNest = "remake "

// RemakeOf is the problem whose remake asked for a nest; empty for a nest that
// somebody drew.
func RemakeOf(nest string) ProblemID {
	of, ok := strings.CutPrefix(nest, remakeNest)
	if !ok {
		return ""
	}
	of, _, _ = strings.Cut(of, "#")
	return ProblemID(of)
}

// scrap ends the lots; a remake asks for their like to be cut again, for the
// same order line. A scrapped unit's build stands open, to be gathered anew.
func (d *deciding) scrap(p Problem, lots []Lot, again bool) {
	var wanted []NestPart
	for _, l := range lots {
		from := l.Place
		d.moveLot(l, from, Place{Scrapped, string(p.ID)}, l.Qty)
		if from.Kind == OnPallet {
			d.put(d.s.Pallets[PalletCode(from.Ref)])
		}
		d.reopen(l)
		wanted = d.cutAgain(wanted, NestPart{Item: l.Item, Owner: l.Owner, Qty: l.Qty, For: l.For}, 0)
	}
	if again {
		d.askNests(p, wanted, p.Wanted)
	}
}

// changeIn asks for the like of the components that a unit's rework changes.
// They are stock, since the order line has its unit, but kept for that unit, and
// due when it is.
func (d *deciding) changeIn(b Dispose, p Problem, lots []Lot, route Route) *Refusal {
	if len(b.Change) == 0 {
		return nil
	}
	i := slices.IndexFunc(lots, func(l Lot) bool { return l.ID == b.Unit })
	if i < 0 || lots[i].Unit == "" {
		return refuse("unit-not-gathered")
	}
	unit := lots[i]
	if !slices.ContainsFunc(route.Steps, func(s Step) bool { return s.Stage == "join-late" }) {
		return refuse("rework-joins-nothing", "route", b.Route.String())
	}
	var wanted []NestPart
	asked := map[LotID]int{}
	inside := Components(d.s, unit)
	for _, k := range b.Change {
		j := slices.IndexFunc(inside, func(l Lot) bool { return l.ID == k.Lot })
		if j < 0 {
			return d.about(refuse("not-inside", "lot", string(k.Lot)), unit, unit.Qty)
		}
		asked[k.Lot] += k.Qty
		if k.Qty < 1 || asked[k.Lot] > inside[j].Qty {
			return d.about(refuse("more-than-there", "asked", strconv.Itoa(asked[k.Lot])), inside[j], inside[j].Qty)
		}
		wanted = d.cutAgain(wanted, NestPart{Item: inside[j].Item, Qty: k.Qty, For: unit.Unit}, 0)
	}
	by := unit.Promised
	if p.Wanted != "" {
		by = p.Wanted
	}
	d.askNests(p, wanted, by)
	return nil
}

// reopen lets a unit be built again, for whoever it belonged to: one that was
// lent is lacked by the line it was lent to.
func (d *deciding) reopen(unit Lot) {
	build, made := d.s.Builds[unit.Unit]
	if !made || build.Lot == "" {
		return
	}
	build.Lot, build.Begun = "", time.Time{}
	if build.Owner != unit.Owner {
		build.Owner, build.Unit = unit.Owner, d.nextUnit(unit.Owner, unit.Item)
	}
	d.emit(Effect{BuildPut: &build})
}

// cutAgain adds what has to be cut to make so many of an item: of an assembly
// its parts, by its bill, which are kept for nothing but that. Bought goods come
// from stock.
func (d *deciding) cutAgain(to []NestPart, more NestPart, depth int) []NestPart {
	rev := d.w.Book.Items[more.Item]
	if len(rev.Bill) > 0 && depth <= 20 {
		for _, c := range rev.Bill {
			to = d.cutAgain(to, NestPart{Item: c.Item, Owner: more.Owner, Qty: c.Qty * more.Qty}, depth+1)
		}
		return to
	}
	if rev.Kind != PartItem {
		return to
	}
	for i, w := range to {
		if w.Item == more.Item && w.Owner == more.Owner && w.For == more.For {
			to[i].Qty += more.Qty
			return to
		}
	}
	return append(to, more)
}

// askNests asks for a nest of each metal that is to be cut, by a day or none: one
// sheet gives parts of one grade and thickness.
func (d *deciding) askNests(p Problem, wanted []NestPart, by Date) {
	slices.SortStableFunc(wanted, func(a, b NestPart) int {
		x, y := d.w.Book.Items[a.Item], d.w.Book.Items[b.Item]
		return cmp.Or(cmp.Compare(x.Grade, y.Grade), cmp.Compare(x.Thickness, y.Thickness))
	})
	for n := 0; len(wanted) > 0; n++ {
		first := d.w.Book.Items[wanted[0].Item]
		like := slices.IndexFunc(wanted, func(w NestPart) bool { return !first.cutLike(d.w.Book.Items[w.Item]) })
		if like < 0 {
			like = len(wanted)
		}
		nest := Nest{ID: remakeNest + string(p.ID), Wanted: by, Parts: slices.Clone(wanted[:like])}
		if n > 0 {
			nest.ID += "#" + strconv.Itoa(n+1)
		}
		for i := range nest.Parts {
			nest.Parts[i].No = i + 1
		}
		d.emit(Effect{NestPut: &nest})
		wanted = wanted[like:]
	}
}

// CutFrom reports whether a nest may be cut from a sheet or bar. A nest for which
// nobody chose one may be cut from any of its parts' grade and thickness; want
// says which where it does not fit.
func CutFrom(b *Book, n Nest, sheet ItemRev) (want string, fits bool) {
	if n.Material.Item != "" {
		return n.Material.String(), n.Material == sheet
	}
	of := b.Items[sheet]
	for _, part := range n.Parts {
		if rev := b.Items[part.Item]; rev.Grade != "" && !rev.cutLike(of) {
			return rev.Grade + ", " + strconv.FormatFloat(rev.Thickness, 'f', -1, 64) + " mm", false
		}
	}
	return "", true
}

// cutLike reports whether two items can be cut from one sheet.
func (r Revision) cutLike(o Revision) bool {
	return r.Metal == o.Metal && r.Grade == o.Grade && r.Thickness == o.Thickness
}
