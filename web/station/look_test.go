package station_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

type step = chromedp.Action[chromedp.Void]

// face is one state of a screen, reached by steps from an address.
type face struct {
	name  string
	at    core.StationID
	path  string
	steps []step
}

func click(css string) step      { return chromedp.Click(chromedp.CSS(css)) }
func seen(css string) step       { return chromedp.WaitVisible(chromedp.CSS(css)) }
func keys(css, text string) step { return chromedp.SendKeys(chromedp.CSS(css), text) }

// fonts waits for a page's letters, and until all of it is there.
var fonts = chromedp.Evaluate[chromedp.Void](`new Promise((done) => { document.readyState === "complete" ? done() : addEventListener("load", done); }).then(() => document.fonts.ready).then(() => {})`, chromedp.EvalAwaitPromise)

// picks chooses an option of a list by its value.
func picks(css, value string) step {
	return chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(e => { e.value = %q; e.dispatchEvent(new Event("change", {bubbles: true})); })(document.querySelector(%q))`, value, css))
}

func at(c core.PalletCode) string { return "/station/pallets/" + string(c) }

// other opens a panel of the work page behind "Something else".
func other(panel string) []step {
	return []step{click("[data-open=more]"), seen("#more"), click("#more [data-open=" + panel + "]"), seen("#" + panel)}
}

var faces = []face{
	{"rest", "ROUND-AL", "/station", nil},
	{"rest-no-camera", "ROUND-AL", "/station", []step{click("[data-camera]"), seen("[data-scan-says]")}},
	{"work-no-camera", "ROUND-AL", at(mixed), []step{click("[data-camera]"), seen("[data-scan-says]")}},
	{"unknown-no-camera", "ROUND-AL", at(pallet(99)), []step{click("[data-camera]"), seen("[data-scan-says]")}},
	{"rest-empty", "HAND-SS", "/station", nil},
	{"work", "ROUND-AL", at(mixed) + "?print=1", nil},
	{"ticked", "ROUND-AL", at(short), []step{click("[data-go]")}},
	{"sign", "ROUND-AL", at(short), []step{click("[data-go]"), click("[data-go]"), seen("#sign")}},
	{"mounted-other", "ROUND-AL", at(short), []step{click("[data-go]"), click("[data-go]"), seen("#sign"), click("[data-mounted-other]"), keys("#sign [data-abrasive]", "BELT-AL-2")}},
	{"counts", "ROUND-AL", at(mixed), []step{click("[data-not-good]"), keys("[data-lot='0'] [data-bad]", "1")}},
	{"counts-rest", "ROUND-AL", at(mixed), []step{click("[data-not-good]"), keys("[data-lot='0'] [data-bad]", "1"), keys("[data-lot='0'] [data-not-done]", "2")}},
	{"more", "ROUND-AL", at(mixed), []step{click("[data-open=more]"), seen("#more")}},
	{"hand", "ROUND-AL", at(mixed), other("hand")},
	{"problem", "ROUND-AL", at(mixed), other("problem")},
	{"divide", "ROUND-AL", at(mixed), other("divide")},
	{"divide-to", "ROUND-AL", at(mixed), append(other("divide"), click("#divide [data-part-row='0'] [data-part-take=half]"), click("#divide [data-part-row='2'] [data-part-take=all]"), keys("#divide [data-code]", string(short)+"\r"))},
	{"onto", "ROUND-AL", at(mixed), []step{click("[data-onto-open]"), seen("#onto")}},
	{"onto-another", "ROUND-AL", at(mixed), []step{click("[data-onto-open]"), seen("#onto"), click("#onto [data-part-row='2'] [data-part-take=half]"), click("[data-onto-more]")}},
	{"onto-sign", "ROUND-AL", at(short), []step{click("[data-onto-open]"), seen("#onto"), click("[data-onto-done]"), click("[data-go]"), click("[data-go]"), seen("#sign")}},
	{"prints", "ROUND-AL", "/station/prints?pallets=" + string(alike) + "," + string(changed) + "," + string(onward) + "&next=" + string(changed), nil},
	{"prints-one", "ROUND-AL", "/station/prints?pallets=" + string(changed), nil},
	{"prints-none", "ROUND-AL", "/station/prints?pallets=" + string(emptied), nil},
	{"recount", "ROUND-AL", at(mixed), other("recount")},
	{"lend", "ROUND-AL", "/station/lend/" + string(mixed), nil},
	{"lend-to", "ROUND-AL", "/station/lend/" + string(mixed), []step{click("[data-part-take=half]"), click("[data-lend-to]")}},
	{"lend-not-here", "ROUND-AL", "/station/lend/" + string(outside), nil},
	{"fuse", "ROUND-AL", at(mixed), other("fuse")},
	{"away", "ROUND-AL", at(coming), nil},
	{"elsewhere", "ROUND-AL", at(outside), nil},
	{"turned", "BRAKE-2", at(mixed), nil},
	{"turned-hold", "PRETREAT-1", at(framed), nil},
	{"done-here", "ROUND-AL", at(sent), nil},
	{"noted", "BRAKE-1", at(sent), nil},
	{"noted-open", "BRAKE-1", at(sent), []step{click(".note summary")}},
	{"barred", "PRETREAT-1", at(unreleased), nil},
	{"beside-sign", "BOOTH-1", at(beside), []step{click(".inputs label:first-child"), click("[data-go]"), click("[data-go]"), click("[data-go]"), seen("#sign")}},
	{"beside-more", "BOOTH-1", at(beside), []step{click("[data-open=more]"), seen("#more")}},
	{"touched", "WELD-3", at(touched), nil},
	{"touched-other", "WELD-3", at(touched), []step{click("[data-open=abrasive]"), seen("#abrasive")}},
	{"held", "ROUND-AL", at(held), nil},
	{"empty", "ROUND-AL", at(emptied), nil},
	{"passed-on", "ROUND-AL", at(onward), nil},
	{"stale", "ROUND-AL", at(changed) + "?print=1", nil},
	{"print-unknown", "ROUND-AL", at(mixed) + "?print=7", nil},
	{"unknown", "ROUND-AL", at(pallet(99)), nil},
	{"measure", "BRAKE-1", at(folded), []step{click("[data-go]"), keys("[data-number].aimed", "90.2")}},
	{"outside", "BRAKE-1", at(folded), []step{click("[data-go]"), keys("[data-number].aimed", "93")}},
	{"coat", "BOOTH-1", at(pretreated), nil},
	{"sharp", "BOOTH-1", at(sharp), nil},
	{"unsure", "BOOTH-1", at(doubtful), nil},
	{"settle", "BOOTH-1", at(doubtful), []step{click("[data-open=settle]"), seen("#settle")}},
	{"inspect", "INSPECT-1", at(framed), nil},
	{"weld-rest", "WELD-1", "/station", nil},
	{"unit", "WELD-1", "/station/units?unit=BF-2400%40B%7CO-4101%2F1", nil},
	{"goods", "GOODS-1", "/station/goods", nil},
	{"goods-bought", "GOODS-1", "/station/goods", []step{picks("[data-item]", "SL-300@1"), keys("[name=heat]", "SL26-91")}},
	{"goods-checks", "GOODS-1", "/station/goods", []step{picks("[data-item]", "SL-300@1"), click("[data-go]")}},
}

func (f face) open(t *testing.T, ctx context.Context, url string) {
	t.Helper()
	browsertest.Do(t, ctx, chromedp.Navigate(url+f.path), seen("main"), fonts)
	browsertest.Do(t, ctx, f.steps...)
}

// Every face fits the tablet's window, can be read at 60 cm and touched in
// gloves, by day and by night, and axe-core finds nothing against it.
func TestFaces(t *testing.T) {
	f := floor(t)
	stress(f)
	s := webtest.Live(t, f, station.Endpoints)
	noted(s.Live)
	ctx := browsertest.New(t, browsertest.Tablet)
	at := core.StationID("")
	for _, light := range []string{"day", "night"} {
		for _, f := range append(slices.Clone(faces), stressFaces...) {
			if f.at != at {
				at = f.at
				s.Enrol(t, ctx, at)
			}
			f.open(t, ctx, s.URL)
			browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.light = "`+light+`"`))
			webtest.CheckTablet(t, ctx, f.name+" by "+light)
			browsertest.Screenshot(t, ctx, "station-"+f.name+map[string]string{"day": "", "night": "-night"}[light])
			if light == "day" {
				browsertest.Axe(t, ctx)
			}
			t.Logf("%s by %s", f.name, light)
		}
	}
}

// The measure finds what it is there to find.
func TestMeasureFindsFaults(t *testing.T) {
	s := webtest.Live(t, floor(t), station.Endpoints)
	ctx := s.Tablet(t, "ROUND-AL")
	browsertest.Do(t, ctx, chromedp.Navigate(s.URL+"/station"), seen("main"), fonts, chromedp.Evaluate[chromedp.Void](`
		document.querySelector("main").insertAdjacentHTML("beforeend", "<p id=tiny>tiny</p><p id=faint>faint</p><button id=small>x</button><p id=far>far</p>");
		tiny.style.fontSize = "20px"; faint.style.color = "#777"; small.style.cssText = "min-height:0;height:30px;min-width:0;width:30px;padding:0";
		far.style.cssText = "position:absolute;top:795px";`))
	m := webtest.MeasureTablet(t, ctx)
	if len(m.Fine) == 0 || len(m.Faint) == 0 || len(m.Small) == 0 || len(m.Cut) == 0 {
		t.Errorf("planted faults were not all found: %+v", m)
	}
}
