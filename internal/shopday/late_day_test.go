package shopday

import (
	"testing"

	"tagalong/internal/core"
)

// TestALateComponentIsJoined: an inspector finds a stiffener of the wrong gauge in
// a welded panel; quality has it changed. At the weld bench the unit is refused
// with nothing going in, with one too many and one short; then one comes out, the
// spare goes in, and the panel is welded and inspected again.
func TestALateComponentIsJoined(t *testing.T) {
	h := furnish(open(t))
	pallet, unit := h.toChange()
	bench := h.tablet("WELD-1")
	takesOut, goesIn := `.late-line:has([data-name="wall stiffener"]) .late-part:has([data-way="out"])`, `.late-part:has([data-way="in"])`
	more := func(part string) { bench.click(part + ` [data-step="1"]`) }
	fewer := func(part string) { bench.click(part + ` [data-step="-1"]`) }
	signs := func() {
		bench.click("[data-go]")
		bench.badges("P13")
	}
	bench.scans(string(pallet))
	bench.sees("h1", "Join the late component")
	bench.sees(".late-line", "wall stiffener 3 asked")
	bench.no("nothing goes in", panelSays, "Which late component goes into 1 wall panel 2400 is missing.", "late-part-not-gathered", signs)
	bench.click("#refusal [data-close]")
	more(goesIn)
	bench.sees("[data-balance]", "then 4: 1 too many")
	bench.no("one too many", panelSays, "The unit would hold 1 × wall stiffener more than its bill asks.", "unit-over", signs)
	bench.click("#refusal [data-close]")
	more(takesOut)
	more(takesOut)
	bench.sees("[data-balance]", "then 2: 1 short")
	bench.click("[data-go]")
	bench.sees("h2", "What is wrong with what comes out?")
	bench.look()
	bench.click(`[data-why-face] [data-why="wrong size"]`)
	bench.no("one short", panelSays, "The unit would be short of 1 × wall stiffener.", "unit-short", signs)
	bench.sees("#refusal", "Put in as many as come out.")
	bench.click("#refusal [data-close]")
	bench.click("[data-face-back]")
	fewer(takesOut)
	bench.sees("[data-balance]", "then 3, as asked")
	bench.click("[data-go]")
	bench.click("[data-go]")
	bench.signs("P13")
	bench.done("Join the late component: signed")

	joined := h.last(core.EvJoinedLate)
	if joined.Signed[0].Person != "P13" || h.lot(unit).Rework == nil {
		t.Errorf("joined: %+v", joined)
	}
	w, err := h.app.World(t.Context(), core.Names{Lots: []core.LotID{unit}, Inside: []core.LotID{unit}}, "")
	must(t, err)
	inside := map[core.ItemID]int{}
	for _, l := range w.State.LotsAt(core.Place{Kind: core.Inside, Ref: string(unit)}) {
		inside[l.Item.Item] += l.Qty
	}
	for _, c := range w.Book.Items[core.ItemRev{Item: "WP-2400", Rev: "D"}].Bill {
		if inside[c.Item.Item] != c.Qty {
			t.Errorf("%d × %s inside, want %d", inside[c.Item.Item], c.Item, c.Qty)
		}
	}
	h.pass(10 * minute)
	bench.scans(string(pallet))
	bench.prints()
	bench.scans(string(pallet))
	bench.works("Weld", job{by: "P13", batch: "FA-121"})
	bench.open("/history/" + string(pallet))
	bench.sees("main", "Put 1 wall stiffener into unit "+spaced(joined.Ref)+" in the place of 1 wall stiffener, which came out.")
	h.verified()
}

// toChange is a welded panel at weld bench 1 that quality sends over the rework
// of late parts, beside one spare stiffener of the stock.
func (h *house) toChange() (core.PalletCode, core.LotID) {
	h.t.Helper()
	w, err := h.app.World(h.t.Context(), core.Names{Nests: []string{"N-5001"}}, "")
	must(h.t, err)
	b := core.Separate{Sheet: h.cut("SH-5005-3", "LASER-1", "BENCH-1"), Nest: "N-5001"}
	for _, p := range w.State.Nests["N-5001"].Parts {
		tick := core.PartTick{Line: p.No, Good: p.Qty, To: "new:A"}
		if p.Item.Item == "ST-1900" {
			tick.Good, tick.Extra = p.Qty+1, 1
		}
		b.Ticks = append(b.Ticks, tick)
	}
	var round []core.LotID
	var parts core.PalletCode
	for _, c := range h.at("BENCH-1").does(b, "P06").Lots {
		l := h.lot(c.Lot)
		if l.Item.Item == "SK-1200" || l.Item.Item == "ST-1900" {
			round, parts = append(round, l.ID), core.PalletCode(l.Place.Ref)
		}
	}
	posts := h.separated("N-5002", "BAR-L40", "TUBE-1", "BENCH-2", "A")["PO-1900"]
	h.work("ROUND-AL", parts, "edge-round", round...)
	h.work("BRAKE-1", parts, "fold", round...)
	h.work("HAND-AL", h.palletOf(posts.ID), "hand-round", posts.ID)
	h.takeIn(parts, "WELD-1")
	h.takeIn(h.palletOf(posts.ID), "WELD-1")
	panel := core.ItemRev{Item: "WP-2400", Rev: "D"}
	build := core.BuildCode(h.at("WELD-1").does(core.Gather{Item: panel, Owner: core.Owner{Order: "O-5101", Line: 1}}).Ref)
	book := h.book()
	unit := h.at("WELD-1").does(core.Assemble{Build: build, Inputs: []string{"FA-121"}, Checks: well(book, book.Routes[book.Items[panel].Route].Steps[0])}, "P13").Lots[0].Lot
	own := h.palletOf(unit)
	h.at("WELD-1").does(h.signOff(own, "weld-dress", unit), "P15")
	h.takeIn(own, "INSPECT-1")
	found := h.signOff(own, "weld-inspect", unit)
	found.Lots[0] = core.LotWork{Lot: unit, Bad: 1, Why: "stiffener of the wrong gauge"}
	problem := core.ProblemID(h.at("INSPECT-1").does(found, "P18").Ref)
	h.at("INSPECT-1").does(core.Dispose{Problem: problem, Disposition: core.DisposeRework, Reason: "change the stiffener",
		Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: 30}, "P03")
	h.takeIn(own, "WELD-1")
	return own, unit
}
