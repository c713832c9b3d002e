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
	rows, err := s.store.Refusals(s.t.Context(), 1)
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
	line.no("taken in past an unreleased weld", panelSays, heldSays, "hold-not-released", func() {
		line.scans(own)
		line.click(`form[data-command="take-in"] button`)
	})

	// Released, taken to the line, and the release taken back by two people while
	// the line's page is still open.
	inspect()
	bay.signs(inspector)
	released := h.last(core.EvSigned)
	h.takeIn(core.PalletCode(own), "PRETREAT-1")
	line.scans(own)
	line.ready("Pretreat", job{batch: "BT-48"})
	h.pass(time.Minute)
	h.at("INSPECT-1").does(core.Correct{Event: released.ID, Reason: "signed the wrong panel"}, inspector, quality)
	line.no("pretreating past an unreleased weld", panelSays, heldSays, "hold-not-released", func() { line.badges(operator) })
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
	round.no("step done twice", panelSays, "“Round the edges” is done already for 2 louvre sides; next is “Fold”.", "step-done", func() { round.badges(operator) })

	// Skipped: the step before was taken back.
	h.takeIn(blades, "BRAKE-1")
	brake.scans(string(blades))
	brake.ready("Fold", job{values: folds, only: []string{"louvre side"}})
	h.at("ROUND-AL").does(core.Correct{Event: first.ID, Reason: "the other pallet was meant"}, operator)
	brake.no("skipped step", panelSays, "“Fold” can't be signed for 2 louvre sides: “Round the edges” comes first.", "step-skipped", func() { brake.badges("P22") })

	// Numbers: parts were taken off meanwhile.
	rails := h.lotOf(blades, "DF-RAIL")
	brake.scans(string(blades))
	brake.ready("Fold", job{values: folds, only: []string{"door rail"}})
	h.parted("BRAKE-1", blades, rails)
	brake.no("numbers that don't sum", panelSays, "4 good, 0 not good and 0 not done come to 4, but there are 3 door rails.", "numbers-dont-sum", func() { brake.badges("P22") })

	// The same number for something else: a tablet whose source of numbers is stuck.
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
	h.at("BOOTH-1").does(core.Divide{From: alone, To: f.mixed, Picks: []core.Pick{{Lot: tray, Qty: 1}}})
	booth.takes(string(f.mixed))
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
