package shopday

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

// screen is one device's browser, with cookies of its own.
type screen struct {
	*house
	ctx  context.Context
	name string // for the log
}

// house is the shop with a browser for all its devices.
type house struct {
	*shop
	chromium *browsertest.Browser
	screens  map[core.StationID]*screen
	looked   map[string]bool // faces axe-core has seen
	codes    map[string]string
}

// furnish puts browsers into a shop.
func furnish(s *shop) *house {
	return &house{
		shop: s, chromium: browsertest.Shared(s.t), screens: map[core.StationID]*screen{},
		looked: map[string]bool{}, codes: map[string]string{},
	}
}

// time sets the shop's clock to a time of the day, "09:15", never back.
func (h *house) time(text string) {
	h.t.Helper()
	at, err := time.Parse("15:04", text)
	must(h.t, err)
	to := time.Date(opening.Year(), opening.Month(), opening.Day(), at.Hour(), at.Minute(), 0, 0, time.UTC)
	if by := to.Sub(h.clock()); by < 0 {
		h.t.Fatalf("the day goes back from %s to %s", h.clock().Format("15:04"), text)
	} else {
		h.pass(by)
	}
}

// device opens one more browser of a size.
func (h *house) device(name string, size browsertest.Size) *screen {
	h.t.Helper()
	return &screen{h, h.chromium.Open(h.t, size), name}
}

// tablet is the screen at a station, enrolled at first use with a one-time code
// that somebody types.
func (h *house) tablet(station core.StationID) *screen {
	h.t.Helper()
	if s, ok := h.screens[station]; ok {
		return s
	}
	one, err := h.app.EnrolmentCode(h.t.Context(), app.Machine(), station)
	must(h.t, err)
	s := h.device(string(station), browsertest.Tablet)
	s.enrol(one.Text())
	h.screens[station] = s
	return s
}

// enrol types a one-time code on the page for it.
func (s *screen) enrol(code string) {
	s.t.Helper()
	s.open("/enrol")
	s.leaves(func() { s.types("input[name=code]", code+"\r") })
	s.sees(".scan", "")
}

// open goes to an address of the shop.
func (s *screen) open(path string) {
	s.t.Helper()
	s.do(chromedp.Navigate(s.url + path))
	s.settled()
}

func (s *screen) do(steps ...chromedp.Action[chromedp.Void]) {
	s.t.Helper()
	browsertest.Do(s.t, s.ctx, steps...)
}

func (s *screen) click(css string) {
	s.t.Helper()
	s.do(chromedp.Click(chromedp.CSS(css), chromedp.NodeVisible))
}

// types sends keys to a field, as a keyboard or a hand scanner does.
func (s *screen) types(css, text string) {
	s.t.Helper()
	s.do(chromedp.SendKeys(chromedp.CSS(css), text, chromedp.NodeVisible))
}

// chooses picks an option of a list by its value.
func (s *screen) chooses(css, value string) {
	s.t.Helper()
	s.js(`(e => {
		e.value = ` + quoted(value) + `;
		if (e.value !== ` + quoted(value) + `) throw new Error("no such option");
		e.dispatchEvent(new Event("change", {bubbles: true}));
	})(document.querySelector(` + quoted(css) + `))`)
}

func (s *screen) js(code string) {
	s.t.Helper()
	s.do(chromedp.Evaluate[chromedp.Void](code))
}

// asks evaluates an expression in the page.
func asks[T any](s *screen, expression string) T {
	s.t.Helper()
	return browsertest.Run(s.t, s.ctx, chromedp.Evaluate[T](expression))
}

// until waits for an expression to be true, over pages that come and go.
func (s *screen) until(what, expression string) {
	s.t.Helper()
	limit, cancel := context.WithTimeout(s.ctx, browsertest.Patience)
	defer cancel()
	for {
		// A page that is just being left has nothing to say; ask again.
		if yes, err := chromedp.Run(limit, chromedp.Evaluate[bool]("!!("+expression+")")); err == nil && yes {
			return
		}
		select {
		case <-limit.Done():
			s.t.Fatalf("%s: waited in vain for %s\n%s", s.name, what, s.text())
		case <-time.After(15 * time.Millisecond):
		}
	}
}

func (s *screen) text() string {
	said, err := chromedp.Run(s.ctx, chromedp.Evaluate[string](`location.pathname + "\n" + document.body.innerText + "\n" + [...document.querySelectorAll("dialog[open]")].map(d => d.innerText).join("\n")`))
	if err != nil {
		return err.Error()
	}
	return said
}

// leaves does what brings a new page, and waits for that page.
func (s *screen) leaves(act func()) {
	s.t.Helper()
	s.js(`window.before = true`)
	act()
	s.until("the next page", `!window.before && document.readyState === "complete"`)
	s.settled()
}

// settled waits for a page to be whole, and has axe-core look at each face once.
func (s *screen) settled() {
	s.t.Helper()
	s.until("the page", `document.readyState === "complete"`)
	s.look()
}

var anyCode = regexp.MustCompile(`[PSUC][2-9A-HJKMNP-Z]{7}|[0-9a-f-]{36}(/\d+)?`)

// look has axe-core check a face that it has not seen yet: an address without
// its codes, the parts of the page and the dialog that is open.
func (s *screen) look() {
	s.t.Helper()
	face := anyCode.ReplaceAllString(asks[string](s, `[location.pathname,
		document.querySelector("main")?.className,
		[...document.querySelectorAll("main > section")].map(e => e.className),
		!!document.querySelector("form[data-steps]"),
		document.querySelector("dialog[open]")?.id,
	].join(" ")`), "*")
	if s.looked[face] {
		return
	}
	s.looked[face] = true
	browsertest.Axe(s.t, s.ctx)
}

// sees waits for an element that holds a text; "" is satisfied by any.
func (s *screen) sees(css, text string) {
	s.t.Helper()
	s.until(fmt.Sprintf("%q in %s", text, css),
		`[...document.querySelectorAll(`+quoted(css)+`)].some(e => e.checkVisibility() && e.innerText.replace(/\s+/g, " ").includes(`+quoted(text)+`))`)
}

// said is the text of an element, in one line.
func (s *screen) said(css string) string {
	s.t.Helper()
	return strings.Join(strings.Fields(asks[string](s, `document.querySelector(`+quoted(css)+`)?.innerText ?? ""`)), " ")
}

// done waits for the line that says what was recorded.
func (s *screen) done(text string) {
	s.t.Helper()
	s.sees("[data-done-line]", text)
}

// quoted is a text as JavaScript.
func quoted(text string) string { return fmt.Sprintf("%q", text) }
