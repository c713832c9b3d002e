package station_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	cdppage "github.com/chromedp/cdproto/page"
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
	return live(t, floor(t))
}

func live(t testing.TB, f *apptest.Floor) *webtest.LiveSite {
	t.Helper()
	return webtest.Live(t, f, station.Endpoints)
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
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Outside: count the bad ones" {
		t.Errorf("at 93° the button says %q", got)
	}
	browsertest.Do(t, ctx, click(".frame .pad [data-key='back']"), keys(".aimed", "0,2"))
	if got := browsertest.Text(t, ctx, "[data-measure] [data-verdict]"); got != "inside" {
		t.Errorf("90,2° is %q, want inside", got)
	}
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Choose the gauge" {
		t.Errorf("at 90,2° the button says %q", got)
	}
	pick := `(n) => { const g = document.querySelectorAll("[data-gauge]")[n]; g.selectedIndex = [...g.options].findLastIndex((o) => !("overdue" in o.dataset)); g.dispatchEvent(new Event("change", {bubbles: true})); }`
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

// A tap beside the fields of the signing panel loses neither the badge scanned next nor the PIN typed next.
func TestTapBesideTheFields(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(short))
	beside := click("#sign h1")
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-go]"), seen("#sign"), beside, chromedp.KeyEvent(badge+"\r"), beside, chromedp.KeyEvent(apptest.PIN), seen("[data-done-line]"))
	if got := signedEvents(s, core.EvSigned); len(got) != 1 {
		t.Errorf("%d signed, want 1", len(got))
	}
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

// The big button pressed while the page's scripts are still coming does what it
// says once they are there: the check is met, and nothing is signed unasked.
func TestAPressBeforeThePageIsWhole(t *testing.T) {
	s := serve(t)
	ctx := s.Tablet(t, "ROUND-AL")
	early := cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: `{
		const listen = document.addEventListener;
		let pressed = false;
		document.addEventListener = function (type, ...rest) {
			listen.call(document, type, ...rest);
			if (type === "submit" && !pressed && document.querySelector("[data-go]")) { pressed = true; document.querySelector("[data-go]").click(); }
		};
	}`}
	browsertest.Do(t, ctx, chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		_, err := cdp.Call(ctx, tab, cdppage.AddScriptToEvaluateOnNewDocument, early)
		return err
	}))
	goTo(t, ctx, s.URL+at(short))
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector("form[data-steps] [type=checkbox]")?.checked || document.querySelector("#sign")?.open`))
	if got := browsertest.Text(t, ctx, "[data-go]"); !strings.HasPrefix(got, "Sign off") {
		t.Errorf("after a press before the page was whole the button says %q", got)
	}
	if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector("#sign").open`)) {
		t.Error("a signature is asked for though the check was not met")
	}
}
