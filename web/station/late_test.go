package station_test

import (
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

var (
	opened = pallet(60) // a wall panel at weld bench 3, sent over the rework in which a late part joins it
	spares = pallet(61) // stiffeners for it, done, and one that was never rounded
)

// lateFloor has a panel at a weld bench whose next step joins a late component.
func lateFloor(t testing.TB) *apptest.Floor {
	t.Helper()
	f := floor(t)
	owner := line("O-4105", 1)
	f.Pallet(opened, "WELD-3")
	unit := f.Lot(opened, "WP-2400", owner, 1, "weld-dress")
	for _, c := range f.World.Book.Items[f.Item("WP-2400")].Bill {
		part := f.Lot(opened, c.Item.Item, owner, c.Qty, "")
		f.ChangeLot(part, func(l *core.Lot) {
			l.Place, l.Heats = core.Place{Kind: core.Inside, Ref: string(unit)}, []string{"H5-20881"}
		})
	}
	f.ChangeLot(unit, func(l *core.Lot) {
		l.Unit = "U4K7M2QX"
		l.Rework = &core.Rework{Route: core.RouteRef{Name: "LATE-PART", Version: 1}, Rejoin: 30}
	})
	f.Pallet(spares, "WELD-3")
	f.Lot(spares, "ST-1900", owner, 2, "")
	f.Lot(spares, "ST-1900", core.Owner{}, 1, "edge-round")
	return f
}

// A stiffener comes out of a panel and another goes in; what would leave it
// short, over or with a sharp part in it is refused in the server's own words.
func TestJoinALateComponent(t *testing.T) {
	s := webtest.Live(t, lateFloor(t), station.Endpoints)
	badge := s.Badge(t, welder)
	ctx := s.Tablet(t, "WELD-3")
	goTo(t, ctx, s.URL+at(opened))
	one := func(way string, n int) step {
		return click(`.late-part:has([name="` + way + `.` + string(rune('0'+n)) + `.qty"]) [data-step="1"]`)
	}
	back := func(way string, n int) step {
		return click(`.late-part:has([name="` + way + `.` + string(rune('0'+n)) + `.qty"]) [data-step="-1"]`)
	}
	look := func(name string) {
		t.Helper()
		for _, light := range []string{"night", "day"} {
			browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.light = "`+light+`"`))
			webtest.CheckTablet(t, ctx, name+" by "+light)
			browsertest.Screenshot(t, ctx, "station-"+name+map[string]string{"day": "", "night": "-night"}[light])
		}
		browsertest.Axe(t, ctx)
	}
	refused := func(want string, steps ...step) {
		t.Helper()
		browsertest.Do(t, ctx, steps...)
		browsertest.Do(t, ctx, click("[data-go]"), signing(badge), seen("#refusal"))
		if got := browsertest.Text(t, ctx, "#refusal-title"); !strings.Contains(got, want) {
			t.Errorf("refused with %q, want %q", got, want)
		}
		browsertest.Do(t, ctx, click("#refusal [data-close]"))
	}
	// Which component is which: the stiffener's place in the list of the unit's own.
	stiffener := browsertest.Run(t, ctx, chromedp.Evaluate[int](`Number([...document.querySelectorAll("[data-way=out]")].find(e => e.dataset.name === "wall stiffener").name.split(".")[1])`))
	look("late")
	if got := browsertest.Text(t, ctx, `.late-part:has([name="in.1.qty"])`); !strings.Contains(got, "waits for “Round the edges”") {
		t.Errorf("of the sharp stiffener the page says %q", got)
	}
	refused("Which late component goes into 1 wall panel 2400 is missing.")
	refused("The unit would hold 1 × wall stiffener more than its bill asks.", one("in", 0))
	// Two of them by the pad; a third finger too many is told before anything is signed.
	out := `.late-part [name="out.` + strconv.Itoa(stiffener) + `.qty"]`
	key := func(k string) step { return click("form .late:not([hidden]) .pad [data-key='" + k + "']") }
	browsertest.Do(t, ctx, click(out), key("5"))
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Only 3 of these are there" {
		t.Errorf("five of three: the button says %q", got)
	}
	browsertest.Do(t, ctx, key("all"))
	if got := browsertest.Text(t, ctx, `.late:not([hidden]) [data-all]`); got != "All 3" {
		t.Errorf("the pad offers %q", got)
	}
	browsertest.Do(t, ctx, click(out), key("2"))
	if got := browsertest.Text(t, ctx, `[data-late-line]:has([name="in.0.qty"]) [data-balance]`); !strings.Contains(got, "1 short") {
		t.Errorf("two out and one in: the page says %q", got)
	}
	browsertest.Do(t, ctx, click("[data-go]"))
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Say what is wrong with them" {
		t.Errorf("the button says %q", got)
	}
	browsertest.Do(t, ctx, click("[data-why='wrong size']"))
	look("late-why")
	refused("The unit would be short of 1 × wall stiffener.")
	browsertest.Do(t, ctx, click("[data-face-back]"), back("out", stiffener), back("in", 0), one("in", 1), click("[data-go]"))
	refused("“Round the edges” comes first")
	browsertest.Do(t, ctx, click("[data-face-back]"), back("in", 1), one("in", 0), click("[data-go]"), click("[data-go]"), seen("#sign"))
	look("late-sign")
	browsertest.Do(t, ctx, signing(badge), seen("[data-done-line]"))
	recorded(t, ctx, "Join the late component: signed")
	joined := signedEvents(s, core.EvJoinedLate)
	if len(joined) != 1 || joined[0].Signed[0].Person != welder {
		t.Fatalf("joined: %+v", joined)
	}
	unit := lotOn(t, s, opened, 0)
	inside := 0
	for _, l := range s.World.State.LotsAt(core.Place{Kind: core.Inside, Ref: string(unit.ID)}) {
		if l.Item.Item == "ST-1900" {
			inside += l.Qty
		}
	}
	if inside != 3 || len(s.World.State.Problems) != 1 {
		t.Errorf("%d stiffeners inside, want 3; %d problems, want 1", inside, len(s.World.State.Problems))
	}
	if next := core.NextSteps(s.World.Book, unit); len(next) == 0 || next[0].Stage != "weld" {
		t.Errorf("next: %+v", next)
	}
}

// A reading that the step asks for is typed on the same pad as the counts.
func TestReadingsOfALateComponent(t *testing.T) {
	f := lateFloor(t)
	route := f.World.Book.Routes[core.RouteRef{Name: "LATE-PART", Version: 1}]
	lower, upper := 2.8, 4.0
	route.Steps[0].Checks = []core.Characteristic{
		{ID: "prep", Text: "Joint clean and dry, both sides", Kind: core.Tick},
		{ID: "gap", Text: "Root gap at the joint", Kind: core.Measure, Lower: &lower, Upper: &upper, Unit: "mm"},
	}
	s := webtest.Live(t, f, station.Endpoints)
	ctx := s.Tablet(t, "WELD-3")
	goTo(t, ctx, s.URL+at(opened))
	const face = "form .late:not([hidden]) "
	pad := func(k string) step { return click(face + ".pad [data-key='" + k + "']") }
	browsertest.Do(t, ctx, click(`[name="in.0.qty"]`), pad("1"), click("[data-go]"), seen(face+"[data-measure]"), click(face+"[data-measure] [data-number]"),
		pad("3"), pad("."), pad("2"))
	if got := browsertest.Text(t, ctx, face+"[data-verdict]"); got != "inside" {
		t.Errorf("of 3.2 mm the page says %q", got)
	}
	webtest.CheckTablet(t, ctx, "late checks")
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "station-late-checks")
}

// The page says so where no unit waits for a late component.
func TestNoUnitToJoin(t *testing.T) {
	s := webtest.Live(t, lateFloor(t), station.Endpoints)
	for _, code := range []core.PalletCode{spares, short} {
		if status, page := s.Get(t, "WELD-3", "/station/late/"+string(code)); status != 404 || !strings.Contains(page, "waits here for a late component") {
			t.Errorf("%s: %d", code, status)
		}
	}
}
