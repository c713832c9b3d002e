package station_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

// A weld inspector refuses a frame with a reason, and releases another; a
// welder of it is refused.
func TestInspectorReleasesOrRefuses(t *testing.T) {
	s := serve(t)
	byInspector, byWelder := s.Badge(t, inspector), s.Badge(t, welder)
	ctx := s.Tablet(t, "INSPECT-1")
	gauge := chromedp.Evaluate[chromedp.Void](`{const g = document.querySelector("[data-gauge]"); g.selectedIndex = g.options.length - 1; g.dispatchEvent(new Event("change", {bubbles: true}));}`)
	goTo(t, ctx, s.URL+at(framed))
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-go]"), keys(".aimed", "3"), gauge)
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Release 1 good" {
		t.Errorf("the button says %q", got)
	}
	browsertest.Do(t, ctx, click("[data-go]"), signing(byWelder), seen("#refusal"))
	// The Enter that many press after a PIN must not close what nobody has read.
	browsertest.Do(t, ctx, chromedp.KeyEvent("\r"))
	browsertest.Screenshot(t, ctx, "station-welder-refused")
	if !browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector("#refusal").open`)) {
		t.Error("an Enter meant for the PIN closed the refusal")
	}
	browsertest.Do(t, ctx, click("#refusal [data-close]"), click("[data-go]"), signing(byInspector), seen("[data-done-line]"))
	if l := lotOn(t, s, framed, 0); l.Facts.At(core.Fact{Name: core.WeldAccepted}, apptest.Now) != core.Yes {
		t.Error("the weld is not accepted in the record")
	}
	goTo(t, ctx, s.URL+at(cracked))
	browsertest.Do(t, ctx, click("[data-not-good]"), seen("[data-counts][open]"), click("[data-counts][open] [data-why='weld not as asked']"),
		click("[data-counts][open] [data-tally-done]"))
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Refuse and sign" {
		t.Errorf("the button says %q", got)
	}
	browsertest.Do(t, ctx, click("[data-go]"), signing(byInspector), seen("[data-done-line]"))
	lot := lotOn(t, s, cracked, 0)
	if lot.Facts.At(core.Fact{Name: core.WeldAccepted}, apptest.Now) == core.Yes {
		t.Error("a refused weld is accepted")
	}
	problems := s.World.State.Problems
	if len(problems) != 1 {
		t.Fatalf("%d problems, want the refused weld's", len(problems))
	}
	for _, p := range problems {
		if p.Lot != lot.ID || p.What != "weld not as asked" {
			t.Errorf("problem %+v", p)
		}
	}
}

// A unit is gathered, put back, gathered again and welded at a weld bench.
func TestGatherAndWeld(t *testing.T) {
	f := floor(t)
	whole := pallet(20)
	f.Pallet(whole, "WELD-2")
	for _, c := range f.World.Book.Items[f.Item("BF-2400")].Bill {
		f.Lot(whole, c.Item.Item, line("O-4101", 1), c.Qty, "")
	}
	s := webtest.Live(t, f, station.Endpoints)
	badge := s.Badge(t, welder)
	ctx := s.Tablet(t, "WELD-2")
	goTo(t, ctx, s.URL+"/station")
	browsertest.Do(t, ctx, click(".rest-coming .card"), seen("form[data-command=gather]"), fonts,
		click("form[data-command=gather] button"), seen("[data-open=put-back]"), fonts)
	browsertest.Do(t, ctx, click("[data-open=put-back]"), seen("#put-back"))
	browsertest.Screenshot(t, ctx, "station-put-back")
	webtest.CheckTablet(t, ctx, "put back")
	browsertest.Do(t, ctx, click("#put-back button[type=submit]"), seen(".rest"), fonts, click(".rest-coming .card"), seen("form[data-command=gather]"),
		click("form[data-command=gather] button"), seen("[data-open=assemble]"), fonts, click("[data-open=assemble]"), seen("#assemble"))
	browsertest.Screenshot(t, ctx, "station-assemble")
	browsertest.Axe(t, ctx)
	webtest.CheckTablet(t, ctx, "assemble")
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("#assemble [data-tick], #assemble [data-input] label:first-child input").forEach(e => e.click())`))
	browsertest.Do(t, ctx, click("#assemble button[type=submit]"), signing(badge), seen(".rest"), seen("[data-done-line]"))
	made := signedEvents(s, core.EvAssembled)
	if len(made) != 1 || made[0].Signed[0].Person != welder {
		t.Fatalf("assembled: %+v", made)
	}
	for _, l := range s.World.State.Lots {
		if l.Unit != "" && (l.Item.Item != "BF-2400" || l.Facts.At(core.Fact{Name: core.Welded}, apptest.Now) != core.Yes) {
			t.Errorf("the unit is %+v", l)
		}
	}
	if n := len(signedEvents(s, core.EvReturned)); n != 1 {
		t.Errorf("put back %d times, want once", n)
	}
}

// A rule that is not absolute is set aside by two people, with a reason.
func TestConcession(t *testing.T) {
	s := serve(t)
	first, second := s.Badge(t, operator), s.Badge(t, "P03")
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(held))
	browsertest.Do(t, ctx, click("a[href*='waive=']"), seen("form[data-steps]"), fonts, click("[data-go]"), click("[data-go]"), seen("#sign"))
	browsertest.Screenshot(t, ctx, "station-concession")
	webtest.CheckTablet(t, ctx, "concession")
	browsertest.Do(t, ctx, keys("[data-waive-reason]", "counted and marked by hand"), signing(first), signing(second), seen("[data-done-line]"))
	signed := signedEvents(s, core.EvSigned)
	if len(signed) != 1 || len(signed[0].Waived) != 1 || signed[0].Waived[0].Reason != "counted and marked by hand" || len(signed[0].Signed) != 2 {
		t.Errorf("signed: %+v", signed)
	}
}

// What else a station does with a pallet reaches the record.
func TestOtherCommands(t *testing.T) {
	s := serve(t)
	badge := s.Badge(t, operator)
	byQuality, bySecond := s.Badge(t, "P03"), s.Badge(t, inspector)
	for _, c := range []struct {
		kind  core.EventKind
		at    core.StationID
		path  string
		steps []step
	}{
		{core.EvSlotted, "STORE-1", at(outside), []step{keys("[data-scan]", "https://shop.example/T/STORE-1/C4\r")}},
		{core.EvTakenIn, "ROUND-AL", at(outside), []step{click("form[data-command=take-in] button")}},
		{core.EvBegun, "ROUND-AL", at(short), []step{click("[data-open=more]"), click("form[data-command=begin] button")}},
		{core.EvHandedOver, "ROUND-AL", at(onward), []step{click("form[data-command=hand-over] button")}},
		{core.EvDivided, "ROUND-AL", at(mixed), append(other("divide"), keys("#divide [data-number]", "1"), click("#divide button[type=submit]"))},
		{core.EvRecounted, "ROUND-AL", at(short), append(other("recount"), keys("#recount [data-number]", "23"), click("#recount button[type=submit]"), signing(badge))},
		{core.EvProblemReported, "ROUND-AL", at(short), append(other("problem"), keys("#problem [data-number]", "2"), click("#problem [data-why='bent wrong']"),
			click("#problem button[type=submit]"), signing(badge))},
		{core.EvFused, "ROUND-AL", at(alike), append(other("fuse"), chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("#fuse input[name^=lots]").forEach(e => e.click())`),
			click("#fuse button[type=submit]"), signing(badge))},
		{core.EvSettled, "BOOTH-1", at(doubtful), []step{click("[data-open=settle]"), click("#settle label:has([value=yes])"), keys("#settle [name=reason]", "felt every edge"),
			click("#settle button[type=submit]"), signing(byQuality), seen("#refusal"), click("#refusal [data-part=two]"), signing(byQuality), signing(bySecond)}},
		{core.EvGoodsReceived, "GOODS-1", "/station/goods", []step{chromedp.Evaluate[chromedp.Void](`{const i = document.querySelector("[data-item]"); i.value = [...i.options].find(o => o.value.startsWith("SH-5005")).value; i.dispatchEvent(new Event("change", {bubbles: true}));}`),
			keys("[name=heat]", "H5-20999"), keys("[name=label]", "M-1099"), click("[name=identified]"), click("main button[type=submit]"), signing(badge)}},
	} {
		t.Run(string(c.kind), func(t *testing.T) {
			ctx := s.Tablet(t, c.at)
			goTo(t, ctx, s.URL+c.path)
			browsertest.Do(t, ctx, c.steps...)
			browsertest.Do(t, ctx, seen("[data-done-line]"))
			if n := len(signedEvents(s, c.kind)); n != 1 {
				t.Errorf("%d events, want 1", n)
			}
		})
	}
}
