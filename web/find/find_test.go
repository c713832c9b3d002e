package find_test

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/find"
	"tagalong/web/webtest"
)

var caller = app.Caller{Person: "P04", Name: "Corwin Pell", Roles: []core.Role{core.Service}}

// hospital is a shop with one order spread over five pallets, and some more.
func hospital(t *testing.T) *apptest.Store {
	f := apptest.New(t)
	f.Order(core.Order{No: "4117", Customer: "Larkfield Hospital", Reference: "LH/26/118", Promised: "2026-12-03", Lines: []core.OrderLine{
		{Item: f.Item("WP-2400"), Qty: 4}, {Item: f.Item("DL-L"), Qty: 1}, {Item: f.Item("DL-R"), Qty: 1}, {Item: f.Item("HP-80"), Qty: 6},
	}})
	line := func(n int) core.Owner { return core.Owner{Order: "4117", Line: n} }
	for i, p := range []core.PalletCode{"P9CD2FHT", "PM3N8RWA", "PT6V4EJK", "PB5W3XGN"} {
		f.Pallet(p, "DOCK-1")
		before := core.StageName("")
		if i < 2 {
			before = "pack"
		}
		f.Lot(p, "WP-2400", line(1), 1, before)
	}
	f.Lot("PB5W3XGN", "HP-80", line(4), 5, "")
	f.Pallet("P4K7M2QX", "INSPECT-1")
	f.Lot("P4K7M2QX", "DL-L", line(2), 1, "weld-inspect")
	f.Lot("P4K7M2QX", "DL-R", line(3), 1, "weld-inspect")
	f.Hold("H1", core.HoldLot, "L006", "Undercut on the hinge side", 130*time.Minute)
	f.Change("P4K7M2QX", func(p *core.PalletRow) { p.Slot = "" })
	f.World.State.Nests["N9"] = core.Nest{ID: "N9", Parts: []core.NestPart{{No: 1, Item: f.Item("HP-80"), Owner: line(4), Qty: 1}}}
	return &apptest.Store{Floor: f}
}

func TestFind(t *testing.T) {
	now := apptest.Now
	site := webtest.Serve(t, caller, now, find.Endpoints(hospital(t).Service(t))...)
	for q, wants := range map[string][]string{
		"": {"Where is it?", `name="q"`},
		"4117": {
			"Order 4117 for Larkfield Hospital: four of its five pallets are finished, two of them packed; the left door leaf is held at the inspection bay (undercut on the hinge side), and two more things are open. Promised for Thursday 3 December.",
			"<li>One hinge plate is not yet cut.</li>",
			"As of 14:12:07, Wednesday 25 November 2026", `href="/history/P4K7M2QX"`, `href="/history/order/4117"`, `href="/orders/4117/travellers"`, `href="/pallets/P4K7M2QX/traveller.html"`, "LH/26/118", "1 not cut",
		},
		"Stellick":             {"Two orders fit", `href="/find?q=O-4102"`},
		"0000 nothing of us":   {"Nothing fits", "What to try"},
		`"><script>x</script>`: {"Nothing fits", "&lt;script&gt;"},
	} {
		status, text, header := site.Get(t, "/find?q="+url.QueryEscape(q))
		if status != 200 || !strings.HasPrefix(header.Get("Content-Type"), "text/html") {
			t.Errorf("%q: status %d, %s", q, status, header.Get("Content-Type"))
		}
		for _, want := range wants {
			if !strings.Contains(text, want) {
				t.Errorf("%q: the page lacks %q:\n%s", q, want, text)
			}
		}
		if strings.Contains(text, "<script>x") {
			t.Errorf("%q: what was asked stands in the page unescaped", q)
		}
	}
}

// TestFindListsSoManyPallets: of an order of thirty pallets the page lists those
// furthest behind, and says how many more there are; all are one tap away.
func TestFindListsSoManyPallets(t *testing.T) {
	f := hospital(t).Floor
	for i := range 25 {
		p, err := code.New(code.Pallet, strings.NewReader(strings.Repeat(string(rune('a'+i)), 64)))
		if err != nil {
			t.Fatal(err)
		}
		f.Pallet(core.PalletCode(p), "INSPECT-1")
		f.Lot(core.PalletCode(p), "WP-2400", core.Owner{Order: "4117", Line: 1}, 1, "weld-inspect")
	}
	site := webtest.Serve(t, caller, apptest.Now, find.Endpoints((&apptest.Store{Floor: f}).Service(t))...)
	_, text, _ := site.Get(t, "/find?q=4117")
	if n := strings.Count(text, `class="spot"`); n != 12+1 || !strings.Contains(text, "… and 18 more") || !strings.Contains(text, `href="/find?all=1&amp;q=4117"`) {
		t.Errorf("the page lists %d places of 30:\n%s", n, text)
	}
	_, text, _ = site.Get(t, "/find?all=1&q=4117")
	if n := strings.Count(text, `class="spot"`); n != 30 || strings.Contains(text, " more</span>") {
		t.Errorf("asked for all, the page lists %d places of 30", n)
	}
}

func TestOrders(t *testing.T) {
	s := hospital(t)
	site := webtest.Serve(t, caller, apptest.Now, find.Endpoints(s.Service(t))...)
	_, text, _ := site.Get(t, "/orders")
	for _, want := range []string{`href="/find?q=4117"`, "Larkfield Hospital", "12 asked: 11 made, 7 packed, 0 gone", "13 open orders, 2 of them late", "Fri 20 Nov"} {
		if !strings.Contains(text, want) {
			t.Errorf("the list lacks %q", want)
		}
	}
	ctx := browsertest.New(t, browsertest.Desk)
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/orders"), chromedp.WaitVisible(".orders"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "orders")
}

func TestFindIsForPeopleOfTheShop(t *testing.T) {
	site := webtest.Serve(t, app.Caller{}, apptest.Now, find.Endpoints(hospital(t).Service(t))...)
	if status, _, _ := site.Get(t, "/find?q=4117"); status != 403 {
		t.Errorf("nobody known: status %d", status)
	}
}

func TestFindInTheBrowser(t *testing.T) {
	site := webtest.Serve(t, caller, apptest.Now, find.Endpoints(hospital(t).Service(t))...)
	browser := browsertest.Shared(t)
	for name, size := range map[string]browsertest.Size{"find": browsertest.Desk, "find-phone": browsertest.Phone} {
		ctx := browser.Open(t, size)
		browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/find"), chromedp.WaitVisible(".ask"))
		browsertest.Screenshot(t, ctx, name+"-empty")
		browsertest.Axe(t, ctx)
		browsertest.Do(t, ctx, chromedp.SendKeys(".ask input", "4117\r"), chromedp.WaitVisible("#says"))
		browsertest.Axe(t, ctx)
		browsertest.Screenshot(t, ctx, name)
		wide := browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > innerWidth`))
		if wide {
			t.Errorf("%s: the page is wider than the window", name)
		}
		browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`localStorage.setItem("light", "night")`), chromedp.Reload(), chromedp.WaitVisible("#says"))
		browsertest.Axe(t, ctx)
		browsertest.Screenshot(t, ctx, name+"-night")
		browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/find?q=Stellick"), chromedp.WaitVisible(".hits"))
		browsertest.Screenshot(t, ctx, name+"-several")
		browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/find?q=nowhere"), chromedp.WaitVisible(".try"))
		browsertest.Screenshot(t, ctx, name+"-nothing")
	}
}
