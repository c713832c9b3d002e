package crowd

import "tagalong/internal/core"

// cutSheet receives, cuts and breaks out the sheet of a nest that waits.
func (w *Walk) cutSheet() {
	var waiting []string
	for _, id := range keys(w.State().Nests) {
		if !w.State().Nests[id].Separated {
			waiting = append(waiting, id)
		}
	}
	w.cut(one(w, waiting, "nest"))
}

// cut breaks the parts of a nest out, not all of them always whole or there.
func (w *Walk) cut(id string) {
	n := w.State().Nests[id]
	b := core.Separate{Sheet: w.sheet(n), Nest: id}
	kind, worst := "separate", 0
	if n.Material.Item == "" {
		kind = "remake cut"
	}
	for _, p := range n.Parts {
		t := core.PartTick{Line: p.No, To: core.PalletCode("new:" + string(rune('A'+p.No)))}
		if w.now("same pallet") {
			t.To = "new:A"
		}
		t.Damaged = max(0, w.UpTo(p.Qty+3, "damaged")-3)
		t.Missing = max(0, w.UpTo(p.Qty-t.Damaged+3, "missing")-3)
		t.Extra = max(0, w.UpTo(4, "extra")-3)
		t.Good = p.Qty - t.Damaged - t.Missing + t.Extra
		for i, n := range []int{t.Extra, t.Missing, t.Damaged} {
			if n > 0 {
				worst = max(worst, i+1)
			}
		}
		if w.now("numbers off") && w.now("indeed") {
			t.Good++
		}
		b.Ticks = append(b.Ticks, t)
	}
	w.at([]string{kind, "separate with extra", "separate with missing", "separate with damaged"}[worst], b, "BENCH-1", "P06")
}

// sheet receives a sheet of a nest's material, cuts it and brings it to the
// bench; a remake's nest names none, and is cut here from aluminium of 3 mm.
func (w *Walk) sheet(n core.Nest) core.PalletCode {
	metal := n.Material
	if metal.Item == "" {
		metal = Sheet
	}
	out := w.send("receive-goods a sheet", core.Command{Station: "GOODS-1",
		Body: core.ReceiveGoods{Item: metal, Qty: 1, Heat: "H" + n.ID, Label: "sheet " + n.ID, Identified: true}}, "P06")
	if out.Refusal != nil {
		w.Nothing("sheet")
	}
	code := out.Events[0].Pallets[0]
	for _, l := range w.State().LotsAt(core.On(code)) {
		if len(core.NextSteps(w.Book, l)) == 0 {
			continue
		}
		b, at := Work(w.Book, w.State(), l.ID)
		w.at("take-in", core.TakeIn{Pallet: code}, at)
		w.at("sign-off a sheet", b, at, Hand(b.Stage))
	}
	w.at("take-in", core.TakeIn{Pallet: code}, "BENCH-1")
	return code
}

// nestMore enlists a nest for what a line may or may not need.
func (w *Walk) nestMore() {
	item := one(w, []core.ItemRev{Plate, Strut, Cap}, "item")
	w.nest(item, w.owner(item), 1+w.UpTo(3, "qty"))
}

// nest enlists a nest of one kind of part and returns its name.
func (w *Walk) nest(item core.ItemRev, owner core.Owner, qty int) string {
	n := core.Nest{ID: "N-" + w.name(), Material: Sheet, Parts: []core.NestPart{{No: 1, Item: item, Owner: owner, Qty: qty}}}
	if item == Strut {
		n.Material = Bar
	}
	w.at("enlist", core.Enlist{Nests: []core.Nest{n}, Source: "more"}, "", "P02")
	return n.ID
}

func (w *Walk) goodsIn() {
	item := one(w, []core.ItemRev{Bag, Tube}, "item")
	w.receive(item, one(w, []core.Owner{{}, {}, w.owner(item)}, "owner"), 1+w.UpTo(4, "qty"))
}

// receive takes in bought goods and brings them to where kits are made.
func (w *Walk) receive(item core.ItemRev, owner core.Owner, qty int) {
	b := core.ReceiveGoods{Item: item, Qty: qty, Heat: "B-" + w.name(), Identified: true, Owner: owner}
	e := w.send("receive-goods", core.Command{Body: b, Station: "GOODS-1"}, "P06")
	if e.Refusal == nil {
		w.at("take-in", core.TakeIn{Pallet: e.Events[0].Pallets[0]}, "DOCK-1")
	}
}

// order enlists another order, once most of the others have their caps.
func (w *Walk) order() {
	lacking := 0
	for _, o := range w.State().Orders {
		for _, l := range o.Lines {
			if w.lacks(l.Owner, Cap) {
				lacking++
			}
		}
	}
	if lacking > 3 {
		w.Nothing("need of another order")
	}
	more := one(w, []func(string) core.Order{Sets, Frames}, "order")
	w.at("enlist an order", core.Enlist{Orders: []core.Order{more("E-" + w.name())}, Source: "more"}, "", "P02")
}
