package core_test

import (
	"slices"
	"strconv"

	"pgregory.net/rapid"

	"tagalong/internal/core"
)

// walk is a shop in which people do this and that, and the books beside it.
type walk struct {
	*shop
	*books
	rt    *rapid.T
	tally tally
}

// try sends a command under the name it is counted by, and judges what it came to.
// Now and then it is sent mangled.
func (w *walk) try(kind string, c core.Command, signers ...core.PersonID) core.Outcome {
	if w.upTo(11, "mangled") == 11 {
		c.Body = w.mangled(c.Body)
		kind = "mangled"
	}
	c.Confirm = append(c.Confirm, "count-differs", "pallet-elsewhere", "came-short")
	out := w.send(c, signers...)
	w.tally.note(kind, out.Refusal)
	w.rt.Logf("%s %+v by %v: %+v", kind, c.Body, signers, out.Refusal)
	if err := w.judge(w.shop); err != nil {
		w.rt.Fatalf("after %s: %v", kind, err)
	}
	return out
}

func (w *walk) at(kind string, body core.Body, station core.StationID, signers ...core.PersonID) *core.Refusal {
	return w.try(kind, core.Command{Body: body, Station: station}, signers...).Refusal
}

// one draws one of a list. Where there is nothing to draw from, the walk takes
// another action instead: rapid's Skip lets one step go and not the test, which
// fails where a kind of command is never accepted.
func one[T any](w *walk, list []T, label string) T {
	if len(list) == 0 {
		w.rt.Skip("no " + label)
	}
	return list[rapid.IntRange(0, len(list)-1).Draw(w.rt, label)]
}

func (w *walk) upTo(n int, label string) int { return rapid.IntRange(0, n).Draw(w.rt, label) }
func (w *walk) now(label string) bool        { return rapid.Bool().Draw(w.rt, label) }

// some draws from one to all of a lot, and now and then none or one too many.
func (w *walk) some(l core.Lot) int {
	if w.upTo(9, "off") == 9 {
		return (l.Qty + 1) * w.upTo(1, "more than there is")
	}
	return 1 + w.upTo(l.Qty-1, "qty")
}

// lot draws a lot on some pallet.
func (w *walk) lot(like func(core.Lot) bool) core.Lot {
	return one(w, slices.DeleteFunc(w.live(), func(l core.Lot) bool { return like != nil && !like(l) }), "lot")
}

// pallet draws a pallet with something on it; none, for a fresh one, now and then.
func (w *walk) pallet() core.PalletCode {
	if w.now("fresh") {
		return ""
	}
	return core.PalletCode(w.lot(nil).Place.Ref)
}

func (w *walk) actions() map[string]func(*rapid.T) {
	out := map[string]func(*rapid.T){}
	for name, a := range map[string]struct {
		often int
		do    func()
	}{
		"step": {4, w.step1}, "finish": {4, w.finishLot}, "separate": {3, w.cutSheet}, "nest": {1, w.nestMore}, "goods": {1, w.goodsIn},
		"divide": {2, w.divide}, "gather together": {1, w.together}, "fuse": {2, w.fuse}, "recount": {2, w.recount}, "owner": {2, w.owner},
		"problem": {1, w.problem}, "dispose": {2, w.disposition}, "gather": {4, w.gather}, "put back": {1, w.putBack}, "assemble": {3, w.make},
		"late": {3, w.late}, "apart": {1, w.apart}, "report at site": {1, w.problemAtSite}, "load": {2, w.load}, "ship": {1, w.ship}, "arrive": {2, w.arrive}, "site": {2, w.site}, "correct": {2, w.correct},
		"hold": {1, w.hold}, "lift": {2, w.lift}, "settle": {1, w.settle}, "begin": {1, w.begin},
	} {
		for i := range a.often {
			out[name+"                    "[:i]] = func(rt *rapid.T) { w.rt = rt; a.do() }
		}
	}
	return out
}

func (w *walk) step1() { w.signOff(w.lot(nil), true) }

func (w *walk) finishLot() {
	l := w.lot(nil)
	for range 6 {
		if !w.signOff(w.state.Lots[l.ID], false) {
			return
		}
	}
	if l = w.state.Lots[l.ID]; l.Live() && len(core.NextSteps(w.shop.book, l)) == 0 {
		w.bringTo(l, one(w, []core.StationID{"WELD-1", "DOCK-1"}, "waits at"))
	}
}

// signOff does a lot's next step; some of it may be bad, or not done yet.
func (w *walk) signOff(l core.Lot, some bool) bool {
	if !l.Live() || len(core.NextSteps(w.shop.book, l)) == 0 || w.shop.book.Items[l.Item].Kind == core.SheetItem {
		return false
	}
	b, at := w.work(l.ID)
	if w.state.Pallets[b.Pallet].Station != at {
		if w.at("take-in", core.TakeIn{Pallet: b.Pallet}, at) != nil {
			return false
		}
		l = w.state.Lots[l.ID]
	}
	kind, x := "sign-off", &b.Lots[0]
	if some {
		x.Bad = w.upTo(l.Qty, "bad")
		x.NotDone = w.upTo(l.Qty-x.Bad, "not done")
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
			x.Onto = []core.Onto{{Pallet: one(w, []core.PalletCode{"new:A", core.PalletCode(w.lot(nil).Place.Ref)}, "onto"), Qty: 1 + w.upTo(x.Good-1, "so many")}}
		}
	}
	if plan, ok := core.PlanOf(l, core.NextSteps(w.shop.book, l)[0]); ok {
		x.Looked = max(min(plan.Size, l.Qty), x.Bad)
	}
	return w.at(kind, b, at, hand(b.Stage)) == nil
}

func (w *walk) begin() {
	l := w.lot(func(l core.Lot) bool { return l.Started == nil && len(core.NextSteps(w.shop.book, l)) > 0 })
	b, at := w.work(l.ID)
	w.at("take-in", core.TakeIn{Pallet: b.Pallet}, at)
	w.at("begin", core.Begin{Pallet: b.Pallet, Stage: b.Stage, Lots: []core.LotID{l.ID}}, at, hand(b.Stage))
}

// cutSheet receives, cuts and breaks out the sheet of a nest that waits.
func (w *walk) cutSheet() {
	var waiting []string
	for _, id := range keys(w.state.Nests) {
		if !w.state.Nests[id].Separated {
			waiting = append(waiting, id)
		}
	}
	id := one(w, waiting, "nest")
	n := w.state.Nests[id]
	b := core.Separate{Sheet: w.sheet(id), Nest: id}
	kind, worst := "separate", 0
	if n.Material.Item == "" {
		kind = "remake cut"
	}
	if err := w.judge(w.shop); err != nil {
		w.rt.Fatalf("the sheet of %s: %v", id, err)
	}
	for _, p := range n.Parts {
		t := core.PartTick{Line: p.No, To: core.PalletCode("new:" + string(rune('A'+p.No)))}
		if w.now("same pallet") {
			t.To = "new:A"
		}
		t.Damaged = max(0, w.upTo(p.Qty+3, "damaged")-3)
		t.Missing = max(0, w.upTo(p.Qty-t.Damaged+3, "missing")-3)
		t.Extra = max(0, w.upTo(4, "extra")-3)
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

// nestMore enlists a nest for what a line may or may not need.
func (w *walk) nestMore() {
	item := one(w, []core.ItemRev{eqPlate, eqStrut, eqCap}, "item")
	metal := sheet5005
	if item == eqStrut {
		metal = bar
	}
	n := core.Nest{ID: "M-" + w.name(), Material: metal}
	n.Parts = []core.NestPart{{No: 1, Item: item, Owner: one(w, eqOwners, "owner"), Qty: 1 + w.upTo(3, "qty")}}
	w.at("enlist", core.Enlist{Nests: []core.Nest{n}, Source: "more"}, "")
}

func (w *walk) goodsIn() {
	item := one(w, []core.ItemRev{eqBag, eqTube}, "item")
	b := core.ReceiveGoods{Item: item, Qty: 1 + w.upTo(4, "qty"), Heat: "B-" + w.name(), Identified: true,
		Owner: one(w, append([]core.Owner{{}, {}}, eqOwners...), "owner")}
	e := w.try("receive-goods", core.Command{Body: b, Station: "GOODS-1"}, "P06")
	if e.Refusal == nil {
		w.at("take-in", core.TakeIn{Pallet: e.Events[0].Pallets[0]}, "DOCK-1")
	}
}

// divide moves some of one lot, or of all lots of a pallet, to another.
func (w *walk) divide() {
	l := w.lot(nil)
	from := core.PalletCode(l.Place.Ref)
	b := core.Divide{From: from, To: w.pallet()}
	kind := "divide"
	on := []core.Lot{l}
	if all := w.state.LotsAt(l.Place); len(all) > 1 && w.now("several") {
		on, kind = all, "divide several lots"
	}
	for _, x := range on {
		b.Picks = append(b.Picks, core.Pick{Lot: x.ID, Qty: w.some(x)})
		if x.Started != nil && len(on) == 1 {
			kind = "divide mid-step"
		}
	}
	w.at(kind, b, w.state.Pallets[from].Station)
}

// together brings another lot of the same item on a lot's pallet.
func (w *walk) together() {
	l := w.lot(nil)
	other := w.lot(func(x core.Lot) bool { return x.Item == l.Item && x.Owner == l.Owner && x.Place != l.Place })
	w.at("divide", core.Divide{From: core.PalletCode(other.Place.Ref), To: core.PalletCode(l.Place.Ref),
		Picks: []core.Pick{{Lot: other.ID, Qty: other.Qty}}}, "BENCH-1")
}

// fuse makes one lot of two that lie together; of what was just divided, if
// nothing lies together.
func (w *walk) fuse() {
	beside := func(l core.Lot) []core.Lot {
		return slices.DeleteFunc(w.state.LotsAt(l.Place), func(x core.Lot) bool { return x.ID == l.ID || x.Item != l.Item })
	}
	if w.now("divided before") {
		l := w.lot(func(l core.Lot) bool { return l.Qty > 1 })
		code := core.PalletCode(l.Place.Ref)
		out := w.try("divide", core.Command{Body: core.Divide{From: code, Picks: []core.Pick{{Lot: l.ID, Qty: 1}}}, Station: "BENCH-1"})
		if out.Refusal != nil {
			return
		}
		to := out.Events[0].Pallets[0]
		half := w.state.LotsAt(core.On(to))[0]
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
	w.at(kind, b, "BENCH-1")
}

func (w *walk) recount() {
	l := w.lot(nil)
	b := core.Recount{Pallet: core.PalletCode(l.Place.Ref), Lot: l.ID, Found: w.upTo(l.Qty+l.Lost+2, "found"), Reason: "counted"}
	kind := "recount less"
	if b.Found >= l.Qty {
		kind = "recount more"
	}
	w.at(kind, b, w.state.Pallets[b.Pallet].Station, "P06")
}

// owner lends parts to a line, or takes them to stock or out of it.
func (w *walk) owner() {
	l := w.lot(nil)
	b := core.ChangeOwner{Pallet: core.PalletCode(l.Place.Ref), Lot: l.ID, Qty: w.some(l), Reason: "they leave first",
		To: one(w, append([]core.Owner{{}}, eqOwners...), "to")}
	kind := "change-owner lent"
	switch {
	case l.Owner.Stock():
		kind = "change-owner from stock"
	case b.To.Stock():
		kind = "change-owner to stock"
	}
	w.at(kind, b, "", "P02")
}

func (w *walk) problem() {
	l := w.lot(nil)
	code := core.PalletCode(l.Place.Ref)
	b := core.ReportProblem{Pallet: code, Lot: l.ID, Qty: w.some(l), What: "dent", Stay: w.now("stay")}
	kind := "report-problem"
	if b.Stay && b.Qty == l.Qty {
		kind = "report-problem all, staying"
	}
	w.at(kind, b, w.state.Pallets[code].Station, "P21")
}

func (w *walk) disposition() {
	var open []core.Problem
	for _, id := range keys(w.state.Problems) {
		if p := w.state.Problems[id]; p.Open() {
			open = append(open, p)
		}
	}
	p := one(w, open, "problem")
	b := core.Dispose{Problem: p.ID, Reason: "so decided",
		Disposition: one(w, []core.Disposition{core.DisposeRework, core.DisposeUseAsIs, core.DisposeScrap, core.DisposeRemake}, "disposition")}
	if b.Disposition == core.DisposeRework {
		again := []string{"ROUND-AGAIN", "WELD-REPAIR", "LATE-PART", "SORT"}
		b.Route, b.Rejoin = core.RouteRef{Name: one(w, again, "over"), Version: 1}, 10*(2+w.upTo(3, "rejoin"))
		if w.now("not rounded") {
			b.Clear = []string{core.EdgesRounded}
		}
	}
	w.at("dispose "+string(b.Disposition), b, "", "P03", "P18")
}

// made is what is gathered and put together, and where.
var made = []struct {
	item core.ItemRev
	at   core.StationID
	by   core.PersonID
}{{eqJoint, "WELD-1", "P13"}, {eqFrame, "WELD-1", "P13"}, {eqKit, "DOCK-1", "P26"}}

func (w *walk) gather() {
	x := one(w, made, "unit")
	b := core.Gather{Item: x.item, Owner: one(w, []core.Owner{eqSets, eqSets, eqOthers, eqOthers, eqFrames, {}}, "owner")}
	var open []core.BuildCode
	for _, code := range keys(w.state.Builds) {
		if w.state.Builds[code].Lot == "" && w.state.Builds[code].Item == x.item {
			open = append(open, code)
		}
	}
	if len(open) > 0 && w.now("an open one") {
		b.Build = one(w, open, "build")
	}
	if w.upTo(3, "picked") == 3 {
		l := w.lot(func(l core.Lot) bool { return len(core.OwnSteps(w.shop.book, l)) == 0 })
		b.Picks = []core.Pick{{Lot: l.ID, Qty: w.some(l)}}
		w.bringTo(l, x.at)
	}
	if w.now("set out first") {
		w.setOut(x.item, x.at)
	}
	w.at("gather", b, x.at)
}

// setOut brings to the bench what goes into a unit and is through its own route.
func (w *walk) setOut(item core.ItemRev, at core.StationID) {
	for _, l := range w.live() {
		goesIn := slices.ContainsFunc(w.shop.book.Items[item].Bill, func(c core.Component) bool { return c.Item == l.Item })
		if goesIn && len(core.OwnSteps(w.shop.book, l)) == 0 {
			w.bringTo(l, at)
		}
	}
}

// bringTo takes a lot's pallet in at a station, unless it is there.
func (w *walk) bringTo(l core.Lot, at core.StationID) {
	if code := core.PalletCode(l.Place.Ref); w.state.Pallets[code].Station != at {
		w.at("take-in", core.TakeIn{Pallet: code}, at)
	}
}

// gathered draws a build that is not made yet, of those that lack nothing if
// there are any.
func (w *walk) gathered() core.Build {
	var open, whole []core.Build
	for _, code := range keys(w.state.Builds) {
		if b := w.state.Builds[code]; b.Lot == "" {
			open = append(open, b)
			if len(core.BuildShort(w.state, w.shop.book, b)) == 0 {
				whole = append(whole, b)
			}
		}
	}
	if len(whole) > 0 && w.upTo(3, "one that lacks something") < 3 {
		return one(w, whole, "whole build")
	}
	return one(w, open, "build")
}

func (w *walk) putBack() {
	b := w.gathered()
	l := one(w, w.state.LotsAt(core.Place{Kind: core.InBuild, Ref: string(b.Code)}), "part")
	w.at("put-back", core.PutBack{Build: b.Code, To: w.pallet(), Picks: []core.Pick{{Lot: l.ID, Qty: w.some(l)}}}, b.Station)
}

func (w *walk) make() {
	b := w.gathered()
	for _, x := range made {
		if x.item == b.Item {
			if len(core.BuildShort(w.state, w.shop.book, b)) > 0 {
				w.setOut(x.item, x.at)
				w.at("gather", core.Gather{Build: b.Code}, x.at)
			}
			if w.upTo(3, "begun first") == 3 {
				w.at("begin-unit", core.BeginUnit{Build: b.Code}, x.at, x.by)
			}
			kind := "assemble"
			if x.item == eqKit {
				kind = "assemble a kit"
			}
			w.at(kind, w.assembly(b.Code), x.at, x.by)
		}
	}
}

// late opens a made unit and changes one of its parts for another.
func (w *walk) late() {
	l := w.lot(func(l core.Lot) bool { return l.Unit != "" && l.Item != eqKit })
	code := core.PalletCode(l.Place.Ref)
	if l.Rework == nil {
		out := w.try("report-problem all, staying", core.Command{Body: core.ReportProblem{Pallet: code, Lot: l.ID, Qty: l.Qty, What: "wrong part in it", Stay: true}}, "P18")
		if out.Refusal == nil {
			again := core.Dispose{Problem: core.ProblemID(out.Events[0].Ref), Disposition: core.DisposeRework, Reason: "change it",
				Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: 20}
			kind := "dispose rework"
			if inside := core.Components(w.state, l); w.now("asked for again") && len(inside) > 0 {
				c := one(w, inside, "to change")
				again.Unit, again.Change, kind = l.ID, []core.Pick{{Lot: c.ID, Qty: 1 + w.upTo(c.Qty, "how many")}}, "dispose rework, changing"
			}
			w.at(kind, again, "", "P03")
		}
		return
	}
	w.bringTo(l, "WELD-1")
	w.setOut(l.Item, "WELD-1")
	in := w.lot(func(x core.Lot) bool { return x.Item == eqPlate || x.Item == eqJoint || x.Item == eqStrut })
	b := core.JoinLate{Pallet: code, Unit: l.ID, Why: "wrong part", In: []core.Pick{{Lot: in.ID, Qty: 1}}}
	if change := l.Rework.Change; len(change) > 0 && w.upTo(4, "as decided") > 0 {
		c := w.state.Lots[change[0].Lot]
		in = w.lot(func(x core.Lot) bool { return x.Item == c.Item && (x.For == "" || x.For == l.Unit) })
		b.In, b.Out = []core.Pick{{Lot: in.ID, Qty: change[0].Qty}}, change
		w.at("join-late", b, "WELD-1", "P13")
		return
	}
	for _, c := range core.Components(w.state, l) {
		if c.Item == in.Item && len(b.Out) == 0 || w.upTo(9, "out too") == 9 {
			b.Out = append(b.Out, core.Pick{Lot: c.ID, Qty: 1})
		}
	}
	w.at("join-late", b, "WELD-1", "P13")
}

// apart takes a made unit apart.
func (w *walk) apart() {
	if w.upTo(5, "crooked") < 5 {
		return
	}
	l := w.lot(func(l core.Lot) bool { return l.Unit != "" })
	at := core.StationID("WELD-1")
	by := core.PersonID("P13")
	if l.Item == eqKit {
		at, by = "DOCK-1", "P26"
	}
	w.bringTo(l, at)
	w.at("take-apart", core.TakeApart{Pallet: core.PalletCode(l.Place.Ref), Unit: l.ID, To: w.pallet(), Why: "crooked"}, at, by)
}

func (w *walk) problemAtSite() {
	l := one(w, w.atTheSite(), "lot at the site")
	w.at("report-problem at site", core.ReportProblem{Lot: l.ID, Qty: w.some(l), What: "dent"}, eqSite, "P27")
}

func (w *walk) atTheSite() []core.Lot {
	var out []core.Lot
	for _, id := range keys(w.state.Lots) {
		if l := w.state.Lots[id]; l.Place.Kind == core.AtSite && l.Qty > 0 {
			out = append(out, l)
		}
	}
	return out
}

// load puts a pallet on a truck, packing what is on it first where only that is
// left to do.
func (w *walk) load() {
	l := w.lot(func(l core.Lot) bool {
		next := core.NextSteps(w.shop.book, l)
		return len(next) == 0 && w.shop.book.Items[l.Item].Kind != core.PartItem || len(next) == 0 && l.Item == eqCap || len(next) > 0 && next[0].Stage == "pack"
	})
	w.signOff(l, false)
	b := core.Load{Site: eqSite, Day: "2026-11-26", Pallets: []core.PalletCode{core.PalletCode(l.Place.Ref)}}
	for _, c := range keys(w.state.Consignments) {
		if w.state.Consignments[c].Gone.IsZero() && w.now("on this one") {
			b.Consignment = c
		}
	}
	w.at("load", b, "DOCK-1", "P25")
}

// consignment draws one that has left, or not.
func (w *walk) consignment(like func(core.Consignment) bool) core.ConsignmentCode {
	var out []core.ConsignmentCode
	for _, c := range keys(w.state.Consignments) {
		if like(w.state.Consignments[c]) {
			out = append(out, c)
		}
	}
	return one(w, out, "consignment")
}

func (w *walk) ship() {
	b := core.Ship{Consignment: w.consignment(func(c core.Consignment) bool { return c.Gone.IsZero() }), Vehicle: "EQ26 UAL", HandedTo: core.SignedOnPaper}
	c := core.Command{Body: b, Station: "DOCK-1"}
	if w.now("agreed") {
		b.Consents = w.consents(b.Consignment, "first part")
		c.Body, c.Confirm = b, []string{"order-short"}
	}
	w.try("ship", c, "P25", "P03")
}

func (w *walk) arrive() {
	again := w.upTo(9, "again") == 9
	c := w.consignment(func(c core.Consignment) bool { return !c.Gone.IsZero() && (again || c.Received.IsZero()) })
	b, kind := core.ReceiveAtSite{Consignment: c}, "receive-at-site"
	on := w.state.Consignments[c].Pallets
	switch w.upTo(5, "how it came") {
	case 1:
		b.Boxes, kind = []core.PalletCode{one(w, on, "box")}, "receive one box"
	case 2:
		b.Missing, kind = []core.PalletCode{one(w, on, "missing")}, "receive, a box missing"
	case 3, 4:
		l := one(w, w.state.LotsAt(core.Place{Kind: core.InConsignment, Ref: string(c)}), "counted")
		n := core.SiteCount{Lot: l.ID, Found: w.upTo(l.Qty, "found"), Why: "dented"}
		n.Damaged = w.upTo(n.Found, "damaged")
		b.Counts, kind = []core.SiteCount{n}, "receive short or damaged"
	}
	w.at(kind, b, eqSite, "P27")
}

// site works at the site, or sends parts back.
func (w *walk) site() {
	l := one(w, w.atTheSite(), "lot at the site")
	next := core.StageName("unpack")
	for _, done := range []core.StageName{"fit-out", "accept"} {
		if l.Facts.At(core.Fact{Name: map[core.StageName]string{"fit-out": core.IsUnpacked, "accept": core.IsFitted}[done]}, w.shop.now) == core.Yes {
			next = done
		}
	}
	b := core.WorkAtSite{Stage: one(w, []core.StageName{next, next, "return", "accept"}, "stage"), Note: "dented",
		Picks: []core.Pick{{Lot: l.ID, Qty: w.some(l)}}}
	kind := "work at site"
	if b.Stage == "return" {
		kind = "return from site"
	}
	w.at(kind, b, eqSite, "P27")
}

// correct takes back one of the last events.
func (w *walk) correct() {
	e := w.events[len(w.events)-1-w.upTo(min(len(w.events)-1, 12), "events ago")]
	w.at("correct", core.Correct{Event: e.ID, Reason: "wrong"}, "", "P18", "P03")
}

func (w *walk) hold() {
	l := w.lot(func(l core.Lot) bool {
		return w.shop.book.Items[l.Item].Kind != core.SheetItem && w.shop.book.Items[l.Item].Kind != core.BarItem
	})
	b := core.PlaceHold{Scope: one(w, []core.HoldScope{core.HoldLot, core.HoldLot, core.HoldPallet, core.HoldOrder, core.HoldItem}, "scope"), Reason: "doubt"}
	switch b.Scope {
	case core.HoldLot:
		b.Ref = string(l.ID)
	case core.HoldPallet:
		b.Ref = l.Place.Ref
	case core.HoldOrder:
		b.Ref = l.Owner.Order
	case core.HoldItem:
		b.Ref = l.Item.Key()
	}
	w.at("place-hold", b, "", "P03")
}

func (w *walk) lift() {
	var open []core.HoldID
	for _, id := range keys(w.state.Holds) {
		if h := w.state.Holds[id]; h.Open() && h.Problem == "" && h.Follows == "" {
			open = append(open, id)
		}
	}
	w.at("lift-hold", core.LiftHold{Hold: one(w, open, "hold"), Reason: "looked"}, "", "P03")
}

func (w *walk) settle() {
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

// name is a name nothing has had before.
func (w *walk) name() string { return strconv.Itoa(w.n) }
