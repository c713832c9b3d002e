package crowd

import "tagalong/internal/core"

// step does the next step of some lot, whole or not.
func (w *Walk) step() { w.signOff(w.lot(w.toDo), true) }

func (w *Walk) finish() {
	l := w.lot(w.toDo)
	for range 6 {
		if !w.signOff(w.State().Lots[l.ID], false) {
			return
		}
	}
	if l = w.State().Lots[l.ID]; l.Live() && len(core.NextSteps(w.Book, l)) == 0 {
		w.bringTo(l, one(w, []core.StationID{"WELD-1", "DOCK-1"}, "waits at"))
	}
}

// signOff does a lot's next step; some of it may be bad, or not done yet.
func (w *Walk) signOff(l core.Lot, some bool) bool {
	if l = w.State().Lots[l.ID]; !l.Live() || !w.toDo(l) {
		return false
	}
	b, at := Work(w.Book, w.State(), l.ID)
	if w.State().Pallets[b.Pallet].Station != at {
		if w.at("take-in", core.TakeIn{Pallet: b.Pallet}, at) != nil {
			return false
		}
		if now := w.State().Lots[l.ID]; now.Place == l.Place && w.toDo(now) { // else somebody was faster
			l = now
		}
	}
	kind, x := "sign-off", &b.Lots[0]
	if some {
		x.Bad = max(0, w.UpTo(2*l.Qty, "bad")-l.Qty)
		x.NotDone = w.UpTo(l.Qty-x.Bad, "not done")
		x.Good = l.Qty - x.Bad - x.NotDone
		x.Rest = one(w, []core.Rest{core.RestAsBefore, core.RestBegun, core.RestWaits}, "rest")
		x.Why = "scratch"
		switch {
		case x.Bad > 0:
			kind = "sign-off some bad"
		case x.NotDone > 0:
			kind = "sign-off some not done"
		}
		if x.Good > 1 && w.now("put down elsewhere") {
			kind = "sign-off onto others"
			x.Onto = []core.Onto{{Pallet: one(w, []core.PalletCode{"new:A", core.PalletCode(w.lot(nil).Place.Ref)}, "onto"), Qty: 1 + w.UpTo(x.Good-1, "so many")}}
		}
	}
	if plan, ok := core.PlanOf(l, core.NextSteps(w.Book, l)[0]); ok {
		x.Looked = max(min(plan.Size, l.Qty), x.Bad)
	}
	return w.at(kind, b, at, Hand(b.Stage)) == nil
}

// toDo: something is left to do on a lot.
func (w *Walk) toDo(l core.Lot) bool {
	return w.Book.Items[l.Item].Kind != core.SheetItem && w.Book.Items[l.Item].Kind != core.BarItem && len(core.NextSteps(w.Book, l)) > 0
}

func (w *Walk) begin() {
	l := w.lot(func(l core.Lot) bool { return l.Started == nil && len(core.NextSteps(w.Book, l)) > 0 })
	b, at := Work(w.Book, w.State(), l.ID)
	w.bringTo(l, at)
	w.at("begin", core.Begin{Pallet: b.Pallet, Stage: b.Stage, Lots: []core.LotID{l.ID}}, at, Hand(b.Stage))
}
