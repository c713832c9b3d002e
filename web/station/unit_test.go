package station_test

import (
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

var (
	framing = pallet(70) // components of a base frame at weld bench 2
	gussets = pallet(71) // two of its four gussets, unrounded, in slot C4 of the pallet store
)

const frameOf = "/station/units?unit=BF-2400%40B%7CO-4101%2F1"

// frameFloor has a base frame's set at weld bench 2, short of two gussets, which
// are elsewhere, and of a lug, which is to be cut again.
func frameFloor(t testing.TB) *apptest.Floor {
	t.Helper()
	f := floor(t)
	owner := line("O-4101", 1)
	f.Pallet(framing, "WELD-2")
	f.Pallet(gussets, "STORE-1")
	f.Change(gussets, func(p *core.PalletRow) { p.Slot = "C4" })
	for _, c := range f.World.Book.Items[f.Item("BF-2400")].Bill {
		switch c.Item.Item {
		case "BF-GUSSET":
			f.Lot(framing, c.Item.Item, owner, 2, "")
			f.Lot(gussets, c.Item.Item, owner, 2, "edge-round")
		case "BF-LUG":
			f.Lot(framing, c.Item.Item, owner, c.Qty-1, "")
			f.World.State.Nests["remake Q9"] = core.Nest{ID: "remake Q9", Parts: []core.NestPart{{No: 1, Item: c.Item, Owner: owner, Qty: 1}}}
			f.World.State.Problems["Q9"] = core.Problem{ID: "Q9", What: "bent wrong", Disposition: core.DisposeRemake, Closed: apptest.Now.Add(-3 * time.Hour)}
		default:
			f.Lot(framing, c.Item.Item, owner, c.Qty, "")
		}
	}
	return f
}

// A bench sees what its set lacks, where that is and what is still to be done to
// it; it starts short by concession only, and takes a made unit apart again.
func TestAUnitAtTheBench(t *testing.T) {
	s := webtest.Live(t, frameFloor(t), station.Endpoints)
	badge, quality := s.Badge(t, welder), s.Badge(t, "P03")
	ctx := s.Tablet(t, "WELD-2")
	look := func(name string) {
		t.Helper()
		for _, light := range []string{"night", "day"} {
			browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.light = "`+light+`"`))
			webtest.CheckTablet(t, ctx, name+" by "+light)
			browsertest.Screenshot(t, ctx, "station-"+name+map[string]string{"day": "", "night": "-night"}[light])
		}
		browsertest.Axe(t, ctx)
	}
	says := func(css string, want ...string) {
		t.Helper()
		got := strings.Join(strings.Fields(browsertest.Text(t, ctx, css)), " ")
		for _, w := range want {
			if !strings.Contains(got, w) {
				t.Errorf("%s says %q, want %q", css, got, w)
			}
		}
	}
	goTo(t, ctx, s.URL+"/station")
	look("units-short")
	says(".rest-coming", "short of 2 × ", "1 × ")
	goTo(t, ctx, s.URL+frameOf)
	look("unit-short")
	says(".bill", "2 missing", "2 on "+spacedCode(gussets)+" at the pallet store, slot C4, waits for edge rounding since ",
		"1 missing", "1 to be cut again since ")
	browsertest.Do(t, ctx, click("form[data-command=gather] button"), seen("[data-open=start-short]"), fonts, click("[data-open=start-short]"), seen("#start-short"))
	look("start-short")
	says("#start-short", "can't be started: ", "one of them quality's")
	browsertest.Do(t, ctx, click("#start-short button[type=submit]"), seen("#sign"))
	look("start-short-sign")
	browsertest.Do(t, ctx, keys("[data-waive-reason]", "the lug goes on last"), signing(badge), signing(quality), seen("[data-begun]"), seen("[data-done-line]"))
	recorded(t, ctx, "Started short on base frame 2400, unit 1")
	begun := signedEvents(s, core.EvUnitBegun)
	if len(begun) != 1 || len(begun[0].Waived) != 1 || begun[0].Waived[0].Reason != "the lug goes on last" || len(begun[0].Signed) != 2 {
		t.Fatalf("begun: %+v", begun)
	}
	says(".lot-head", "started ")
	if n := browsertest.Run(t, ctx, chromedp.Evaluate[int](`document.querySelectorAll("[data-open=assemble], [data-open=start-short]").length`)); n != 0 {
		t.Error("a short unit may be signed, or started twice")
	}

	// The rest comes, the lug as a remake.
	s.Change(func(f *apptest.Floor) {
		delete(f.World.State.Nests, "remake Q9")
		f.Change(gussets, func(p *core.PalletRow) { p.Station, p.Slot = "WELD-2", "" })
		for _, l := range f.World.State.LotsAt(core.On(gussets)) {
			f.World.State.Lots[l.ID] = core.Lot{ID: l.ID}
		}
		f.Lot(gussets, "BF-GUSSET", line("O-4101", 1), 2, "")
		lug := f.Lot(gussets, "BF-LUG", line("O-4101", 1), 1, "")
		f.ChangeLot(lug, func(l *core.Lot) { l.Remake = "Q9" })
	})
	goTo(t, ctx, s.URL+"/station/units?unit="+begun[0].Ref)
	browsertest.Do(t, ctx, click("form[data-command=gather] button"), seen("[data-open=assemble]"), fonts)
	look("unit-whole")
	browsertest.Do(t, ctx, click("[data-open=assemble]"), seen("#assemble"),
		chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("#assemble [data-tick], #assemble [data-input] label:first-child input").forEach(e => e.click())`),
		click("#assemble button[type=submit]"), signing(badge), seen(".rest"), seen("[data-done-line]"))
	made := signedEvents(s, core.EvAssembled)
	if len(made) != 1 {
		t.Fatalf("assembled: %+v", made)
	}

	// It is taken apart again.
	own := made[0].Pallets[0]
	goTo(t, ctx, s.URL+at(own))
	browsertest.Do(t, ctx, click("[data-open=more]"), seen("#more"), click("#more a[href*='/station/apart/']"), seen("#apart"), fonts)
	look("apart")
	says("#apart", "4 × ", "held", "The welds are cut.", "Site rules and local codes come first.")
	browsertest.Do(t, ctx, click("[data-why='wrong component']"), click("#apart button[type=submit]"), seen("#sign"))
	look("apart-sign")
	browsertest.Do(t, ctx, signing(badge), seen("[data-done-line]"), seen("form[data-command=print-traveller]"))
	recorded(t, ctx, "base frame 2400 taken apart")
	look("apart-done")
	apart := signedEvents(s, core.EvTakenApart)
	if len(apart) != 1 || apart[0].Note != "wrong component" || apart[0].Signed[0].Person != welder {
		t.Fatalf("taken apart: %+v", apart)
	}
	if status, page := s.Get(t, "WELD-2", "/station/apart/"+string(own)); status != 404 || !strings.Contains(page, "can be taken apart here") {
		t.Errorf("taken apart twice: %d", status)
	}
}

// A whole set may be started with one tap, and signing it needs no start.
func TestStartOnAWholeSet(t *testing.T) {
	f := floor(t)
	f.Pallet(framing, "WELD-2")
	for _, c := range f.World.Book.Items[f.Item("BF-2400")].Bill {
		f.Lot(framing, c.Item.Item, line("O-4101", 1), c.Qty, "")
	}
	s := webtest.Live(t, f, station.Endpoints)
	if _, page := s.Get(t, "WELD-2", "/station"); !strings.Contains(page, "whole set here, may be started") {
		t.Error("the station at rest does not say that the set may be started")
	}
	if _, page := s.Get(t, "ROUND-AL", "/station/units"); !strings.Contains(page, "No units are made at this station.") || !strings.Contains(page, `href="/station"`) {
		t.Error("a station that makes no units says nothing of it, or leads nowhere")
	}
	if status, page := s.Get(t, "WELD-2", frameOf); status != 200 || strings.Contains(page, `data-command="begin-unit"`) {
		t.Errorf("%d: nothing is gathered, and the bench may start", status)
	}
}
