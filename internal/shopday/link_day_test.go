package shopday

import (
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/server"
)

// TestAConsignmentByItsLink: a consignment received one short with a damaged
// part, on a phone without an account: from the link's first opening, over a
// photo of the damage, to the client's signature.
func TestAConsignmentByItsLink(t *testing.T) {
	s := &site{house: furnish(open(t))}
	s.covered()
	s.dock = s.house.tablet("DOCK-1")
	s.splits()
	s.truck = s.leaves("PN26 HLE")
	s.pass(90 * minute)

	desk := s.desk("P25")
	desk.open("/dock/" + s.truck + "/links")
	desk.types("[name=note]", "fitters’ team B")
	desk.leaves(func() { desk.click(".main") })
	address := desk.said(".made-link .text")
	at := strings.Index(address, "/L/")
	if at < 0 {
		t.Fatalf("the link is %q", address)
	}
	desk.pictures("link-made")

	s.phone = s.device("a fitter's phone", browsertest.Phone)
	s.phone.open(address[at:])
	s.phone.sees("main", "For fitters’ team B.")
	s.phone.pictures("link-opened")
	s.phone.leaves(func() { s.phone.click("button.main") })
	s.phone.sees("h1", "0 of 2 boxes")
	if path := asks[string](s.phone, "location.pathname"); path != "/site/mine" {
		t.Errorf("the phone stands at %s", path)
	}
	s.phone.pictures("link-boxes")

	s.countsOneShort()
	s.aBoxIsLate()
	s.oneTurnsUp()
	s.othersAreRefused()
	s.worksByLink()
	s.snagsByKeyboard()
	s.clientSigns()
	s.closesTheSnag()

	desk.open("/dock/" + s.truck + "/links")
	desk.sees("table", "claimed")
	desk.pictures("link-list")
	desk.open("/site/snags/" + s.truck)
	desk.sees(".snags", "1 service cover: corner dented")
	desk.sees(".snags", "wanted by")
	desk.sees(".snags", "wall scratched beside the door")
	desk.until("the photo of the damage", `document.querySelector(".snags img")?.naturalWidth > 0`)
	desk.pictures("link-snags-office")
	quality := s.desk("P03")
	quality.open("/quality")
	quality.sees("main", "corner dented")
	quality.sees("main", "1 service cover")
	desk.open("/dock/" + s.truck + "/links")
	desk.leaves(func() { desk.click(`form[action$="-1/revoke"] button`) })
	desk.sees("table", "revoked")
	browsertest.Expect(t, s.phone.ctx, "410")
	s.phone.open("/site/mine")
	s.phone.sees("h1", "This link was revoked by the shop.")
	s.phone.pictures("link-revoked")
	s.verified()
}

// splits lays one of the four covers on a pallet of its own.
func (s *site) splits() {
	s.t.Helper()
	s.at("DOCK-1").does(core.Divide{From: s.pallet, Picks: []core.Pick{{Lot: s.covers, Qty: 1}}}, "P26")
	s.late = s.last(core.EvDivided).Pallets[0]
	if s.late == s.pallet {
		s.late = s.last(core.EvDivided).Pallets[1]
	}
}

// countsOneShort: two of three came, one of them dented; it is photographed and
// asked for again by a date.
func (s *site) countsOneShort() {
	p := s.phone
	p.leaves(func() { p.types("[data-scan]", "https://shop.example/P/"+string(s.pallet)+"/2\r") })
	p.sees("h1", "Box "+spaced(string(s.pallet)))
	p.sees("button.main", "Sign: all as listed")
	p.click(".part summary")
	p.click(`[aria-label="one fewer: How many came"]`)
	p.click(`[aria-label="one more: of those, damaged"]`)
	p.sees("button.main", "Sign: came as counted")
	p.click("button.main")
	p.sees("[data-says]", "Say what is wrong with the damaged ones.")
	p.types("[name$='.why']", "corner dented")
	p.js(`document.querySelector("[name$='.wanted']").value = "2026-12-03"`)
	sample, err := filepath.Abs("../photo/testdata/orientation-6.jpg")
	must(s.t, err)
	p.do(chromedp.SetUploadFiles("[data-part=camera]", []string{sample}))
	p.sees(".photo-taker", "taken: 1 photo")
	p.pictures("link-count")
	browsertest.Expect(s.t, p.ctx, "409")
	p.click("button.main")
	p.sees("#refusal h1", "1 × service cover")
	p.pictures("link-short")
	p.leaves(func() { p.click("#refusal [data-part=confirm]") })
	p.done("is counted")
	p.sees("h1", "1 of 2 boxes")
	p.sees(".next", "The shop sees 1 snag")
	e := s.last(core.EvReceived)
	if len(e.Photos) != 1 || len(e.Signed) != 1 || string(e.Signed[0].Person) != "L-"+s.truck+"-1" || e.Signed[0].Meaning != core.MeantReceived {
		s.t.Errorf("on record: photos %v, signed %v", e.Photos, e.Signed)
	}
	s.pass(minute)
}

// aBoxIsLate: the truck is empty and one box is not there; it comes an hour
// later, and is counted like any other.
func (s *site) aBoxIsLate() {
	p := s.phone
	p.sees("form.rule button", "1 box did not come")
	browsertest.Expect(s.t, p.ctx, "409")
	p.click("form.rule button")
	p.sees("#refusal h1", "1 × service cover")
	p.leaves(func() { p.click("#refusal [data-part=confirm]") })
	p.done("Said to be missing")
	p.sees(".next", "1 box is missing: the shop sees that and looks for it.")
	p.sees(".boxes", "missing")
	p.pictures("link-late")
	s.pass(60 * minute)
	p.leaves(func() { p.types("[data-scan]", string(s.late)+"\r") })
	p.sees("h1", "Box "+spaced(string(s.late)))
	p.sees(".part h2", "1 service cover")
	p.tabsTo("button.main") // by the keyboard alone
	p.leaves(func() { p.presses("\r") })
	p.done("is counted")
	p.sees("h1", "2 of 2 boxes")
	s.pass(minute)
}

// oneTurnsUp: the cover that was short lay under the other box.
func (s *site) oneTurnsUp() {
	p := s.phone
	p.sees("[data-command=turn-up]", "listed in box "+spaced(string(s.pallet)))
	p.click(`[data-command=turn-up] [aria-label^="one fewer"]`) // one at least
	p.types("[data-command=turn-up] [name=note]", "under the other box")
	p.js(`document.querySelector("[data-command=turn-up]").scrollIntoView()`)
	p.pictures("link-missing")
	p.leaves(func() { p.click("[data-command=turn-up] button.wide-button") })
	p.done("Found")
	e := s.last(core.EvTurnedUp)
	if len(e.Lots) != 1 || e.Lots[0].Good != 1 || string(e.Signed[0].Person) != "L-"+s.truck+"-1" {
		s.t.Errorf("on record: %+v signed %v", e.Lots, e.Signed)
	}
	if asks[bool](p, `document.querySelector("[data-command=turn-up]") !== null`) {
		s.t.Error("it is still asked for")
	}
	s.pass(minute)
}

// othersAreRefused: no box is counted twice, and another link of the same
// consignment finds the record as the first left it.
func (s *site) othersAreRefused() {
	s.t.Helper()
	by := app.Caller{Person: "P25", Roles: []core.Role{core.Dispatcher}}
	token, _, err := s.app.MakeLink(s.t.Context(), by, core.ConsignmentCode(s.truck), "O-5103", "")
	must(s.t, err)
	second := s.shop.device()
	if got := second.send(http.MethodPost, "/L/"+token, "application/x-www-form-urlencoded", ""); got.StatusCode != http.StatusSeeOther {
		s.t.Fatalf("claim: %d %s", got.StatusCode, got.body)
	}
	for code, body := range map[string]core.Body{
		"consignment-received": core.ReceiveAtSite{Consignment: core.ConsignmentCode(s.truck), Order: "O-5103", Boxes: []core.PalletCode{s.pallet}},
		"lot-not-missing":      core.TurnUp{Consignment: core.ConsignmentCode(s.truck), Finds: []core.Pick{{Lot: s.covers, Qty: 1}}},
		"link-other-order":     core.ReceiveAtSite{Consignment: core.ConsignmentCode(s.truck)},
		"not-fitted":           core.WorkAtSite{Stage: "accept", Picks: []core.Pick{{Lot: s.covers, Qty: 1}}},
		"link-other-pallet":    core.WorkAtSite{Stage: "return", Note: "x", To: "PZPFPBFU", Picks: []core.Pick{{Lot: s.covers, Qty: 1}}},
		"bearer-may-not":       core.HandOver{Pallet: s.pallet, To: "DOCK-1"},
	} {
		if got := decoded[server.Problem](s.t, second.post(s.asks(body)).body); got.Code != code {
			s.t.Errorf("%s: %s, want %s", body.Kind(), got.Code, code)
		}
	}
}

// worksByLink: the three good ones are unpacked and fitted out; the dented one
// stays held, and the set says so before it is fitted out.
func (s *site) worksByLink() {
	p := s.phone
	for _, x := range []struct{ stage, done string }{{"unpack", "Unpacked"}, {"fit-out", "Fitted out"}} {
		p.open("/site/mine?do=" + x.stage)
		p.sees(".site-row .name", "1 service cover")
		if n := asks[int](p, `document.querySelectorAll(".site-row").length`); n != 3 {
			s.t.Errorf("%s: %d rows, not the three good covers", x.stage, n)
		}
		if x.stage == "fit-out" {
			p.sees(".set summary", "The set is not complete: 3 of 4")
			p.sees(".set .lack", "1 here, held: the shop decides")
			p.pictures("link-set")
		}
		p.click("[data-whole]")
		p.leaves(func() { p.click("button.main") })
		p.done(x.done)
		s.last(core.EvSigned)
		s.pass(minute)
	}
	p.pictures("link-work")
	p.open("/site/mine/snags")
	p.sees(".snags", "1 service cover: corner dented")
	p.sees(".snags", "reported; the shop has not decided yet")
	p.js(`document.querySelector(".snags img")?.scrollIntoView()`)
	p.until("the photo of the damage", `document.querySelector(".snags img")?.naturalWidth > 0`)
	p.pictures("link-snags")
	p.leaves(func() { p.click(".boxes a") })
	p.sees("h1", "What is wrong?")
	p.pictures("link-report")
}

// draws is a signature drawn with a finger into a field.
func (s *screen) draws(field string) {
	s.t.Helper()
	s.js(`(c => {
		const r = c.getBoundingClientRect();
		const at = (kind, x, y) => c.dispatchEvent(new PointerEvent(kind, {pointerId: 1, clientX: r.left + x * r.width, clientY: r.top + y * r.height, bubbles: true}));
		c.setPointerCapture = () => {};
		at("pointerdown", 0.1, 0.6);
		for (let i = 1; i < 40; i++) at("pointermove", 0.1 + i * 0.02, 0.6 - 0.3 * Math.sin(i / 3));
		at("pointerup", 0.9, 0.5);
	})(document.querySelector(` + quoted(field) + `))`)
}

// clientSigns: with a finger on the phone, or on paper.
func (s *site) clientSigns() {
	p := s.phone
	p.open("/site/mine?do=accept")
	p.click("[data-whole]")
	p.click("button.main")
	p.sees("[data-part=ink-says]", "Have the client sign in the field, or tick that it was signed on paper.")
	p.draws("canvas")
	p.sees("[data-part=ink-state]", "signed")
	p.pictures("link-accept")
	p.leaves(func() { p.click("button.main") })
	p.done("Accepted")
	e := s.last(core.EvSigned)
	if len(e.Photos) != 1 || e.Stage != "accept" {
		s.t.Errorf("accepted with photos %v at %s", e.Photos, e.Stage)
	}
	s.tablet = s.house.tablet("DOCK-1")
	s.tablet.open("/history/order/O-5103")
	s.tablet.sees("main", "the bearer of the link for consignment "+spaced(s.truck))
	s.tablet.sees("main .photos", "")
}

// snagsByKeyboard reports, with the keyboard alone, what is no fault of parts.
func (s *site) snagsByKeyboard() {
	p := s.phone
	p.open("/site/mine/snags")
	p.tabsTo(`a[href="/site/mine/snags?about=O-5103"]`)
	p.leaves(func() { p.presses("\r") })
	p.sees(".lead", "With order O-5103")
	p.tabsTo("[name=what]")
	p.presses("wall scratched beside the door")
	p.pictures("link-snag")
	p.tabsTo("button.main")
	p.leaves(func() { p.presses("\r") })
	p.done("Reported")
	p.sees(".snags", "wall scratched beside the door")
	p.sees(".snags", "to be put right")
	e := s.last(core.EvSnagReported)
	if e.Note != "wall scratched beside the door" || string(e.Signed[0].Person) != "L-"+s.truck+"-1" || len(e.Lots) > 0 {
		s.t.Errorf("on record: %q, lots %v, signed %v", e.Note, e.Lots, e.Signed)
	}
	s.pass(minute)

	// Whoever put it right says so, by keys as well; that closes nothing.
	p.tabsTo(".snags summary")
	p.presses("\r")
	p.tabsTo(".snags [name=done]")
	p.presses("filled and painted")
	p.pictures("link-snag-right")
	p.tabsTo(".snags button.main")
	p.leaves(func() { p.presses("\r") })
	p.done("Said: the shop closes it")
	p.sees(".snags", "put right, the shop has not closed it yet: filled and painted")
	if n := asks[int](p, `document.querySelectorAll(".snags summary").length`); n != 0 {
		s.t.Errorf("%d snags can be put right once more", n)
	}
	if e := s.last(core.EvSnagPutRight); string(e.Signed[0].Person) != "L-"+s.truck+"-1" || e.Signed[0].Meaning != core.MeantMade {
		s.t.Errorf("put right, signed %+v", e.Signed)
	}
	s.pass(minute)
}

// tabsTo presses Tab until an element has the focus, which must show.
func (s *screen) tabsTo(css string) {
	s.t.Helper()
	for range 80 {
		s.presses("\t")
		if asks[bool](s, `document.activeElement.matches(`+quoted(css)+`)`) {
			if !asks[bool](s, `getComputedStyle(document.activeElement).outlineStyle !== "none"`) {
				s.t.Errorf("%s: nothing shows that %s has the focus", s.name, css)
			}
			return
		}
	}
	s.t.Fatalf("%s: no Tab leads to %s", s.name, css)
}

func (s *screen) presses(keys string) {
	s.t.Helper()
	s.do(chromedp.KeyEvent(keys))
}

// closesTheSnag: a fitter of the shop closes it by name; the history tells of it
// and of the part that turned up, and the register of neither.
func (s *site) closesTheSnag() {
	fitter := s.desk("P27")
	fitter.open("/site/order/O-5103/snags")
	fitter.sees(".snags", "1 service cover: corner dented")
	fitter.sees(".snags", "put right, to be closed, says the bearer of the link for consignment "+spaced(s.truck)+": filled and painted")
	fitter.click(".snags summary")
	fitter.types(".snags [name=done]", "seen: ") // before what the fitter at the site said
	fitter.pictures("snags-close")
	fitter.click(".snags button.main")
	fitter.signs("P27")
	fitter.done("closed")
	e := s.last(core.EvSnagClosed)
	if e.Signed[0].Person != "P27" {
		s.t.Errorf("closed by %v", e.Signed)
	}
	fitter.sees(".snags", "filled and painted")
	fitter.pictures("snags-order")
	desk := s.desk("P04")
	desk.open("/history/order/O-5103")
	for _, want := range []string{
		"Found 1 service cover at the fitting site, Larkfield, that had been missing from consignment " + spaced(s.truck) + ": under the other box",
		"Reported a snag at the fitting site, Larkfield: wall scratched beside the door",
		"Said that the snag “wall scratched beside the door” at the fitting site, Larkfield is put right: filled and painted",
		"Closed the snag “wall scratched beside the door” at the fitting site, Larkfield: seen: filled and painted",
	} {
		desk.sees(".entry .said", want)
	}
	desk.open("/find?q=O-5103")
	desk.sees("main", "Snags at its site")
	desk.sees("main", "filled and painted")
	register := s.desk("P03")
	register.open("/quality/register")
	register.sees("main", "corner dented")
	if asks[bool](register, `document.body.innerText.includes("wall scratched")`) {
		s.t.Error("the register of nonconformities tells of a scratched wall")
	}
}
