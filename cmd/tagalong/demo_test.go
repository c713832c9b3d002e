package main

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/internal/shopgen"
)

// demoServer runs `tagalong demo` until the test ends and returns its address.
func demoServer(t *testing.T, l *line) string {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	out, log := &lockedBuffer{}, &lockedBuffer{}
	ended := make(chan int, 1)
	go func() { ended <- run(ctx, []string{"demo"}, l.getenv, out, log) }()
	t.Cleanup(func() {
		stop()
		select {
		case code := <-ended:
			if code != 0 {
				t.Errorf("it stopped with %d:\n%s", code, log)
			}
		case <-time.After(2 * time.Minute):
			t.Error("it never stopped")
		}
	})
	address := regexp.MustCompile(`start here\s+(\S+)/demo`)
	for deadline := time.Now().Add(3 * time.Minute); ; time.Sleep(20 * time.Millisecond) {
		if m := address.FindStringSubmatch(out.String()); m != nil {
			return m[1]
		}
		if time.Now().After(deadline) {
			t.Fatalf("it never said where to look:\n%s%s", out, log)
		}
	}
}

// TestDemoServes runs the command itself: it says where to look, answers there,
// and stops cleanly when told to.
func TestDemoServes(t *testing.T) {
	base := demoServer(t, newLine(t))
	for path, want := range map[string]string{"/healthz": "answers", "/demo": "Rafe Tolliver", "/wall": "Corrie Sheetworks"} {
		resp, err := http.Get(base + path)
		must(t, err)
		text, err := io.ReadAll(resp.Body)
		must(t, err)
		must(t, resp.Body.Close())
		if resp.StatusCode != http.StatusOK || !strings.Contains(string(text), want) {
			t.Errorf("%s: %d without %q", path, resp.StatusCode, want)
		}
	}
}

// TestDemoPages looks at the first page as people do, becomes a tablet by one
// press, and looks at a traveller.
func TestDemoPages(t *testing.T) {
	l := newLine(t)
	base := demoServer(t, l)
	ctx := browsertest.New(t, browsertest.Desk)
	browsertest.Do(t, ctx, chromedp.Navigate(base+"/demo"), chromedp.WaitVisible(css(".demo-person")))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "demo")
	count := func(selector string) int {
		return browsertest.Run(t, ctx, chromedp.Evaluate[int](`document.querySelectorAll("`+selector+`").length`))
	}
	if tries, people, stations := count(".demo-try"), count(".demo-person"), count(".demo-stations button"); tries != 12 || people != 30 || stations < 30 {
		t.Errorf("%d things to try, %d people, %d stations", tries, people, stations)
	}
	if n := count("button[data-copy]:not([hidden])"); n != 31 {
		t.Errorf("%d of 31 badges can be copied", n)
	}

	frame := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector(".demo-try code").textContent.replace(" ", "")`))
	browsertest.Do(t, ctx, chromedp.Click(css(".demo-try button")), chromedp.WaitVisible(css("html[data-at=station] header.block .station")))
	if at := browsertest.Text(t, ctx, "header.block .station"); !strings.EqualFold(at, "inspection bay") {
		t.Errorf("the first try is at the %s", at)
	}
	if path := browsertest.Run(t, ctx, chromedp.Evaluate[string]("location.pathname")); path != "/station/pallets/"+frame {
		t.Errorf("it starts on %s", path)
	}

	browsertest.Do(t, ctx, chromedp.Navigate(base+"/pallets/"+frame+"/traveller.html?back=/station"), chromedp.WaitVisible(css("nav.screen a")))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "demo-traveller")
	if text := browsertest.Text(t, ctx, "main"); !strings.Contains(text, "base frame 2400") || !strings.Contains(text, "Invented demo data") {
		t.Errorf("the traveller says %s", text)
	}
	if n := count("nav.screen strong"); n != 0 {
		t.Error("a fresh print is called stale")
	}
	l.ok("print", frame, "--out", filepath.Join(t.TempDir(), "again.pdf"))
	browsertest.Do(t, ctx, chromedp.Navigate(base+"/pallets/"+frame+"/traveller?print=1"), chromedp.WaitVisible(css("nav.screen strong")))
	if says := browsertest.Text(t, ctx, "nav.screen strong"); !strings.Contains(says, "replaced by print") {
		t.Errorf("an old print says %q", says)
	}
}

func css(selector string) chromedp.CSS { return chromedp.CSS(selector) }

// TestDemoTries does what the first page proposes, and ends as it says.
func TestDemoTries(t *testing.T) {
	l := newLine(t)
	s := &testShop{t: t, url: demoServer(t, l), now: time.Now()}
	listed := l.ok("pallets")
	at := func(what string) core.PalletCode {
		return core.PalletCode(strings.ReplaceAll(palletWith(t, listed, what), " ", ""))
	}
	become := func(station string) *browser {
		b := s.browser()
		if got := b.form("/demo/tablet", url.Values{"station": {station}}); got.StatusCode != http.StatusSeeOther {
			t.Fatalf("become %s: %d %s", station, got.StatusCode, got.body)
		}
		return b
	}
	signed := func(p core.PersonID, body core.Body) request {
		badge, err := shopgen.Badge(p, 1)
		must(t, err)
		return s.request(body).with("sign", []app.Sign{{Badge: badge.Text(), PIN: shopgen.PIN(p)}})
	}
	works := func(b *browser, pallet core.PalletCode, stage core.StageName, checks ...core.CheckReading) core.SignOff {
		got := decoded[struct {
			Lots []core.Lot `json:"lots"`
		}](t, b.get("/api/pallets/"+string(pallet)))
		done := core.SignOff{Pallet: pallet, Stage: stage}
		for _, x := range got.Lots {
			done.Lots = append(done.Lots, core.LotWork{Lot: x.ID, Good: x.Qty, Checks: checks})
		}
		return done
	}
	frame, tray := at("base frame 2400"), at("ROUND-AL")

	p := become("PRETREAT-1").refused("take-in", s.request(core.TakeIn{Pallet: frame}), http.StatusConflict, "hold-not-released")
	if !strings.Contains(p.Title, "inspector") {
		t.Errorf("the pretreat line is told %q %q %q", p.Title, p.Why, p.Remedy)
	}
	become("HAND-AL").refused("take-in", s.request(core.TakeIn{Pallet: at("BRAKE-1")}), http.StatusConflict, "nothing-to-do")

	steel := become("ROUND-SS")
	steel.do(core.TakeIn{Pallet: tray})
	steel.refused("sign-off", signed("P16", works(steel, tray, "edge-round", core.CheckReading{Characteristic: "edges-felt", Met: true})),
		http.StatusConflict, "abrasive-touched")

	bay := become("INSPECT-1")
	throat := 3.0
	release := works(bay, frame, "weld-inspect", core.CheckReading{Characteristic: "no-cracks", Met: true},
		core.CheckReading{Characteristic: "throat", Value: &throat, Instrument: "WG-01"})
	bay.refused("sign-off", signed(shopgen.Lost, release), http.StatusForbidden, "badge-revoked")
	if got := bay.post("sign-off", signed("P19", release)); got.StatusCode != http.StatusOK {
		t.Errorf("release: %d %s", got.StatusCode, got.body)
	}

	desk := s.browser()
	if got := desk.form("/demo/office", url.Values{"person": {"P03"}, "next": {"/quality"}}); got.StatusCode != http.StatusSeeOther || got.Header.Get("Location") != "/quality" {
		t.Fatalf("sign P03 in: %d %s", got.StatusCode, got.body)
	}
	for _, path := range []string{"/quality", "/find?q=O-4101", "/orders", "/office", "/history/order/O-4101"} {
		if got := desk.get(path); got.StatusCode != http.StatusOK {
			t.Errorf("%s: %d", path, got.StatusCode)
		}
	}
	if out := l.ok("verify"); !strings.Contains(out, "; 0 faults") {
		t.Error(out)
	}
}
