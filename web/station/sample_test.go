package station_test

import (
	"strings"
	"testing"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

var plates = pallet(31) // hinge plates, at the inspection bay

// A lot judged by a sample: the page asks how many were looked at, says before
// signing that one bad plate refuses all twelve, and so it is.
func TestASampleOnTheTablet(t *testing.T) {
	f := floor(t)
	f.Pallet(plates, "INSPECT-1")
	f.Lot(plates, "HP-80", line("O-4112", 2), 12, "final-check")
	s := webtest.Live(t, f, station.Endpoints)
	badge := s.Badge(t, inspector)
	ctx := s.Tablet(t, "INSPECT-1")
	goTo(t, ctx, s.URL+at(plates))
	if got := browsertest.Text(t, ctx, ".lot .sample legend"); got != "Sample: look at 5 of 12; one bad part refuses the lot" {
		t.Errorf("the page asks %q", got)
	}
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "How many were looked at?" {
		t.Fatalf("the button says %q", got)
	}
	browsertest.Screenshot(t, ctx, "station-sample")
	browsertest.Axe(t, ctx)
	browsertest.Do(t, ctx, click(".sample label:has(input[value='5'])"))
	browsertest.Do(t, ctx, click("[data-go]")) // both checks met
	browsertest.Do(t, ctx, click("[data-not-good]"), seen("[data-counts][open]"), click("[data-counts][open] [data-key='1']"))
	if got := browsertest.Text(t, ctx, "[data-counts][open] .message"); !strings.HasPrefix(got, "The sample fails: the whole lot is refused") {
		t.Errorf("with a bad one the panel says %q", got)
	}
	browsertest.Screenshot(t, ctx, "station-sample-fails")
	browsertest.Do(t, ctx, click("[data-counts][open] [data-why='scratched']"), click("[data-counts][open] [data-tally-done]"))
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Refuse the lot: 1 bad of 5" {
		t.Errorf("the button says %q", got)
	}
	browsertest.Do(t, ctx, click("[data-go]"), signing(badge), seen("[data-done-line]"))
	l := lotOn(t, s, plates, 0)
	if l.Qty != 11 || l.Facts.At(core.Fact{Name: core.FinalAccepted}, apptest.Now) != core.No || l.Facts.At(core.Fact{Name: core.SampleRefused}, apptest.Now) != core.Yes {
		t.Errorf("the lot stands at %+v", l)
	}
	if _, held := core.HeldBy(s.World.State, l); !held {
		t.Error("the lot whose sample failed is not held")
	}
}
