package print_test

import (
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/print"
	"tagalong/web/webtest"
)

const (
	first, second = "P4K7M2QN", "P9CD2FHC"
	loose         = "PB5W3XG6"
	truck         = "C7TW5HGK"
	order         = "O-4101"
)

var hospital = core.Owner{Order: order, Line: 1}

// floor has two pallets of one order, both loaded, one of them with a print
// that is out of date.
func floor(t *testing.T) *apptest.Floor {
	t.Helper()
	f := apptest.New(t)
	f.Pallet(first, "WELD-1")
	f.Lot(first, "BF-2400", hospital, 1, "weld-inspect")
	shims := f.Lot(first, "SM-2", core.Owner{}, 20, "final-check")
	f.Pallet(second, "WELD-1")
	f.Lot(second, "BF-2400", hospital, 1, "weld-inspect")
	f.ChangeLot(shims, func(l *core.Lot) { l.Qty = 15 })
	if f.World.State.Consignments == nil {
		f.World.State.Consignments = map[core.ConsignmentCode]core.Consignment{}
	}
	f.World.State.Consignments[truck] = core.Consignment{Code: truck, Site: "SITE-LARKFIELD", Day: "2026-12-02", Pallets: []core.PalletCode{first, second}}
	for _, p := range []core.PalletCode{first, second} {
		f.Change(p, func(row *core.PalletRow) { row.Consignment = truck })
	}
	return f
}

func live(t *testing.T) *webtest.LiveSite {
	t.Helper()
	return webtest.Live(t, floor(t), func(svc *app.Service) []endpoint.Endpoint {
		return append(print.Endpoints(svc), endpoint.Endpoint{Method: http.MethodGet, Path: print.StylesheetHref, Access: endpoint.Everybody, Doc: "How a traveller looks.",
			Handler: func(w http.ResponseWriter, _ *http.Request) error {
				w.Header().Set("Content-Type", "text/css; charset=utf-8")
				_, err := w.Write(print.Stylesheet)
				return err
			}})
	})
}

// prints is how many prints a pallet has.
func prints(s *webtest.LiveSite, p core.PalletCode) int { return len(s.World.State.Pallets[p].Prints) }

// A tablet remembers the paper its printer holds, and numbers another print.
func TestTabletPrints(t *testing.T) {
	s := live(t)
	ctx := s.Tablet(t, "WELD-1")
	at := s.URL + "/pallets/" + second + "/traveller.html"
	browsertest.Do(t, ctx, chromedp.Navigate(at+"?back=/station"), chromedp.WaitVisible(chromedp.CSS("nav.screen")))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "print-traveller")
	if got := browsertest.Text(t, ctx, ".sizes [aria-current]"); got != "A4" {
		t.Errorf("a new tablet prints on %q", got)
	}
	browsertest.Do(t, ctx, chromedp.Click(chromedp.CSS(".sizes a:last-child")), chromedp.WaitVisible(chromedp.CSS(".sizes a:last-child[aria-current]")))
	browsertest.Do(t, ctx, chromedp.Navigate(at), chromedp.WaitVisible(chromedp.CSS("nav.screen p")))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "print-traveller-label")
	if got := browsertest.Text(t, ctx, ".sizes [aria-current]"); got != "label 100 × 150" {
		t.Errorf("the tablet has forgotten its paper: %q", got)
	}
	if href := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector(".screen a.main").getAttribute("href")`)); !strings.HasSuffix(href, "size=label") {
		t.Errorf("its PDF is at %s", href)
	}
	// The page itself is A4, so it doesn't print where another paper is chosen.
	pdf := browsertest.Run(t, ctx, chromedp.PrintToPDF())
	if said := text(t, pdf); !strings.Contains(said, "open the PDF and print that") || strings.Contains(said, "BF-2400") {
		t.Errorf("the page prints %s", said)
	}
	if n := prints(s, second); n != 1 {
		t.Fatalf("%d prints", n)
	}
	browsertest.Do(t, ctx, chromedp.Click(chromedp.CSS(".screen button")), chromedp.WaitVisible(chromedp.CSS(`.screen a.main[href*="print=2"]`)))
	if n := prints(s, second); n != 2 {
		t.Errorf("%d prints after another", n)
	}
}

func text(t *testing.T, pdf []byte) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(name, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", name, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	return strings.Join(strings.Fields(string(out)), " ")
}

// post sends a form as a tablet does and follows it to what it leads to.
func post(t *testing.T, s *webtest.LiveSite, path string, form url.Values) (int, []byte) {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, s.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "text/html")
	r.Header.Set("Origin", s.URL)
	cookie := &http.Cookie{Name: "tagalong-tablet", Value: s.Live.Tablet(t, "WELD-1")}
	r.AddCookie(cookie)
	client := http.Client{CheckRedirect: func(next *http.Request, _ []*http.Request) error {
		next.Header.Del("Cookie")
		next.AddCookie(cookie)
		return nil
	}}
	answer, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, body
}

// A whole order's travellers are numbered by one press and shown as one PDF;
// pressed twice, they are numbered once.
func TestOrderPrintsAtOnce(t *testing.T) {
	s := live(t)
	ctx := s.Tablet(t, "WELD-1")
	browsertest.Do(t, ctx, chromedp.Navigate(s.URL+"/orders/"+order+"/travellers"), chromedp.WaitVisible(chromedp.CSS("h1")))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "print-order")
	said := browsertest.Text(t, ctx, "main")
	for _, want := range []string{"2 pallets with its parts still here", "Printed on A4.", "1 without a traveller that still holds", "P4K7 M2QN", "20 became 15", "P9CD 2FHC", "holds"} {
		if !strings.Contains(said, want) {
			t.Errorf("the order's page doesn't say %q:\n%s", want, said)
		}
	}

	due := url.Values{"id": {"0190a1b2-0000-7000-8000-000000000001"}, "size": {"a5"}, "which": {"due"}}
	for range 2 {
		status, pdf := post(t, s, "/orders/"+order+"/travellers", due)
		if status != http.StatusOK || !strings.HasPrefix(string(pdf), "%PDF") {
			t.Fatalf("status %d, %.300s", status, pdf)
		}
		if got := text(t, pdf); !strings.Contains(got, "P4K7 M2QN") || !strings.Contains(got, "P9CD 2FHC") || !strings.Contains(got, "2, replaces 1") {
			t.Errorf("the file says %s", got)
		}
		if a, b := prints(s, first), prints(s, second); a != 2 || b != 1 {
			t.Fatalf("%d and %d prints, want 2 and 1", a, b)
		}
	}
	all := url.Values{"id": {"0190a1b2-0000-7000-8000-000000000002"}, "size": {"label"}}
	if status, pdf := post(t, s, "/orders/"+order+"/travellers", all); status != http.StatusOK || strings.Count(text(t, pdf), "without power, sign here") != 2 {
		t.Errorf("on labels: status %d", status)
	}
	if a, b := prints(s, first), prints(s, second); a != 3 || b != 2 {
		t.Errorf("%d and %d prints, want 3 and 2", a, b)
	}
	if status, body := post(t, s, "/orders/"+order+"/travellers", url.Values{}); status != http.StatusUnprocessableEntity || !strings.Contains(string(body), "press its button") {
		t.Errorf("without the form's id: status %d", status)
	}
	for path, want := range map[string]int{
		"/orders/O-0000/travellers": 404, "/orders/O-0000/travellers.pdf": 404,
		"/orders/" + order + "/travellers?size=letter": 422, "/pallets/" + first + "/traveller.pdf?size=letter": 422,
	} {
		if status, _ := s.Get(t, "WELD-1", path); status != want {
			t.Errorf("%s: status %d, want %d", path, status, want)
		}
	}
}

// Of an order of thirty pallets 24 are listed, those that need a print first; all
// are one tap away, and whatever is counted or printed is all of them.
func TestOrderListsSoManyPallets(t *testing.T) {
	f := floor(t)
	for i := range 28 {
		p, err := code.New(code.Pallet, strings.NewReader(strings.Repeat(string(rune('A'+i)), 64)))
		if err != nil {
			t.Fatal(err)
		}
		f.Pallet(core.PalletCode(p), "WELD-1")
		f.Lot(core.PalletCode(p), "WP-2400", hospital, 1, "weld-inspect")
		if i < 8 {
			f.Change(core.PalletCode(p), func(row *core.PalletRow) { row.Prints = nil })
		}
	}
	store := &apptest.Store{Floor: f}
	site := webtest.Serve(t, app.Caller{Tablet: "T1", Station: "WELD-1"}, apptest.Now, endpoints(store.Service(t))...)
	path := "/orders/" + order + "/travellers"
	_, few, _ := site.Get(t, path)
	_, all, _ := site.Get(t, path+"?all=1")
	for _, want := range []string{"30 pallets with its parts still here", "without a traveller that still holds"} {
		if !strings.Contains(few, want) || !strings.Contains(all, want) {
			t.Errorf("the page doesn't say %q", want)
		}
	}
	listed := func(page string) int { return strings.Count(page, `<th scope="row">`) }
	if listed(few) != 24 || !strings.Contains(few, "… and 6 more") || !strings.Contains(few, `href="`+path+`?all=1"`) {
		t.Errorf("%d of 30 pallets are listed:\n%s", listed(few), few)
	}
	due := regexp.MustCompile(`(\d+) without a traveller`).FindStringSubmatch(few)
	if n := strings.Count(few, "no traveller yet") + strings.Count(few, "out of date"); due == nil || strconv.Itoa(n) != due[1] || n != 9 {
		t.Errorf("%d of %v due are listed", n, due)
	}
	if listed(all) != 30 || strings.Contains(all, " more</span>") {
		t.Errorf("asked for all, the page lists %d of 30", listed(all))
	}
}

func TestLabelsAndSigns(t *testing.T) {
	store := &apptest.Store{Floor: floor(t)}
	store.Pallet(loose, "DOCK-1")
	store.Lot(loose, "BF-2400", hospital, 1, "")
	at := app.Caller{Tablet: "T1", Station: "DOCK-1"}
	site := webtest.Serve(t, at, apptest.Now, endpoints(store.Service(t))...)
	for path, want := range map[string][]string{
		"/dock/" + truck + "/labels.pdf":                         {"P4K7 M2QN", "1 of 2", "P9CD 2FHC", "2 of 2", "C7TW 5HGK", "fitting site, Larkfield", "this way up", "Invented demo data"},
		"/dock/" + truck + "/labels.pdf?pallet=" + second:        {"P9CD 2FHC", "2 of 2"},
		"/signs/slots.pdf?slots=" + url.QueryEscape("A1-A2, B7"): {"A1", "A2", "B7", "pallet store"},
		"/pallets/" + second + "/container.pdf":                  {"P9CD 2FHC", "2 of 2"},
		"/pallets/" + loose + "/container.pdf":                   {"not numbered", "on none yet", "not on a consignment yet", "Brackenmoor Hospital Estates", "1 × BF-2400 rev"},
		"/signs/stations.pdf":                                    {"WELD-1", "weld bench 1", "DOCK-1"},
	} {
		status, body, header := site.Get(t, path)
		if status != http.StatusOK || header.Get("Content-Type") != "application/pdf" {
			t.Errorf("%s: status %d, %.200s", path, status, body)
			continue
		}
		said := text(t, []byte(body))
		for _, w := range want {
			if !strings.Contains(said, w) {
				t.Errorf("%s doesn't say %q", path, w)
			}
		}
	}
	for path, want := range map[string]string{
		"/dock/C4K7M2Q9/labels.pdf": "code-mistyped", "/dock/" + first + "/labels.pdf": "code-wrong-kind", "/dock/" + truck + "/labels.pdf?pallet=nonsense": "code-",
		"/signs/slots.pdf?slots=": "bad-value", "/signs/slots.pdf?slots=A9-A1": "bad-value",
	} {
		if status, body, _ := site.Get(t, path); status == http.StatusOK || !strings.Contains(body, want) {
			t.Errorf("%s: status %d, want %s: %.200s", path, status, want, body)
		}
	}
}

func endpoints(s *app.Service) []endpoint.Endpoint {
	return slices.DeleteFunc(print.Endpoints(s), func(e endpoint.Endpoint) bool { return e.Method != http.MethodGet })
}

func TestSignsPage(t *testing.T) {
	s := live(t)
	ctx := s.Tablet(t, "WELD-1")
	browsertest.Do(t, ctx, chromedp.Navigate(s.URL+"/signs"), chromedp.WaitVisible(chromedp.CSS("h1")))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "print-signs")
}
