package station_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/browsertest"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

func TestLook(t *testing.T) {
	s := webtest.Live(t, floor(t), station.Endpoints)
	ctx := s.Tablet(t, "ROUND-AL")
	for name, path := range map[string]string{
		"rest": "/station", "work": "/station/pallets/" + string(mixed) + "?print=1", "away": "/station/pallets/" + string(coming),
		"elsewhere": "/station/pallets/" + string(outside), "held": "/station/pallets/" + string(begun), "empty": "/station/pallets/" + string(emptied),
		"passed-on": "/station/pallets/" + string(onward), "print-unknown": "/station/pallets/" + string(mixed) + "?print=7", "unknown": "/station/pallets/" + string(pallet(99)),
	} {
		browsertest.Do(t, ctx, chromedp.Navigate(s.URL+path), chromedp.WaitVisible(chromedp.CSS("main h1")), chromedp.Evaluate[chromedp.Void](`document.fonts.ready.then(() => {})`, chromedp.EvalAwaitPromise))
		browsertest.Screenshot(t, ctx, "station-"+name)
	}
}
