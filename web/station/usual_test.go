package station_test

import (
	"context"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

// chosen is the gauges the page has chosen, by kind.
func chosen(t *testing.T, ctx context.Context) map[string]string {
	t.Helper()
	return browsertest.Run(t, ctx, chromedp.Evaluate[map[string]string](
		`Object.fromEntries([...document.querySelectorAll("[data-gauge]")].map(s => [s.dataset.gauge, s.value]))`))
}

func chooses(kind, gauge string) step {
	return chromedp.Evaluate[chromedp.Void](`(s => { s.value = "` + gauge + `"; s.dispatchEvent(new Event("change", {bubbles: true})); })(document.querySelector("[data-gauge='` + kind + `']"))`)
}

// The tablet offers the gauge used last for each kind of reading at its station,
// unless its calibration has ended since; one overdue is marked, and refused.
func TestTabletRemembersItsGauges(t *testing.T) {
	f := floor(t)
	next, third := pallet(61), pallet(62)
	for _, p := range []core.PalletCode{next, third} {
		f.Pallet(p, "BRAKE-1")
		f.Lot(p, "SK-1200", line("O-4104", 1), 6, "fold")
	}
	s := live(t, f)
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "BRAKE-1")
	goTo(t, ctx, s.URL+at(folded))
	if got := chosen(t, ctx); got["angle gauge"] != "" || got["caliper"] != "" {
		t.Fatalf("a tablet that was never used offers %v", got)
	}
	overdue := browsertest.Run(t, ctx, chromedp.Evaluate[[]string](`[...document.querySelectorAll("[data-overdue]")].map(o => o.text)`))
	if !slices.Equal(overdue, []string{"CA-03, overdue since Sun 15 Nov"}) {
		t.Errorf("marked as overdue: %q", overdue)
	}
	measured := []step{
		click("[data-go]"), keys(".aimed", "90"), chooses("angle gauge", "AG-02"),
		click("[data-go]"), keys(".aimed", "30"), chooses("caliper", "CA-03"), click("[data-go]"),
	}
	browsertest.Do(t, ctx, append(measured, signing(badge), seen("#refusal"))...)
	if got := browsertest.Text(t, ctx, "#refusal h1"); got != "The calibration of caliper 150, brakes ran out on 15 November 2026." {
		t.Errorf("with an overdue gauge the shop says %q", got)
	}
	browsertest.Do(t, ctx, click("#refusal [data-close]"), chooses("caliper", "CA-01"), click("[data-go]"), signing(badge), seen("[data-done-line]"))

	goTo(t, ctx, s.URL+at(next))
	if got := chosen(t, ctx); got["angle gauge"] != "AG-02" || got["caliper"] != "CA-01" {
		t.Errorf("the tablet offers %v, want the gauges used last", got)
	}
	browsertest.Do(t, ctx, click("[data-go]"), keys(".aimed", "90"), click("[data-go]"), keys(".aimed", "30"), click("[data-go]"), signing(badge), seen("[data-done-line]"))
	if signed := signedEvents(s, core.EvSigned); len(signed) != 2 || signed[1].Checks[0].Instrument != "AG-02" || signed[1].Checks[1].Instrument != "CA-01" {
		t.Errorf("recorded %+v", signed)
	}

	// Its calibration ends; the tablet no longer offers it.
	s.Change(func(f *apptest.Floor) {
		g := f.World.Book.Instruments["CA-01"]
		g.DueBy = "2026-11-24"
		f.World.Book.Instruments["CA-01"] = g
	})
	goTo(t, ctx, s.URL+at(third))
	if got := chosen(t, ctx); got["angle gauge"] != "AG-02" || got["caliper"] == "CA-01" {
		t.Errorf("the tablet offers %v, one of them overdue", got)
	}
	// What another station uses is no business of this one's.
	s.Enrol(t, ctx, "BRAKE-2")
	goTo(t, ctx, s.URL+at(third))
	s.Change(func(f *apptest.Floor) { f.Change(third, func(p *core.PalletRow) { p.Station = "BRAKE-2" }) })
	goTo(t, ctx, s.URL+at(third))
	if got := chosen(t, ctx); got["angle gauge"] != "" {
		t.Errorf("moved to another station, the tablet offers %v", got)
	}
}
