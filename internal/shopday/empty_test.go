package shopday

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"
	"unicode/utf8"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

// hand is the one person at the one device of a new shop, who counts what they
// do: keys pressed, things pressed or clicked, codes scanned.
type hand struct {
	*screen
	keys, clicks, scans int
}

func (h *hand) writes(css, text string) {
	h.t.Helper()
	h.keys += utf8.RuneCountInString(text)
	h.types(css, text)
}

// shoots reads a code with a hand scanner.
func (h *hand) shoots(css, text string) {
	h.t.Helper()
	h.scans++
	h.types(css, text+"\r")
}

func (h *hand) press(css string) {
	h.t.Helper()
	h.clicks++
	h.click(css)
}

// goes presses what brings the next page.
func (h *hand) goes(css string) {
	h.t.Helper()
	h.leaves(func() { h.press(css) })
}

// sets chooses a PIN with badge and one-time code.
func (h *hand) sets(badge, code, pin string) {
	h.t.Helper()
	h.shoots("input[name=badge]", badge)
	h.writes("input[name=code]", code)
	h.writes("input[name=pin]", pin)
	h.writes("input[name=again]", pin)
	h.goes("main button.main")
	h.sees("main [role=status]", "is set.")
}

// signsWith signs on the pad, as at a station.
func (h *hand) signsWith(badge, pin string) {
	h.t.Helper()
	h.scans++
	h.clicks += len(pin)
	h.leaves(func() { h.shows(badge, pin) })
}

// fetch reads a file as the browser with its cookies would.
func (s *screen) fetch(method, path string) []byte {
	s.t.Helper()
	var jar []*network.Cookie
	s.do(chromedp.Func(func(ctx context.Context, page *chromedp.Target) error {
		got, err := cdp.Call(ctx, page, network.GetCookies, network.GetCookiesParams{})
		jar = got.Cookies
		return err
	}))
	r, err := http.NewRequestWithContext(s.t.Context(), method, s.url+path, nil)
	must(s.t, err)
	for _, c := range jar {
		r.AddCookie(&http.Cookie{Name: c.Name, Value: c.Value})
	}
	answer, err := http.DefaultClient.Do(r)
	must(s.t, err)
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	must(s.t, err)
	if answer.StatusCode != http.StatusOK || answer.Header.Get("Content-Type") != "application/pdf" {
		s.t.Fatalf("%s %s: %d %s", method, path, answer.StatusCode, answer.Header.Get("Content-Type"))
	}
	return body
}

// reader runs a reader that is not ours over a PDF in a folder of the test's.
func reader(t testing.TB, pdf []byte, name string, args ...string) string {
	t.Helper()
	dir := t.TempDir()
	must(t, os.WriteFile(filepath.Join(dir, "it.pdf"), pdf, 0o600))
	if name == "zbarimg" {
		pages := exec.Command("pdftoppm", "-r", "200", "-png", "it.pdf", "page")
		pages.Dir = dir
		if out, err := pages.CombinedOutput(); err != nil {
			t.Fatalf("pdftoppm: %v %s", err, out)
		}
		files, err := filepath.Glob(filepath.Join(dir, "page*.png"))
		must(t, err)
		args = append(args, files...)
	}
	run := exec.Command(name, args...)
	run.Dir = dir
	var out, wrong bytes.Buffer
	run.Stdout, run.Stderr = &out, &wrong
	if err := run.Run(); err != nil {
		t.Fatalf("%s: %v %s", name, err, wrong.String())
	}
	return strings.TrimSpace(out.String())
}

// lasts is how long a practised person types and points, by the keystroke-level
// model (Card, Moran and Newell 1980, the times from memory): 0.28 s a key of an
// average typist, 1.1 s to point and 0.2 s to press and let go. A scan counts as
// pointing twice. Thinking and reading are not in it.
func (h *hand) lasts() time.Duration {
	return time.Duration(h.keys)*280*time.Millisecond + time.Duration(h.clicks+2*h.scans)*1300*time.Millisecond
}

// picture keeps a picture of the page, by day or by night.
func (h *hand) picture(name string) { browsertest.Screenshot(h.t, h.ctx, "setup-"+name) }

// TestFromNothingToTheFirstTraveller goes by the pages alone from a database
// that has only its tables to the printed traveller of the first pallet.
func TestFromNothingToTheFirstTraveller(t *testing.T) {
	s := openEmpty(t)
	h := &hand{screen: furnish(s).device("first device", browsertest.Tablet)}
	h.open("/")
	h.sees("main", "tagalong people first-admin")
	h.picture("nobody")

	admin, adminBadge, adminCode, err := s.app.FirstAdmin(t.Context(), "Ada Reed") // the one command
	must(t, err)
	h.goes(`main a.main`)
	h.sets(adminBadge.Text(), adminCode.Text(), "730416")
	h.goes("main a.main")
	h.shoots("input[name=badge]", adminBadge.Text())
	h.writes("input[name=pin]", "730416")
	h.goes("main button.main")
	h.sees("h1", "From nothing to the first traveller")
	h.left(11)
	h.picture("begin")
	h.emptyPagesLeadOn("/office", "/orders", "/find", "/find?q=anything", "/dock", "/quality", "/wall", "/people", "/tablets",
		"/setup/tablet", "/setup/order", "/setup/nest", "/held", "/site", "/signs", "/gauges", "/batches", "/qualifications")

	h.open("/")
	h.goes("main a.main")
	h.writes("[name=name]", "Tern Lane Metal")
	zone := asks[string](h.screen, `document.querySelector("[name=zone]").value`)
	if _, err := time.LoadLocation(zone); err != nil || zone == "" {
		t.Errorf("the browser's time zone is proposed as %q", zone)
	}
	h.goes("main button.main")
	h.left(10)
	h.picture("stations")
	h.goes("main button.main")
	h.picture("names")
	h.goes("main button.main")
	h.left(9)

	h.writes("[name=name]", "Maud Fell")
	h.picture("person")
	h.goes("main form button.main")
	code := h.said(".figure")
	h.picture("badge")
	where := asks[string](h.screen, `document.querySelector("form[action$='/badge']").getAttribute("action")`)
	h.clicks++ // prints the badge
	badge := reader(t, h.fetch(http.MethodPost, where), "zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable")
	h.goes("main a.main")
	h.sets(badge, code, pin)
	h.goes("main a.main")
	h.left(8)
	h.goes("main a.main")
	h.picture("tablet")
	h.goes("main button.main")
	h.left(7)
	h.emptyPagesLeadOn("/separate", "/separate/printed?pallets=", "/station/goods")

	h.open("/setup/item")
	h.item()
	h.left(6)
	h.writes("[name=customer]", "Harbour Rail Trust")
	h.writes("[name='qty.0']", "24")
	h.picture("order")
	h.goes("main button.main")
	h.left(5)
	h.writes("[name=heat]", "H7-3310")
	h.press("label:has([name=identified])")
	h.picture("sheet")
	h.goes("main button.main")
	h.left(4)
	if got := asks[string](h.screen, `document.querySelector("[name^='qty.P-1']").value`); got != "24" {
		t.Errorf("the nest proposes %q of what the order asks, want 24", got)
	}
	h.picture("nest")
	h.goes("main button.main")
	h.left(3)
	h.sees("h1", "Cut sheet M-1")
	h.picture("cut")

	h.goes("main a.main") // to the sheet, at the laser
	h.goes(`form[data-command="take-in"] button`)
	h.press("[data-go]")
	h.signsWith(badge, pin)
	h.done("signed")
	h.goes("header a.station")
	h.goes(`a[href="/setup/make"]`)
	h.left(2)
	h.goes("main form button.main") // the device goes to the bench
	h.goes(`form[data-command="take-in"] button`)
	h.press("[data-go]")
	h.press("[data-go]")
	h.signsWith(badge, pin)
	h.goes("main button.main") // print
	h.picture("traveller")
	pallet := h.traveller(admin.ID)
	t.Logf("from an empty database to the first traveller: %d keys, %d clicks, %d scans, %.0f s of typing and pointing", h.keys, h.clicks, h.scans, h.lasts().Seconds())
	if h.keys > 134 || h.clicks > 48 || h.scans > 5 {
		t.Error("the short way has grown: 134 keys, 48 clicks and 5 scans are what it may take")
	}
	if h.lasts() > 2*time.Minute {
		t.Errorf("that takes a person more than two minutes")
	}

	h.open("/setup")
	h.left(0)
	h.sees("h1", "The shop is set up")
	h.open("/")
	h.sees("header a.station", "Separation bench") // the way of every day again
	h.typedIsImported(pallet)
}

// left holds how many steps the list says are left.
func (h *hand) left(n int) {
	h.t.Helper()
	h.sees(".left-to-do", fmt.Sprintf("%d of 11 done", 11-n))
	if ticks := asks[int](h.screen, `document.querySelectorAll(".ticks [aria-label='to do']").length`); ticks != n {
		h.t.Errorf("%d steps stand open, want %d", ticks, n)
	}
}

// emptyPagesLeadOn holds that a page with nothing to show says what comes
// first, with the way there.
func (h *hand) emptyPagesLeadOn(paths ...string) {
	h.t.Helper()
	for _, path := range paths {
		h.open(path)
		if !asks[bool](h.screen, `[...document.querySelectorAll("main .empty a, main .none a")].some(a => a.checkVisibility() && a.getAttribute("href"))`) {
			h.t.Errorf("%s says nothing of what comes first:\n%s", path, h.text())
		}
	}
}

// item types an item wrongly, then rightly: what was typed stays.
func (h *hand) item() {
	h.t.Helper()
	browsertest.Expect(h.t, h.ctx, "422")
	h.writes("[name=name]", "hinge bracket")
	h.writes("[name=grade]", "5005-H32")
	h.writes("[name=thickness_mm]", "3,2")
	h.writes("[name=length_mm]", "160")
	h.writes("[name=width_mm]", "60")
	h.press("label:has([name=fold])")
	h.press("label:has([value=coat][name=finish])")
	h.writes("[name=colour]", "slate")
	h.picture("item")
	h.ticked("cut separate edge-round fold pretreat coat cure coat-inspect pack")
	h.open("/office") // called away, and back
	h.open("/setup/item")
	h.ticked("cut separate edge-round fold pretreat coat cure coat-inspect pack")
	h.goes("main button.main")
	h.sees(".slip", `Found "3,2"; wanted a point before the decimals`)
	h.sees("[role=alert]", "Nothing was stored")
	for field, want := range map[string]string{"name": "hinge bracket", "grade": "5005-H32", "thickness_mm": "3,2", "colour": "slate", "length_mm": "160"} {
		if got := asks[string](h.screen, `document.querySelector("[name=`+field+`]").value`); got != want {
			h.t.Errorf("after the slip %s is %q, want %q", field, got, want)
		}
	}
	h.picture("slip")
	browsertest.Axe(h.t, h.ctx)
	h.click("[data-light-switch]")
	browsertest.Axe(h.t, h.ctx)
	h.picture("night")
	h.click("[data-light-switch]")
	h.js(`document.querySelector("[name=thickness_mm]").value = ""`)
	h.writes("[name=thickness_mm]", "3")
	h.press("label:has([value='edge-round'])")
	h.goes("main button.main")
	h.sees(".slip", "The step “Fold” would be refused: 1 hinge bracket may not go on: its edges were never rounded.")
	if n := len(h.book().Items); n != 0 {
		h.t.Errorf("%d items were stored all the same", n)
	}
	h.picture("walked")
	h.press("label:has([value='edge-round'])")
	h.goes("main button.main")
}

func (h *hand) ticked(stages string) {
	h.t.Helper()
	if got := asks[string](h.screen, `[...document.querySelectorAll("[name=step]:checked")].map(e => e.value).join(" ")`); got != stages {
		h.t.Errorf("the route is %q, want %q", got, stages)
	}
}

// traveller reads the printed PDF back by two readers that are not ours, and
// holds it against the record.
func (h *hand) traveller(admin core.PersonID) core.PalletCode {
	h.t.Helper()
	h.sees("h1", "")
	pdf := h.fetch(http.MethodGet, asks[string](h.screen, `document.querySelector("nav.screen a[href*='.pdf']").getAttribute("href")`))
	pallet := h.palletOfItem("O-1", "P-1")
	lots := h.on(pallet)
	if len(lots) != 1 || lots[0].Qty != 24 || lots[0].Heats[0] != "H7-3310" {
		h.t.Fatalf("the pallet carries %+v", lots)
	}
	text := strings.Join(strings.Fields(reader(h.t, pdf, "pdftotext", "-layout", "it.pdf", "-")), " ")
	spaced := string(pallet[:4]) + " " + string(pallet[4:])
	for _, want := range []string{spaced, "O-1", "Harbour Rail Trust", "Wed 9 Dec 2026", "hinge bracket", "P-1 rev A", "5005-H32, 3 mm", "H7-3310",
		"24 parts in 1 lot", "1, the first", "Maud Fell", "Round the edges", "slate"} {
		if !strings.Contains(text, want) {
			h.t.Errorf("the traveller does not say %q:\n%s", want, text)
		}
	}
	qr := reader(h.t, pdf, "zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable")
	if !strings.HasSuffix(qr, "/P/"+string(pallet)+"/1") {
		h.t.Errorf("its code says %q", qr)
	}
	var by string
	must(h.t, h.sql.QueryRow(h.t.Context(), "SELECT s.person FROM signature s JOIN event e ON e.seq = s.seq WHERE e.payload->>'kind' = $1", core.EvGoodsReceived).Scan(&by))
	if by != string(admin) {
		h.t.Errorf("the sheet was received by %s, want %s", by, admin)
	}
	return pallet
}

// typedIsImported imports what was typed, and more beside it: the one is known,
// the other is added to it.
func (h *hand) typedIsImported(pallet core.PalletCode) {
	h.t.Helper()
	same := fstest.MapFS{
		"items.csv": {Data: []byte("item,rev,kind,name,grade,metal,thickness_mm,length_mm,width_mm,route,route_version\n" +
			"P-1,A,part,hinge bracket,5005-H32,aluminium,3,160,60,PART-ROUND-FOLD-COAT-PACK,1\n" +
			"SH-5005-H32-3-3000X1500,1,sheet,\"sheet 5005-H32, 3 mm, 3000 x 1500\",5005-H32,aluminium,3,3000,1500,SHEET,1\n")},
		"finishes.csv": {Data: []byte("item,rev,face,colour\nP-1,A,all,slate\n")},
		"orders.csv":   {Data: []byte("order,customer,promised\nO-1,Harbour Rail Trust,2026-12-09\n")},
		"lines.csv":    {Data: []byte("order,line,item,rev,qty\nO-1,1,P-1,A,24\n")},
		"nests.csv":    {Data: []byte("nest,material,material_rev,part,item,rev,order,line,qty\nN-1,SH-5005-H32-3-3000X1500,1,1,P-1,A,O-1,1,24\n")},
		"sheets.csv":   {Data: []byte("sheet,material,material_rev,heat\nM-1,SH-5005-H32-3-3000X1500,1,H7-3310\n")},
		"stations.csv": {Data: []byte("station,name,stages,position\nGOODS-1,goods in,goods-in,10\nLASER-1,laser,cut,20\n")},
	}
	if n := h.imports(same); n != 0 {
		h.t.Errorf("%d of the typed rows differ from the same ones imported", n)
	}
	more := fstest.MapFS{
		"orders.csv": {Data: []byte("order,customer,promised\nO-2,Moor Street School,2026-12-16\n")},
		"lines.csv":  {Data: []byte("order,line,item,rev,qty\nO-2,1,P-1,A,6\n")},
	}
	if n := h.imports(more); n != 1 {
		h.t.Errorf("%d rows of an order for the typed item were new, want 1", n)
	}
	h.open("/setup/nest")
	if got := asks[string](h.screen, `document.querySelector("[name='qty.P-1|A|O-2/1']").value`); got != "6" {
		h.t.Errorf("the nest proposes %q for the imported order, want 6", got)
	}
	h.open("/setup/order")
	if got := asks[string](h.screen, `document.querySelector("[name=order]").value`); got != "O-3" {
		h.t.Errorf("the next order is proposed as %q, want O-3", got)
	}
	if len(h.on(pallet)) != 1 {
		h.t.Error("the pallet has changed")
	}
}

func (h *hand) imports(files fs.FS) int {
	h.t.Helper()
	got, faults, err := h.app.Import(h.t.Context(), "", "files", files)
	must(h.t, err)
	for _, f := range faults {
		h.t.Error(f)
	}
	return got.Added()
}
