package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres/pgtest"
	"tagalong/internal/shopgen"
)

// line is the command line over a database and a data folder of its own.
type line struct {
	t   *testing.T
	env map[string]string
}

func newLine(t *testing.T) *line {
	t.Helper()
	return &line{t, map[string]string{
		"TAGALONG_DATABASE_URL": pgtest.New(t).SuperURL, // owns the schema and may work as the server
		"TAGALONG_DATA":         t.TempDir(),
		"TAGALONG_LISTEN":       "127.0.0.1:0",
	}}
}

// demoKeys is the server key of the demo shop that tests get copies of: without it nobody's PIN is right.
var demoKeys []byte

var demoTemplate = &pgtest.Template{Fill: func(t testing.TB, db *pgtest.DB) {
	l := &line{t.(*testing.T), map[string]string{"TAGALONG_DATABASE_URL": db.SuperURL, "TAGALONG_DATA": t.TempDir()}}
	l.demoShop()
	var err error
	demoKeys, err = os.ReadFile(filepath.Join(l.env["TAGALONG_DATA"], keyFile))
	must(t, err)
}}

// demoLine is the command line over a copy of a demo shop that was made as demoShop makes it.
func demoLine(t *testing.T) *line {
	t.Helper()
	l := &line{t, map[string]string{
		"TAGALONG_DATABASE_URL": demoTemplate.Copy(t).SuperURL,
		"TAGALONG_DATA":         t.TempDir(),
		"TAGALONG_LISTEN":       "127.0.0.1:0",
	}}
	must(t, os.WriteFile(filepath.Join(l.env["TAGALONG_DATA"], keyFile), demoKeys, 0o600))
	return l
}

func (l *line) getenv(name string) string { return l.env[name] }

// run runs a command and returns its exit code and what it wrote.
func (l *line) run(args ...string) (code int, out, log string) {
	l.t.Helper()
	var o, e bytes.Buffer
	code = run(l.t.Context(), args, l.getenv, &o, &e)
	return code, o.String(), e.String()
}

// ok runs a command that must succeed.
func (l *line) ok(args ...string) string {
	l.t.Helper()
	code, out, log := l.run(args...)
	if code != 0 {
		l.t.Fatalf("tagalong %s: exit %d\n%s%s", strings.Join(args, " "), code, out, log)
	}
	return out
}

// fails runs a command that must end with an exit code and say something.
func (l *line) fails(code int, says string, args ...string) string {
	l.t.Helper()
	got, out, log := l.run(args...)
	if got != code || !strings.Contains(log, says) {
		l.t.Errorf("tagalong %s: exit %d, want %d with %q\n%s%s", strings.Join(args, " "), got, code, says, out, log)
	}
	return out
}

// demoShop makes the demo shop as `tagalong demo` does before it serves.
func (l *line) demoShop() {
	l.t.Helper()
	config, err := readConfig(l.getenv)
	must(l.t, err)
	must(l.t, ensureDemo(l.t.Context(), env{config, io.Discard, io.Discard}, config.DatabaseURL))
}

// livePallets counts the pallets and sheets with parts on them.
func (l *line) livePallets() (n int) {
	l.t.Helper()
	config, err := readConfig(l.getenv)
	must(l.t, err)
	conn, err := pgx.Connect(l.t.Context(), config.DatabaseURL)
	must(l.t, err)
	defer conn.Close(l.t.Context())
	must(l.t, conn.QueryRow(l.t.Context(), "SELECT count(*) FROM tagalong.pallet WHERE live").Scan(&n))
	return n
}

var counts = regexp.MustCompile(`^(\d+) events, \d+ moves, \d+ lots, \d+ rows, \d+ order lines, \d+ photos verified`)

// TestScriptsOverTheDemo runs every command for scripts on a demo shop.
func TestScriptsOverTheDemo(t *testing.T) {
	l := newLine(t)
	began := time.Now()
	l.demoShop()
	if took := time.Since(began); took > time.Minute { // the first page of a demo is to be there by then
		t.Errorf("the demo shop took %v to make", took)
	}
	verified := l.ok("verify")
	if lines := strings.Split(strings.TrimSpace(verified), "\n"); len(lines) != 1 || !counts.MatchString(lines[0]) || !strings.HasSuffix(lines[0], "0 faults") {
		t.Errorf("verify said:\n%s", verified)
	}
	if out := l.ok("rules", "check"); !strings.Contains(out, "; 0 findings") {
		t.Errorf("rules check said:\n%s", out)
	}

	began = time.Now()
	l.demoShop()
	if took := time.Since(began); took > 3*time.Second {
		t.Errorf("opening it again took %v", took)
	}
	if again := l.ok("verify"); again != verified {
		t.Errorf("opening it again changed it:\n%s%s", verified, again)
	}

	listed := l.ok("pallets")
	if n, want := strings.Count(listed, "\n")-1, l.livePallets(); n != want || n < 80 {
		t.Errorf("%d pallets and sheets are listed, want the %d there are:\n%s", n, want, listed)
	}
	if out := l.ok("find", "O-4101"); !strings.Contains(out, "Brackenmoor Hospital Estates") || !strings.Contains(out, "late") {
		t.Errorf("find said: %s", out)
	}
	if out := l.ok("find", "wall", "panel"); out == "" {
		t.Error("find in two words says nothing")
	}

	code := palletWith(t, listed, "base frame 2400")
	if out := l.ok("history", code); !strings.Contains(out, "Rafe Tolliver") && !strings.Contains(out, "Dagny Whin") {
		t.Errorf("the frame's history names no inspector:\n%s", out)
	}
	var page app.HistoryPage
	must(t, json.Unmarshal([]byte(l.ok("history", code, "--json")), &page))
	if string(page.Of.Pallet) != strings.ReplaceAll(code, " ", "") || len(page.Events) < 10 {
		t.Errorf("history as JSON is of %+v with %d events", page.Of, len(page.Events))
	}
	must(t, json.Unmarshal([]byte(l.ok("history", "--json", "O-4107")), &page))
	if page.Of.Order != "O-4107" || len(page.Lots) == 0 {
		t.Errorf("an order's history is of %+v with %d lots", page.Of, len(page.Lots))
	}

	printedTwice(t, l, code)
	printedOrder(t, l)

	if out := l.ok("rebuild"); !regexp.MustCompile(`anew from [1-9]\d{3} events`).MatchString(out) {
		t.Errorf("rebuild said %q", out)
	}
	if out := l.ok("verify"); !strings.Contains(out, "; 0 faults") {
		t.Errorf("after a rebuild: %s", out)
	}
}

// palletWith is the code of the first listed pallet with an item.
func palletWith(t *testing.T, listed, item string) string {
	t.Helper()
	for _, row := range strings.Split(listed, "\n") {
		if strings.Contains(row, item) {
			return row[:9]
		}
	}
	t.Fatalf("no pallet with %s:\n%s", item, listed)
	return ""
}

// printedTwice prints a traveller twice; the numbers go up, and the sheet says what
// is on the pallet.
func printedTwice(t *testing.T, l *line, code string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "frame.pdf")
	text := ""
	for range 2 {
		l.ok("print", code, "--out", file)
		out, err := exec.Command("pdftotext", "-layout", file, "-").Output()
		must(t, err)
		if string(out) == text {
			t.Error("two prints have one number")
		}
		text = string(out)
	}
	for _, want := range []string{code, "base frame 2400", "O-4101", "Brackenmoor", "BF-2400", "Invented demo data", "Inspect the welds", "not the welder", "M-1055", "H8-3307"} {
		if !strings.Contains(text, want) {
			t.Errorf("the traveller lacks %q:\n%s", want, text)
		}
	}
	l.fails(2, "--out", "print", code)
	l.fails(1, "no such file", "print", code, "--out", filepath.Join(t.TempDir(), "nowhere", "x.pdf"))
	l.fails(1, "P4K7", "print", "P4K7M2Q8", "--out", file)
	before, err := os.ReadFile(file)
	must(t, err)
	l.fails(1, "", "print", string(freshCode(t)), "--out", file)
	if after, err := os.ReadFile(file); err != nil || !bytes.Equal(before, after) {
		t.Error("a print that failed changed the file")
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(file), ".tagalong-*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	l.fails(2, "a4, a5, label", "print", code, "--size", "letter", "--out", file)
	for size, want := range map[string]string{"a5": "419.53 x 595.28 pts", "label": "283.46 x 425.2 pts"} {
		l.ok("print", code, "--size", size, "--out", file)
		if info, err := exec.Command("pdfinfo", file).Output(); err != nil || !strings.Contains(string(info), want) {
			t.Errorf("on %s: %v\n%s", size, err, info)
		}
	}
}

// printedOrder prints every traveller of an order into one file: one for each
// pallet the order's parts are on, each with a number of its own, and the
// record as sound as before.
func printedOrder(t *testing.T, l *line) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "order.pdf")
	numbers := func() map[string]string {
		said := l.ok("print", "O-4101", "--out", file)
		out, err := exec.Command("pdftotext", "-layout", file, "-").Output()
		must(t, err)
		all := map[string]string{}
		for _, page := range strings.Split(string(out), "\f") {
			code := regexp.MustCompile(`P[2-9A-Z]{3} [2-9A-Z]{4}`).FindString(page)
			no := regexp.MustCompile(`(\d+), (?:the first|replaces)`).FindStringSubmatch(page)
			if code != "" && no != nil {
				all[code] = no[1]
			}
		}
		if len(all) < 2 || strings.Count(string(out), "page 1 of") != len(all) {
			t.Errorf("%d travellers: %s\n%s", len(all), said, out)
		}
		return all
	}
	first, second := numbers(), numbers()
	for code, no := range first {
		a, _ := strconv.Atoi(no)
		if b, _ := strconv.Atoi(second[code]); b != a+1 {
			t.Errorf("%s: print %d, then %d", code, a, b)
		}
	}
	l.fails(1, "there is no order", "print", "O-9999", "--out", file)

	l.ok("signs", "--slots", "A1-A3, B07", "--out", file)
	out, err := exec.Command("pdftotext", file, "-").Output()
	must(t, err)
	for _, want := range []string{"A1", "A2", "A3", "B07", "pallet store"} {
		if !strings.Contains(string(out), want) {
			t.Errorf("no sign says %q", want)
		}
	}
	l.ok("signs", "--out", file)
	if out, err = exec.Command("pdftotext", file, "-").Output(); err != nil || !strings.Contains(string(out), "WELD-1") {
		t.Errorf("signs of the stations: %v\n%s", err, out)
	}
	l.fails(1, "counts down", "signs", "--slots", "A9-A1", "--out", file)
}

func TestImportTwiceAddsNothing(t *testing.T) {
	l := newLine(t)
	out := l.ok("import", "../../testdata/samples")
	for _, want := range []string{"12        0         0   orders", "102        0         0   nests", "112        0         0   sheets"} {
		if !strings.Contains(strings.ReplaceAll(out, "\t", " "), want) {
			t.Errorf("the first import says\n%swithout %q", out, want)
		}
	}
	verified := l.ok("verify")
	if out := l.ok("import", "../../testdata/samples"); out != "The shop has all of it already: nothing was added.\n" {
		t.Errorf("the second import says %q", out)
	}
	if again := l.ok("verify"); again != verified {
		t.Errorf("the second import changed the record:\n%s%s", verified, again)
	}
	l.fails(1, "no pallet carries parts of order O-4101", "print", "O-4101", "--out", filepath.Join(t.TempDir(), "none.pdf"))
	if !strings.Contains(verified, "; 0 faults") {
		t.Error(verified)
	}
}

// A changed date is the only change, in the row and in the count.
func TestImportOfAChange(t *testing.T) {
	l := newLine(t)
	l.ok("import", "../../testdata/samples")
	dir := t.TempDir()
	must(t, os.WriteFile(filepath.Join(dir, "orders.csv"), []byte("order,customer,site,reference,promised,long_haul,priority,consent\n"+
		"O-4105,Brackenmoor Hospital Estates,SITE-LARKFIELD,BHE/26/902 spare panels,2026-11-30,,,\n"), 0o600))
	must(t, os.WriteFile(filepath.Join(dir, "lines.csv"), []byte("order,line,item,rev,qty\nO-4105,1,WP-2400,D,2\nO-4105,2,DL-L,C,1\nO-4105,3,HP-80,B,3\n"), 0o600))
	if out := l.ok("import", dir); !strings.Contains(strings.Join(strings.Fields(out), " "), "0 1 0 orders") {
		t.Errorf("the import says %q", out)
	}
	if out := l.ok("find", "O-4105"); !strings.Contains(out, "30 November") {
		t.Errorf("find says %q", out)
	}
}

func TestImportOfFaultsStoresNothing(t *testing.T) {
	l := newLine(t)
	before := l.ok("verify")
	out := l.fails(1, "nothing was stored", "import", "../../testdata/samples/bad")
	for _, want := range []string{
		`stations.csv:3:3: stages: found the unknown stage "edge-rond"; expected the stage edge-round`,
		"sheet.csv: found a file of an unknown name; expected the name sheets.csv",
	} {
		if !strings.Contains(out, want+"\n") {
			t.Errorf("the faults lack %q:\n%s", want, out)
		}
	}
	if after := l.ok("verify"); after != before || !strings.HasPrefix(after, "0 events, 0 moves, 0 lots, 0 rows") {
		t.Errorf("something was stored: %s", after)
	}
	l.fails(1, "nothing was stored", "import", filepath.Join(t.TempDir(), "nowhere"))
	l.fails(2, "lacks a word: nothing was done. See", "import")
}

// A sheet that is here already, with another heat, is a fault and not a second sheet.
func TestImportOfAnotherHeat(t *testing.T) {
	l := newLine(t)
	l.ok("import", "../../testdata/samples")
	dir := t.TempDir()
	must(t, os.WriteFile(filepath.Join(dir, "sheets.csv"), []byte("sheet,material,material_rev,heat,slot,certificate\nM-1001,SH-5005-3,1,H5-99999,A-01,\n"), 0o600))
	out := l.fails(1, "nothing was stored", "import", dir)
	if !strings.HasPrefix(out, "sheets.csv:2:1: sheet: found sheet M-1001 in another form") {
		t.Errorf("it says %q", out)
	}
}

func TestUnknownWords(t *testing.T) {
	l := newLine(t)
	l.fails(2, "There is demo, import, export, pallets", "fly")
	l.fails(2, "rules check", "rules", "bend")
	l.fails(2, "one word too many", "verify", "all")
	l.fails(1, "nothing is recorded of", "history", "O-9999")
	for _, c := range commands() {
		if code, _, log := l.run(c.name, "-h"); code != 2 || !strings.Contains(strings.ToLower(log), "usage") {
			if c.name != "people" && c.name != "tablet" { // these want a word first
				t.Errorf("tagalong %s -h: exit %d, %q", c.name, code, log)
			}
		}
	}
}

// A demo shop whose making broke off is made anew; a real shop is left alone.
func TestDemoLeavesARealShopAlone(t *testing.T) {
	l := newLine(t)
	l.ok("shop", "--name", "A real shop", "--zone", "Europe/London")
	config, err := readConfig(l.getenv)
	must(t, err)
	err = ensureDemo(t.Context(), env{config, io.Discard, io.Discard}, config.DatabaseURL)
	if err == nil || !strings.Contains(err.Error(), "real shop") {
		t.Errorf("the demo said %v", err)
	}
	if out := l.ok("shop"); !strings.Contains(out, "A real shop") {
		t.Error(out)
	}
}

func TestDemoBrokenOffIsMadeAnew(t *testing.T) {
	l := newLine(t)
	config, err := readConfig(l.getenv)
	must(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	time.AfterFunc(400*time.Millisecond, cancel)
	if err := ensureDemo(ctx, env{config, io.Discard, io.Discard}, config.DatabaseURL); err == nil {
		t.Fatal("the demo was made in less than 0.4 s: nothing was broken off")
	}
	var log bytes.Buffer
	must(t, ensureDemo(t.Context(), env{config, io.Discard, &log}, config.DatabaseURL))
	if out := l.ok("verify"); !strings.Contains(out, "; 0 faults") {
		t.Error(out)
	}
	if out := l.ok("shop"); !strings.Contains(out, shopgen.Name+"\n") {
		t.Errorf("after %q the shop is %s", log.String(), out)
	}
}

// TestDemoPageInADemoOnly: elsewhere there is no such page, for anybody.
func TestDemoPageInADemoOnly(t *testing.T) {
	s := newShop(t)
	row, err := s.app.Shop(t.Context())
	must(t, err)
	row.Demo = false
	must(t, s.app.SetShop(t.Context(), app.Machine(), row))
	admin := s.signedIn("P01")
	for _, b := range []*browser{s.browser(), s.tablet("INSPECT-1"), admin} {
		if got := b.get("/demo"); got.StatusCode != http.StatusNotFound {
			t.Errorf("GET /demo: %d", got.StatusCode)
		}
		for _, path := range []string{"/demo/tablet", "/demo/office"} {
			got := b.form(path, map[string][]string{"station": {"INSPECT-1"}, "person": {"P01"}})
			if got.StatusCode != http.StatusNotFound || len(got.Cookies()) > 0 {
				t.Errorf("POST %s: %d with cookies %v", path, got.StatusCode, got.Cookies())
			}
		}
	}
}

// TestDemoTablet: one press makes a browser a station's tablet.
func TestDemoTablet(t *testing.T) {
	s := newShop(t)
	b := s.browser()
	got := b.form("/demo/tablet", map[string][]string{"station": {"INSPECT-1"}, "next": {"//evil.example/x"}})
	if got.StatusCode != http.StatusSeeOther || got.Header.Get("Location") != "/station" {
		t.Fatalf("%d to %q: %s", got.StatusCode, got.Header.Get("Location"), got.body)
	}
	answer := b.do(hold, s.badge(inspector))
	if answer.Events[0].Station != core.StationID("INSPECT-1") {
		t.Errorf("the command came from %q", answer.Events[0].Station)
	}
	if got := b.form("/demo/tablet", map[string][]string{"station": {"NOWHERE"}}); got.StatusCode != http.StatusNotFound && got.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("an unknown station: %d", got.StatusCode)
	}
}
