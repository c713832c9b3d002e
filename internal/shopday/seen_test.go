package shopday

import (
	"crypto/rand"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/code"
	"tagalong/internal/core"
)

// noted is how many refusals and events are on record.
func (h *house) noted() (events, refusals int) {
	h.t.Helper()
	must(h.t, h.sql.QueryRow(h.t.Context(), "SELECT (SELECT count(*) FROM event), (SELECT count(*) FROM refusal)").Scan(&events, &refusals))
	return events, refusals
}

// no is a refusal seen on the screen: what is done is answered with a sentence
// in an element, and nothing is recorded but, where a tablet is known, the
// refusal itself.
func (s *screen) no(name, css, sentence, code string, act func()) {
	s.t.Helper()
	s.t.Log(name)
	s.pass(time.Second)
	events, refusals := s.noted()
	act()
	s.sees(css, sentence)
	s.look()
	after, noted := s.noted()
	if after != events {
		s.t.Errorf("%s: %d events were recorded all the same", name, after-events)
	}
	if code == "" {
		return
	}
	if noted != refusals+1 {
		s.t.Errorf("%s: %d refusals on record, want one more than %d", name, noted, refusals)
	}
	rows, err := s.store.Refusals(s.t.Context(), app.RefusalQuery{Limit: 1})
	must(s.t, err)
	if rows[0].Refusal.Code != code {
		s.t.Errorf("%s: on record is %s, want %s", name, rows[0].Refusal.Code, code)
	}
}

const (
	panelSays = "#refusal h1"                 // over the page, what was entered is kept
	pageSays  = "section.refusal h1"          // in the place of a page
	signSays  = `#sign [data-part="message"]` // beside the badge
)

// TestRefusalsSeen: what must be refused is refused on the screen of whoever
// tries, in its sentence.
func TestRefusalsSeen(t *testing.T) {
	h := furnish(open(t))
	f := newFloor(h.shop)
	h.doors()
	h.scanning()
	h.signing(f)
	h.holdPoint(f)
	h.oldPages(f)
	h.coating(f)
	h.sharpEdges(f)
	h.verified()
}

// doors: devices that are enrolled to nothing.
func (h *house) doors() {
	stranger := h.device("stranger", browsertest.Tablet)
	stranger.no("unenrolled tablet", "main", "This device is not enrolled to a station.", "", func() { stranger.open("/station") })

	lost := h.device("lost", browsertest.Tablet)
	one, err := h.app.EnrolmentCode(h.t.Context(), app.Machine(), "BRAKE-3")
	must(h.t, err)
	lost.enrol(one.Text())
	admin := h.desk("P01")
	admin.open("/tablets")
	admin.leaves(func() { admin.click(`[aria-label="Revoke the tablet at press brake 3"]`) })
	lost.no("revoked tablet", "main", "This tablet's enrolment was ended.", "", func() { lost.open("/station") })
}

// scanning: codes that name nothing here.
func (h *house) scanning() {
	bench := h.tablet("BENCH-1")
	fresh, err := code.New(code.Pallet, rand.Reader)
	must(h.t, err)
	slip := slipped(h.t)
	for name, x := range map[string]struct{ typed, says string }{
		"unknown code":  {string(fresh), "No pallet " + fresh.Spaced() + " was ever made."},
		"mistyped code": {slip, "“" + slip + "” can't be read as one of our codes: a symbol is wrong, or two changed places."},
		"foreign code":  {"4006381333931", "“4006381333931” is not one of our codes."},
	} {
		bench.no(name, pageSays, x.says, "", func() { bench.scans(x.typed) })
	}
}

// signing: a lapsed qualification, a badge that has ended, wrong PINs.
func (h *house) signing(f *floor) {
	bench := h.tablet("WELD-1")
	bench.open("/station/units?unit=" + string(f.unit))
	bench.click(`[data-open="assemble"]`)
	bench.click(`#assemble input[value="FA-121"] + span`)
	bench.click(`#assemble .tick`)
	sign := func() { bench.click("#assemble button.main") }
	bench.no("lapsed qualification", panelSays, "Wynn Askell's qualification for weld ended on 10 November 2026.", "qualification-lapsed", func() {
		sign()
		bench.badges("P11")
	})
	bench.click("#refusal [data-close]")

	old := h.issue("P15")
	h.badges["P15"] = h.issue("P15")
	bench.no("revoked badge", signSays, "This badge of Sunniva Larch is no longer good.", "badge-revoked", func() {
		sign()
		bench.shows(old, pin)
	})
	for _, says := range []string{
		"You can try again at once.", "You can try again at once.", "You can try again at once.",
		"After one more wrong try there is a wait.", "Wait 1 minute before the next try.",
	} {
		bench.no("wrong PIN", signSays, "That is not the PIN of Hollis Quade. Nothing was signed. "+says, "pin-wrong", func() {
			bench.shows(h.badge("P14"), "730164")
		})
	}
	bench.no("throttled", signSays, "Too many wrong PINs for Hollis Quade; the next try can be made in 59 seconds.", "pin-wait", func() {
		bench.badges("P14")
	})
}

// holdPoint: nobody passes an unreleased weld, and its welder doesn't release it.
func (h *house) holdPoint(f *floor) {
	f.weld()
	own := string(f.palletOf(f.welded))
	bay, line := h.tablet("INSPECT-1"), h.tablet("PRETREAT-1")
	inspect := func() {
		bay.scans(own)
		bay.ready("Inspect the welds", job{values: weld})
	}
	bay.no("released by its welder", panelSays, "Halvard Ensley worked on this weld and may not release it.", "maker-may-not-release", func() {
		inspect()
		bay.badges(welder)
	})
	// The line is told as soon as it scans the pallet.
	line.no("scanned past an unreleased weld", ".stops h1", heldSays, "", func() { line.scans(own) })
	line.sees(".stops", "Call a weld inspector.")
	line.sees(".stops", "A weld inspector who made none of it. No concession exists for this rule.")
	if n := asks[int](line, `document.querySelectorAll('form[data-command="take-in"]').length`); n != 0 {
		h.t.Error("the page offers to take the pallet in all the same")
	}

	// Released, scanned at the line, and the release taken back by two people
	// while the line's page still offers to take the pallet in.
	inspect()
	bay.signs(inspector)
	released := h.last(core.EvSigned)
	line.scans(own)
	line.sees(`form[data-command="take-in"] button`, "take in")
	h.takenBack(released)
	line.no("taken in past an unreleased weld", panelSays, heldSays, "hold-not-released", func() {
		line.click(`form[data-command="take-in"] button`)
	})

	// Released, taken to the line, and the release taken back by two people while
	// the line's page is still open.
	inspect()
	bay.signs(inspector)
	released = h.last(core.EvSigned)
	h.takeIn(core.PalletCode(own), "PRETREAT-1")
	line.scans(own)
	line.ready("Pretreat", job{batch: "BT-48"})
	h.takenBack(released)
	line.no("pretreating past an unreleased weld", panelSays, heldSays, "hold-not-released", func() { line.badges(operator) })
	line.no("the same on a fresh page", ".stops h1", heldSays, "", func() { line.scans(own) })
	line.sees(".stops", "Call a weld inspector.")
	line.sees(".stops", "Hand over to inspection bay")
}

// takenBack has two people take a release back.
func (h *house) takenBack(released core.Event) {
	h.t.Helper()
	h.at("INSPECT-1").does(core.Correct{Event: released.ID, Reason: "signed the wrong panel"}, inspector, quality)
}

// coating: the panel comes to the booth beside trays that may be coated, and
// its release is taken back there; then it comes alone, pretreated and masked,
// and its release falls away under the page that is about to be signed.
func (h *house) coating(f *floor) {
	trays := h.palletOfItem("O-4101", "RT-2400")
	tray, own := h.lotOf(trays, "RT-2400"), f.palletOf(f.welded)
	h.work("ROUND-AL", trays, "edge-round", tray)
	h.work("BRAKE-1", trays, "fold", tray)
	h.takeIn(own, "INSPECT-1")
	h.at("INSPECT-1").puts(core.Divide{From: own, To: trays, Picks: []core.Pick{{Lot: f.welded, Qty: 1}}})
	h.work("INSPECT-1", trays, "weld-inspect", f.welded)
	released := h.last(core.EvSigned)
	h.work("PRETREAT-1", trays, "pretreat", tray)
	h.takeIn(trays, "BOOTH-1")
	h.takenBack(released)

	booth := h.tablet("BOOTH-1")
	booth.no("coating past an unreleased weld, beside others", "#more", heldSays, "", func() {
		booth.scans(string(trays))
		booth.sees("main h1", "Coat")
		booth.click(`main [data-open="more"]`)
	})
	booth.click("#more [data-close]")
	booth.ready("Coat", job{batch: "PB-2610"})
	booth.sees("#sign .not-signed", "is not signed")
	booth.sees("#sign .not-signed", heldSays)

	alone := h.parted("BOOTH-1", trays, f.welded)
	booth.no("coating past an unreleased weld", ".stops h1", heldSays, "", func() { booth.scans(string(alone)) })
	booth.sees(".stops", "Call a weld inspector.")
	booth.sees(".stops", "A weld inspector who made none of it. No concession exists for this rule.")
	booth.sees(".stops", "Hand over to inspection bay")

	h.work("INSPECT-1", alone, "weld-inspect", f.welded)
	h.work("PRETREAT-1", alone, "pretreat", f.welded)
	h.work("BOOTH-1", alone, "mask", f.welded)
	booth.scans(string(alone))
	booth.ready("Coat", job{batch: "PB-2610"})
	found := h.at("BOOTH-1").does(core.ReportProblem{Pallet: alone, Lot: f.welded, Qty: 1, What: "old tape, and the weld looks open", Stay: true}, "P24")
	h.at("BOOTH-1").does(core.Dispose{Problem: core.ProblemID(found.Ref), Disposition: core.DisposeRework, Reason: "tape off, weld in doubt",
		Route: core.RouteRef{Name: "TAPE-OFF", Version: 1}, Rejoin: 60, Clear: []string{core.WeldAccepted}}, quality)
	h.work("BOOTH-1", alone, "unmask", f.welded)
	booth.no("signing the coat past an unreleased weld", panelSays, heldSays, "hold-not-released", func() { booth.badges("P24") })
	booth.sees("#refusal", "Call a weld inspector.")
	booth.sees("#refusal", "A weld inspector who made none of it. No concession exists for this rule.")
	booth.no("the same on a fresh page", ".stops h1", heldSays, "", func() { booth.scans(string(alone)) })
}

// oldPages: two tablets of a station, one of them with a page that is no longer so.
func (h *house) oldPages(f *floor) {
	rail := h.palletOfItem("O-4101", "DF-RAIL") // stands rounded at the rounding line
	blades := h.palletOfItem("O-4101", "LB-SIDE")
	if blades != rail {
		h.t.Fatalf("rails on %s, louvre sides on %s", rail, blades)
	}
	round, brake := h.tablet("ROUND-AL"), h.tablet("BRAKE-1")
	sides := h.lotOf(blades, "LB-SIDE")

	// Done twice: the other tablet was quicker.
	round.scans(string(blades))
	round.ready("Round the edges", job{only: []string{"louvre side"}})
	h.at("ROUND-AL").does(h.signOff(blades, "edge-round", sides), operator)
	first := h.last(core.EvSigned)
	doneSays, signedAt := "“Round the edges” is done already for 2 louvre sides; next is “Fold”.", "Signed "+first.Happened.Format("15:04")+" by Merrin Stroud, here."
	round.no("step done twice", panelSays, doneSays, "step-done", func() { round.badges(operator) })
	round.no("the same on a fresh page", "main", doneSays, "", func() { round.scans(string(blades)) })
	round.sees("[data-done-by]", signedAt)
	round.sees("main", "Hand over to press brake 1")

	// Wrong station: it says so before it takes the pallet in.
	line := h.tablet("PRETREAT-1")
	line.no("scanned at a wrong station", ".stops h1", "Pretreat line has nothing to do for pallet "+spaced(string(blades))+"; it waits for “Fold”.", "",
		func() { line.scans(string(blades)) })
	line.sees(".stops", "It belongs to: press brake 1; press brake 2; press brake 3.")

	// Skipped: the fold comes after the rounding, which nobody has done.
	unrounded := h.palletOfItem("O-4101", "RT-2400")
	brake.no("scanned a step too early", ".stops h1", "Press brake 1 has nothing to do for pallet "+spaced(string(unrounded))+"; it waits for “Round the edges”.", "",
		func() { brake.scans(string(unrounded)) })
	brake.sees(".stops", "It belongs to: edge rounding line, aluminium belts.")

	// Skipped: the step before was taken back.
	h.takeIn(blades, "BRAKE-1")
	round.no("scanned again where it was done", "main h1", doneSays, "", func() { round.scans(string(blades)) })
	round.sees("[data-done-by]", signedAt)
	round.sees("main", "At press brake 1.")
	brake.scans(string(blades))
	brake.ready("Fold", job{values: folds, only: []string{"louvre side"}})
	h.at("ROUND-AL").does(core.Correct{Event: first.ID, Reason: "the other pallet was meant"}, operator)
	brake.no("skipped step", panelSays, "“Fold” can't be signed for 2 louvre sides: “Round the edges” comes first.", "step-skipped", func() { brake.badges("P22") })
	brake.no("the same on a fresh page", "#more", "“Fold” can't be signed for 2 louvre sides: “Round the edges” comes first.", "", func() {
		brake.scans(string(blades))
		brake.click(`main [data-open="more"]`)
	})
	apart := h.palletAlone("BRAKE-1", blades, sides)
	brake.no("skipped, on a pallet of their own", ".stops h1", "“Fold” can't be signed for 2 louvre sides: “Round the edges” comes first.", "",
		func() { brake.scans(string(apart)) })
	brake.sees(".stops", "Do “Round the edges”, then come back.")
	brake.sees(".stops", "Hand over to edge rounding line, aluminium belts")

	// Numbers: said beside the field as soon as they are typed, which keeps them.
	rails := h.lotOf(blades, "DF-RAIL")
	brake.scans(string(blades))
	brake.no("numbers that don't sum, as they are typed", "dialog[open] [data-tally-message]",
		"0 good, 9 not good and 0 not done come to 9, but there are 4 door rails. Put the numbers right; they must come to 4.", "", func() {
			brake.click("[data-not-good]")
			brake.types("dialog[open] [data-bad]", "9")
			brake.click("dialog[open] [data-tally-done]")
		})
	if kept := asks[string](brake, `document.querySelector("dialog[open] [data-bad]").value`); kept != "9" {
		h.t.Errorf("of the count typed there is %q left", kept)
	}

	// And after they are sent: parts were taken off meanwhile.
	brake.scans(string(blades))
	brake.ready("Fold", job{values: folds, only: []string{"door rail"}})
	h.parted("BRAKE-1", blades, rails)
	brake.no("numbers that don't sum", panelSays, "4 good, 0 not good and 0 not done come to 4, but there are 3 door rails.", "numbers-dont-sum", func() { brake.badges("P22") })

	// The same number for something else. A tablet makes a number for every
	// intention and sends the same again only for the same, so a person meets
	// this only where its source of numbers is stuck, as here; programs can.
	id := h.last(core.EvDivided).ID
	brake.scans(string(blades))
	brake.ready("Fold", job{values: folds, only: []string{"door rail"}})
	brake.js(`crypto.randomUUID = () => ` + quoted(strings.TrimSuffix(string(id), ".1")))
	brake.no("same id, another body", panelSays, "This tablet has sent something else under the same number before.", "id-used", func() { brake.badges("P22") })

	// Wrong station: the tablet was moved to another one, its page was not.
	brake.scans(string(blades))
	brake.ready("Fold", job{values: folds, only: []string{"door rail"}})
	brake.moved("ROUND-AL")
	brake.no("wrong station", panelSays, "Edge rounding line, aluminium belts does not do “Fold”.", "wrong-station", func() { brake.badges("P22") })
	delete(h.screens, "BRAKE-1")

	// A stale print is told on the page before anything is asked.
	pallet := h.palletOfItem("O-4101", "RT-2400")
	h.at("ROUND-AL").does(core.PrintTraveller{Pallet: pallet})
	tray := h.lotOf(pallet, "RT-2400")
	h.parted("ROUND-AL", pallet, tray)
	round.no("stale print", "main h1", "This ticket is out of date: it is print 1, and the pallet has changed since.", "", func() { round.scans(ticket(string(pallet), 1)) })
	round.sees(".changes", "1 × roof tray 2400 left")
}

// lotOf is the lot of an item on a pallet.
func (h *house) lotOf(p core.PalletCode, item core.ItemID) core.LotID {
	h.t.Helper()
	for _, l := range h.on(p) {
		if l.Item.Item == item {
			return l.ID
		}
	}
	h.t.Fatalf("no %s on %s", item, p)
	return ""
}

// moved enrols the device to another station as a second tab of its browser
// would: the cookies change, the page that is open stays.
func (s *screen) moved(to core.StationID) {
	s.t.Helper()
	one, err := s.app.EnrolmentCode(s.t.Context(), app.Machine(), to)
	must(s.t, err)
	s.js(`fetch("/enrol", {method: "POST", body: new URLSearchParams({code: ` + quoted(one.Text()) + `})}).then(a => { window.moved = a.ok; })`)
	s.until("the other station's cookie", "window.moved")
}

// sharpEdges: at the booth a tray turns out to have tape on it and sharp edges.
// Quality has the tape taken off and, in error, lets it come straight back to
// the coat: alone, then beside a good one.
func (h *house) sharpEdges(f *floor) {
	says := "1 roof tray 2400 may not go on: its edges were never rounded."
	alone, tray := h.doubtful(f)
	booth := h.tablet("BOOTH-1")
	booth.no("coating sharp edges", ".stops h1", says, "", func() { booth.scans(string(alone)) })
	booth.sees(".stops", "No concession exists for this rule.")

	h.work("PRETREAT-1", f.mixed, "pretreat", f.tray)
	booth.takes(string(f.mixed))
	h.at("BOOTH-1").does(core.Divide{From: alone, To: f.mixed, Picks: []core.Pick{{Lot: tray, Qty: 1}}})
	booth.no("coating them beside rounded ones", "#more", says, "", func() {
		booth.scans(string(f.mixed))
		booth.sees("main h1", "Coat")
		booth.click(`main [data-open="more"]`)
	})
}

// doubtful is a tray at the coat whose edges were found sharp, on a pallet of its
// own at the booth.
func (h *house) doubtful(f *floor) (core.PalletCode, core.LotID) {
	h.t.Helper()
	alone := h.parted("BRAKE-1", f.mixed, f.tray)
	tray := h.lotOf(alone, "RT-2400")
	h.work("PRETREAT-1", alone, "pretreat", tray)
	h.takeIn(alone, "BOOTH-1")
	found := h.at("BOOTH-1").does(core.ReportProblem{Pallet: alone, Lot: tray, Qty: 1, What: "old tape, and edges felt sharp", Stay: true}, "P24")
	h.at("BOOTH-1").does(core.Dispose{Problem: core.ProblemID(found.Ref), Disposition: core.DisposeRework, Reason: "tape off",
		Route: core.RouteRef{Name: "TAPE-OFF", Version: 1}, Rejoin: 60, Clear: []string{core.EdgesRounded}}, quality)
	h.work("BOOTH-1", alone, "unmask", tray)
	return alone, tray
}

// palletAlone puts a whole lot on a fresh pallet.
func (h *house) palletAlone(at core.StationID, from core.PalletCode, lot core.LotID) core.PalletCode {
	h.t.Helper()
	h.at(at).does(core.Divide{From: from, Picks: []core.Pick{{Lot: lot, Qty: h.lot(lot).Qty}}})
	return h.palletOf(lot)
}

// parted puts one part of a lot on a fresh pallet.
func (h *house) parted(at core.StationID, from core.PalletCode, lot core.LotID) core.PalletCode {
	h.t.Helper()
	for _, p := range h.at(at).does(core.Divide{From: from, Picks: []core.Pick{{Lot: lot, Qty: 1}}}).Pallets {
		if p != from {
			return p
		}
	}
	h.t.Fatal("nothing was put on another pallet")
	return ""
}
