package separate_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/webtest"
)

// drawn has the bench ask checks of a sheet's own step, of door rails and of wall
// stiffeners.
func drawn(t testing.TB) *webtest.LiveSite {
	t.Helper()
	f, cards := bench(t)
	draw := func(ref core.RouteRef, stage core.StageName, cs ...core.Characteristic) {
		route := f.World.Book.Routes[ref]
		route.Steps = append([]core.Step{}, route.Steps...)
		for i := range route.Steps {
			if route.Steps[i].Stage == stage {
				route.Steps[i].Checks = cs
			}
		}
		f.World.Book.Routes[ref] = route
	}
	ruled := func(item core.ItemID, name string) { // a route of its own
		ref := f.Item(item)
		rev := f.World.Book.Items[ref]
		route := f.World.Book.Routes[rev.Route]
		route.RouteRef = core.RouteRef{Name: name, Version: 1}
		f.World.Book.Routes[route.RouteRef] = route
		rev.Route = route.RouteRef
		f.World.Book.Items[ref] = rev
	}
	low, high, nominal := 599.0, 601.0, 600.0
	draw(f.World.Book.Items[f.Item("SH-5005-3")].Route, "separate", core.Characteristic{ID: "skeleton", Text: "Skeleton cut up, nothing sharp left on the bench", Kind: core.Tick})
	ruled("DF-RAIL", "RAIL")
	draw(core.RouteRef{Name: "RAIL", Version: 1}, "cut", core.Characteristic{ID: "dross", Text: "No dross on the lower edge", Kind: core.Tick})
	draw(core.RouteRef{Name: "RAIL", Version: 1}, "separate", core.Characteristic{ID: "length", Text: "Length of the first part off", Kind: core.Measure,
		Nominal: &nominal, Lower: &low, Upper: &high, Unit: "mm", Instrument: "caliper"})
	ruled("ST-1900", "STIFFENER")
	draw(core.RouteRef{Name: "STIFFENER", Version: 1}, "separate", core.Characteristic{ID: "straight", Text: "Straight along its length", Kind: core.Tick})
	s := webtest.Live(t, f, endpoints)
	s.Sheets = cards
	return s
}

// The checks drawn for the parts of a line are asked where good ones came off the
// sheet, those of the sheet's own step too; of spoilt parts nothing is asked.
func TestSeparationAsksItsChecks(t *testing.T) {
	s := drawn(t)
	badge := s.Badge(t, "P06")
	ctx := s.Tablet(t, "BENCH-1")
	does := func(steps ...chromedp.Action[chromedp.Void]) { t.Helper(); browsertest.Do(t, ctx, steps...) }
	says := func(want string) {
		t.Helper()
		if got := browsertest.Text(t, ctx, "[data-go]"); got != want {
			t.Errorf("the button says %q, want %q", got, want)
		}
	}
	does(chromedp.Navigate(s.URL+"/separate/"+string(sheet)), chromedp.WaitVisible(css(".nest-line")), fonts)
	// All stiffeners are spoilt.
	line := browsertest.Run(t, ctx, chromedp.Evaluate[string](`[...document.querySelectorAll("[data-line]")].find(e => e.dataset.name === "wall stiffener").dataset.line`))
	asked := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector("[data-line='`+line+`']").dataset.asked`))
	of := "[data-line='" + line + "'] "
	does(chromedp.Click(css(of+"[data-counts-open]")), chromedp.SendKeys(css(of+"[data-damaged]"), asked), chromedp.Click(css(of+"[data-tally-done]")), chromedp.Click(css("[data-go]")))
	says("Go on to the checks")
	does(chromedp.Click(css("[data-go]")), chromedp.WaitVisible(css(".nest-checks")))
	says("Both checks are met")
	browsertest.Screenshot(t, ctx, "separate-checks")
	webtest.CheckTablet(t, ctx, "checks")
	does(chromedp.Click(css("[data-go]")))
	says("More checks")
	does(chromedp.Click(css("[data-go]")), chromedp.SendKeys(css(".nest-checks:not([hidden]) [data-number]"), "602"))
	says("Outside: measure again")
	browsertest.Screenshot(t, ctx, "separate-checks-measured")
	webtest.CheckTablet(t, ctx, "measured checks")
	browsertest.Axe(t, ctx)
	does(chromedp.Click(css(".nest-checks:not([hidden]) [data-key=back]")), chromedp.Click(css(".nest-checks:not([hidden]) [data-key='0']")),
		chromedp.Evaluate[chromedp.Void](`(g => { g.value = "CA-01"; g.dispatchEvent(new Event("change", {bubbles: true})); })(document.querySelector(".nest-checks [data-gauge]"))`))
	does(chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.light = "night"`))
	browsertest.Screenshot(t, ctx, "separate-checks-measured-night")
	webtest.CheckTablet(t, ctx, "measured checks by night")
	does(chromedp.Click(css("[data-go]")), chromedp.WaitVisible(css("#sign")), chromedp.SendKeys(css("#badge"), badge+"\r"), chromedp.SendKeys(css("#pin"), apptest.PIN),
		chromedp.WaitVisible(css("form[data-command='print-traveller']")))
	var parted []core.Event
	for _, e := range s.Events {
		if e.Kind == core.EvSeparated {
			parted = append(parted, e.Event)
		}
	}
	if len(parted) != 1 {
		t.Fatalf("separated %d times", len(parted))
	}
	got := map[string]core.Reading{}
	for _, c := range parted[0].Checks {
		got[c.Characteristic] = c
	}
	if len(got) != 3 || !got["skeleton"].Met || !got["dross"].Met || got["length"].Value == nil || *got["length"].Value != 600 || got["length"].Instrument != "CA-01" {
		t.Errorf("on record: %+v", parted[0].Checks)
	}
}
