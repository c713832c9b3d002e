package main

import (
	"context"
	"net/url"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

// TestOfficeInTheBrowser signs in as a person does, with a scanner that ends
// the badge with Enter, and looks at every page of the office.
func TestOfficeInTheBrowser(t *testing.T) {
	s := newShop(t)
	badge := s.badge("P01")
	s.tablet("STORE-1")
	lost := s.tablet("INSPECT-1")
	all, err := s.app.Tablets(t.Context(), app.Machine())
	must(t, err)
	must(t, s.app.RevokeTablet(t.Context(), app.Machine(), all[0].ID))
	lost.get("/station")

	browser := browsertest.Shared(t)
	ctx := browser.Open(t, browsertest.Desk)
	browsertest.Expect(t, ctx, "403") // the wrong PIN below
	browsertest.Do(t, ctx,
		chromedp.Navigate(s.url+"/people"),
		chromedp.WaitVisible(`input[name=badge]`))
	look(t, ctx, "signin")
	// Enter after the badge must not send the form: the PIN is still to come.
	browsertest.Do(t, ctx,
		chromedp.SendKeys(`input[name=badge]`, badge+"\r"),
		chromedp.SendKeys(`input[name=pin]`, "111112\r"),
		chromedp.WaitVisible(`.said`))
	look(t, ctx, "signin-refused")
	browsertest.Do(t, ctx,
		chromedp.SendKeys(`input[name=badge]`, badge+"\r"),
		chromedp.SendKeys(`input[name=pin]`, pin+"\r"),
		chromedp.WaitVisible(`.who`))
	look(t, ctx, "people")
	for _, page := range []struct{ name, path, shows string }{
		{"office", "/office", ".doors"},
		{"person", "/people/P01", "fieldset"},
		{"tablets", "/tablets", "select"},
		{"enrol", "/enrol", "input[name=code]"},
		{"set-pin", "/set-pin", "input[name=again]"},
		{"sign-out", "/sign-out", "main form"},
		{"api", "/api", "pre"},
		{"refusals", "/api/refusals", "thead"},
		{"gauges", "/gauges", "tbody"},
		{"batches", "/batches", "tbody"},
		{"qualifications", "/qualifications", "tbody"},
		{"setup", "/setup", "main ol"},
		{"setup-shop", "/setup/shop", "main form"},
		{"setup-stations", "/setup/stations", "main form"},
		{"setup-person", "/setup/person", "main form"},
		{"setup-tablet", "/setup/tablet", "main form"},
		{"setup-item", "/setup/item", "main form"},
		{"setup-order", "/setup/order", "main form"},
		{"setup-sheet", "/setup/sheet", "main form"},
		{"setup-nest", "/setup/nest", "main form"},
		{"setup-make", "/setup/make", "main h1"},
	} {
		browsertest.Do(t, ctx, chromedp.Navigate(s.url+page.path), chromedp.WaitVisible(page.shows))
		look(t, ctx, page.name)
	}
	byKeys(t, ctx, s)
	stationsByKeys(t, ctx, s)
	browsertest.Expect(t, ctx, "404")
	browsertest.Do(t, ctx, chromedp.Navigate(s.url+"/no/such/page"), chromedp.WaitVisible("[role=alert]"))
	look(t, ctx, "error")
	browsertest.Do(t, ctx,
		chromedp.Evaluate[chromedp.Void](`localStorage.setItem("light", "night")`),
		chromedp.Navigate(s.url+"/tablets"), chromedp.WaitVisible("select"))
	look(t, ctx, "tablets-night")
	browsertest.Do(t, ctx,
		chromedp.Click(`form[action="/tablets"] button`), chromedp.WaitVisible(".figure"))
	look(t, ctx, "code-once")
}

// TestSignInOnAPhone: nothing is wider than the window.
func TestSignInOnAPhone(t *testing.T) {
	s := newShop(t)
	ctx := browsertest.New(t, browsertest.Phone)
	for _, path := range []string{"/signin", "/enrol", "/set-pin?" + url.Values{"x": {"y"}}.Encode()} {
		browsertest.Do(t, ctx, chromedp.Navigate(s.url+path), chromedp.WaitVisible("main form"))
		browsertest.Axe(t, ctx)
		if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > innerWidth`)) {
			t.Errorf("%s is wider than a phone", path)
		}
	}
	browsertest.Screenshot(t, ctx, "signin-phone")
}

// byKeys adds a gauge, once and once too often, and takes somebody on, without a mouse.
func byKeys(t *testing.T, ctx context.Context, s *testShop) {
	t.Helper()
	browsertest.Expect(t, ctx, "422") // the gauge there is already
	add := func(shows string) {
		t.Helper()
		browsertest.Do(t, ctx, chromedp.Navigate(s.url+"/gauges"), chromedp.WaitVisible("tbody"))
		// The date is the same whichever of day and month is typed first.
		for _, f := range [][2]string{{"[name=instrument]", "CAL-77"}, {"[name=kind]", "caliper"}, {"[name=name]", "caliper 77, bench 2"}, {"[name=due_by]", "12122030"}} {
			browsertest.Keys(t, ctx, f[0], f[1])
		}
		browsertest.Keys(t, ctx, "[value=add]", "\r")
		browsertest.Do(t, ctx, chromedp.WaitVisible(shows))
	}
	add(".kept")
	book, err := s.app.Store.Book(t.Context())
	must(t, err)
	if g := book.Instruments["CAL-77"]; g.Kind != "caliper" || g.DueBy != "2030-12-12" {
		t.Errorf("the gauge is stored as %+v", g)
	}
	add(".slip")
	if !browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.activeElement.matches("[name=instrument][aria-invalid]")`)) {
		t.Error("what is wrong does not have the focus")
	}
	look(t, ctx, "gauges-twice")
	browsertest.Do(t, ctx, chromedp.Navigate(s.url+"/setup/person"), chromedp.WaitVisible("main form"))
	browsertest.Keys(t, ctx, "[name=name]", "Odo Finchley")
	browsertest.Keys(t, ctx, "[name=role][value=operator]", " ")
	browsertest.Keys(t, ctx, "main form button.main", "\r")
	browsertest.Do(t, ctx, chromedp.WaitVisible(".figure"))
	look(t, ctx, "setup-person-once")
}

// stationsByKeys adds a laser and a fitting site without a mouse: how many first,
// then their names, and how far the site is, which is mistyped once.
func stationsByKeys(t *testing.T, ctx context.Context, s *testShop) {
	t.Helper()
	browsertest.Expect(t, ctx, "422") // the distance in words
	key := func(css, keys string) {
		t.Helper()
		browsertest.Keys(t, ctx, css, keys)
	}
	browsertest.Do(t, ctx, chromedp.Navigate(s.url+"/setup/stations"), chromedp.WaitVisible("main form"))
	key("[name=laser]", "1") // the nought stands there selected
	key("[name=site]", "1")
	key("main form button.main", "\r")
	browsertest.Do(t, ctx, chromedp.WaitVisible("[name='km.SITE-1']"))
	look(t, ctx, "setup-stations-names")
	key("[name='name.LASER-5']", "laser by the gate")
	key("[name='name.SITE-1']", "the bridge")
	key("[name='km.SITE-1']", "far")
	key("main form button.main", "\r")
	browsertest.Do(t, ctx, chromedp.WaitVisible(".slip"))
	if got := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.activeElement.name + " " + document.activeElement.getAttribute("aria-invalid")`)); got != "km.SITE-1 true" {
		t.Errorf("what is wrong does not have the focus, but %q has", got)
	}
	look(t, ctx, "setup-stations-slip")
	browsertest.Do(t, ctx, chromedp.KeyEvent("460"))
	key("main form button.main", "\r")
	browsertest.Do(t, ctx, chromedp.WaitVisible("main [name=role]")) // the next step
	book, err := s.app.Store.Book(t.Context())
	must(t, err)
	if laser, site := book.Stations["LASER-5"], book.Stations["SITE-1"]; laser.Name != "laser by the gate" || !laser.Does("cut") || site.Name != "the bridge" || core.JourneyOf(book, core.Order{Site: "SITE-1"}).Km != 460 {
		t.Errorf("stored are %+v and %+v", laser, site)
	}
}

// look checks a page for accessibility and takes its picture.
func look(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "office-"+name)
}
