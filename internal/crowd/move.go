package crowd

import (
	"slices"

	"tagalong/internal/core"
)

// divide moves some of one lot, or of all lots of a pallet, to another.
func (w *Walk) divide() {
	l := w.lot(nil)
	from := core.PalletCode(l.Place.Ref)
	b := core.Divide{From: from, To: w.pallet()}
	kind := "divide"
	on := []core.Lot{l}
	if all := w.State().LotsAt(l.Place); len(all) > 1 && w.now("several") {
		on, kind = all, "divide several lots"
	}
	for _, x := range on {
		b.Picks = append(b.Picks, core.Pick{Lot: x.ID, Qty: w.some(x)})
		if x.Started != nil && len(on) == 1 {
			kind = "divide mid-step"
		}
	}
	w.at(kind, b, w.State().Pallets[from].Station)
}

// together brings another lot of the same item on a lot's pallet.
func (w *Walk) together() {
	l := w.lot(nil)
	other := w.lot(func(x core.Lot) bool { return x.Item == l.Item && x.Owner == l.Owner && x.Place != l.Place })
	w.at("divide", core.Divide{From: core.PalletCode(other.Place.Ref), To: core.PalletCode(l.Place.Ref),
		Picks: []core.Pick{{Lot: other.ID, Qty: other.Qty}}}, "BENCH-1")
}

// fuse makes one lot of two that lie together; of what was just divided, if
// nothing lies together.
func (w *Walk) fuse() {
	anybodys := w.UpTo(5, "of another owner") == 5
	beside := func(l core.Lot) []core.Lot {
		return slices.DeleteFunc(w.State().LotsAt(l.Place), func(x core.Lot) bool { return x.ID == l.ID || x.Item != l.Item || x.Owner != l.Owner && !anybodys })
	}
	if w.now("divided before") {
		l := w.lot(func(l core.Lot) bool { return l.Qty > 1 })
		code := core.PalletCode(l.Place.Ref)
		out := w.send("divide", core.Command{Body: core.Divide{From: code, Picks: []core.Pick{{Lot: l.ID, Qty: 1}}}, Station: "BENCH-1"})
		if out.Refusal != nil {
			return
		}
		to := out.Events[0].Pallets[0]
		half := one(w, w.State().LotsAt(core.On(to)), "half")
		if w.now("worked on meanwhile") {
			w.signOff(half, false)
		}
		w.at("divide", core.Divide{From: to, To: code, Picks: []core.Pick{{Lot: half.ID, Qty: half.Qty}}}, "BENCH-1")
	}
	l := w.lot(func(l core.Lot) bool { return len(beside(l)) > 0 })
	b := core.Fuse{Pallet: core.PalletCode(l.Place.Ref), Mix: w.now("mix"), Lots: []core.LotID{l.ID, one(w, beside(l), "with").ID}}
	kind := "fuse"
	if b.Mix {
		kind = "fuse a declared mix"
	}
	w.at(kind, b, "BENCH-1", "P21")
}

func (w *Walk) recount() {
	l := w.lot(nil)
	b := core.Recount{Pallet: core.PalletCode(l.Place.Ref), Lot: l.ID, Found: w.UpTo(l.Qty+l.Lost+2, "found"), Reason: "counted"}
	kind := "recount less"
	if b.Found >= l.Qty {
		kind = "recount more"
	}
	w.at(kind, b, w.State().Pallets[b.Pallet].Station, "P06")
}

// lend gives parts to another order line, or takes them to stock or out of it.
func (w *Walk) lend() {
	l := w.lot(nil)
	to := []core.Owner{w.owner(l.Item)}
	if !l.Owner.Stock() {
		to = append(to, core.Owner{})
	}
	b := core.ChangeOwner{Pallet: core.PalletCode(l.Place.Ref), Lot: l.ID, Qty: w.some(l), Reason: "they leave first", To: one(w, to, "to")}
	name := "change-owner lent"
	switch {
	case l.Owner.Stock():
		name = "change-owner from stock"
	case b.To.Stock():
		name = "change-owner to stock"
	}
	if r := w.at(name, b, "", "P02"); r == nil && name == "change-owner lent" {
		w.loans = append(w.loans, loan{l.Item, l.Owner, b.To})
	}
}

// loan is parts of one order line that another has.
type loan struct {
	item     core.ItemRev
	from, to core.Owner
}

// payBack gives back what this walk has lent, whichever parts they are.
func (w *Walk) payBack() {
	x := one(w, w.loans, "loan")
	l := w.lot(func(l core.Lot) bool { return l.Item == x.item && l.Owner == x.to })
	b := core.ChangeOwner{Pallet: core.PalletCode(l.Place.Ref), Lot: l.ID, Qty: 1, To: x.from, Reason: "paid back"}
	if r := w.at("change-owner paid back", b, "", "P02"); r == nil {
		w.loans = slices.DeleteFunc(w.loans, func(o loan) bool { return o == x })
	}
}

// store takes a pallet into a slot of the pallet store, of which there are few.
func (w *Walk) store() {
	code := core.PalletCode(w.lot(nil).Place.Ref)
	w.at("take-in to a slot", core.TakeIn{Pallet: code, Slot: one(w, []string{"A1", "A2", "B1"}, "slot")}, "STORE-1")
}
