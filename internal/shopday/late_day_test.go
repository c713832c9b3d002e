package shopday

import (
	"slices"
	"testing"

	"tagalong/internal/core"
)

// TestARemakeArrivesAfterTheWeldBenchBegan: one of a panel's stiffeners is refused
// at the brake and asked for again. The weld bench sees that and starts short
// under concession, then goes on with a spare of the stock; the inspector finds
// the spare of the wrong gauge, and quality has it changed. Meanwhile the remake is
// cut, rounded and folded, and comes to the bench: the unit is refused with nothing
// going in, with one too many and one short; then the spare comes out, the remake
// goes in, and the panel is welded and inspected again.
func TestARemakeArrivesAfterTheWeldBenchBegan(t *testing.T) {
	h := furnish(open(t))
	bench := h.tablet("WELD-1")
	set := h.setShortOfAStiffener()
	unit := h.startsShort(bench, set)
	pallet := h.refusesTheSpare(unit)
	h.remakeComes(bench, set.problem)
	stiffener := `.late-line:has([data-name="wall stiffener"]) .late-part`
	spare, another, goesIn := stiffener+`:has([data-way="out"][data-most="1"])`, stiffener+`:has([data-way="out"][data-most="2"])`, stiffener+`:has([data-way="in"])`
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
	more(spare)
	more(another)
	bench.sees("[data-balance]", "then 2: 1 short")
	bench.click("[data-go]")
	bench.sees("h2", "What is wrong with what comes out?")
	bench.look()
	bench.click(`[data-why-face] [data-why="wrong size"]`)
	bench.no("one short", panelSays, "The unit would be short of 1 × wall stiffener.", "unit-short", signs)
	bench.sees("#refusal", "Put in as many as come out.")
	bench.click("#refusal [data-close]")
	bench.click("[data-face-back]")
	fewer(another)
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
	if joined.Lots == nil || !slices.ContainsFunc(joined.Lots, func(c core.LotCount) bool { return h.lot(c.Lot).Remake == set.problem }) {
		t.Errorf("the remake did not go in: %+v", joined.Lots)
	}
	h.pass(10 * minute)
	bench.scans(string(pallet))
	bench.prints()
	bench.scans(string(pallet))
	bench.works("Weld", job{by: "P13", batch: "FA-121"})
	h.inspectedAgain(pallet, unit)
	bench.open("/history/" + string(pallet))
	bench.sees("main", "Put 1 wall stiffener into unit "+spaced(joined.Ref)+" in the place of 1 wall stiffener, which came out.")

	h.changesAStiffener(bench, unit)
	h.verified()
}

// changesAStiffener: run into by a truck afterwards, the panel has one stiffener
// changed: quality says which, its like is asked for by itself and kept for this
// panel, and the bench finds it in its place and the other counted out.
func (h *house) changesAStiffener(bench *screen, unit core.LotID) {
	h.t.Helper()
	code := h.lot(unit).Unit
	problem := core.ProblemID(h.at("INSPECT-1").does(core.ReportProblem{Pallet: h.palletOf(unit), Lot: unit, Qty: 1, What: "one stiffener dented", Stay: true}, "P18").Ref)
	quality := h.tablet("INSPECT-1")
	quality.open("/quality")
	decide := `form[data-command="dispose"]:has([name="problem"][value="` + string(problem) + `"]) `
	quality.js(`document.querySelector('` + decide + `').closest("details").open = true`)
	quality.click(decide + `input[value="rework"] + span`)
	quality.chooses(decide+"[data-fills]", quality.option(decide+"[data-fills]", "LATE-PART"))
	quality.chooses(decide+`[name="rejoin"]`, "30")
	quality.js(`[...document.querySelectorAll('` + decide + `label.change')].filter((l) => l.textContent.includes("wall stiffener, 1 inside"))[0].querySelector("[name$=qty]").value = "1"`)
	quality.types(decide+`[name="reason"]`, "dented")
	quality.look()
	quality.click(decide + `button.main`)
	quality.signs("P03")
	quality.done("Decided")

	pallet := h.palletOf(unit)
	h.takeIn(pallet, "WELD-1")
	h.remakeComes(bench, problem)
	bench.scans(string(pallet))
	bench.sees(".late-line", "to come out, as decided")
	bench.sees(".late-line", "made again for this unit")
	bench.look()
	bench.click(`.late-part:has([data-way="in"][data-name="wall stiffener"]) [data-step="1"]`)
	bench.sees("[data-balance]", "then 3, as asked")
	bench.click("[data-go]")
	bench.click(`[data-why-face] [data-why="bent wrong"]`)
	bench.click("[data-go]")
	bench.signs("P13")
	bench.done("Join the late component: signed")
	joined := h.last(core.EvJoinedLate)
	if joined.Ref != string(code) || !slices.ContainsFunc(joined.Lots, func(c core.LotCount) bool { return h.lot(c.Lot).Remake == problem }) {
		h.t.Errorf("the stiffener made again did not go in: %+v", joined)
	}
}

// shortSet is a panel's set at weld bench 1 that lacks a stiffener.
type shortSet struct {
	problem core.ProblemID  // whose remake is to come
	spare   core.LotID      // a stiffener of the stock, not at the bench yet
	at      core.PalletCode // what the spare lies on
}

// setShortOfAStiffener makes a panel's parts and brings them to weld bench 1, but
// one of its stiffeners, which is refused at the brake and to be made again, and a
// spare, which stays behind.
func (h *house) setShortOfAStiffener() shortSet {
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
	var set shortSet
	for _, c := range h.at("BENCH-1").does(b, "P06").Lots {
		l := h.lot(c.Lot)
		if l.Item.Item == "SK-1200" || l.Item.Item == "ST-1900" {
			round, parts = append(round, l.ID), core.PalletCode(l.Place.Ref)
		}
		if l.Owner.Stock() {
			set.spare = l.ID
		}
	}
	posts := h.separated("N-5002", "BAR-L40", "TUBE-1", "BENCH-2", "A")["PO-1900"]
	h.work("ROUND-AL", parts, "edge-round", round...)
	h.takeIn(parts, "BRAKE-1")
	folds := h.signOff(parts, "fold", round...)
	for i, work := range folds.Lots {
		if l := h.lot(work.Lot); l.Item.Item == "ST-1900" && !l.Owner.Stock() {
			folds.Lots[i].Good, folds.Lots[i].Bad, folds.Lots[i].Why = work.Good-1, 1, "bent wrong"
		}
	}
	set.problem = core.ProblemID(h.at("BRAKE-1").does(folds, "P22").Ref)
	h.at("BRAKE-1").does(core.Dispose{Problem: set.problem, Disposition: core.DisposeRemake, Reason: "cracked along the fold"}, "P03")
	set.at = h.palletAlone("BRAKE-1", parts, set.spare)
	h.work("HAND-AL", h.palletOf(posts.ID), "hand-round", posts.ID)
	h.takeIn(parts, "WELD-1")
	h.takeIn(h.palletOf(posts.ID), "WELD-1")
	return set
}

// startsShort has the bench see what is missing, start under concession, gather the
// spare when it comes, and weld; it returns the unit's lot.
func (h *house) startsShort(bench *screen, set shortSet) core.LotID {
	h.t.Helper()
	bench.open("/station")
	bench.sees(".rest-coming", "short of 1 × wall stiffener")
	bench.leaves(func() { bench.click(`.rest-coming a[href*="WP-2400"]`) })
	bench.sees(".bill", "1 to be cut again since ")
	bench.leaves(func() { bench.click(`form[data-command="gather"] button`) })
	bench.click(`[data-open="start-short"]`)
	bench.sees("#start-short h1", "can't be started: 1 × wall stiffener missing.")
	bench.look()
	bench.click("#start-short form button[type=submit]")
	bench.types("[data-waive-reason]", "the stiffener goes on last")
	bench.badges("P13")
	bench.signs("P03")
	bench.sees("[data-begun]", "started ")
	code := h.last(core.EvUnitBegun).Ref

	h.takeIn(set.at, "WELD-1")
	bench.open("/station/units?unit=" + code)
	bench.leaves(func() { bench.click(`form[data-command="gather"] button`) })
	bench.click(`[data-open="assemble"]`)
	bench.js(`document.querySelectorAll("#assemble [data-tick], #assemble input[value='FA-121']").forEach(e => e.click())`)
	bench.measures(job{values: weld})
	bench.click("#assemble button.main")
	bench.signs("P13")
	bench.done("signed")
	return h.last(core.EvAssembled).Lots[0].Lot
}

// refusesTheSpare has the unit dressed, refused at inspection and sent back to the
// bench over the rework of late parts.
func (h *house) refusesTheSpare(unit core.LotID) core.PalletCode {
	h.t.Helper()
	own := h.palletOf(unit)
	h.at("WELD-1").does(h.signOff(own, "weld-dress", unit), "P15")
	h.takeIn(own, "INSPECT-1")
	found := h.signOff(own, "weld-inspect", unit)
	found.Lots[0] = core.LotWork{Lot: unit, Bad: 1, Why: "stiffener of the wrong gauge"}
	problem := core.ProblemID(h.at("INSPECT-1").does(found, "P18").Ref)
	h.at("INSPECT-1").does(core.Dispose{Problem: problem, Disposition: core.DisposeRework, Reason: "change the stiffener",
		Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: 30}, "P03")
	own = h.palletOf(unit)
	h.takeIn(own, "WELD-1")
	return own
}

// remakeComes has the remake cut, broken out, rounded and folded, and taken in at
// the bench.
func (h *house) remakeComes(bench *screen, problem core.ProblemID) {
	h.t.Helper()
	sheet := h.cut("SH-5005-3", "LASER-1", "BENCH-1")
	again := h.at("BENCH-1").does(core.Separate{Sheet: sheet, Nest: "remake " + string(problem),
		Ticks: []core.PartTick{{Line: 1, Good: 1, To: "new:A"}}}, "P06").Lots[0].Lot
	pallet := h.palletOf(again)
	h.work("ROUND-AL", pallet, "edge-round", again)
	h.work("BRAKE-1", pallet, "fold", again)
	h.at("BRAKE-1").does(core.PrintTraveller{Pallet: pallet})
	h.at("BRAKE-1").does(core.HandOver{Pallet: pallet, To: "WELD-1"})
	bench.takes(string(pallet))
}

// inspectedAgain has the rework done to its end: then inspection is asked again.
func (h *house) inspectedAgain(pallet core.PalletCode, unit core.LotID) {
	h.t.Helper()
	h.at("WELD-1").does(h.signOff(pallet, "weld-dress", unit), "P15")
	h.work("HAND-AL", pallet, "hand-round", unit)
	next := core.NextSteps(h.book(), h.lot(unit))
	if len(next) == 0 || next[0].Stage != "weld-inspect" {
		h.t.Fatalf("after the rework comes %+v, want the inspection of the welds", next)
	}
	h.work("INSPECT-1", pallet, "weld-inspect", unit)
}
