package print

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/browsertest"
	"tagalong/internal/paper"
)

func example(t *testing.T) paper.Traveller {
	t.Helper()
	b, err := os.ReadFile("../../internal/paper/testdata/traveller.json")
	if err != nil {
		t.Fatal(err)
	}
	var tr paper.Traveller
	if err := json.Unmarshal(b, &tr); err != nil {
		t.Fatal(err)
	}
	return tr
}

// serve gives the page as the shop's server would, under a content security
// policy that allows neither inline script nor inline style.
func serve(t *testing.T, tr paper.Traveller) string {
	t.Helper()
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; font-src 'self'; img-src 'self' data:")
		if err := Traveller(tr).Render(r.Context(), w); err != nil {
			t.Error(err)
		}
	})
	mux.HandleFunc("GET "+StylesheetHref, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/css")
		_, _ = w.Write(Stylesheet)
	})
	mux.Handle("GET /assets/fonts/", http.StripPrefix("/assets/fonts/", http.FileServer(http.Dir("../assets/fonts"))))
	mux.HandleFunc("GET /favicon.ico", func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(http.StatusNoContent) })
	s := httptest.NewServer(mux)
	t.Cleanup(s.Close)
	return s.URL
}

// printed prints the page in Chromium and returns the PDF's name. What the
// browser or axe-core complains of fails the test.
func printed(t *testing.T, url string) string {
	t.Helper()
	ctx := browsertest.New(t, browsertest.Desk)
	browsertest.Do(t, ctx, chromedp.Navigate(url), chromedp.WaitReady("footer"))
	if n := browsertest.Run(t, ctx, chromedp.Evaluate[int](
		`document.fonts.ready.then(() => [...document.fonts].filter(f => f.status === "loaded").length)`, chromedp.EvalAwaitPromise)); n != 3 {
		t.Errorf("%d of 3 fonts loaded", n)
	}
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "traveller-html")
	pdf := browsertest.Run(t, ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize(), chromedp.PDFPrintBackground()))
	name := filepath.Join(t.TempDir(), "page.pdf")
	if err := os.WriteFile(name, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

func output(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s %s: %v", name, strings.Join(args, " "), err)
	}
	return string(out)
}

func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// The page prints on A4 (ISO 216), says what the PDF says, and each printed page
// carries the code, read by a decoder not ours.
func TestPrintsOnA4(t *testing.T) {
	tr := example(t)
	pdf := printed(t, serve(t, tr))

	sizes := regexp.MustCompile(`Page +\d+ size: +([0-9.]+) x ([0-9.]+) pts`).FindAllStringSubmatch(output(t, "pdfinfo", "-l", "-1", pdf), -1)
	if len(sizes) < 2 {
		t.Fatalf("%d pages for three lots", len(sizes))
	}
	for _, s := range sizes {
		if !strings.HasPrefix(s[1], "59") || !strings.HasPrefix(s[2], "84") || s[0] == "" {
			t.Errorf("a page of %s x %s points, A4 is 595.28 x 841.89", s[1], s[2])
		}
	}

	var own strings.Builder
	if err := paper.WriteTravellers(&own, paper.A4, tr); err != nil {
		t.Fatal(err)
	}
	ownName := filepath.Join(t.TempDir(), "own.pdf")
	if err := os.WriteFile(ownName, []byte(own.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	got := words(output(t, "pdftotext", pdf, "-"))
	for _, w := range words(output(t, "pdftotext", ownName, "-")) {
		if _, found := slices.BinarySearch(got, w); !found && w != "continued" {
			t.Errorf("the PDF says %q, the page doesn't", w)
		}
	}
	all := flat(output(t, "pdftotext", pdf, "-"))
	for _, want := range []string{tr.Code, "2, replaces 1", "4117", "4120", "Larkfield Hospital, north roof", "ENC-2400-W2 rev C", "24 parts in 3 lots", "not the welder", "page 1 of 2"} {
		if !strings.Contains(all, want) {
			t.Errorf("the page doesn't say %q", want)
		}
	}

	for _, dpi := range []string{"200", "300"} {
		root := filepath.Join(t.TempDir(), "p")
		output(t, "pdftoppm", "-r", dpi, "-gray", "-png", pdf, root)
		pages, err := filepath.Glob(root + "*.png")
		if err != nil || len(pages) != len(sizes) {
			t.Fatalf("%d pages drawn of %d: %v", len(pages), len(sizes), err)
		}
		for i, p := range pages {
			if got := strings.TrimSpace(output(t, "zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", p)); got != tr.Address {
				t.Errorf("page %d at %s dpi: read %q", i+1, dpi, got)
			}
		}
	}
}

// words are the different words of a text, sorted.
func words(s string) []string {
	w := strings.Fields(strings.NewReplacer(",", " ", ";", " ", ".", " ", ":", " ").Replace(s))
	slices.Sort(w)
	return slices.Compact(w)
}

func TestNoInlineScriptOrStyle(t *testing.T) {
	tr := example(t)
	tr.Lots[0].Name = `<script>alert(1)</script>"><img src=x onerror=alert(1)>`
	var b strings.Builder
	if err := Traveller(tr).Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	if m := regexp.MustCompile(`(?i)<script|<style|<img| style=`).FindString(b.String()); m != "" {
		t.Errorf("the page holds %q", m)
	}
}

func TestAddressNoCodeHolds(t *testing.T) {
	tr := example(t)
	tr.Address = ""
	var b strings.Builder
	if err := Traveller(tr).Render(t.Context(), &b); err == nil {
		t.Error("no error for an empty address")
	}
}
