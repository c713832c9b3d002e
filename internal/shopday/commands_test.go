package shopday

import (
	"testing"

	"tagalong/internal/core"
)

// TestOtherCommandsFromScreens: what a day without trouble doesn't need is
// reached from a screen as well, by the person whose work it is.
func TestOtherCommandsFromScreens(t *testing.T) {
	h := furnish(open(t))
	f := newFloor(h.shop)
	h.troubled(f)
	h.puts(f)
	h.holds(f)
	h.takesBack(f)
	h.mixed(f)
	h.verified()
}

// troubled: a problem is reported, parts are counted again and lent, work is
// begun.
func (h *house) troubled(f *floor) {
	round := h.tablet("ROUND-AL")
	round.scans(string(f.blades))
	round.more("problem")
	round.click(`#problem label:has(#problem-` + round.lotLetter("door rail") + `)`)
	round.types("#problem [name=qty]", "1")
	round.click(`#problem [data-why="scratched"]`)
	round.click("#problem button.main")
	round.signs("P21")
	round.done("Problem reported")
	if e := h.last(core.EvProblemReported); e.Lots[0].Item.Item != "DF-RAIL" {
		h.t.Errorf("the problem is about %v", e.Lots)
	}

	h.countedAgain(round, f)

	round.scans(string(f.blades))
	rail := round.lotLetter("door rail")
	round.click(`main [data-open="more"]`)
	round.leaves(func() { round.click(`#more a[href*="/station/lend/"]`) })
	round.leaves(func() { round.click("#lend-" + rail) })
	round.types("#lend [name=qty]", "1")
	round.types("#lend [name=reason]", "no longer asked for") // no order named: to stock
	round.click("#lend button.main")
	round.signs("P02")
	if e := h.last(core.EvOwnerChanged); e.Lots[0].Good != 1 {
		h.t.Errorf("lent: %v", e.Lots)
	}

	round.scans(string(f.blades))
	round.click(`main [data-open="more"]`)
	round.leaves(func() { round.click(`#more form[data-command="begin"] button`) })
	round.done("begun")
	h.last(core.EvBegun)
}

// countedAgain: what the page said is recorded is not asked about again, unless
// somebody else counted meanwhile.
func (h *house) countedAgain(round *screen, f *floor) {
	sides := func() {
		round.scans(string(f.blades))
		round.more("recount")
		round.click(`#recount label:has(#recount-` + round.lotLetter("louvre side") + `)`)
	}
	sides()
	round.sees("#recount [data-recount-go]", "How many are there?")
	h.at("ROUND-AL").does(core.Recount{Pallet: f.blades, Lot: h.lotOf(f.blades, "LB-SIDE"), Found: 1, Recorded: 2, Reason: "one is not there"}, "P21")
	round.types("#recount [name=found]", "0")
	round.sees("#recount [data-recount-go]", "Record 0: 2 not there")
	round.click("#recount button.main")
	round.badges("P21")
	round.sees("#refusal h1", "The record says 1 louvre side; you counted 0. Is that so?")
	round.look()
	round.click("#refusal [data-close]")

	sides()
	round.click(`#recount [data-step="1"]`)
	round.sees("#recount [data-recount-go]", "Record 2: 1 more")
	round.look()
	round.click("#recount button.main")
	round.signs("P21")
	round.done("Count recorded")
	if e := h.last(core.EvRecounted); e.Lots[0].Good != 2 {
		h.t.Errorf("counted: %v", e.Lots)
	}
}

// lotLetter is the letter of the lot, on the page's pallet, whose name holds a text.
func (s *screen) lotLetter(name string) string {
	s.t.Helper()
	return asks[string](s, `[...document.querySelectorAll("#recount .choice")].find(e => e.textContent.includes(`+quoted(name)+`)).textContent.trim()[0]`)
}

// puts: what was gathered goes back onto a pallet.
func (h *house) puts(f *floor) {
	bench := h.tablet("WELD-1")
	bench.open("/station/units?unit=" + string(f.unit))
	bench.click(`[data-open="put-back"]`)
	bench.sees("#put-back", "Put what was gathered back")
	bench.look()
	bench.leaves(func() { bench.click("#put-back button.main") })
	bench.done("Put back")
	if e := h.last(core.EvReturned); len(e.Lots) != 3 {
		h.t.Errorf("put back %v, want skins, stiffeners and posts", e.Lots)
	}
}

// holds: quality stops a pallet and lets it go on.
func (h *house) holds(f *floor) {
	desk := h.desk(quality)
	desk.open("/quality")
	desk.click("details:has(select[name=scope]) summary")
	desk.chooses("select[name=scope]", string(core.HoldPallet))
	desk.types("[name=ref]", string(f.blades))
	desk.types("form[data-command='place-hold'] [name=reason]", "drawing in doubt")
	desk.look()
	desk.click("form[data-command='place-hold'] button.main")
	desk.signs(quality)
	h.last(core.EvHeld)
	round := h.tablet("ROUND-AL")
	round.scans(string(f.blades))
	round.sees(".stops h1", "held: drawing in doubt")

	desk.open("/quality")
	desk.click("li.case:has(form[data-command='lift-hold']) summary")
	desk.types("form[data-command='lift-hold'] [name=reason]", "drawing is right")
	desk.click("form[data-command='lift-hold'] button.main")
	desk.signs(quality)
	h.last(core.EvReleased)
}

// takesBack: a sign-off of the wrong lot is taken back from the history.
func (h *house) takesBack(f *floor) {
	round := h.tablet("ROUND-AL")
	round.scans(string(f.blades))
	round.works("Round the edges", job{by: "P21", only: []string{"louvre side"}})
	wrong := h.last(core.EvSigned)
	round.click(`main [data-open="more"]`)
	round.leaves(func() { round.click(`#more a[href^="/history/"]`) })
	entry := `li[id="` + string(wrong.ID) + `"] `
	round.click(entry + "details summary")
	round.types(entry+"[name=reason]", "the other pallet was meant")
	round.click(entry + "form[data-command=correct] button")
	round.signs("P21")
	if e := h.last(core.EvCorrected); e.Corrects != wrong.ID {
		h.t.Errorf("taken back was %s, want %s", e.Corrects, wrong.ID)
	}
}

// mixed: two trays, of one of which it is no longer sure whether its edges are
// round, were mixed; two people look.
func (h *house) mixed(f *floor) {
	alone, tray := h.doubtful(f)
	h.work("PRETREAT-1", f.mixed, "pretreat", f.tray)
	h.takeIn(f.mixed, "BOOTH-1")
	h.at("BOOTH-1").puts(core.Divide{From: alone, To: f.mixed, Picks: []core.Pick{{Lot: tray, Qty: 1}}})

	booth := h.tablet("BOOTH-1")
	booth.scans(string(f.mixed))
	booth.more("fuse")
	for _, id := range []core.LotID{f.tray, tray} {
		booth.click(`#fuse label:has([value="` + string(id) + `"])`)
	}
	booth.click("#fuse label:has([name=mix])")
	booth.click("#fuse button.main")
	booth.signs("P24")
	h.last(core.EvFused)

	booth.scans(string(f.mixed))
	booth.sees(".stops h1", "It is not sure whether “edges rounded” holds for 2 roof trays 2400.")
	booth.click(`[data-open="settle"]`)
	booth.click("#settle label:has([value=yes])")
	booth.types("#settle [name=reason]", "felt every edge of both")
	booth.look()
	booth.click("#settle button.main")
	booth.click(`#sign [data-part="second"]`)
	booth.badges(inspector)
	booth.sees("#sign", "Second signature")
	booth.signs(quality)
	if e := h.last(core.EvSettled); len(e.Signed) != 2 {
		h.t.Errorf("settled by %v, want two who looked", e.Signed)
	}
}
