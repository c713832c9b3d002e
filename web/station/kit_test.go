package station_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

const kitOf = "/station/units?unit=KIT-2400%40B%7CO-4101%2F1"

// dock is a floor whose dock has all for a hardware kit but gaskets, which are at
// goods in, and sealant of three batches, one of them run out.
func dock(t testing.TB) *apptest.Floor {
	t.Helper()
	f := floor(t)
	n := 40
	bag := func(at core.StationID, item core.ItemID, qty int, batch string, expires core.Date) {
		code := pallet(n)
		n++
		f.Pallet(code, at)
		id := f.Lot(code, item, core.Owner{}, qty, "pack")
		f.ChangeLot(id, func(l *core.Lot) { l.Heats, l.Expires = []string{batch}, expires })
	}
	bag("DOCK-1", "SL-300", 8, "SL25-61", "2026-11-24")
	bag("DOCK-1", "SL-300", 2, "SL26-70", "2026-12-10")
	bag("DOCK-1", "SL-300", 24, "SL26-91", "2027-02-28")
	bag("GOODS-1", "GK-12", 30, "GK26-3", "2028-06-30")
	for i, item := range []core.ItemID{"RN-M6", "HG-120", "LT-2P", "FX-M8", "GD-ENC", "ES-16"} {
		bag("DOCK-1", item, 12, fmt.Sprintf("B26-%d", 10+i), "")
	}
	return f
}

// What is there, what is missing and where, and what has run out: on the dock's
// page of a kit, by day and by night; and the list of kits to make up.
func TestKitFaces(t *testing.T) {
	s := webtest.Live(t, dock(t), station.Endpoints)
	ctx := s.Tablet(t, "DOCK-1")
	for _, light := range []string{"day", "night"} {
		for name, path := range map[string]string{"kit": kitOf, "kit-lines": kitOf + "&lines=1", "kits": "/station/units", "dock-rest": "/station"} {
			goTo(t, ctx, s.URL+path)
			browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.light = "`+light+`"`))
			webtest.CheckTablet(t, ctx, name+" by "+light)
			browsertest.Screenshot(t, ctx, "station-"+name+map[string]string{"day": "", "night": "-night"}[light])
			if light == "day" {
				browsertest.Axe(t, ctx)
			}
		}
	}
	status, page := s.Get(t, "DOCK-1", kitOf)
	text := strings.Join(strings.Fields(page), " ")
	for _, want := range []string{"3 missing", "30 on " + spacedCode(pallet(43)), "at the goods in", "3 sealants ran out on 24 November 2026.", "batch SL26-70, good to Thu 10 Dec", "batch SL26-91", `data-command="gather"`} {
		if status != 200 || !strings.Contains(text, want) {
			t.Errorf("%d, the kit's page lacks %q", status, want)
		}
	}
	if !strings.Contains(text, "The other lines") {
		t.Error("eight lines are on a page of six")
	}
	if _, page := s.Get(t, "DOCK-1", "/station"); !strings.Contains(page, "Kits to make up") {
		t.Error("the dock at rest names no kits")
	}
}

func spacedCode(c core.PalletCode) string { return string(c[:4]) + " " + string(c[4:]) }

// The kit is gathered of what is there and in date, the rest follows when it
// comes, and who checked it signs; its unit carries the day the first of it runs out.
func TestMakeUpAKit(t *testing.T) {
	s := webtest.Live(t, dock(t), station.Endpoints)
	badge := s.Badge(t, "P26")
	ctx := s.Tablet(t, "DOCK-1")
	goTo(t, ctx, s.URL+kitOf)
	browsertest.Do(t, ctx, click("form[data-command=gather] button"), seen("[data-done-line]"), fonts)
	if got := browsertest.Text(t, ctx, ".work-foot"); !strings.Contains(got, "3 pieces missing") {
		t.Errorf("the foot says %q", got)
	}
	s.Change(func(f *apptest.Floor) { f.Change(pallet(43), func(p *core.PalletRow) { p.Station = "DOCK-1" }) })
	goTo(t, ctx, s.URL+kitOf)
	browsertest.Do(t, ctx, click("form[data-command=gather] button"), seen("[data-open=assemble]"), fonts)
	browsertest.Screenshot(t, ctx, "station-kit-whole")
	webtest.CheckTablet(t, ctx, "a whole kit")
	browsertest.Do(t, ctx, click("[data-open=assemble]"), seen("#assemble"))
	browsertest.Screenshot(t, ctx, "station-kit-check")
	webtest.CheckTablet(t, ctx, "the kit's check")
	browsertest.Axe(t, ctx)
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("#assemble [data-tick]").forEach(e => e.click())`),
		click("#assemble button[type=submit]"), signing(badge), seen(".rest"), seen("[data-done-line]"))
	made := signedEvents(s, core.EvAssembled)
	if len(made) != 1 || made[0].Stage != "kit-check" || made[0].Signed[0].Person != "P26" {
		t.Fatalf("made up: %+v", made)
	}
	for _, l := range s.World.State.Lots {
		if l.Unit != "" && (l.Item.Item != "KIT-2400" || l.Expires != "2026-12-10" || l.Facts.At(core.Fact{Name: core.KitComplete}, apptest.Now.Add(time.Minute)) != core.Yes) {
			t.Errorf("the kit is %+v", l)
		}
	}
}
