package station_test

import (
	"context"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

// face is one state of a screen, reached by steps from an address.
type face struct {
	name, at, path string
	steps          []chromedp.Action[chromedp.Void]
}

func click(css string) chromedp.Action[chromedp.Void] { return chromedp.Click(chromedp.CSS(css)) }
func seen(css string) chromedp.Action[chromedp.Void]  { return chromedp.WaitVisible(chromedp.CSS(css)) }
func keys(css, text string) chromedp.Action[chromedp.Void] {
	return chromedp.SendKeys(chromedp.CSS(css), text)
}

var ready = chromedp.Evaluate[chromedp.Void](`document.fonts.ready.then(() => {})`, chromedp.EvalAwaitPromise)

func palletPath(n int) string { return "/station/pallets/" + string(pallet(n)) }

var faces = []face{
	{"rest", "ROUND-AL", "/station", nil},
	{"work", "ROUND-AL", "/station/pallets/" + string(mixed) + "?print=1", nil},
	{"ticked", "ROUND-AL", "/station/pallets/" + string(short), acts(click("[data-go]"))},
	{"sign", "ROUND-AL", "/station/pallets/" + string(short), acts(click("[data-go]"), click("[data-go]"), seen("#sign"))},
	{"counts", "ROUND-AL", "/station/pallets/" + string(mixed), acts(click("[data-not-good]"), seen("[data-counts][open]"))},
	{"more", "ROUND-AL", "/station/pallets/" + string(mixed), acts(click("[data-open=more]"), seen("#more"))},
	{"hand", "ROUND-AL", "/station/pallets/" + string(mixed), acts(click("[data-open=more]"), click("[data-open=hand]"), seen("#hand"))},
	{"problem", "ROUND-AL", "/station/pallets/" + string(mixed), acts(click("[data-open=more]"), click("[data-open=problem]"), seen("#problem"))},
	{"divide", "ROUND-AL", "/station/pallets/" + string(mixed), acts(click("[data-open=more]"), click("[data-open=divide]"), seen("#divide"))},
	{"recount", "ROUND-AL", "/station/pallets/" + string(mixed), acts(click("[data-open=more]"), click("[data-open=recount]"), seen("#recount"))},
	{"fuse", "ROUND-AL", "/station/pallets/" + string(mixed), acts(click("[data-open=more]"), click("[data-open=fuse]"), seen("#fuse"))},
	{"away", "ROUND-AL", "/station/pallets/" + string(coming), nil},
	{"elsewhere", "ROUND-AL", "/station/pallets/" + string(outside), nil},
	{"held", "ROUND-AL", "/station/pallets/" + string(begun), nil},
	{"empty", "ROUND-AL", "/station/pallets/" + string(emptied), nil},
	{"passed-on", "ROUND-AL", "/station/pallets/" + string(onward), nil},
	{"stale", "ROUND-AL", "/station/pallets/" + string(changed) + "?print=1", nil},
	{"print-unknown", "ROUND-AL", "/station/pallets/" + string(mixed) + "?print=7", nil},
	{"unknown", "ROUND-AL", "/station/pallets/" + string(pallet(99)), nil},
	{"fold", "BRAKE-1", "/station/pallets/" + string(folded), nil},
	{"measure", "BRAKE-1", "/station/pallets/" + string(folded), acts(click("[data-go]"), click("[data-go]"))},
	{"coat", "BOOTH-1", "/station/pallets/" + string(ready2), nil},
	{"sharp", "BOOTH-1", "/station/pallets/" + string(sharp), nil},
	{"inspect", "INSPECT-1", "/station/pallets/" + string(framed), nil},
	{"weld-rest", "WELD-1", "/station", nil},
	{"unit", "WELD-1", "/station/units?unit=BF-2400%40B%7CO-4101%2F1", nil},
	{"goods", "GOODS-1", "/station/goods", nil},
}

func acts(a ...chromedp.Action[chromedp.Void]) []chromedp.Action[chromedp.Void] { return a }

func (f face) open(t *testing.T, ctx context.Context, url string) {
	t.Helper()
	browsertest.Do(t, ctx, chromedp.Navigate(url+f.path), seen("main"), ready)
	for i, step := range f.steps {
		t.Logf("%s: step %d", f.name, i+1)
		browsertest.Do(t, ctx, step)
	}
}

func TestFaces(t *testing.T) {
	s := webtest.Live(t, floor(t), station.Endpoints)
	ctx := browsertest.New(t, browsertest.Tablet)
	at := ""
	for _, f := range faces {
		if f.at != at {
			at = f.at
			s.Enrol(t, ctx, apptestStation(at))
		}
		f.open(t, ctx, s.URL)
		browsertest.Screenshot(t, ctx, "station-"+f.name)
	}
	_ = strings.TrimSpace
	_ = apptest.Now
}
