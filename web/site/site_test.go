package site_test

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/site"
	"tagalong/web/webtest"
)

func TestMain(m *testing.M) { os.Exit(browsertest.Sharing(m).Run()) }

var fitter = app.Caller{Person: "P27", Name: "Isolde Grey-Marsh", Roles: []core.Role{core.Fitter}}

// Boxes of two orders, and the truck they are on.
const (
	truck core.ConsignmentCode = "C5RPZHNR"
	first core.PalletCode      = "PZPFPBFU"
	both  core.PalletCode      = "PABV9NUS"
)

// onTheRoad is a truck on its way with a box of one order and one of two.
func onTheRoad(t *testing.T) *apptest.Store {
	f := apptest.New(t)
	for _, no := range []string{"4117", "4118"} {
		f.Order(core.Order{No: no, Customer: "Client of " + no, Site: "SITE-LARKFIELD", Promised: "2026-11-26",
			Lines: []core.OrderLine{{Item: f.Item("RT-2400"), Qty: 3}}})
	}
	for _, p := range []core.PalletCode{first, both} {
		f.Pallet(p, "DOCK-1")
		f.Lot(p, "RT-2400", core.Owner{Order: "4117", Line: 1}, 1, "")
	}
	f.Lot(both, "RT-2400", core.Owner{Order: "4118", Line: 1}, 2, "")
	f.Gone(truck, "SITE-LARKFIELD", 1, first, both)
	return &apptest.Store{Floor: f}
}

// The fitters' page receives as the link's does: box by box, each ticked that
// came as listed, any other counted; the consignment tells its orders apart.
func TestAFitterReceivesBoxByBox(t *testing.T) {
	s := onTheRoad(t)
	served := webtest.Serve(t, fitter, apptest.Now, site.Endpoints(s.Service(t))...)
	ctx := browsertest.New(t, browsertest.Phone)
	browsertest.Do(t, ctx, chromedp.Navigate(served.URL+"/site"), chromedp.WaitVisible(".hits"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "fitter-site")
	browsertest.Do(t, ctx, chromedp.Click(".hits a"), chromedp.WaitVisible("form[data-ticks]"))
	browsertest.Axe(t, ctx)
	browsertest.FullScreenshot(t, ctx, "fitter-boxes")
	if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > innerWidth`)) {
		t.Error("the page is wider than the phone")
	}
	browsertest.Do(t, ctx, chromedp.Click("form[data-ticks] .main"))
	if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector("#sign").open`)) {
		t.Error("nothing is ticked, and may be signed for")
	}
	browsertest.Do(t, ctx, chromedp.Navigate(served.URL+"/site?truck="+string(truck)+"&box="+string(both)), chromedp.WaitVisible("form[data-box]"))
	browsertest.Do(t, ctx, chromedp.Click(".part summary"), chromedp.WaitVisible("[name$='.found']"))
	browsertest.Axe(t, ctx)
	browsertest.FullScreenshot(t, ctx, "fitter-count")
	pads := browsertest.Run(t, ctx, chromedp.Evaluate[bool](`[...document.querySelectorAll("[data-type=number]:not([type=hidden])")].every(e => e.inputMode === "numeric")`))
	if !pads {
		t.Error("a count is asked for without the phone's number pad")
	}
}

// A consignment's page says of each of its orders how far it is received.
func TestTheOrdersOfAConsignment(t *testing.T) {
	s := onTheRoad(t)
	c := s.World.State.Consignments[truck]
	c.Counted, c.Receipts = []core.BoxOrder{{Box: both, Order: "4118"}}, []core.OrderReceipt{{Order: "4118", At: apptest.Now.Add(-time.Hour)}}
	s.World.State.Consignments[truck] = c
	for _, l := range s.World.State.LotsAt(core.Place{Kind: core.InConsignment, Ref: string(truck)}) {
		if l.Owner.Order == "4118" {
			s.ChangeLot(l.ID, func(l *core.Lot) { l.Place = core.Place{Kind: core.AtSite, Ref: "SITE-LARKFIELD"} })
		}
	}
	served := webtest.Serve(t, fitter, apptest.Now, site.Endpoints(s.Service(t))...)
	_, page, _ := served.Get(t, "/site?truck="+string(truck))
	for _, want := range []string{"4117</strong>", "2 boxes to count", "4118</strong>", "received 13:12", "Each client signs"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if _, page, _ := served.Get(t, "/site?truck="+string(truck)+"&box=PQQQQQQQ"); !strings.Contains(page, "scan") {
		t.Error("a code that is none leads nowhere")
	}
	for path, want := range map[string]int{"/site?truck=nonsense": 404, "/site/order/none/snags": 404, "/site/order/4117/snags": 200, "/site/snags/" + string(truck): 200} {
		if status, _, _ := served.Get(t, path); status != want {
			t.Errorf("%s: %d, want %d", path, status, want)
		}
	}
}

// The bearer of a link for one order sees its parts alone, in a box that holds
// another's too; the bearer of the whole consignment has each client sign for
// their own.
func TestEachClientSeesTheirOwn(t *testing.T) {
	s := onTheRoad(t)
	bearer := func(order string) *webtest.Site {
		return webtest.Serve(t, app.Caller{Station: "SITE-LARKFIELD", Bearer: app.Bearer{Link: "L-C5RPZHNR-1", Consignment: truck, Order: order}},
			apptest.Now, site.Endpoints(s.Service(t))...)
	}
	holds := func(served *webtest.Site, path string, wants, not []string) {
		t.Helper()
		status, page, _ := served.Get(t, path)
		if status != 200 {
			t.Fatalf("%s: %d %s", path, status, page)
		}
		for _, want := range wants {
			if !strings.Contains(page, want) {
				t.Errorf("%s lacks %q", path, want)
			}
		}
		for _, x := range not {
			if strings.Contains(page, x) {
				t.Errorf("%s shows %q", path, x)
			}
		}
	}
	own, whole := bearer("4118"), bearer("")
	holds(own, "/site/mine", []string{"0 of 1 box", "Order 4118", "PABV 9NUS", "2 roof trays"}, []string{"4117", "PZPF PBFU", "1 roof tray"})
	holds(own, "/site/mine?box="+string(both), []string{`name="order" value="4118"`, "2 roof trays"}, []string{"4117", "1 roof tray"})
	holds(own, "/site/mine?box="+string(first), []string{"is not on this consignment"}, []string{"data-box"})
	holds(whole, "/site/mine", []string{"0 of 2 boxes", "(4117, 4118)", "2 boxes to count", "1 box to count"}, nil)

	s.Received(truck, 1, core.IsUnpacked, core.IsFitted)
	holds(whole, "/site/mine?do=accept", []string{"Whose client signs", "Order 4118", "1 roof tray", `href="/site/mine?do=accept&amp;order=4118"`}, []string{"2 roof trays"})
	holds(whole, "/site/mine?do=accept&order=4118", []string{"2 roof trays"}, []string{"1 roof tray"})
	holds(own, "/site/mine?do=accept", []string{"2 roof trays"}, []string{"4117", "1 roof tray", "Whose client signs"})
	holds(own, "/site/mine?do=fit-out", []string{"The set is not complete: 2 of 3"}, []string{"4117"})
	holds(own, "/site/mine/snags", []string{"With order 4118"}, []string{"4117", "1 roof tray"})
	ctx := browsertest.New(t, browsertest.Phone)
	for name, path := range map[string]string{"accept": "/site/mine?do=accept&order=4118", "fit-out": "/site/mine?do=fit-out", "boxes": "/site/mine", "snags": "/site/mine/snags"} {
		browsertest.Do(t, ctx, chromedp.Navigate(whole.URL+path), chromedp.WaitVisible("#main"))
		browsertest.Axe(t, ctx)
		browsertest.FullScreenshot(t, ctx, "two-orders-"+name)
		if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > innerWidth`)) {
			t.Errorf("%s is wider than the phone", path)
		}
	}
	holds(own, "/site/mine/snags?about=4118", []string{`data-command="report-snag"`, `name="order" value="4118"`}, nil)
}

// A fitter's tablet shows what of the set is missing, and where that is, beside
// what is to be fitted out, on one page.
func TestTheSetOnATabletAtTheSite(t *testing.T) {
	s := onTheRoad(t)
	s.Received(truck, 1, core.IsUnpacked)
	s.Pallet("PQQQQQQQ", "BOOTH-1")
	s.Lot("PQQQQQQQ", "RT-2400", core.Owner{Order: "4117", Line: 1}, 1, "coat")
	served := webtest.Serve(t, app.Caller{Tablet: "T9", Station: "SITE-LARKFIELD"}, apptest.Now, site.Endpoints(s.Service(t))...)
	ctx := browsertest.New(t, browsertest.Tablet)
	browsertest.Do(t, ctx, chromedp.Navigate(served.URL+"/site?order=4117&at=SITE-LARKFIELD&do=fit-out"), chromedp.WaitVisible(".set"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "set-tablet")
	said := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector(".set").innerText.replace(/\s+/g, " ")`))
	for _, want := range []string{"The set is not complete: 2 of 3", "1 on PQQQ QQQQ at spray booth 1, waits for coating since 12:12, then curing"} {
		if !strings.Contains(said, want) {
			t.Errorf("the set says %q, and not %q", said, want)
		}
	}
	if !browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector(".site-sign .main").getBoundingClientRect().bottom <= innerHeight`)) {
		t.Error("the signature is below the tablet's edge")
	}
}
