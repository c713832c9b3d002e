package separate_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/separate"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

const (
	sheet core.PalletCode = "SYKD7C5P" // door parts of two orders, left and right
	small core.PalletCode = "SKVD9DJF" // stainless, ten lines; two nests may be its own
	begun core.PalletCode = "PMCXUKXP" // at the bench, parts of O-4101 that wait for rounding
)

func endpoints(s *app.Service) []endpoint.Endpoint {
	return slices.Concat(station.Endpoints(s), separate.Endpoints(s))
}

// bench is a floor with two cut sheets at a bench.
func bench(t testing.TB) (*apptest.Floor, []app.SheetCard) {
	t.Helper()
	f := apptest.New(t)
	put := func(code core.PalletCode, label, item, heat string) core.ItemRev {
		f.World.State.Pallets[code] = core.PalletRow{Code: code, Kind: core.SheetCarrier, Label: label, Station: "BENCH-1", Since: apptest.Now}
		f.Lot(code, core.ItemID(item), core.Owner{}, 1, "")
		rev := f.Item(core.ItemID(item))
		id := f.World.State.LotsAt(core.On(code))[0].ID
		f.ChangeLot(id, func(l *core.Lot) {
			l.Heats, l.Sheets = []string{heat}, []string{label}
			l.Done = nil
			for _, s := range f.World.Book.Routes[l.Route].Steps {
				if s.Stage != "separate" {
					l.Done = append(l.Done, s.No)
				}
			}
			l.Facts = core.Facts{{Name: core.MaterialIdentified}: {Value: core.Yes}, {Name: core.IsCut}: {Value: core.Yes}}
		})
		return rev
	}
	aluminium, stainless := put(sheet, "M-1007", "SH-5005-3", "H5-20881"), put(small, "M-1031", "SH-304-2", "H3-11820")
	f.Pallet(begun, "BENCH-1")
	f.Lot(begun, "DF-STILE", core.Owner{Order: "O-4101", Line: 1}, 6, "edge-round")
	nest := func(id string) core.Nest { return f.World.State.Nests[id] }
	return f, []app.SheetCard{
		{Code: sheet, Label: "M-1007", Material: aluminium, Heat: "H5-20881", Nest: nest("N-7007"), Cut: true},
		{Code: small, Label: "M-1031", Material: stainless, Heat: "H3-11820", Nest: nest("N-7010"), Cut: true},
		{Code: small, Label: "M-1031", Material: stainless, Heat: "H3-11820", Nest: core.Nest{ID: "N-7099", Material: stainless}, Cut: true},
	}
}

func open(t testing.TB) *webtest.LiveSite {
	t.Helper()
	f, cards := bench(t)
	s := webtest.Live(t, f, endpoints)
	s.Sheets = cards
	return s
}

func TestSuggestsPallets(t *testing.T) {
	s := open(t)
	p, err := s.Service().SheetPage(t.Context(), app.Caller{Tablet: "T", Station: "BENCH-1"}, sheet, "")
	if err != nil {
		t.Fatal(err)
	}
	to := map[string]string{}
	for _, l := range p.Lines {
		to[l.Revision.Name+" "+l.Owner.Order] = l.To
	}
	want := map[string]string{
		"door skin, left O-4101": string(begun), "door skin, right O-4101": string(begun), "door stile O-4101": string(begun),
		"door skin, left O-4105": "new:A", "wall stiffener O-4105": "new:A", "door rail O-4105": "new:A",
	}
	for name, pallet := range want {
		if to[name] != pallet {
			t.Errorf("%s is suggested for %q, want %q", name, to[name], pallet)
		}
	}
	if !p.Hands {
		t.Error("left and right door skins lie on one sheet, and nothing says so")
	}
}

// Stainless counts as steel beside aluminium.
func TestKeepsMetalsApart(t *testing.T) {
	s := open(t)
	p, err := s.Service().SheetPage(t.Context(), app.Caller{Tablet: "T", Station: "BENCH-1"}, small, "N-7010")
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Pallets) != 1 || !p.Pallets[0].Apart {
		t.Fatalf("pallets at the bench: %+v; the one with aluminium on it must be marked", p.Pallets)
	}
	for _, l := range p.Lines {
		if l.To == string(begun) {
			t.Errorf("%s is suggested onto aluminium", l.Revision.Name)
		}
	}
}

func TestAsksWhichNest(t *testing.T) {
	s := open(t)
	status, page := s.Get(t, "BENCH-1", "/separate/"+string(small))
	if status != 200 || !strings.Contains(page, "Which nest was cut from it?") || !strings.Contains(page, "nest=N-7010") {
		t.Errorf("%d, the page doesn't ask which of two nests it was", status)
	}
}

func TestSheetElsewhereIsTakenInFirst(t *testing.T) {
	s := open(t)
	status, page := s.Get(t, "BENCH-2", "/separate/"+string(sheet))
	if status != 200 || !strings.Contains(page, `data-command="take-in"`) {
		t.Errorf("%d: a sheet at another bench must be taken in first", status)
	}
}

func TestRefusesWhatIsNoSheet(t *testing.T) {
	s := open(t)
	for path, want := range map[string]string{
		"/separate/" + string(begun): "not the code of a sheet",
		"/separate/S4K7M2QX":         "not the code of a sheet",
	} {
		if status, page := s.Get(t, "BENCH-1", path); status != 422 || !strings.Contains(page, want) {
			t.Errorf("%s: %d", path, status)
		}
	}
}

func css(s string) chromedp.CSS { return chromedp.CSS(s) }

// fonts waits for a page's letters, and until all of it is there.
var fonts = chromedp.Evaluate[chromedp.Void](`new Promise((done) => { document.readyState === "complete" ? done() : addEventListener("load", done); }).then(() => document.fonts.ready).then(() => {})`, chromedp.EvalAwaitPromise)

// A sheet is ticked off, one line short and one damaged, signed, and its
// pallets are there to print.
func TestBreakOutASheet(t *testing.T) {
	s := open(t)
	badge := s.Badge(t, "P06")
	ctx := s.Tablet(t, "BENCH-1")
	browsertest.Do(t, ctx, chromedp.Navigate(s.URL+"/separate"), chromedp.WaitVisible(css(".cards")), fonts)
	browsertest.Screenshot(t, ctx, "separate-list")
	webtest.CheckTablet(t, ctx, "list")
	browsertest.Axe(t, ctx)
	browsertest.Do(t, ctx, chromedp.SendKeys(css("[data-scan]"), "HTTPS://SHOP.EXAMPLE/S/"+string(sheet)+"/1\r"), chromedp.WaitVisible(css(".nest-line")), fonts)
	browsertest.Screenshot(t, ctx, "separate-sheet")
	webtest.CheckTablet(t, ctx, "sheet")
	browsertest.Axe(t, ctx)
	browsertest.Do(t, ctx,
		chromedp.Click(css("[data-line='3'] [data-counts-open]")), chromedp.WaitVisible(css("[data-line='3'] dialog")),
		chromedp.SendKeys(css("[data-line='3'] [data-damaged]"), "1"))
	browsertest.Screenshot(t, ctx, "separate-counts")
	webtest.CheckTablet(t, ctx, "counts")
	browsertest.Do(t, ctx,
		chromedp.Click(css("[data-line='3'] [data-tally-done]")),
		chromedp.Click(css("[data-go]")))
	browsertest.Screenshot(t, ctx, "separate-ticked")
	webtest.CheckTablet(t, ctx, "ticked")
	browsertest.Do(t, ctx,
		chromedp.Click(css("[data-go]")), chromedp.WaitVisible(css("#sign")),
		chromedp.SendKeys(css("#badge"), badge+"\r"))
	browsertest.Screenshot(t, ctx, "separate-sign")
	webtest.CheckTablet(t, ctx, "sign")
	browsertest.Do(t, ctx, chromedp.SendKeys(css("#pin"), apptest.PIN), chromedp.WaitVisible(css("form[data-command='print-traveller']")), fonts)
	browsertest.Screenshot(t, ctx, "separate-printed")
	webtest.CheckTablet(t, ctx, "printed")
	browsertest.Axe(t, ctx)

	state := s.World.State
	if n := state.Nests["N-7007"]; !n.Separated || n.Sheet != sheet {
		t.Errorf("the nest is %+v", n)
	}
	good, damaged := 0, 0
	for _, l := range state.Lots {
		if l.Nest != "N-7007" {
			continue
		}
		if state.Pallets[core.PalletCode(l.Place.Ref)].Kind == core.Quarantine {
			damaged += l.Qty
		} else {
			good += l.Qty
		}
	}
	if good != 9 || damaged != 1 {
		t.Errorf("%d parts on pallets and %d in quarantine, want 9 and 1", good, damaged)
	}
	if len(state.Problems) != 1 {
		t.Errorf("%d problems, want one for the damaged part", len(state.Problems))
	}
}

// A nest of more lines than fit is turned like a page; steel onto aluminium is
// warned of.
func TestLongNest(t *testing.T) {
	s := open(t)
	badge := s.Badge(t, "P06")
	ctx := s.Tablet(t, "BENCH-1")
	browsertest.Do(t, ctx, chromedp.Navigate(s.URL+"/separate/"+string(small)), chromedp.WaitVisible(css(".grid")), fonts)
	browsertest.Screenshot(t, ctx, "separate-which-nest")
	webtest.CheckTablet(t, ctx, "which nest")
	browsertest.Do(t, ctx, chromedp.Click(css("a[href*='N-7010']")), chromedp.WaitVisible(css(".nest-line")), fonts)
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`{const to = document.querySelector("[data-to]"); to.value = "`+string(begun)+`"; to.dispatchEvent(new Event("change", {bubbles: true}));}`))
	if got := browsertest.Text(t, ctx, "p[data-apart]"); !strings.Contains(got, "Steel would lie on aluminium") {
		t.Errorf("the page says %q", got)
	}
	browsertest.Screenshot(t, ctx, "separate-apart")
	webtest.CheckTablet(t, ctx, "long nest")
	browsertest.Do(t, ctx, chromedp.Click(css("[data-go]")), chromedp.Click(css("[data-go]")), chromedp.Click(css("[data-go]")))
	if got := browsertest.Text(t, ctx, "[data-go]"); !strings.HasPrefix(got, "Sign: onto ") {
		t.Errorf("after all lines are ticked the button says %q", got)
	}
	browsertest.Do(t, ctx, chromedp.Click(css("[data-go]")), chromedp.WaitVisible(css("#sign")), chromedp.SendKeys(css("#badge"), badge+"\r"),
		chromedp.SendKeys(css("#pin"), apptest.PIN), chromedp.WaitVisible(css("form[data-command='print-traveller']")), fonts)
	if got := browsertest.Text(t, ctx, "[data-done-line]"); !strings.Contains(got, "M-1031 is broken out") || !strings.Contains(got, "aluminium") {
		t.Errorf("recorded: %q; the notice about the metals is missing", got)
	}
	webtest.CheckTablet(t, ctx, "long nest printed")
	browsertest.Screenshot(t, ctx, "separate-notice")
}
