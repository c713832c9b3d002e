package print

import (
	"context"
	"encoding/json"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
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
// policy that allows neither inline script nor inline style; with ?size= as a
// tablet shows it that prints on that paper.
func serve(t *testing.T, tr paper.Traveller) string {
	t.Helper()
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; font-src 'self'; img-src 'self' data:")
		page := Traveller(tr)
		if size, err := paper.ParseSize(r.FormValue("size")); err == nil {
			page = withBar(tr, bar{shown: true, path: "/pallets/P4K7M2QX/traveller", print: tr.Print, size: size, id: "an intention's"})
		}
		if err := page.Render(r.Context(), w); err != nil {
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
	return toPDF(t, ctx)
}

// toPDF prints the page that is open, at the size its stylesheet asks for.
func toPDF(t *testing.T, ctx context.Context) string {
	t.Helper()
	pdf := browsertest.Run(t, ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize(), chromedp.PDFPrintBackground()))
	name := filepath.Join(t.TempDir(), "page.pdf")
	if err := os.WriteFile(name, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// pageSizes are the width and height of each page in millimetres.
func pageSizes(t *testing.T, pdf string) (sizes [][2]float64) {
	t.Helper()
	const pointsPerMM = 72 / 25.4
	for _, m := range regexp.MustCompile(`Page +\d+ size: +([0-9.]+) x ([0-9.]+) pts`).FindAllStringSubmatch(output(t, "pdfinfo", "-l", "-1", pdf), -1) {
		w, errW := strconv.ParseFloat(m[1], 64)
		h, errH := strconv.ParseFloat(m[2], 64)
		if errW != nil || errH != nil {
			t.Fatal(errW, errH)
		}
		sizes = append(sizes, [2]float64{w / pointsPerMM, h / pointsPerMM})
	}
	return sizes
}

// measures reports whether a page is w by h millimetres. Chromium rounds a page
// to whole CSS pixels, of 0.26 mm.
func measures(page [2]float64, w, h float64) bool {
	return math.Abs(page[0]-w) < 0.4 && math.Abs(page[1]-h) < 0.4
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

	sizes := pageSizes(t, pdf)
	if len(sizes) < 2 {
		t.Fatalf("%d pages for three lots", len(sizes))
	}
	for _, s := range sizes {
		if !measures(s, 210, 297) {
			t.Errorf("a page of %.1f × %.1f mm, A4 is 210 × 297", s[0], s[1])
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

// On other paper the PDF is the print. The page leads there, and what comes of
// printing the page all the same is one sheet of that paper (ISO 216; the label
// is 100 × 150 mm) that can't be taken for a traveller.
func TestOtherPaperLeadsToThePDF(t *testing.T) {
	tr := example(t)
	site := serve(t, tr)
	ctx := browsertest.New(t, browsertest.Tablet)
	for size, mm := range map[paper.Size][2]float64{paper.A5: {148, 210}, paper.Label: {100, 150}} {
		browsertest.Do(t, ctx, chromedp.Navigate(site+"/?size="+size.String()), chromedp.WaitReady("footer"))
		browsertest.Axe(t, ctx)
		if says := browsertest.Text(t, ctx, ".screen p"); !strings.Contains(says, "prints on A4 only") || !strings.Contains(says, "For "+size.Title()+" the PDF") {
			t.Errorf("%v: the page says %q", size, says)
		}
		leads := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector(".screen .main").getAttribute("href")`))
		if leads != "/pallets/P4K7M2QX/traveller.pdf?print=2&size="+size.String() {
			t.Errorf("%v: the page leads to %s", size, leads)
		}
		pdf := toPDF(t, ctx)
		if pages := pageSizes(t, pdf); len(pages) != 1 || !measures(pages[0], mm[0], mm[1]) {
			t.Errorf("%v prints on %v mm, want one page of %v", size, pages, mm)
		}
		if says := flat(output(t, "pdftotext", pdf, "-")); !strings.HasPrefix(says, "This is no traveller. Pallet "+tr.Code) || strings.Contains(says, tr.Lots[0].Item) {
			t.Errorf("%v prints %q", size, says)
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
