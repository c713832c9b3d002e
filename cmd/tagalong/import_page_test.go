package main

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/screens"
	"tagalong/web/server"
)

// files is a folder of CSV files by name.
type files map[string]string

// sampleFolder is the samples.
func sampleFolder(t *testing.T) files {
	t.Helper()
	names, err := filepath.Glob("../../testdata/samples/*.csv")
	must(t, err)
	out := files{}
	for _, n := range names {
		data, err := os.ReadFile(n)
		must(t, err)
		out[filepath.Base(n)] = string(data)
	}
	return out
}

func (f files) names() []string { return slices.Sorted(maps.Keys(f)) }

// inFolder writes the files and lists their paths.
func (f files) inFolder(t *testing.T) []string {
	t.Helper()
	dir := t.TempDir()
	var out []string
	for _, n := range f.names() {
		out = append(out, filepath.Join(dir, n))
		must(t, os.WriteFile(out[len(out)-1], []byte(f[n]), 0o600))
	}
	return out
}

// send uploads files as a browser without scripts does.
func (b *browser) upload(f files) answer {
	b.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for _, n := range f.names() {
		part, err := w.CreateFormFile("files", n)
		must(b.t, err)
		_, err = io.WriteString(part, f[n])
		must(b.t, err)
	}
	must(b.t, w.Close())
	return b.send(http.MethodPost, "/import", w.FormDataContentType(), &body)
}

// planned uploads files and reads the page of what they would change.
func (b *browser) planned(f files) (address, page string) {
	b.t.Helper()
	got := b.upload(f)
	if got.StatusCode != http.StatusSeeOther {
		b.t.Fatalf("the upload: %d %s", got.StatusCode, got.body)
	}
	address = got.Header.Get("Location")
	return address, b.settledPage(address)
}

// settledPage reads an import's page once nothing is being done any more.
func (b *browser) settledPage(address string) string {
	b.t.Helper()
	for {
		got := b.get(address)
		if got.StatusCode != http.StatusOK {
			b.t.Fatalf("%s: %d %s", address, got.StatusCode, got.body)
		}
		if !strings.Contains(got.body, "data-wait=") {
			return got.body
		}
	}
}

func (b *browser) press(address, do string) answer {
	b.t.Helper()
	return b.form(address, url.Values{"do": {do}})
}

// unpacked reads an archive's files.
func unpacked(t *testing.T, data string) files {
	t.Helper()
	z, err := zip.NewReader(strings.NewReader(data), int64(len(data)))
	must(t, err)
	out := files{}
	for _, x := range z.File {
		r, err := x.Open()
		must(t, err)
		text, err := io.ReadAll(r)
		must(t, err)
		out[x.Name] = string(text)
	}
	return out
}

// TestImportByPageInTheBrowser goes from the drop to the last page as a person
// does, in a shop that has the catalogue of the samples and nothing else.
func TestImportByPageInTheBrowser(t *testing.T) {
	s := newShop(t)
	person := s.signedIn("P01")
	ctx := browsertest.New(t, browsertest.Tablet)
	s.takeOver(t, ctx, person)
	browsertest.Do(t, ctx, chromedp.Navigate(s.url+"/office"), chromedp.Click(`a[href="/import"]`), chromedp.WaitVisible("[data-upload]"))
	look(t, ctx, "import")

	// Files with mistakes in them: named, and nothing to press but to throw them away.
	wrong := files{
		"orders.csv": "order,customer,site,reference,promised\nO-9001,Tarnside School,,TS/1,2026-12-18\nO-9002,Tarnside School,,TS/2,18.12.2026\n",
		"lines.csv":  "order,line,item,rev,qty\nO-9001,1,WP-2400,D,two\nO-9002,1,WP-2400,C,2\n",
		"ordres.csv": "order\n",
		"nests.xlsx": "PK\x03\x04",
	}
	drop(t, ctx, wrong.inFolder(t))
	if got := browsertest.Run(t, ctx, chromedp.Evaluate[int](`document.querySelectorAll("[data-chosen] li").length`)); got != 4 {
		t.Errorf("%d files are listed as chosen, want 4", got)
	}
	look(t, ctx, "import-dropped")
	browsertest.Do(t, ctx, chromedp.Click("[data-upload] button"), chromedp.WaitVisible(".faults"))
	for _, want := range []string{"2 files and 3 lines are wrong, so nothing can be stored.", "line 3, column 5", `"18.12.2026"`, "a day as YYYY-MM-DD, such as 2026-11-25",
		`"two"`, "the unknown item WP-2400 rev C", "the name orders.csv", "a file that is not CSV"} {
		if text := browsertest.Text(t, ctx, "main"); !strings.Contains(text, want) {
			t.Errorf("the page lacks %q:\n%s", want, text)
		}
	}
	if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector("input[value=store]") !== null`)) {
		t.Error("what is wrong can be stored")
	}
	look(t, ctx, "import-wrong")
	browsertest.Do(t, ctx, chromedp.Click(`form:has(input[value=discard]) button`), chromedp.WaitVisible("[data-upload]"))

	// The samples, whole.
	all := sampleFolder(t)
	drop(t, ctx, all.inFolder(t))
	slowly(t, ctx, 16<<10)
	browsertest.Do(t, ctx, chromedp.Click("[data-upload] button"), chromedp.WaitVisible("[data-progress]"), chromedp.Poll[chromedp.Void](
		`/^[1-9][0-9]? %$/.test(document.querySelector("[data-share]")?.textContent)`))
	browsertest.Do(t, ctx, chromedp.WaitVisible(".counts"))
	slowly(t, ctx, -1)
	look(t, ctx, "import-plan")
	if rows := s.count(t, "orders"); rows != 0 {
		t.Errorf("%d orders are stored before anybody said so", rows)
	}
	light(t, ctx, "night", ".counts")
	look(t, ctx, "import-plan-night")
	// Storing is shown while it lasts, and its end by itself.
	open := s.holdImports()
	browsertest.Do(t, ctx, chromedp.Click(`form:has(input[value=store]) button`), chromedp.WaitVisible("[data-wait]"))
	if text := browsertest.Text(t, ctx, "main"); !strings.Contains(text, "Storing 473 lines: all of it, or nothing") {
		t.Errorf("while it is being stored the page says\n%s", text)
	}
	look(t, ctx, "import-storing")
	open()
	browsertest.Do(t, ctx, chromedp.WaitVisible(`main a[href="/import"]`))
	if text := browsertest.Text(t, ctx, "main"); !strings.Contains(text, "all of it") || !strings.Contains(strings.Join(strings.Fields(text), " "), "orders 12 – –") {
		t.Errorf("the last page says\n%s", text)
	}
	look(t, ctx, "import-stored-night")
	light(t, ctx, "day", ".counts")
	look(t, ctx, "import-stored")
	if orders, sheets := s.count(t, "orders"), s.count(t, "pallet"); orders != 12 || sheets != 121 {
		t.Errorf("stored %d orders and %d sheets and deliveries, want 12 and 121", orders, sheets)
	}
	// What was read can be had again, byte for byte, by the same sign-in.
	href := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector("main a[download]").getAttribute("href")`))
	if got := person.get(href); !maps.Equal(unpacked(t, got.body), all) || got.Header.Get("Content-Type") != "application/zip" {
		t.Errorf("the download has %v", unpacked(t, got.body).names())
	}

	// One order later, and a person under another name: what was and what will be.
	browsertest.Do(t, ctx, chromedp.Click(`main a[href="/import"]`), chromedp.WaitVisible("[data-upload]"))
	drop(t, ctx, files{
		"orders.csv": "order,customer,site,reference,promised\nO-4105,Brackenmoor Hospital Estates,SITE-LARKFIELD,BHE/26/902 spare panels,2026-12-04\n",
		"people.csv": "person,name,roles,left\nP05,Maudie Thresk-Vane,service,\n",
	}.inFolder(t))
	browsertest.Do(t, ctx, chromedp.Click("[data-upload] button"), chromedp.WaitVisible(".changes"))
	text := strings.Join(strings.Fields(browsertest.Text(t, ctx, "main")), " ")
	for _, want := range []string{"2 lines are changed", "Maudie Thresk → Maudie Thresk-Vane", "promised 2026-11-26 → 2026-12-04"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q: %s", want, text)
		}
	}
	look(t, ctx, "import-changes")
	browsertest.Do(t, ctx, chromedp.Click(`form:has(input[value=store]) button`), chromedp.WaitVisible(`main a[href="/import"]`))
	w, err := s.store.Load(t.Context(), core.Names{Orders: []string{"O-4105"}}, "")
	must(t, err)
	if got := w.State.Orders["O-4105"]; got.Promised != "2026-12-04" || len(got.Lines) != 3 || w.Book.People["P05"].Name != "Maudie Thresk-Vane" {
		t.Errorf("stored %+v", got)
	}
	s.verified(t)
}

func light(t *testing.T, ctx context.Context, word, shows string) {
	t.Helper()
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`localStorage.setItem("light", %q)`, word)), chromedp.Reload(), chromedp.WaitVisible(shows))
}

// conditions are those of a network, in bytes a second; -1: as it is.
type conditions struct {
	Offline  bool    `json:"offline"`
	Latency  float64 `json:"latency"`
	Download float64 `json:"downloadThroughput"`
	Upload   float64 `json:"uploadThroughput"`
}

// slowly makes a page's way to the server as slow as so many bytes a second; -1: no more.
func slowly(t *testing.T, ctx context.Context, rate float64) {
	t.Helper()
	browsertest.Do(t, ctx, chromedp.Func(func(ctx context.Context, page *chromedp.Target) error {
		_, err := cdp.Call(ctx, page, cdp.Command[conditions, cdp.Empty]{Method: "Network.emulateNetworkConditions"}, conditions{Download: -1, Upload: rate})
		return err
	}))
}

// gated is a store whose imports wait at a gate.
type gated struct {
	app.Store
	gate chan struct{}
}

func (g gated) Import(ctx context.Context, which app.PlannedNames, plan func(app.Planned) (app.Bring, error), decide func(core.World, core.Command) core.Outcome) ([]app.Answer, error) {
	<-g.gate
	return g.Store.Import(ctx, which, plan, decide)
}

// holdImports keeps imports waiting until what it returns is called.
func (s *testShop) holdImports() (open func()) {
	g := gated{s.app.Store, make(chan struct{})}
	s.app.Store = g
	return func() { close(g.gate) }
}

// takeOver signs a browser in with the session of another.
func (s *testShop) takeOver(t *testing.T, ctx context.Context, from *browser) {
	t.Helper()
	address, err := url.Parse(s.url)
	must(t, err)
	for _, c := range from.http.Jar.Cookies(address) {
		cookie := network.SetCookieParams{Name: c.Name, Value: c.Value, URL: s.url, Path: "/"}
		browsertest.Do(t, ctx, chromedp.Func(func(ctx context.Context, page *chromedp.Target) error {
			_, err := cdp.Call(ctx, page, network.SetCookie, cookie)
			return err
		}))
	}
}

// drop drops files from the desktop on the form.
func drop(t *testing.T, ctx context.Context, paths []string) {
	t.Helper()
	for _, kind := range []input.DispatchDragEventType{input.DispatchDragEventTypeDragEnter, input.DispatchDragEventTypeDragOver, input.DispatchDragEventTypeDrop} {
		event := input.DispatchDragEventParams{Type: kind, X: 300, Y: 260, Data: &input.DragData{Items: []*input.DragDataItem{}, Files: paths, DragOperationsMask: 1}}
		browsertest.Do(t, ctx, chromedp.Func(func(ctx context.Context, page *chromedp.Target) error {
			_, err := cdp.Call(ctx, page, input.DispatchDragEvent, event)
			return err
		}))
	}
	browsertest.Do(t, ctx, chromedp.WaitVisible("[data-chosen] li"))
}

// count counts a table's rows.
func (s *testShop) count(t *testing.T, table string) int {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), s.dbURL)
	must(t, err)
	defer conn.Close(t.Context())
	n := 0
	must(t, conn.QueryRow(t.Context(), "SELECT count(*) FROM tagalong."+table).Scan(&n))
	return n
}

// lastImporter is who signed the last import on record.
func (s *testShop) lastImporter(t *testing.T) (who string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), s.dbURL)
	must(t, err)
	defer conn.Close(t.Context())
	must(t, conn.QueryRow(t.Context(), "SELECT person FROM tagalong.event WHERE kind = 'imported' ORDER BY seq DESC LIMIT 1").Scan(&who))
	return who
}

func (s *testShop) verified(t *testing.T) {
	t.Helper()
	_, faults, err := s.store.Verify(t.Context())
	must(t, err)
	for _, f := range faults {
		t.Errorf("verify: %+v", f)
	}
}

// restarted is the same shop served by a server that remembers nothing.
func (s *testShop) restarted(t *testing.T) *testShop {
	t.Helper()
	site, err := server.New(server.Options{App: s.app, Endpoints: screens.Endpoints(s.app), Log: slog.New(slog.DiscardHandler)})
	must(t, err)
	web := httptest.NewServer(site.Handler())
	t.Cleanup(web.Close)
	return &testShop{t: t, url: web.URL}
}
