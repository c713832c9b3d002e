package station_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

// days puts a date into a date field.
func days(css, date string) step {
	return chromedp.Evaluate[chromedp.Void](`(e => { e.value = "` + date + `"; e.dispatchEvent(new Event("input", {bubbles: true})); })(document.querySelector("` + css + `"))`)
}

// Sealant is taken in with its batch and its last day, after both its checks;
// what has run out is refused, and what was entered stays.
func TestBoughtGoods(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "GOODS-1")
	goTo(t, ctx, s.URL+"/station/goods")
	browsertest.Do(t, ctx, picks("[data-item]", "SL-300@1"), keys("[name=qty]", "2"), keys("[name=heat]", "SL26-91"), days("[name=expires]", "2026-11-24"),
		click("[name=identified]"), click("[data-go]"))
	for _, want := range []string{"Both checks are met", "Take in"} {
		if got := browsertest.Text(t, ctx, "[data-go]"); got != want {
			t.Errorf("the button says %q, want %q", got, want)
		}
		browsertest.Do(t, ctx, click("[data-go]"))
	}
	browsertest.Do(t, ctx, signing(badge), seen("#refusal"))
	if got := browsertest.Text(t, ctx, "#refusal-title"); !strings.Contains(got, "ran out on") {
		t.Errorf("refused with %q", got)
	}
	browsertest.Do(t, ctx, click("#refusal [data-close]"), click("[data-face-back]"), days("[name=expires]", "2027-02-28"),
		click("[data-go]"), click("[data-go]"), signing(badge), seen("[data-done-line]"))
	got := signedEvents(s, core.EvGoodsReceived)
	if len(got) != 1 || len(got[0].Checks) != 2 || !got[0].Checks[0].Met {
		t.Fatalf("received: %+v", got)
	}
	l := s.World.State.Lots[got[0].Lots[0].Lot]
	if l.Qty != 2 || l.Expires != "2027-02-28" || len(l.Heats) != 1 || l.Heats[0] != "SL26-91" {
		t.Errorf("on record: %+v", l)
	}
}

// A sheet whose route has its thickness measured as it comes in is measured, with
// a gauge; a sheet without checks still goes straight to the signature.
func TestMeasuredGoods(t *testing.T) {
	f := floor(t)
	ref := f.World.Book.Items[f.Item("SH-5005-3")].Route
	route := f.World.Book.Routes[ref]
	low, high, nominal := 2.9, 3.1, 3.0
	route.Steps = append([]core.Step{}, route.Steps...)
	route.Steps[0].Checks = []core.Characteristic{{ID: "thickness", Text: "Thickness at a corner", Kind: core.Measure, Nominal: &nominal, Lower: &low, Upper: &high, Unit: "mm", Instrument: "caliper"}}
	f.World.Book.Routes[ref] = route
	s := webtest.Live(t, f, station.Endpoints)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "GOODS-1")
	goTo(t, ctx, s.URL+"/station/goods")
	browsertest.Do(t, ctx, picks("[data-item]", "SH-5005-3@1"), keys("[name=heat]", "H5-20999"), click("[name=identified]"), click("[data-go]"),
		keys("[data-checks]:not(:disabled) [data-number]", "3.4"))
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Outside: measure again" {
		t.Errorf("at 3.4 mm the button says %q", got)
	}
	browsertest.Do(t, ctx, click(".pad [data-key=back]"), click(".pad [data-key='0']"), picks("[data-checks]:not(:disabled) [data-gauge]", "CA-01"))
	browsertest.Screenshot(t, ctx, "station-goods-measured")
	webtest.CheckTablet(t, ctx, "measured goods")
	browsertest.Do(t, ctx, click("[data-go]"), signing(badge), seen("[data-done-line]"))
	got := signedEvents(s, core.EvGoodsReceived)
	if len(got) != 1 || len(got[0].Checks) != 1 || got[0].Checks[0].Value == nil || *got[0].Checks[0].Value != 3 || got[0].Checks[0].Instrument != "CA-01" {
		t.Fatalf("received: %+v", got)
	}
}
