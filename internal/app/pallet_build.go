package app

import (
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/words"
)

// unitsOf lists the units of one order that a station could build: of every
// made item on its bills whose route begins with a stage the station does.
func unitsOf(w core.World, no string, st core.Station, sheets []SheetCard) []BuildView {
	o := w.State.Orders[no]
	var out []BuildView
	for _, line := range o.Lines {
		owner := core.Owner{Order: no, Line: line.Line}
		walkBill(w.Book, line.Item, line.Qty, map[core.ItemRev]bool{}, func(rev core.Revision, asked int) {
			route := w.Book.Routes[rev.Route]
			if len(route.Steps) == 0 || !builds(w.Book, route.Steps[0].Stage) || !st.Does(route.Steps[0].Stage) {
				return
			}
			if v, ok := unitOf(w, o, owner, rev, asked, st, sheets); ok {
				out = append(out, v)
			}
		})
	}
	return out
}

// walkBill calls f with every item of a bill that is itself made of components,
// and how many of it an order line asks. Path stops a bill that holds itself.
func walkBill(b *core.Book, item core.ItemRev, qty int, path map[core.ItemRev]bool, f func(core.Revision, int)) {
	rev := b.Items[item]
	if len(rev.Bill) == 0 || path[item] {
		return
	}
	path[item] = true
	defer delete(path, item)
	f(rev, qty)
	for _, c := range rev.Bill {
		walkBill(b, c.Item, qty*c.Qty, path, f)
	}
}

// unitOf is the next unit of an item for an order line; false where all are
// built, or nothing of it is here or gathered.
func unitOf(w core.World, o core.Order, owner core.Owner, rev core.Revision, asked int, st core.Station, sheets []SheetCard) (BuildView, bool) {
	v := BuildView{
		Item: rev.ItemRev, Name: rev.Name, Owner: owner, Customer: o.Customer, Promised: o.Promised,
		Step: w.Book.Routes[rev.Route].Steps[0], Revision: rev, ToBuild: asked,
	}
	v.Stage, _ = w.Book.Table.Stage(v.Step.Stage)
	for _, b := range sortedBuilds(w.State) {
		if b.Item != rev.ItemRev || b.Owner != owner {
			continue
		}
		switch {
		case b.Lot != "" || b.Station != st.ID: // made, or begun at another station
			v.ToBuild--
		case v.Build.Code == "":
			v.Build = b
		}
	}
	if v.ToBuild <= 0 {
		return v, false
	}
	something := v.Build.Code != ""
	for _, c := range rev.Bill {
		l := lineOf(w, v, c, st)
		if l.Short() > 0 {
			l.Cut = inSheets(sheets, v.Owner, c.Item)
			l.Again = cutAgain(w.State, v.Owner, c.Item)
		}
		something = something || len(l.Batches) > 0
		v.Lines = append(v.Lines, l)
	}
	for _, l := range sortedLots(w.State, owner.Order) {
		if v.Build.Code != "" && l.Place == (core.Place{Kind: core.InBuild, Ref: string(v.Build.Code)}) {
			v.Taken = append(v.Taken, Taken{l.ID, itemName(w.Book, l.Item), l.Qty})
		}
	}
	v.judgeStart(w, st)
	v.Inputs = inputsOf(w, Task{Stage: v.Stage, Lots: []LotView{{Revision: rev, Step: v.Step}}})
	return v, something
}

func sortedBuilds(s *core.State) []core.Build {
	var out []core.Build
	for _, b := range s.Builds {
		out = append(out, b)
	}
	slices.SortFunc(out, func(a, b core.Build) int {
		if a.Unit != b.Unit {
			return a.Unit - b.Unit
		}
		return strings.Compare(string(a.Code), string(b.Code))
	})
	return out
}

// lineOf counts one component: gathered for the unit, here and fit to be
// gathered, or elsewhere. What is here is judged as gathering it would be.
func lineOf(w core.World, v BuildView, c core.Component, st core.Station) BuildLine {
	l := BuildLine{Item: c.Item, Name: itemName(w.Book, c.Item), Asked: c.Qty}
	x := needing{drawing: &drawing{w: w}, order: v.Owner.Order}
	var beside []core.Lot
	for _, lot := range append(sortedLots(w.State, v.Owner.Order), stockAt(w.State, st.ID)...) {
		switch {
		case lot.Item != c.Item || lot.Owner != v.Owner && !lot.Owner.Stock():
		case lot.Place.Kind == core.InBuild:
			if v.Build.Code != "" && lot.Place.Ref == string(v.Build.Code) {
				l.Gathered += lot.Qty
				l.Batches = append(l.Batches, batchOf(lot, true))
			}
		case lot.Place.Kind != core.OnPallet:
		case atStation(w.State, lot, st.ID):
			beside = append(beside, lot)
		default:
			l.Not = append(l.Not, x.component(lot))
		}
	}
	for _, lot := range beside {
		lacks := max(1, l.Asked-l.Gathered)
		r := gathering(w, v, lot, min(lot.Qty, lacks), st.ID)
		batch := batchOf(lot, false)
		switch {
		case r == nil || r.Code == "more-than-bill": // the line has all it takes
			l.Here += lot.Qty
		case r.Code == "goods-expired":
			batch.Refused = words.Refusal(r.Code, r.Params)
		default:
			l.Not = append(l.Not, x.component(lot))
			continue
		}
		l.Batches = append(l.Batches, batch)
	}
	return l
}

// gathering is what taking so many of a lot into a unit would be refused with.
func gathering(w core.World, v BuildView, l core.Lot, qty int, at core.StationID) *core.Refusal {
	w.Codes.Builds = []core.BuildCode{"a unit to be"}
	return core.Decide(w, core.Command{Station: at, Happened: w.Now, Body: core.Gather{
		Build: v.Build.Code, Item: v.Item, Owner: v.Owner, Picks: []core.Pick{{Lot: l.ID, Qty: qty}},
	}}).Refusal
}

// stockAt lists the lots of nobody's order on pallets at a station.
func stockAt(s *core.State, at core.StationID) []core.Lot {
	return slices.DeleteFunc(sortedLots(s, ""), func(l core.Lot) bool { return l.Place.Kind != core.OnPallet || !atStation(s, l, at) })
}

func batchOf(l core.Lot, gathered bool) BuildBatch {
	b := BuildBatch{Qty: l.Qty, Batch: strings.Join(l.Heats, ", "), Expires: l.Expires, Gathered: gathered}
	if !gathered {
		b.Pallet = core.PalletCode(l.Place.Ref)
	}
	return b
}

func atStation(s *core.State, l core.Lot, st core.StationID) bool {
	p := s.Pallets[core.PalletCode(l.Place.Ref)]
	return p.Station == st && p.Bound == ""
}

// inSheets says which sheets or nests hold parts still to be cut or broken out.
func inSheets(sheets []SheetCard, owner core.Owner, item core.ItemRev) []InSheet {
	var out []InSheet
	seen := map[string]bool{}
	for _, s := range sheets {
		if seen[s.Nest.ID] || s.Nest.ID == "" || s.Nest.Separated || core.RemakeOf(s.Nest.ID) != "" {
			continue
		}
		seen[s.Nest.ID] = true
		qty := 0
		for _, p := range s.Nest.Parts {
			if p.Owner == owner && p.Item == item {
				qty += p.Qty
			}
		}
		if qty == 0 {
			continue
		}
		alone := !slices.ContainsFunc(sheets, func(x SheetCard) bool { return x.Code == s.Code && x.Nest.ID != s.Nest.ID })
		switch {
		case alone && s.Cut:
			out = append(out, InSheet{Text: strconv.Itoa(qty) + " in " + s.Label + ", to be broken out", Cut: true})
		case alone:
			out = append(out, InSheet{Text: strconv.Itoa(qty) + " in " + s.Label + ", to be cut"})
		default:
			out = append(out, InSheet{Text: strconv.Itoa(qty) + " on nest " + s.Nest.ID + ", still in its sheet"})
		}
	}
	return out
}
