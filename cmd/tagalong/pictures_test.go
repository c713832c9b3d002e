//go:build pictures

package main

import (
	"bytes"
	"context"
	"fmt"
	"image/png"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
	"tagalong/internal/postgres/pgtest"
	"tagalong/internal/shopgen"
	"tagalong/web/pictures"
)

// TestTakePictures takes the README's pictures anew, into web/pictures. They
// are of the demo shop on one afternoon, at which its clock stands still: the
// same program takes the same pictures. `make screenshots` runs it; it is no
// check, and so not among the tests.
func TestTakePictures(t *testing.T) {
	now := time.Date(2026, time.November, 25, 14, 12, 0, 0, time.UTC)
	handler, svc := demoHandler(t, pgtest.New(t), now, func() time.Time { return now })
	site := httptest.NewServer(handler)
	t.Cleanup(func() {
		site.CloseClientConnections()
		site.Close()
	})
	tries, err := shopgen.Tries(t.Context(), svc, nil)
	must(t, err)
	try := map[string]shopgen.Try{}
	for _, x := range tries {
		try[x.Key] = x
	}
	s := studio{t: t, svc: svc, url: site.URL, now: now, browser: browsertest.Start(t)}

	round, edges, sheet := try["belts"], try["edges"], try["separate"]
	s.take(pictures.Station, "ROUND-AL", "/station/pallets/"+string(round.Pallet), ".lot-head")
	s.take(pictures.Refusal, edges.At, "/station/pallets/"+string(edges.Pallet), ".flag")
	s.take(pictures.Bench, sheet.At, "/separate/"+string(sheet.Pallet)+"?nest=N-7028", ".nest-line")
	s.take(pictures.Find, "DOCK-1", "/find?q=O-4109", ".says")
	s.take(pictures.Wall, "DOCK-1", "/wall", ".groups")
	s.print(pictures.Traveller, try["fold"].Pallet)
}

// studio is where pictures are taken.
type studio struct {
	t       *testing.T
	svc     *app.Service
	url     string
	now     time.Time
	browser *browsertest.Browser
}

// take takes a page as it is seen on a tablet of the station, once it shows
// what the selector finds.
func (s studio) take(p pictures.Picture, at core.StationID, path, shows string) {
	s.t.Helper()
	code, err := s.svc.EnrolmentCode(s.t.Context(), app.Machine(), at)
	must(s.t, err)
	secret, _, err := s.svc.Enrol(s.t.Context(), code.Text())
	must(s.t, err)
	ctx := s.browser.Open(s.t, browsertest.Size{Width: int64(p.Width), Height: int64(p.Height)})
	browsertest.Do(s.t, ctx, chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		// What takes turns on the wall does so by the browser's clock.
		still := cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: fmt.Sprintf("Date.now = () => %d", s.now.UnixMilli())}
		if _, err := cdp.Call(ctx, tab, cdppage.AddScriptToEvaluateOnNewDocument, still); err != nil {
			return err
		}
		cookie := network.SetCookieParams{Name: "tagalong-tablet", Value: secret.Text(), URL: s.url, Path: "/"}
		_, err := cdp.Call(ctx, tab, network.SetCookie, cookie)
		return err
	}),
		chromedp.Navigate(s.url+path), chromedp.WaitVisible(chromedp.CSS(shows)),
		chromedp.Evaluate[chromedp.Void](`document.fonts.ready.then(() => { document.documentElement.style.caretColor = "transparent"; })`, chromedp.EvalAwaitPromise))
	s.keep(p, browsertest.Run(s.t, ctx, chromedp.CaptureScreenshot()))
}

// print draws the first page of a pallet's newest print as it comes on A4.
func (s studio) print(p pictures.Picture, pallet core.PalletCode) {
	s.t.Helper()
	sheet, err := paperwork.Traveller(s.t.Context(), s.svc, pallet, 0)
	must(s.t, err)
	pdf, err := os.Create(filepath.Join(s.t.TempDir(), "traveller.pdf"))
	must(s.t, err)
	must(s.t, paper.WriteTravellers(pdf, paper.A4, sheet.Traveller))
	must(s.t, pdf.Close())
	drawn, err := exec.CommandContext(s.t.Context(), "pdftoppm", "-r", "100", "-singlefile", "-png", pdf.Name()).Output()
	must(s.t, err)
	s.keep(p, drawn)
}

// keep writes a picture where the README looks for it.
func (s studio) keep(p pictures.Picture, shot []byte) {
	s.t.Helper()
	img, err := png.Decode(bytes.NewReader(shot))
	must(s.t, err)
	var small bytes.Buffer
	must(s.t, p.Write(&small, img))
	must(s.t, os.WriteFile(filepath.Join("..", "..", "web", "pictures", p.Name+".png"), small.Bytes(), 0o644))
	s.t.Logf("%s: %d bytes", p.Name, small.Len())
}
