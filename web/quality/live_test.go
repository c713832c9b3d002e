package quality_test

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/quality"
	"tagalong/web/webtest"
)

// A hold is placed and lifted, and a problem's parts are used as they are by
// two people, on the real page under the real rules.
func TestDecidingOnTheScreen(t *testing.T) {
	s := webtest.Live(t, store(t).Floor, func(svc *app.Service) []endpoint.Endpoint { return quality.Endpoints(svc) })
	manager, inspector := s.Badge(t, "P03"), s.Badge(t, "P18")
	ctx := browsertest.New(t, browsertest.Desk)
	s.Enrol(t, ctx, "INSPECT-1")
	open := func() {
		t.Helper()
		browsertest.Do(t, ctx, chromedp.Navigate(s.URL+"/quality"), chromedp.WaitVisible(".case"))
	}
	sign := func(badges ...string) {
		t.Helper()
		for _, b := range badges {
			browsertest.Do(t, ctx, chromedp.WaitVisible("#sign"), chromedp.SendKeys("#badge", b+"\r"), chromedp.SendKeys("#pin", apptest.PIN))
		}
		browsertest.Do(t, ctx, chromedp.WaitVisible("[data-done-line]"))
	}

	open()
	const place = "form[data-command=place-hold] "
	browsertest.Do(t, ctx, chromedp.Click("details:has(form[data-command=place-hold]) > summary"),
		chromedp.Evaluate[chromedp.Void](`document.querySelector("`+place+`[name=scope]").value = "heat"`),
		chromedp.SendKeys(place+"[name=ref]", "H-55210"), chromedp.SendKeys(place+"[name=reason]", "certificate in doubt"), chromedp.Click(place+"button"))
	sign(manager)
	var placed core.Hold
	for _, h := range s.World.State.Holds {
		if h.Scope == core.HoldHeat {
			placed = h
		}
	}
	if placed.Ref != "H-55210" || placed.Reason != "certificate in doubt" || placed.By != "P03" || !placed.Open() {
		t.Fatalf("the hold placed: %+v", placed)
	}

	open()
	lift := `[value="` + string(placed.ID) + `"]`
	browsertest.Do(t, ctx, chromedp.Click("details:has("+lift+") > summary"), chromedp.SendKeys("form:has("+lift+") [name=reason]", "certificate found"), chromedp.Click("form:has("+lift+") button"))
	sign(manager)
	if h := s.World.State.Holds[placed.ID]; h.Open() || h.Releaser != "P03" {
		t.Errorf("the hold lifted: %+v", h)
	}

	open()
	const decide = `form:has([value="N-2"]) `
	browsertest.Do(t, ctx, chromedp.Click(`details:has([value="N-2"]) > summary`), chromedp.Click(decide+"[value='use-as-is']"),
		chromedp.SendKeys(decide+"[name=reason]", "inside face, out of sight"), chromedp.Click(decide+"button"))
	sign(manager, inspector)
	if p := s.World.State.Problems["N-2"]; p.Open() || p.Disposition != core.DisposeUseAsIs || len(p.Disposers) != 2 {
		t.Errorf("the problem: %+v", p)
	}
	if last := s.Events[len(s.Events)-1]; last.Kind != core.EvDisposed || last.Happened.Sub(apptest.Now).Abs() > time.Minute {
		t.Errorf("the last entry: %+v", last)
	}
}
