package crowd

import (
	"slices"

	"tagalong/internal/core"
)

func (w *Walk) problem() {
	l := w.lot(nil)
	code := core.PalletCode(l.Place.Ref)
	b := core.ReportProblem{Pallet: code, Lot: l.ID, Qty: w.some(l), What: "dent", Stay: w.now("stay")}
	kind := "report-problem"
	if b.Stay && b.Qty == l.Qty {
		kind = "report-problem all, staying"
	}
	w.at(kind, b, w.State().Pallets[code].Station, "P21")
}

func (w *Walk) disposition() {
	var open []core.Problem
	for _, id := range keys(w.State().Problems) {
		if p := w.State().Problems[id]; p.Open() {
			open = append(open, p)
		}
	}
	p := one(w, open, "problem")
	b := core.Dispose{Problem: p.ID, Reason: "so decided",
		Disposition: one(w, []core.Disposition{core.DisposeRework, core.DisposeUseAsIs, core.DisposeScrap, core.DisposeRemake}, "disposition")}
	if b.Disposition == core.DisposeRework {
		l := w.State().Lots[p.Lot]
		again, from := "ROUND-AGAIN", 30
		switch {
		case w.UpTo(5, "over the wrong route") == 5:
			again, from = one(w, []string{"ROUND-AGAIN", "WELD-REPAIR", "LATE-PART", "SORT"}, "over"), 20
		case l.Facts.At(core.Fact{Name: core.SampleRefused}, w.Now()) == core.Yes:
			again = "SORT"
		case l.Unit != "":
			again, from = one(w, []string{"WELD-REPAIR", "LATE-PART"}, "over"), 20
		}
		b.Route, b.Rejoin = core.RouteRef{Name: again, Version: 1}, from
		if _, there := w.Book.Routes[l.Route].Step(from + 10); there {
			b.Rejoin += 10 * w.UpTo(1, "rejoin")
		}
		if w.now("not rounded") {
			b.Clear = []string{core.EdgesRounded}
		}
	}
	w.at("dispose "+string(b.Disposition), b, "", "P03", "P18")
}

// correct takes back one of the last events.
func (w *Walk) correct() {
	w.at("correct", core.Correct{Event: one(w, w.Latest(), "event"), Reason: "wrong"}, "", "P18", "P03")
}

func (w *Walk) hold() {
	l := w.lot(func(l core.Lot) bool {
		return w.Book.Items[l.Item].Kind != core.SheetItem && w.Book.Items[l.Item].Kind != core.BarItem
	})
	b := core.PlaceHold{Scope: one(w, []core.HoldScope{core.HoldLot, core.HoldLot, core.HoldPallet, core.HoldOrder, core.HoldItem, core.HoldGauge}, "scope"), Reason: "doubt"}
	switch b.Scope {
	case core.HoldLot:
		b.Ref = string(l.ID)
	case core.HoldPallet:
		b.Ref = l.Place.Ref
	case core.HoldOrder:
		b.Ref = l.Owner.Order
	case core.HoldItem:
		b.Ref = l.Item.Key()
	case core.HoldGauge:
		b.Ref = one(w, Gauges, "gauge")
	}
	w.at("place-hold", b, "", "P03")
}

func (w *Walk) lift() {
	var open []core.HoldID
	for _, id := range keys(w.State().Holds) {
		if h := w.State().Holds[id]; h.Open() && h.Problem == "" && h.Follows == "" {
			open = append(open, id)
		}
	}
	w.at("lift-hold", core.LiftHold{Hold: one(w, open, "hold"), Reason: "looked"}, "", "P03")
}

func (w *Walk) settle() {
	l := w.lot(func(l core.Lot) bool {
		return slices.ContainsFunc(l.Facts.List(), func(f core.Fact) bool { return l.Facts[f].Value == core.Unsure })
	})
	for _, f := range l.Facts.List() {
		if l.Facts[f].Value == core.Unsure {
			w.at("settle", core.Settle{Lot: l.ID, Fact: f, Value: one(w, []core.Value{core.Yes, core.No}, "value"), Reason: "looked"}, "", "P18", "P03")
			return
		}
	}
}
