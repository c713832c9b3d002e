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
	s.phone.sees("h1", "0 of 1 box")
	if path := asks[string](s.phone, "location.pathname"); path != "/site/mine" {
		t.Errorf("the phone stands at %s", path)
	}
	s.phone.pictures("link-boxes")

	s.countsOneShort()
	s.othersAreRefused()
	s.worksByLink()
	s.clientSigns()

	desk.open("/dock/" + s.truck + "/links")
	desk.sees("table", "claimed")
	desk.pictures("link-list")
	desk.open("/site/snags/" + s.truck)
	desk.sees(".snags", "1 service cover: corner dented")
	desk.sees(".snags", "wanted by")
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

// countsOneShort: three of four came, one of them dented; it is photographed and
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
	p.sees("h1", "1 of 1 box")
	p.sees(".next", "The shop sees 1 snag and decides")
	e := s.last(core.EvReceived)
	if len(e.Photos) != 1 || len(e.Signed) != 1 || string(e.Signed[0].Person) != "L-"+s.truck+"-1" || e.Signed[0].Meaning != core.MeantReceived {
		s.t.Errorf("on record: photos %v, signed %v", e.Photos, e.Signed)
	}
	s.pass(minute)
}

// othersAreRefused: no box is counted twice, and another link of the same
// consignment finds the record as the first left it.
func (s *site) othersAreRefused() {
	s.t.Helper()
	by := app.Caller{Person: "P25", Roles: []core.Role{core.Dispatcher}}
	token, _, err := s.app.MakeLink(s.t.Context(), by, core.ConsignmentCode(s.truck), "")
	must(s.t, err)
	second := s.shop.device()
	if got := second.send(http.MethodPost, "/L/"+token, "application/x-www-form-urlencoded", ""); got.StatusCode != http.StatusSeeOther {
		s.t.Fatalf("claim: %d %s", got.StatusCode, got.body)
	}
	for code, body := range map[string]core.Body{
		"consignment-received": core.ReceiveAtSite{Consignment: core.ConsignmentCode(s.truck), Boxes: []core.PalletCode{s.pallet}},
		"not-fitted":           core.WorkAtSite{Stage: "accept", Picks: []core.Pick{{Lot: s.covers, Qty: 1}}},
		"link-other-pallet":    core.WorkAtSite{Stage: "return", Note: "x", To: "PZPFPBFU", Picks: []core.Pick{{Lot: s.covers, Qty: 1}}},
		"bearer-may-not":       core.HandOver{Pallet: s.pallet, To: "DOCK-1"},
	} {
		if got := decoded[server.Problem](s.t, second.post(s.asks(body)).body); got.Code != code {
			s.t.Errorf("%s: %s, want %s", body.Kind(), got.Code, code)
		}
	}
}

// worksByLink: the two good ones are unpacked and fitted out; the dented one
// stays held.
func (s *site) worksByLink() {
	p := s.phone
	for _, x := range []struct{ stage, done string }{{"unpack", "Unpacked"}, {"fit-out", "Fitted out"}} {
		p.open("/site/mine?do=" + x.stage)
		p.sees(".site-row .name", "2 service covers")
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

// clientSigns: with a finger on the phone, or on paper.
func (s *site) clientSigns() {
	p := s.phone
	p.open("/site/mine?do=accept")
	p.click("[data-all]")
	p.click("button.main")
	p.sees("[data-part=client-says]", "Have the client sign in the field, or tick that it was signed on paper.")
	p.js(`(c => {
		const r = c.getBoundingClientRect();
		const at = (kind, x, y) => c.dispatchEvent(new PointerEvent(kind, {pointerId: 1, clientX: r.left + x * r.width, clientY: r.top + y * r.height, bubbles: true}));
		c.setPointerCapture = () => {};
		at("pointerdown", 0.1, 0.6);
		for (let i = 1; i < 40; i++) at("pointermove", 0.1 + i * 0.02, 0.6 - 0.3 * Math.sin(i / 3));
		at("pointerup", 0.9, 0.5);
	})(document.querySelector("canvas"))`)
	p.sees("[data-part=state]", "signed")
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
