package dock_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/photo"
	"tagalong/web/dock"
	"tagalong/web/webtest"
)

var (
	tablet = app.Caller{Tablet: "T7", Station: "DOCK-1"}
)

func codeOf(t *testing.T, k code.Kind, n int) code.Code {
	t.Helper()
	c, err := code.New(k, strings.NewReader(strings.Repeat(fmt.Sprintf("dock%02d", n), 30)))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

type shop struct {
	*apptest.Store
	pallets []core.PalletCode
	open    core.ConsignmentCode // not gone, one pallet on it
	gone    core.ConsignmentCode
}

// atTheDock is a shop with an order partly packed, a truck begun and one gone.
func atTheDock(t *testing.T) shop {
	f := apptest.New(t)
	f.Order(core.Order{No: "4117", Customer: "Larkfield Hospital", Site: "SITE-LARKFIELD", Promised: "2026-11-20", Lines: []core.OrderLine{
		{Item: f.Item("WP-2400"), Qty: 4}, {Item: f.Item("DL-L"), Qty: 2}, {Item: f.Item("HP-80"), Qty: 6}, {Item: f.Item("KIT-2400"), Qty: 1},
	}})
	line := func(n int) core.Owner { return core.Owner{Order: "4117", Line: n} }
	s := shop{Store: &apptest.Store{Floor: f}, open: core.ConsignmentCode(codeOf(t, code.Consignment, 1)), gone: core.ConsignmentCode(codeOf(t, code.Consignment, 2))}
	for i := range 6 {
		s.pallets = append(s.pallets, core.PalletCode(codeOf(t, code.Pallet, i)))
	}
	for i := range 4 {
		f.Pallet(s.pallets[i], "DOCK-1")
		f.Lot(s.pallets[i], "WP-2400", line(1), 1, "")
	}
	f.Lot(s.pallets[0], "HP-80", line(3), 4, "")
	f.Pallet(s.pallets[4], "INSPECT-1")
	f.Lot(s.pallets[4], "DL-L", line(2), 1, "weld-inspect")
	f.Hold("H1", core.HoldPallet, string(s.pallets[4]), "undercut on the hinge side", 2*time.Hour)
	f.World.State.Nests["N9"] = core.Nest{ID: "N9", Parts: []core.NestPart{{No: 1, Item: f.Item("DS-L"), Owner: line(2), Qty: 1}}}
	f.World.State.Consignments[s.open] = core.Consignment{Code: s.open, Site: "SITE-LARKFIELD", Day: "2026-11-26", Pallets: s.pallets[3:4]}
	f.Change(s.pallets[3], func(p *core.PalletRow) { p.Consignment = s.open })
	f.Pallet(s.pallets[5], "DOCK-1")
	f.Lot(s.pallets[5], "RT-2400", core.Owner{Order: "O-4111", Line: 1}, 3, "")
	f.Gone(s.gone, "SITE-FARNESS", 1, s.pallets[5])
	gone := f.World.State.Consignments[s.gone]
	gone.HandedTo, gone.Out = core.SignedOnPaper, []core.CarrierCount{{Kind: core.ReturnStillage, Count: 2}, {Kind: core.ReturnPallet, Count: 1}}
	gone.Back = []core.CarrierCount{{Kind: core.ReturnPallet, Count: 1}}
	gone.Consents = []core.Consent{{Order: "O-4111", Missing: "2 × roof tray 2400", Who: "site management", Means: "e-mail of 20 November", Reason: "one roof is ready"}}
	f.World.State.Consignments[s.gone] = gone
	return s
}

func TestDockPage(t *testing.T) {
	s := atTheDock(t)
	site := webtest.Serve(t, tablet, apptest.Now, dock.Endpoints(s.Service(t))...)
	for path, wants := range map[string][]string{
		"/dock?order=4117": {
			"Larkfield Hospital", "2 door leaves, left", "1 at the inspection bay, held: undercut on the hinge side",
			"1 left door skin on a nest, not cut yet", "not made up yet", `href="/orders/4117/labels.pdf"`, `data-command="load"`, string(s.pallets[0]), `value="2026-11-25"`, "Look at the mass",
		},
		"/dock?truck=" + string(s.open): {"would leave incomplete", `data-command="ship"`, `data-sign="1"`, "packing-list.pdf", "labels.pdf",
			`data-confirm="order-short"`, `name="consents.0.who"`, `name="handedTo" value="paper"`, `data-glass="handedTo"`, "The driver signs", "1 carrier, parts ", "Last unloaded goes on first"},
		"/dock?truck=" + string(s.gone): {"Gone Tue 24 Nov", "the driver signed on paper", "Of ours, still out: 2 stillages", `data-command="take-back"`,
			"Part shipment of order O-4111, rest to follow (2 × roof tray 2400), agreed by site management, e-mail of 20 November: one roof is ready"},
		"/dock": {"Our carriers still out", "2 stillages, fitting site, Farness (long haul)", `href="/station/units"`, "near, 38 km: foam between coated faces; strapped to the carrier."},
	} {
		status, text, _ := site.Get(t, path)
		if status != 200 {
			t.Errorf("%s: status %d", path, status)
		}
		for _, want := range wants {
			if !strings.Contains(text, want) {
				t.Errorf("%s lacks %q", path, want)
			}
		}
	}
	fitter := webtest.Serve(t, app.Caller{Person: "P27", Roles: []core.Role{core.Fitter}}, apptest.Now, dock.Endpoints(s.Service(t))...)
	if status, _, _ := fitter.Get(t, "/dock"); status != 403 {
		t.Errorf("a fitter at the dock's page: status %d", status)
	}
	for _, path := range []string{"/dock?order=none", "/dock?truck=nonsense", "/dock?truck=" + string(s.pallets[0]), "/dock/nonsense/packing-list.pdf"} {
		if status, _, _ := site.Get(t, path); status != 404 {
			t.Errorf("%s: status %d, want 404", path, status)
		}
	}
}

func TestPackingList(t *testing.T) {
	s := atTheDock(t)
	site := webtest.Serve(t, tablet, apptest.Now, dock.Endpoints(s.Service(t))...)
	before := s.packingList(t, site, s.open)
	for _, want := range []string{"Larkfield Hospital", "wall panel 2400", "Invented data", "4117", "leaves", "rest to follow", "near, 38 km", "unloaded last goes on first", "Taken by the driver: name, time, signature", "nowhere"} {
		if !strings.Contains(before, want) {
			t.Errorf("the packing list lacks %q:\n%s", want, before)
		}
	}
	if strings.Contains(before, "print 1") || strings.Contains(before, "Printed after it left") {
		t.Errorf("nobody numbers these prints, and it has not left:\n%s", before)
	}

	// Once it has left, its list stays what left, whatever the pallet carries now.
	s.Received(s.gone, 3)
	s.Change(s.pallets[5], func(p *core.PalletRow) { p.Consignment = "" })
	s.Lot(s.pallets[5], "HP-80", core.Owner{Order: "4117", Line: 3}, 2, "pack")
	after := s.packingList(t, site, s.gone)
	for _, want := range []string{"14:12, VN26 TLG", "3 roof trays 2400", "Printed after it left", "agreed by site", "to come back: 2 stillages, 1 pallet", "The driver signed"} {
		if !strings.Contains(after, want) {
			t.Errorf("the packing list of what has left lacks %q:\n%s", want, after)
		}
	}
	if strings.Contains(after, "hinge plate") || strings.Contains(after, "Nothing is missing") {
		t.Errorf("the list tells what is on the pallet now:\n%s", after)
	}
}

// drawn is a store that has one photo: a signature.
type drawn struct {
	app.Store
	picture []byte
}

func (d drawn) PhotoBytes(context.Context, photo.Hash, bool) ([]byte, error) { return d.picture, nil }

// A signature drawn on glass stands on the page and on the list of what left.
func TestTheDriversSignatureIsShown(t *testing.T) {
	s := atTheDock(t)
	gone := s.World.State.Consignments[s.gone]
	gone.HandedTo, gone.Signature = core.SignedOnGlass, strings.Repeat("5e", 32)
	s.World.State.Consignments[s.gone] = gone
	svc := s.Service(t)
	ink := image.NewGray(image.Rect(0, 0, 560, 200))
	draw.Draw(ink, ink.Bounds(), image.White, image.Point{}, draw.Src)
	for x := 40; x < 520; x++ {
		y := 100 + int(60*math.Sin(float64(x)/25))
		draw.Draw(ink, image.Rect(x, y, x+5, y+5), image.Black, image.Point{}, draw.Src)
	}
	var picture bytes.Buffer
	if err := jpeg.Encode(&picture, ink, nil); err != nil {
		t.Fatal(err)
	}
	svc.Store = drawn{svc.Store, picture.Bytes()}
	site := webtest.Serve(t, tablet, apptest.Now, dock.Endpoints(svc)...)
	_, page, _ := site.Get(t, "/dock?truck="+string(s.gone))
	for _, want := range []string{"the driver signed on the dock’s tablet", `src="/photos/` + gone.Signature + `/thumb"`, `alt="The driver’s signature"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	file := s.packingFile(t, site, s.gone)
	list, err := exec.Command("pdfimages", "-list", file).CombinedOutput() // poppler
	if err != nil {
		t.Fatalf("%v: %s", err, list)
	}
	if !strings.Contains(string(list), " 560   200 ") {
		t.Errorf("pictures on the list:\n%s", list)
	}
	if text := pdfText(t, file); !strings.Contains(text, "drawn at the dock, Tue 24 Nov 2026 14:12") {
		t.Errorf("the list says\n%s", text)
	}
}

// packingList is the text of a packing list, read by a program not ours.
func (s shop) packingList(t *testing.T, site *webtest.Site, c core.ConsignmentCode) string {
	t.Helper()
	return pdfText(t, s.packingFile(t, site, c))
}

func (s shop) packingFile(t *testing.T, site *webtest.Site, c core.ConsignmentCode) string {
	t.Helper()
	_, pdf, header := site.Get(t, "/dock/"+string(c)+"/packing-list.pdf")
	if header.Get("Content-Type") != "application/pdf" {
		t.Fatalf("type %s", header.Get("Content-Type"))
	}
	file := filepath.Join(t.TempDir(), "list.pdf")
	if err := os.WriteFile(file, []byte(pdf), 0o600); err != nil {
		t.Fatal(err)
	}
	if dir := os.Getenv("TAGALONG_SCREENSHOTS"); dir != "" {
		_ = os.WriteFile(filepath.Join(dir, "packing-list-"+string(c)+".pdf"), []byte(pdf), 0o600)
	}
	return file
}

func pdfText(t *testing.T, file string) string {
	t.Helper()
	text, err := exec.Command("pdftotext", "-layout", file, "-").CombinedOutput() // poppler
	if err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	return string(text)
}

func TestDockInTheBrowser(t *testing.T) {
	s := atTheDock(t)
	site := webtest.Serve(t, tablet, apptest.Now, dock.Endpoints(s.Service(t))...)
	ctx := browsertest.New(t, browsertest.Tablet)
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/dock?order=4117"), chromedp.WaitVisible(".dock-two"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "dock")
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`localStorage.setItem("light", "night")`), chromedp.Reload(), chromedp.WaitVisible(".dock-two"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "dock-night")
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`localStorage.setItem("light", "day")`), chromedp.Reload(), chromedp.WaitVisible(".dock-two"))
	// The first pallet stays behind; the others go on the truck that is there.
	browsertest.Do(t, ctx, chromedp.Click(".tick input"), chromedp.Click("form[data-command=load] .main"))
	var load core.Load
	s.sent(t, site, "load", &load)
	if load.Consignment != s.open || load.Day != "2026-11-25" || load.Site != "SITE-LARKFIELD" || len(load.Pallets) != 2 || slices.Contains(load.Pallets, s.pallets[3]) {
		t.Errorf("sent %+v", load)
	}
	browsertest.Do(t, ctx, chromedp.WaitVisible("[data-done-line]"))
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/dock?truck="+string(s.open)), chromedp.WaitVisible("form[data-command=ship]"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "dock-truck")
	browsertest.Do(t, ctx, chromedp.Click(".weigh summary"), chromedp.WaitVisible(`[name="gross.0.kg"]`))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "dock-weigh")
	browsertest.Do(t, ctx, chromedp.SendKeys(`[name="gross.0.kg"]`, "61,5"), chromedp.Click("form[data-command=weigh] button"))
	var weighed core.Weigh
	s.sent(t, site, "weigh", &weighed)
	if len(weighed.Gross) != 1 || weighed.Gross[0] != (core.GrossMass{Pallet: s.pallets[3], Kg: 61.5}) || weighed.Consignment != s.open {
		t.Errorf("sent %+v", weighed)
	}
	browsertest.Do(t, ctx, chromedp.WaitVisible("[data-done-line]"))
	browsertest.Do(t, ctx, chromedp.Click(`[data-open="driver"]`), chromedp.WaitVisible("#driver canvas"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "dock-driver")
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/dock?truck="+string(s.gone)), chromedp.WaitVisible("form[data-command=take-back]"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "dock-gone")
	browsertest.Do(t, ctx, chromedp.SendKeys(`form[data-command=take-back] [name="carriers.0.count"]`, "2"), chromedp.Click("form[data-command=take-back] .main"))
	var back core.TakeBack
	s.sent(t, site, "take-back", &back)
	if back.Consignment != s.gone || back.Carriers[0] != (core.CarrierCount{Kind: core.ReturnStillage, Count: 2}) || back.Carriers[1].Count != 0 || back.Lost {
		t.Errorf("sent %+v", back)
	}
}

// sent is the body of the command that a page sends next.
func (s shop) sent(t *testing.T, site *webtest.Site, kind string, body any) {
	t.Helper()
	select {
	case sent := <-site.Posted:
		of, text, _ := strings.Cut(sent, " ")
		if err := json.Unmarshal([]byte(text), &struct{ Body any }{body}); err != nil || of != kind {
			t.Fatalf("sent %s: %v", sent, err)
		}
	case <-time.After(browsertest.Patience):
		t.Fatalf("no %s was sent", kind)
	}
}
