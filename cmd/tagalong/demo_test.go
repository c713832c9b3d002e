package main

import (
	"context"
	"io"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/browsertest"
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
	l := demoLine(t)
	base := demoServer(t, l)
	ctx := browsertest.New(t, browsertest.Desk)
	browsertest.Do(t, ctx, chromedp.Navigate(base+"/demo"), chromedp.WaitVisible(css(".demo-person")))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "demo")
	count := func(selector string) int {
		return browsertest.Run(t, ctx, chromedp.Evaluate[int](`document.querySelectorAll("`+selector+`").length`))
	}
	if tries, people, stations := count(".demo-try"), count(".demo-person"), count(".demo-stations button"); tries != 21 || people != 30 || stations < 30 {
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
