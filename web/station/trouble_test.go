package station_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/webtest"
)

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
