package main

import (
	"context"
	"net/url"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
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
	} {
		browsertest.Do(t, ctx, chromedp.Navigate(s.url+page.path), chromedp.WaitVisible(page.shows))
		look(t, ctx, page.name)
	}
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

// look checks a page for accessibility and takes its picture.
func look(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "office-"+name)
}
