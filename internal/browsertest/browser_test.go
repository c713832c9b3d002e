package browsertest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image/png"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

func TestMain(m *testing.M) { os.Exit(Sharing(m).Run()) }

const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'"

const good = `<!doctype html><html lang="en"><head><title>Good</title><link rel="stylesheet" href="/good.css">
<link rel="icon" href="/icon.png"><meta name="viewport" content="width=device-width, initial-scale=1"></head>
<body><main><h1>Take in</h1><p id="state">ready</p><button id="ask">Ask</button></main><script src="/ask.js"></script></body></html>`

// bad breaks, in this order, WCAG 2.2 success criteria 3.1.1 (language of the page), 1.1.1 (picture without text),
// 1.4.3 (contrast: #777777 on #888888), 4.1.2 (field without name) and 2.5.8 (targets of 10 by 10 CSS pixels side by side).
const bad = `<!doctype html><html><head><title>Bad</title><link rel="stylesheet" href="/bad.css"><link rel="icon" href="/icon.png"></head>
<body><main><h1>Bad</h1><img src="/icon.png"><p class="faint">hard to read</p><input type="text">
<button class="tiny" aria-label="one"></button><button class="tiny" aria-label="two"></button></main></body></html>`

func site(t *testing.T) string {
	t.Helper()
	mux := http.NewServeMux()
	page := func(path, kind, body string) {
		mux.HandleFunc(path, func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", kind)
			w.Header().Set("Content-Security-Policy", policy)
			io.WriteString(w, body)
		})
	}
	html := func(path, inside string) {
		page(path, "text/html; charset=utf-8", `<!doctype html><html lang="en"><head><title>t</title><link rel="icon" href="/icon.png"></head><body>`+inside+`</body></html>`)
	}
	page("/good", "text/html; charset=utf-8", good)
	page("/bad", "text/html; charset=utf-8", bad)
	page("/good.css", "text/css", "button { min-width: 64px; min-height: 48px }")
	page("/bad.css", "text/css", ".faint { color: #777; background: #888 } .tiny { width: 10px; height: 10px; padding: 0; border: 0; margin: 0 }")
	page("/ask.js", "text/javascript", `document.querySelector("#ask").addEventListener("click", async () => {
		const r = await fetch("/refused", {method: "POST"});
		document.querySelector("#state").textContent = "refused " + r.status;
	})`)
	page("/throws.js", "text/javascript", `throw new Error("planted")`)
	page("/console.js", "text/javascript", `console.error("planted", 42)`)
	html("/inline", `<script>document.title = "ran"</script>`)
	html("/style", `<p style="color: red">red</p>`)
	html("/throws", `<script src="/throws.js"></script>`)
	html("/console", `<script src="/console.js"></script>`)
	html("/unstyled", `<link rel="stylesheet" href="/nowhere.css">`)
	html("/blind", `<img src="/nowhere.png" alt="">`)
	page("/icon", "text/html; charset=utf-8", `<!doctype html><html lang="en"><head><title>t</title><link rel="icon" href="/nowhere.ico"></head><body>x</body></html>`)
	mux.HandleFunc("/icon.png", func(w http.ResponseWriter, r *http.Request) { http.ServeFile(w, r, "testdata/dot.png") })
	mux.HandleFunc("/refused", func(w http.ResponseWriter, _ *http.Request) { http.Error(w, "no", http.StatusConflict) })
	mux.HandleFunc("/broken", func(w http.ResponseWriter, _ *http.Request) { http.Error(w, "oh", http.StatusInternalServerError) })
	server := httptest.NewServer(mux)
	t.Cleanup(server.Close)
	return server.URL
}

func TestAxeFileIsTheOnePublished(t *testing.T) {
	readme, err := os.ReadFile("axe/README.md")
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256([]byte(axeScript))
	for _, want := range []string{hex.EncodeToString(sum[:]), "axe-core 4.14.1"} {
		if !bytes.Contains(readme, []byte(want)) {
			t.Errorf("axe/README.md doesn't say %s", want)
		}
	}
}

func TestGoodPage(t *testing.T) {
	address, ctx := site(t), New(t, Tablet)
	Do(t, ctx, chromedp.Navigate(address+"/good"), chromedp.Click(chromedp.CSS("#ask")), chromedp.WaitVisible("//p[.='refused 409']"))
	if got := Text(t, ctx, "#state"); got != "refused 409" {
		t.Errorf("the page says %q", got)
	}
	Axe(t, ctx)
	result, err := runAxe(ctx)
	if err != nil || result.Version != "4.14.1" || result.Passed < 5 {
		t.Errorf("axe-core %+v, %v", result, err)
	}
	if problems := Problems(t, ctx); len(problems) > 0 { // a refusal isn't one
		t.Errorf("problems in a good page: %q", problems)
	}
}

func TestAxeFindsWhatIsWrong(t *testing.T) {
	address, ctx := site(t), New(t, Tablet)
	Do(t, ctx, chromedp.Navigate(address+"/bad"))
	result, err := runAxe(ctx)
	if err != nil {
		t.Fatal(err)
	}
	var rules []string
	for _, v := range result.Violations {
		rules = append(rules, v.Rule)
		if !strings.Contains(v.String(), v.Nodes[0].Target) {
			t.Errorf("%q doesn't say where", v)
		}
	}
	slices.Sort(rules)
	want := []string{"color-contrast", "html-has-lang", "image-alt", "label", "target-size"}
	if !slices.Equal(rules, want) {
		t.Errorf("rules broken: %v, want %v", rules, want)
	}
	// And Axe fails a test with them.
	record := &recorder{TB: t}
	Axe(record, ctx)
	if len(record.errors) != len(want) {
		t.Errorf("Axe reported %d violations, want %d", len(record.errors), len(want))
	}
}

// recorder keeps the errors of a test that is meant to fail.
type recorder struct {
	testing.TB
	errors   []string
	cleanups []func()
}

func (r *recorder) Errorf(format string, args ...any) {
	r.errors = append(r.errors, fmt.Sprintf(format, args...))
}

func (r *recorder) Cleanup(f func()) { r.cleanups = append(r.cleanups, f) }

func (r *recorder) end() {
	for _, f := range slices.Backward(r.cleanups) {
		f()
	}
}

func TestTroubleInThePageFailsTheTest(t *testing.T) {
	address, browser := site(t), Shared(t)
	for path, want := range map[string]string{
		"/inline":   "content security policy: script-src",
		"/style":    "content security policy: style-src",
		"/throws":   "script error: ",
		"/console":  "console error: planted 42",
		"/unstyled": "/nowhere.css",
		"/blind":    "Image " + address + "/nowhere.png: answered 404",
		"/icon":     "Other " + address + "/nowhere.ico: answered 404",
		"/broken":   "/broken: answered 500",
	} {
		t.Run(path[1:], func(t *testing.T) {
			record := &recorder{TB: t}
			ctx := browser.Open(record, Tablet)
			Do(t, ctx, chromedp.Navigate(address+path), chromedp.WaitReady("body"))
			settle(t, ctx)
			record.end()
			if !slices.ContainsFunc(record.errors, func(e string) bool { return strings.Contains(e, want) }) {
				t.Errorf("%q isn't in %q", want, record.errors)
			}

			expected := &recorder{TB: t}
			ctx = browser.Open(expected, Tablet)
			for _, problem := range record.errors {
				Expect(t, ctx, strings.TrimPrefix(problem, "browsertest: in the page: "))
			}
			Do(t, ctx, chromedp.Navigate(address+path), chromedp.WaitReady("body"))
			settle(t, ctx)
			expected.end()
			if len(expected.errors) > 0 {
				t.Errorf("expected, and yet failed: %q", expected.errors)
			}
		})
	}
}

// settle makes a round trip, so that events sent before have arrived.
func settle(t *testing.T, ctx context.Context) {
	t.Helper()
	two := Run(t, ctx, chromedp.Evaluate[int]("new Promise(r => setTimeout(() => r(1 + 1), 200))", chromedp.EvalAwaitPromise))
	if two != 2 {
		t.Fatalf("the page calculates %d", two)
	}
}

func TestPagesDontShareCookies(t *testing.T) {
	address, browser := site(t), Shared(t)
	one, two := browser.Open(t, Tablet), browser.Open(t, Phone)
	Do(t, one, chromedp.Navigate(address+"/good"))
	cookies := Run(t, one, chromedp.Evaluate[string](`document.cookie = "tablet=1"; document.cookie`))
	if cookies != "tablet=1" {
		t.Errorf("the first page's cookies: %q", cookies)
	}
	Do(t, two, chromedp.Navigate(address+"/good"))
	cookies = Run(t, two, chromedp.Evaluate[string](`document.cookie`))
	if cookies != "" {
		t.Errorf("the second page's cookies: %q", cookies)
	}
}

func TestScreenshotHasTheSizeOfTheScreen(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	t.Setenv(screenshotsVariable, dir)
	address, ctx := site(t), New(t, Tablet)
	Do(t, ctx, chromedp.Navigate(address+"/good"))
	Screenshot(t, ctx, "take-in")
	FullScreenshot(t, ctx, "take-in-full")
	for _, name := range []string{"take-in.png", "take-in-full.png"} {
		file, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		picture, err := png.DecodeConfig(file)
		if file.Close(); err != nil || picture.Width != 1280 || picture.Height != 800 {
			t.Errorf("%s: %d × %d, %v; want 1280 × 800", name, picture.Width, picture.Height, err)
		}
	}
}

// TestSharedChromium: tests that share a Chromium share nothing else, and one that broke down is replaced.
func TestSharedChromium(t *testing.T) {
	address := site(t)
	var first *Browser
	for range 2 {
		t.Run("kept", func(t *testing.T) {
			if first == nil {
				first = Shared(t)
			} else if Shared(t) != first {
				t.Error("the next test has another Chromium")
			}
			ctx := New(t, Tablet)
			Do(t, ctx, chromedp.Navigate(address+"/good"))
			const remember = `(() => { const was = document.cookie + localStorage.kept; document.cookie = "kept=1"; localStorage.kept = 1; return was; })()`
			if was := Run(t, ctx, chromedp.Evaluate[string](remember)); was != "undefined" {
				t.Errorf("from the test before there is left: %s", was)
			}
		})
	}
	if err := first.stop(); err != nil {
		t.Fatal(err)
	}
	if Shared(t) == first {
		t.Fatal("a closed Chromium is handed on")
	}
	Do(t, New(t, Tablet), chromedp.Navigate(address+"/good"), chromedp.WaitVisible("h1"))
}
