package station_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

// People of the samples.
const (
	operator  core.PersonID = "P09"
	welder    core.PersonID = "P12"
	inspector core.PersonID = "P18"
)

func serve(t testing.TB) *webtest.LiveSite {
	t.Helper()
	return webtest.Live(t, floor(t), station.Endpoints)
}

// goTo opens an address and waits for its letters.
func goTo(t testing.TB, ctx context.Context, url string) {
	t.Helper()
	browsertest.Do(t, ctx, chromedp.Navigate(url), seen("main"), fonts)
}

// signing is a badge scanned and a PIN typed.
func signing(badge string) step {
	return chromedp.Steps(seen("#sign"), keys("#badge", badge+"\r"), keys("#pin", apptest.PIN))
}

// recorded waits for the line that says what was recorded, which begins with text.
func recorded(t testing.TB, ctx context.Context, text string) {
	t.Helper()
	if got := browsertest.Text(t, ctx, "[data-done-line] [data-part=text]"); !strings.HasPrefix(got, text) {
		t.Errorf("the page says %q was recorded, want %q", got, text)
	}
}

func lotOn(t testing.TB, s *webtest.LiveSite, p core.PalletCode, n int) core.Lot {
	t.Helper()
	lots := s.World.State.LotsAt(core.On(p))
	if len(lots) <= n {
		t.Fatalf("pallet %s carries %d lots", p, len(lots))
	}
	return lots[n]
}

func signedEvents(s *webtest.LiveSite, kind core.EventKind) []core.Event {
	var out []core.Event
	for _, e := range s.Events {
		if e.Kind == kind {
			out = append(out, e.Event)
		}
	}
	return out
}

// From scan to recorded sign-off and hand-over: three taps, a badge and a PIN.
func TestThreeTaps(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+"/station")
	browsertest.Do(t, ctx, keys("[data-scan]", "https://shop.example/p/"+strings.ToLower(string(short))+"/1\r"), seen("form[data-steps]"), fonts,
		click("[data-go]"), click("[data-go]"), seen("#sign"), // taps 1 and 2
		click("#sign label:has(input[value='BRAKE-2'])"), // tap 3
		signing(badge), seen("[data-done-line]"))
	recorded(t, ctx, "Round the edges: signed")
	browsertest.Screenshot(t, ctx, "station-recorded")
	l := lotOn(t, s, short, 0)
	if l.Facts.At(core.Fact{Name: core.EdgesRounded}, apptest.Now) != core.Yes {
		t.Error("the edges are not rounded in the record")
	}
	if p := s.World.State.Pallets[short]; p.Bound != "BRAKE-2" {
		t.Errorf("the pallet is bound for %q, want BRAKE-2", p.Bound)
	}
	signed := signedEvents(s, core.EvSigned)
	if len(signed) != 1 || signed[0].Signed[0].Person != operator || signed[0].Signed[0].PrintSeen != 1 {
		t.Fatalf("signed: %+v", signed)
	}
}

// The same by keyboard alone, a badge scanned at the work page opening the
// signing panel by itself.
func TestKeyboardAlone(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+"/station")
	browsertest.Do(t, ctx, chromedp.KeyEvent(string(short)+"\r"), seen("form[data-steps]"), fonts)
	for range 40 { // Tab to the big button, as far away as it is
		if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.activeElement.matches("[data-go]")`)) {
			break
		}
		browsertest.Do(t, ctx, chromedp.KeyEvent("\t"))
	}
	browsertest.Do(t, ctx, chromedp.KeyEvent("\r")) // all checks met
	// The scanner types into the page, wherever the focus is.
	browsertest.Do(t, ctx, chromedp.KeyEvent(badge+"\r"), seen("#sign"), chromedp.KeyEvent(apptest.PIN), seen("[data-done-line]"))
	recorded(t, ctx, "Round the edges: signed")
	if n := len(signedEvents(s, core.EvSigned)); n != 1 {
		t.Errorf("%d sign-offs, want 1", n)
	}
}

// A lot that is stopped after the page was opened is refused with its sentence;
// the others go on.
func TestRefusalOffersTheOthers(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(mixed))
	for range 5 {
		browsertest.Do(t, ctx, click("[data-go]"))
	}
	first := lotOn(t, s, mixed, 0)
	s.Change(func(f *apptest.Floor) { f.Hold("H2", core.HoldLot, string(first.ID), "drawing in doubt", 0) })
	browsertest.Do(t, ctx, click("[data-go]"), signing(badge), seen("#refusal"))
	browsertest.Screenshot(t, ctx, "station-refusal")
	browsertest.Axe(t, ctx)
	webtest.CheckTablet(t, ctx, "refusal")
	if got := browsertest.Text(t, ctx, "#refusal h1"); !strings.Contains(got, "held") || !strings.Contains(got, "drawing in doubt") {
		t.Errorf("the refusal says %q", got)
	}
	if n := len(signedEvents(s, core.EvSigned)); n != 0 {
		t.Fatalf("%d sign-offs after a refusal", n)
	}
	browsertest.Do(t, ctx, click("#refusal [data-part=others]"), signing(badge), seen("[data-done-line]"))
	signed := signedEvents(s, core.EvSigned)
	if len(signed) != 1 || len(signed[0].Lots) != 2 || slices.ContainsFunc(signed[0].Lots, func(c core.LotCount) bool { return c.Lot == first.ID }) {
		t.Errorf("signed %+v, want the two other lots", signed)
	}
}

func TestStalePrintAsks(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(changed)+"?print=1")
	if got := browsertest.Text(t, ctx, ".changes"); !strings.Contains(got, "service cover: 8 became 6") {
		t.Errorf("what changed: %q", got)
	}
	browsertest.Do(t, ctx, click("a.main"), seen("form[data-steps]"), fonts)
	for range 3 {
		browsertest.Do(t, ctx, click("[data-go]"))
	}
	browsertest.Do(t, ctx, click("[data-go]"), signing(badge), seen("[data-done-line]"))
	if signed := signedEvents(s, core.EvSigned); len(signed) != 1 || signed[0].Signed[0].PrintSeen != 1 {
		t.Errorf("signed: %+v", signed)
	}
}

func TestWrongPINKeepsWhatWasEntered(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(short))
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-go]"), seen("#sign"), keys("#badge", badge+"\r"))
	for _, d := range "000000" { // by the pad
		browsertest.Do(t, ctx, click("#sign [data-key='"+string(d)+"']"))
	}
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector("#sign .message").textContent.includes("PIN")`))
	if got := browsertest.Text(t, ctx, "#sign .message"); !strings.Contains(got, "PIN") {
		t.Errorf("the panel says %q", got)
	}
	browsertest.Screenshot(t, ctx, "station-wrong-pin")
	browsertest.Do(t, ctx, signing(badge), seen("[data-done-line]"))
	if n := len(signedEvents(s, core.EvSigned)); n != 1 {
		t.Errorf("%d sign-offs, want 1", n)
	}
}

// Answers get lost; the command is sent again under its id and recorded once.
func TestLostAnswers(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	browsertest.Expect(t, ctx, "answered 500")
	goTo(t, ctx, s.URL+at(short))
	s.Change(func(*apptest.Floor) { s.Lose = 3 })
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-go]"), signing(badge), seen("#silent"))
	browsertest.Screenshot(t, ctx, "station-no-answer")
	browsertest.Axe(t, ctx)
	browsertest.Do(t, ctx, click("#silent [data-part=again]"), seen("[data-done-line]"))
	if n := len(signedEvents(s, core.EvSigned)); n != 1 {
		t.Errorf("%d sign-offs, want 1", n)
	}
}

// A page reloaded while nothing answered sends the same command: by itself where
// nobody signs, after one more signature where somebody does.
func TestReloadSendsTheSame(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	browsertest.Expect(t, ctx, "answered 500")
	goTo(t, ctx, s.URL+at(coming))
	s.Change(func(*apptest.Floor) { s.Lose = 3 })
	browsertest.Do(t, ctx, click("form[data-command='take-in'] button"), seen("#silent"), chromedp.Reload(), seen("[data-done-line]"))
	if n := len(signedEvents(s, core.EvTakenIn)); n != 1 {
		t.Errorf("taken in %d times, want once", n)
	}
	goTo(t, ctx, s.URL+at(coming))
	s.Change(func(*apptest.Floor) { s.Lose = 3 })
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-go]"), signing(badge), seen("#silent"), chromedp.Reload(), seen("#sign"))
	browsertest.Screenshot(t, ctx, "station-resume")
	stored := browsertest.Run(t, ctx, chromedp.Evaluate[string](`JSON.stringify({...sessionStorage}) + JSON.stringify({...localStorage})`))
	if strings.Contains(stored, badge) || strings.Contains(stored, apptest.PIN) {
		t.Error("the browser keeps a badge or a PIN")
	}
	browsertest.Do(t, ctx, signing(badge), seen("[data-done-line]"))
	if n := len(signedEvents(s, core.EvSigned)); n != 1 {
		t.Errorf("%d sign-offs, want 1", n)
	}
}

// A badge scanned where nothing waits for a signature is told so, and gets into
// no address.
func TestBadgeAtRest(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+"/station")
	browsertest.Do(t, ctx, keys("[data-scan]", badge+"\r"), seen("main .refusal"))
	if got := browsertest.Text(t, ctx, "main h1"); !strings.Contains(got, "badge") {
		t.Errorf("the page says %q", got)
	}
	if where := browsertest.Run(t, ctx, chromedp.Location()); strings.Contains(where, badge) {
		t.Errorf("the badge is in the address %s", where)
	}
}

// Two of eighteen are bad: they go to quarantine, the rest are signed.
func TestSomeNotGood(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(short))
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-not-good]"), seen("[data-counts][open]"),
		click("[data-counts][open] [data-key='2']"), click("[data-counts][open] [data-tally-done]"))
	if got := browsertest.Text(t, ctx, "[data-counts][open] .message"); !strings.Contains(got, "what is wrong") {
		t.Errorf("without a reason the panel says %q", got)
	}
	browsertest.Do(t, ctx, click("[data-counts][open] [data-why='scratched']"), click("[data-counts][open] [data-tally-done]"))
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Sign off 22 good, 2 not" {
		t.Errorf("the button says %q", got)
	}
	browsertest.Do(t, ctx, click("[data-go]"), signing(badge), seen("[data-done-line]"))
	if l := lotOn(t, s, short, 0); l.Qty != 22 {
		t.Errorf("%d parts stayed, want 22", l.Qty)
	}
	for _, p := range s.World.State.Problems {
		if p.Qty != 2 || p.What != "scratched" {
			t.Errorf("problem %+v", p)
		}
	}
}

// A measured check says at once whether it is inside, and is recorded with its gauge.
func TestMeasuredCheck(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "BRAKE-1")
	goTo(t, ctx, s.URL+at(folded))
	browsertest.Do(t, ctx, click("[data-go]"), click(".frame .pad [data-key='9']"), click(".frame .pad [data-key='3']"))
	if got := browsertest.Text(t, ctx, "[data-measure] [data-verdict]"); got != "outside" {
		t.Errorf("93° is %q, want outside", got)
	}
	browsertest.Do(t, ctx, click(".frame .pad [data-key='back']"), keys(".aimed", "0,2"))
	if got := browsertest.Text(t, ctx, "[data-measure] [data-verdict]"); got != "inside" {
		t.Errorf("90,2° is %q, want inside", got)
	}
	pick := `(n) => { const g = document.querySelectorAll("[data-gauge]")[n]; g.selectedIndex = g.options.length - 1; g.dispatchEvent(new Event("change", {bubbles: true})); }`
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`(`+pick+`)(0)`), click("[data-go]"), keys(".aimed", "30"),
		chromedp.Evaluate[chromedp.Void](`(`+pick+`)(1)`), click("[data-go]"), signing(badge), seen("[data-done-line]"))
	signed := signedEvents(s, core.EvSigned)
	if len(signed) != 1 || len(signed[0].Checks) != 2 {
		t.Fatalf("signed: %+v", signed)
	}
	if c := signed[0].Checks[0]; c.Value == nil || *c.Value != 90.2 || c.Instrument == "" || !c.Met {
		t.Errorf("recorded reading %+v", c)
	}
}

// A weld inspector refuses a frame with a reason, and releases another; a
// welder of it is refused.
func TestInspectorReleasesOrRefuses(t *testing.T) {
	s := serve(t)
	byInspector, byWelder := s.Badge(t, inspector), s.Badge(t, welder)
	ctx := s.Tablet(t, "INSPECT-1")
	gauge := chromedp.Evaluate[chromedp.Void](`{const g = document.querySelector("[data-gauge]"); g.selectedIndex = g.options.length - 1; g.dispatchEvent(new Event("change", {bubbles: true}));}`)
	goTo(t, ctx, s.URL+at(framed))
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-go]"), keys(".aimed", "3"), gauge)
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Release 1 good" {
		t.Errorf("the button says %q", got)
	}
	browsertest.Do(t, ctx, click("[data-go]"), signing(byWelder), seen("#refusal"))
	browsertest.Screenshot(t, ctx, "station-welder-refused")
	browsertest.Do(t, ctx, click("#refusal [data-close]"), click("[data-go]"), signing(byInspector), seen("[data-done-line]"))
	if l := lotOn(t, s, framed, 0); l.Facts.At(core.Fact{Name: core.WeldAccepted}, apptest.Now) != core.Yes {
		t.Error("the weld is not accepted in the record")
	}
	goTo(t, ctx, s.URL+at(cracked))
	browsertest.Do(t, ctx, click("[data-not-good]"), seen("[data-counts][open]"), click("[data-counts][open] [data-why='weld not as asked']"),
		click("[data-counts][open] [data-tally-done]"))
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Refuse and sign" {
		t.Errorf("the button says %q", got)
	}
	browsertest.Do(t, ctx, click("[data-go]"), signing(byInspector), seen("[data-done-line]"))
	lot := lotOn(t, s, cracked, 0)
	if lot.Facts.At(core.Fact{Name: core.WeldAccepted}, apptest.Now) == core.Yes {
		t.Error("a refused weld is accepted")
	}
	problems := s.World.State.Problems
	if len(problems) != 1 {
		t.Fatalf("%d problems, want the refused weld's", len(problems))
	}
	for _, p := range problems {
		if p.Lot != lot.ID || p.What != "weld not as asked" {
			t.Errorf("problem %+v", p)
		}
	}
}

// A unit is gathered, put back, gathered again and welded at a weld bench.
func TestGatherAndWeld(t *testing.T) {
	f := floor(t)
	whole := pallet(20)
	f.Pallet(whole, "WELD-2")
	for _, c := range f.World.Book.Items[f.Item("BF-2400")].Bill {
		f.Lot(whole, c.Item.Item, line("O-4101", 1), c.Qty, "")
	}
	s := webtest.Live(t, f, station.Endpoints)
	badge := s.Badge(t, welder)
	ctx := s.Tablet(t, "WELD-2")
	goTo(t, ctx, s.URL+"/station")
	browsertest.Do(t, ctx, click(".rest-coming .card"), seen("form[data-command=gather]"), fonts,
		click("form[data-command=gather] button"), seen("[data-open=put-back]"), fonts)
	browsertest.Do(t, ctx, click("[data-open=put-back]"), seen("#put-back"))
	browsertest.Screenshot(t, ctx, "station-put-back")
	webtest.CheckTablet(t, ctx, "put back")
	browsertest.Do(t, ctx, click("#put-back button[type=submit]"), seen(".rest"), fonts, click(".rest-coming .card"), seen("form[data-command=gather]"),
		click("form[data-command=gather] button"), seen("[data-open=assemble]"), fonts, click("[data-open=assemble]"), seen("#assemble"))
	browsertest.Screenshot(t, ctx, "station-assemble")
	browsertest.Axe(t, ctx)
	webtest.CheckTablet(t, ctx, "assemble")
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("#assemble [data-tick], #assemble [data-input] label:first-child input").forEach(e => e.click())`))
	browsertest.Do(t, ctx, click("#assemble button[type=submit]"), signing(badge), seen(".rest"), seen("[data-done-line]"))
	made := signedEvents(s, core.EvAssembled)
	if len(made) != 1 || made[0].Signed[0].Person != welder {
		t.Fatalf("assembled: %+v", made)
	}
	for _, l := range s.World.State.Lots {
		if l.Unit != "" && (l.Item.Item != "BF-2400" || l.Facts.At(core.Fact{Name: core.Welded}, apptest.Now) != core.Yes) {
			t.Errorf("the unit is %+v", l)
		}
	}
	if n := len(signedEvents(s, core.EvReturned)); n != 1 {
		t.Errorf("put back %d times, want once", n)
	}
}

// A rule that is not absolute is set aside by two people, with a reason.
func TestConcession(t *testing.T) {
	s := serve(t)
	first, second := s.Badge(t, operator), s.Badge(t, "P03")
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(held))
	browsertest.Do(t, ctx, click("a[href*='waive=']"), seen("form[data-steps]"), fonts, click("[data-go]"), click("[data-go]"), seen("#sign"))
	browsertest.Screenshot(t, ctx, "station-concession")
	webtest.CheckTablet(t, ctx, "concession")
	browsertest.Do(t, ctx, keys("[data-waive-reason]", "counted and marked by hand"), signing(first), signing(second), seen("[data-done-line]"))
	signed := signedEvents(s, core.EvSigned)
	if len(signed) != 1 || len(signed[0].Waived) != 1 || signed[0].Waived[0].Reason != "counted and marked by hand" || len(signed[0].Signed) != 2 {
		t.Errorf("signed: %+v", signed)
	}
}

// What else a station does with a pallet reaches the record.
func TestOtherCommands(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	byQuality, bySecond := s.Badge(t, "P03"), s.Badge(t, inspector)
	for _, c := range []struct {
		kind  core.EventKind
		at    core.StationID
		path  string
		steps []step
	}{
		{core.EvTakenIn, "ROUND-AL", at(outside), []step{click("form[data-command=take-in] button")}},
		{core.EvBegun, "ROUND-AL", at(short), []step{click("[data-open=more]"), click("form[data-command=begin] button")}},
		{core.EvHandedOver, "ROUND-AL", at(onward), []step{click("form[data-command=hand-over] button")}},
		{core.EvDivided, "ROUND-AL", at(mixed), append(other("divide"), keys("#divide [data-number]", "1"), click("#divide button[type=submit]"))},
		{core.EvRecounted, "ROUND-AL", at(short), append(other("recount"), keys("#recount [data-number]", "23"), click("#recount button[type=submit]"), signing(badge),
			seen("#refusal"), click("#refusal [data-part=confirm]"))},
		{core.EvProblemReported, "ROUND-AL", at(short), append(other("problem"), keys("#problem [data-number]", "2"), click("#problem [data-why='bent wrong']"),
			click("#problem button[type=submit]"), signing(badge))},
		{core.EvFused, "ROUND-AL", at(alike), append(other("fuse"), chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("#fuse input[name^=lots]").forEach(e => e.click())`),
			click("#fuse button[type=submit]"), signing(badge))},
		{core.EvSettled, "BOOTH-1", at(doubtful), []step{click("[data-open=settle]"), click("#settle label:has([value=yes])"), keys("#settle [name=reason]", "felt every edge"),
			click("#settle button[type=submit]"), signing(byQuality), seen("#refusal"), click("#refusal [data-part=two]"), signing(byQuality), signing(bySecond)}},
		{core.EvGoodsReceived, "GOODS-1", "/station/goods", []step{chromedp.Evaluate[chromedp.Void](`{const i = document.querySelector("[data-item]"); i.value = [...i.options].find(o => o.value.startsWith("SH-5005")).value; i.dispatchEvent(new Event("change", {bubbles: true}));}`),
			keys("[name=heat]", "H5-20999"), keys("[name=label]", "M-1099"), click("[name=identified]"), click("main button[type=submit]"), signing(badge)}},
	} {
		t.Run(string(c.kind), func(t *testing.T) {
			ctx := s.Tablet(t, c.at)
			goTo(t, ctx, s.URL+c.path)
			browsertest.Do(t, ctx, c.steps...)
			browsertest.Do(t, ctx, seen("[data-done-line]"))
			if n := len(signedEvents(s, c.kind)); n != 1 {
				t.Errorf("%d events, want 1", n)
			}
		})
	}
}

// A hurried double tap is one command.
func TestDoubleTap(t *testing.T) {
	s := serve(t)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(coming))
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`{const b = document.querySelector("form[data-command='take-in'] button"); b.click(); b.click(); b.click();}`), seen("[data-done-line]"))
	if n := len(signedEvents(s, core.EvTakenIn)); n != 1 {
		t.Errorf("taken in %d times, want once", n)
	}
	if n := len(s.Said); n != 0 {
		t.Errorf("%d refusals were recorded, want none: the second tap was sent", n)
	}
}

// The title block says when the server is out of reach, and when it is back.
func TestSaysWhetherInTouch(t *testing.T) {
	s := serve(t)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+"/station")
	word := func() string { return strings.TrimSpace(browsertest.Text(t, ctx, ".block [role=status]")) }
	if got := word(); got != "in touch" {
		t.Errorf("at first the page says %q", got)
	}
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`dispatchEvent(new Event("offline"))`))
	if got := word(); got != "out of touch" {
		t.Errorf("without a network the page says %q", got)
	}
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`dispatchEvent(new Event("online"))`))
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector("[data-touch]").dataset.touch === "good"`))
}

// Night colours last on the tablet that chose them, and are there before the
// page is drawn.
func TestNightLasts(t *testing.T) {
	s := serve(t)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+"/station")
	paper := func() string {
		return browsertest.Run(t, ctx, chromedp.Evaluate[string](`getComputedStyle(document.documentElement).backgroundColor`))
	}
	day := paper()
	browsertest.Do(t, ctx, click("[data-light-switch]"))
	night := paper()
	if day == night {
		t.Fatalf("both are %s", day)
	}
	goTo(t, ctx, s.URL+at(short))
	if got := paper(); got != night {
		t.Errorf("the next page is %s, want %s", got, night)
	}
	browsertest.Do(t, ctx, click("[data-light-switch]"))
	if got := paper(); got != day {
		t.Errorf("switched back it is %s, want %s", got, day)
	}
}

// Who began a step, and when, is told to the shift that finishes it.
func TestBegunIsTold(t *testing.T) {
	f := floor(t)
	l := f.World.State.LotsAt(core.On(short))[0]
	f.ChangeLot(l.ID, func(l *core.Lot) {
		l.Started = &core.Started{Step: 30, By: operator, Station: "ROUND-AL", At: apptest.Now.Add(-40 * time.Minute)}
	})
	s := webtest.Live(t, f, station.Endpoints)
	_, page := s.Get(t, "ROUND-AL", at(short))
	if !strings.Contains(page, "Begun 13:32 by Petra Sallow.") {
		t.Error("the page doesn't say who began the step")
	}
}
