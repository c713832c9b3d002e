package crowd

import (
	"slices"

	"tagalong/internal/core"
)

// made is what is gathered and put together, and where.
var made = []struct {
	item core.ItemRev
	at   core.StationID
	by   core.PersonID
}{{Joint, "WELD-1", "P13"}, {Frame, "WELD-1", "P13"}, {Kit, "DOCK-1", "P26"}}

func (w *Walk) gather() {
	x := one(w, made, "unit")
	b := core.Gather{Item: x.item, Owner: w.supplied(x.item)}
	if open := w.open(x.item); len(open) > 0 && w.now("an open one") {
		b.Build = one(w, open, "build")
	}
	if w.UpTo(3, "picked") == 3 {
		l := w.lot(func(l core.Lot) bool { return len(core.OwnSteps(w.Book, l)) == 0 })
		b.Picks = []core.Pick{{Lot: l.ID, Qty: w.some(l)}}
		w.bringTo(l, x.at)
	}
	if w.UpTo(3, "set out first") > 0 {
		w.setOut(x.item, x.at)
	}
	w.at("gather", b, x.at)
}

// purpose sees a unit through, from its sheets to its sign-off, as far as that
// goes while others help themselves to the same parts.
func (w *Walk) purpose() {
	x := one(w, made, "unit")
	owner := w.owner(x.item)
	for _, c := range w.Book.Items[x.item].Bill {
		w.provide(x.item, c, owner)
	}
	w.setOut(x.item, x.at)
	out := w.send("gather", core.Command{Body: core.Gather{Item: x.item, Owner: owner}, Station: x.at})
	if out.Refusal != nil {
		return
	}
	code := core.BuildCode(out.Events[0].Ref)
	if len(core.BuildShort(w.State(), w.Book, w.State().Builds[code])) == 0 {
		w.assemble(code, x.item, x.at, x.by)
	}
}

// provide makes what is missing of a component that is no unit itself.
func (w *Walk) provide(item core.ItemRev, c core.Component, owner core.Owner) {
	ready := 0
	for _, l := range w.onPallets() {
		if l.Item != c.Item || l.Owner != owner || !w.sound(l) {
			continue
		}
		for range 3 {
			if !w.signOff(w.State().Lots[l.ID], false) {
				break
			}
		}
		if l = w.State().Lots[l.ID]; w.goesInto(item, l) {
			ready += l.Qty
		}
	}
	lack := c.Qty - ready
	switch {
	case lack < 1:
	case c.Item == Bag || c.Item == Tube:
		w.receive(c.Item, owner, lack)
	case c.Item != Joint:
		w.cut(w.nest(c.Item, owner, lack))
		for _, l := range w.onPallets() {
			if l.Item == c.Item && l.Owner == owner && w.sound(l) {
				w.signOff(l, false)
			}
		}
	}
}

// open lists the builds of an item that are not made yet.
func (w *Walk) open(item core.ItemRev) []core.BuildCode {
	return slices.DeleteFunc(keys(w.State().Builds), func(code core.BuildCode) bool {
		b := w.State().Builds[code]
		return b.Lot != "" || b.Item != item
	})
}

// goesInto: a lot is a component of an item, through its own route, and nothing
// is the matter with it.
func (w *Walk) goesInto(item core.ItemRev, l core.Lot) bool {
	return slices.ContainsFunc(w.Book.Items[item].Bill, func(c core.Component) bool { return c.Item == l.Item }) &&
		len(core.OwnSteps(w.Book, l)) == 0 && w.sound(l) &&
		(w.Book.Items[l.Item].Kind == core.BoughtItem || l.Facts.At(core.Fact{Name: core.EdgesRounded}, w.Now()) == core.Yes)
}

// supplied draws an owner that has components for a unit it lacks, or has begun;
// mostly.
func (w *Walk) supplied(item core.ItemRev) core.Owner {
	var has []core.Owner
	for _, l := range w.onPallets() {
		if w.goesInto(item, l) && w.wanting(item, l) && !slices.Contains(has, l.Owner) {
			has = append(has, l.Owner)
		}
	}
	if w.UpTo(5, "whoever") == 5 {
		return w.owner(item)
	}
	return one(w, has, "components")
}

// wanting: the unit of a component's owner lacks it, or could be begun with it.
func (w *Walk) wanting(item core.ItemRev, l core.Lot) bool {
	for _, code := range w.open(item) {
		if b := w.State().Builds[code]; b.Owner == l.Owner {
			return slices.ContainsFunc(core.BuildShort(w.State(), w.Book, b), func(s core.Short) bool { return s.Item == l.Item })
		}
	}
	return l.Owner.Stock() || w.lacks(l.Owner, item)
}

// setOut brings to the bench what goes into a unit and is through its own route.
func (w *Walk) setOut(item core.ItemRev, at core.StationID) {
	for _, l := range w.onPallets() {
		if w.goesInto(item, l) {
			w.bringTo(l, at)
		}
	}
}

// bringTo takes a lot's pallet in at a station, unless it is there.
func (w *Walk) bringTo(l core.Lot, at core.StationID) {
	if code := core.PalletCode(l.Place.Ref); w.State().Pallets[code].Station != at {
		w.at("take-in", core.TakeIn{Pallet: code}, at)
	}
}

// gathered draws a build that is not made yet, of those that lack nothing if
// there are any.
func (w *Walk) gathered() core.Build {
	var open, whole []core.Build
	for _, code := range keys(w.State().Builds) {
		if b := w.State().Builds[code]; b.Lot == "" {
			open = append(open, b)
			if len(core.BuildShort(w.State(), w.Book, b)) == 0 {
				whole = append(whole, b)
			}
		}
	}
	if len(whole) > 0 && w.UpTo(3, "one that lacks something") < 3 {
		return one(w, whole, "whole build")
	}
	return one(w, open, "build")
}

func (w *Walk) putBack() {
	b := w.gathered()
	l := one(w, w.State().LotsAt(core.Place{Kind: core.InBuild, Ref: string(b.Code)}), "part")
	w.at("put-back", core.PutBack{Build: b.Code, To: w.pallet(), Picks: []core.Pick{{Lot: l.ID, Qty: w.some(l)}}}, b.Station)
}

func (w *Walk) make() {
	b := w.gathered()
	for _, x := range made {
		if x.item == b.Item {
			if len(core.BuildShort(w.State(), w.Book, b)) > 0 {
				w.setOut(x.item, x.at)
				w.at("gather", core.Gather{Build: b.Code}, x.at)
				if len(core.BuildShort(w.State(), w.Book, b)) > 0 && w.UpTo(3, "short all the same") < 3 {
					return
				}
			}
			w.assemble(b.Code, x.item, x.at, x.by)
		}
	}
}

// assemble signs a unit, or first that it is begun.
func (w *Walk) assemble(code core.BuildCode, item core.ItemRev, at core.StationID, by core.PersonID) {
	if w.UpTo(3, "begun first") == 3 {
		w.at("begin-unit", core.BeginUnit{Build: code}, at, by)
	}
	name := "assemble"
	if item == Kit {
		name = "assemble a kit"
	}
	w.at(name, Assembly(w.Book, w.State(), code), at, by)
}

// late opens a made unit and changes one of its parts for another.
func (w *Walk) late() {
	l := w.lot(func(l core.Lot) bool { return l.Unit != "" && l.Item != Kit })
	code := core.PalletCode(l.Place.Ref)
	if l.Rework == nil {
		out := w.send("report-problem all, staying", core.Command{Body: core.ReportProblem{Pallet: code, Lot: l.ID, Qty: l.Qty, What: "wrong part in it", Stay: true}}, "P18")
		if out.Refusal == nil {
			again := core.Dispose{Problem: core.ProblemID(out.Events[0].Ref), Disposition: core.DisposeRework, Reason: "change it",
				Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: 20}
			name := "dispose rework"
			if inside := core.Components(w.State(), l); w.now("asked for again") && len(inside) > 0 {
				c := one(w, inside, "to change")
				again.Unit, again.Change, name = l.ID, []core.Pick{{Lot: c.ID, Qty: 1 + w.UpTo(c.Qty, "how many")}}, "dispose rework, changing"
			}
			w.at(name, again, "", "P03")
		}
		return
	}
	w.bringTo(l, "WELD-1")
	w.setOut(l.Item, "WELD-1")
	in := w.lot(func(x core.Lot) bool { return x.Item == Plate || x.Item == Joint || x.Item == Strut })
	b := core.JoinLate{Pallet: code, Unit: l.ID, Why: "wrong part", In: []core.Pick{{Lot: in.ID, Qty: 1}}}
	if change := l.Rework.Change; len(change) > 0 && w.UpTo(4, "as decided") > 0 {
		c := w.State().Lots[change[0].Lot]
		in = w.lot(func(x core.Lot) bool { return x.Item == c.Item && (x.For == "" || x.For == l.Unit) })
		b.In, b.Out = []core.Pick{{Lot: in.ID, Qty: change[0].Qty}}, change
		w.at("join-late", b, "WELD-1", "P13")
		return
	}
	for _, c := range core.Components(w.State(), l) {
		if c.Item == in.Item && len(b.Out) == 0 || w.UpTo(9, "out too") == 9 {
			b.Out = append(b.Out, core.Pick{Lot: c.ID, Qty: 1})
		}
	}
	w.at("join-late", b, "WELD-1", "P13")
}

// apart takes a made unit apart.
func (w *Walk) apart() {
	if w.UpTo(5, "crooked") < 5 {
		return
	}
	l := w.lot(func(l core.Lot) bool { return l.Unit != "" })
	at := core.StationID("WELD-1")
	by := core.PersonID("P13")
	if l.Item == Kit {
		at, by = "DOCK-1", "P26"
	}
	w.bringTo(l, at)
	w.at("take-apart", core.TakeApart{Pallet: core.PalletCode(l.Place.Ref), Unit: l.ID, To: w.pallet(), Why: "crooked"}, at, by)
}
