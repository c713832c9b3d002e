package station_test

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/photos"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

// tapped counts what a finger or a mouse really pressed on the page, before and after those a script pressed.
func tapped(t testing.TB, ctx context.Context) int {
	t.Helper()
	return browsertest.Run(t, ctx, chromedp.Evaluate[int](`window.taps`))
}

var countTaps = chromedp.Evaluate[chromedp.Void](`{window.taps = 0; addEventListener("click", (e) => { if (e.isTrusted && e.detail) window.taps++; }, true);}`)

// A nonconformity is reported in three taps, a badge and a PIN: on the work page before the step is signed, in
// the middle of it, with a photo, and where the station has nothing more to do. The good go on; the bad are on a
// quarantine pallet whose traveller is the next thing to print.
func TestProblemInThreeTaps(t *testing.T) {
	photo, err := filepath.Abs("../../internal/photo/testdata/odd-420.jpg")
	if err != nil {
		t.Fatal(err)
	}
	const panel = "[data-counts][open] "
	// A file chosen stands for the camera's own picture; the tap that opens the camera is counted with it.
	takes := chromedp.Steps(click(panel+"[data-part=camera]"), chromedp.SetUploadFiles(panel+"[data-part=camera]", []string{photo}), seen(panel+"[data-state=kept] img"))
	shoots := func(from, into string) step {
		return chromedp.Steps(click(from+" .shot"), chromedp.SetUploadFiles(from+" [data-shot]", []string{photo}), seen(into+"[data-state=kept] img"))
	}
	twenty := pallet(70)
	for _, c := range []struct {
		name   string
		pallet core.PalletCode
		taps   []step
		bad    int
		photos int
	}{
		{"two of 24, not signed yet", short, []step{click("[data-not-good]"), click(panel + "[data-key='2']"), click(panel + "[data-why='scratched']")}, 2, 0},
		{"one of 24, with a photo", short, []step{click("[data-not-good]"), takes, click(panel + "[data-why='scratched']")}, 1, 1},
		{"two of 20, with a photo", twenty, []step{shoots("main", panel), click(panel + "[data-key='2']"), click(panel + "[data-why='scratched']")}, 2, 1},
		{"two of 10, the station's work done, with a photo", onward, []step{shoots("main", "#problem "), click("#problem [data-key='2']"), click("#problem [data-why='scratched']")}, 2, 1},
		{"all of a lot, by its key", mixed, []step{click("[data-not-good]"), click(panel + "[data-key='all']"), click(panel + "[data-why='scratched']")}, 4, 0},
		{"two of 10, the station's work done", onward, []step{click("main [data-open=problem]"), click("#problem [data-key='2']"), click("#problem [data-why='scratched']")}, 2, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := floor(t)
			f.Pallet(twenty, "ROUND-AL")
			f.Lot(twenty, "LB-BLADE", line("O-4104", 1), 20, "edge-round")
			s := webtest.Live(t, f, func(svc *app.Service) []endpoint.Endpoint {
				return slices.Concat(station.Endpoints(svc), photos.Endpoints(svc))
			})
			badge, ctx := s.Badge(t, operator), s.Tablet(t, "ROUND-AL")
			all := lotOn(t, s, c.pallet, 0).Qty
			goTo(t, ctx, s.URL+at(c.pallet))
			browsertest.Do(t, ctx, countTaps)
			browsertest.Do(t, ctx, c.taps...)
			browsertest.Do(t, ctx, chromedp.KeyEvent(badge+"\r"), seen("#sign"))
			if n := tapped(t, ctx); n != 3 {
				t.Errorf("%d taps, want 3", n)
			}
			if got := browsertest.Text(t, ctx, "#sign h1"); got != "Report a problem" {
				t.Errorf("what is signed is %q", got)
			}
			if got, want := browsertest.Text(t, ctx, "#sign [data-part=own]"), fmt.Sprintf("%d of %d, scratched", c.bad, all); !strings.HasPrefix(got, want) {
				t.Errorf("the signature is for %q, want %q", got, want)
			}
			if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector("#sign [data-part=slot]").checkVisibility()`)) {
				t.Error("the step's own signature stands beside the report's")
			}
			browsertest.Do(t, ctx, chromedp.KeyEvent(apptest.PIN), seen("form[action='/pallets/travellers']"))
			due := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector("[name=pallets]").value`))
			reported := signedEvents(s, core.EvProblemReported)
			if len(reported) != 1 || len(reported[0].Photos) != c.photos || len(signedEvents(s, core.EvSigned)) != 0 {
				t.Fatalf("reported: %+v", reported)
			}
			for _, p := range s.World.State.Problems {
				if p.Qty != c.bad || p.What != "scratched" || p.By != operator {
					t.Errorf("problem %+v, want %d scratched", p, c.bad)
				}
				if on := s.World.State.Pallets[core.PalletCode(s.World.State.Lots[p.Lot].Place.Ref)]; on.Kind != core.Quarantine || !strings.Contains(due, string(on.Code)) {
					t.Errorf("the bad ones are on %+v, and to print are %s", on, due)
				}
			}
			if left := s.World.State.LotsAt(core.On(c.pallet)); c.bad < all && (len(left) == 0 || left[0].Qty != all-c.bad) {
				t.Errorf("on the pallet are %+v, want %d good ones", left, all-c.bad)
			}
		})
	}
}

// A miscount is put right as quickly as parts are moved or lots made one: one part fewer or more is one tap, every other
// number one for each of its digits; what it comes to stands on the button, so nothing is asked after the signature.
func TestRecountInThreeTaps(t *testing.T) {
	s := serve(t)
	badge, ctx := s.Badge(t, operator), s.Tablet(t, "ROUND-AL")
	again := chromedp.Steps(click("[data-open=more]"), click("#more [data-open=recount]"))
	for _, c := range []struct {
		name  string
		taps  []step
		most  int
		says  string
		found int
	}{
		{"one is not there", []step{again, click("#recount [data-step='-1']")}, 3, "Record 23: 1 not there", 23},
		{"many are not there", []step{again, click("#recount [data-key='1']"), click("#recount [data-key='8']")}, 4, "Record 18: 5 not there", 18},
		{"none is there", []step{again, click("#recount [data-key='0']")}, 3, "Record 0: 18 not there", 0},
	} {
		goTo(t, ctx, s.URL+at(short))
		browsertest.Do(t, ctx, countTaps)
		browsertest.Do(t, ctx, c.taps...)
		if got := browsertest.Text(t, ctx, "#recount [data-recount-go]"); got != c.says {
			t.Errorf("%s: the button says %q, want %q", c.name, got, c.says)
		}
		browsertest.Do(t, ctx, chromedp.KeyEvent(badge+"\r"), seen("#sign"))
		if n := tapped(t, ctx); n != c.most {
			t.Errorf("%s: %d taps, want %d", c.name, n, c.most)
		}
		before := s.World.State.Lots[lotOn(t, s, short, 0).ID]
		if got, want := browsertest.Text(t, ctx, "#sign [data-part=own]"), fmt.Sprintf("%d there, %d on record", c.found, before.Qty); got != want {
			t.Errorf("%s: the signature is for %q, want %q", c.name, got, want)
		}
		browsertest.Do(t, ctx, chromedp.KeyEvent(apptest.PIN), seen("[data-done-line]"))
		if got := s.World.State.Lots[before.ID].Qty; got != c.found {
			t.Errorf("%s: %d on record, want %d", c.name, got, c.found)
		}
	}
}

// Nothing is signed where the count agrees; another lot brings its own number along.
func TestRecountThatAgrees(t *testing.T) {
	s := serve(t)
	badge, ctx := s.Badge(t, operator), s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(mixed))
	browsertest.Do(t, ctx, other("recount")...)
	browsertest.Do(t, ctx, chromedp.KeyEvent(badge+"\r"), click("#recount label:has(#recount-C)"))
	if got := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector("#recount [name=found]").value + (document.getElementById("sign").open ? " signed" : "")`)); got != "18" {
		t.Errorf("of the third lot stands there %q", got)
	}
	browsertest.Do(t, ctx, click("#recount [data-step='1']"), chromedp.KeyEvent(badge+"\r"), seen("#sign"))
	if got := browsertest.Text(t, ctx, "#sign [data-part=own]"); got != "19 there, 18 on record: lot C, service cover" {
		t.Errorf("the signature is for %q", got)
	}
}

// The button sends it too, and where all else is ready a badge scanned into the counts signs the step with them.
func TestCountsAreSent(t *testing.T) {
	s := serve(t)
	badge, ctx := s.Badge(t, operator), s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(short))
	const panel = "[data-counts][open] "
	browsertest.Do(t, ctx, countTaps, click("[data-not-good]"), click(panel+"[data-why='bent wrong']"), click(panel+"[data-report-now]"), seen("#sign"))
	if n := tapped(t, ctx); n != 3 {
		t.Errorf("%d taps to the signature, want 3", n)
	}
	browsertest.Do(t, ctx, chromedp.KeyEvent(badge+"\r"), chromedp.KeyEvent(apptest.PIN), seen("form[action='/pallets/travellers']"))
	goTo(t, ctx, s.URL+at(short))
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-not-good]"), click(panel+"[data-not-done]"), click(panel+"[data-key='half']"),
		click(panel+"[data-rest-box] label:has([value=begun])"))
	if got := browsertest.Text(t, ctx, panel+"[data-badge-says]"); got != "A badge scanned here signs: 11 good, 12 later." {
		t.Errorf("the panel says %q", got)
	}
	browsertest.Do(t, ctx, chromedp.KeyEvent(badge+"\r"), seen("#sign"), chromedp.KeyEvent(apptest.PIN), seen("[data-done-line]"))
	signed := signedEvents(s, core.EvSigned)
	if len(signed) != 1 || signed[0].Lots[0].Good != 11 || signed[0].Lots[0].NotDone != 12 {
		t.Errorf("signed %+v", signed)
	}
	for _, l := range s.World.State.LotsAt(core.On(short)) {
		if rounded := l.Facts.At(core.Fact{Name: core.EdgesRounded}, apptest.Now) == core.Yes; rounded != (l.Qty == 11) || rounded != (l.Started == nil) {
			t.Errorf("%d parts: rounded %v, begun %v", l.Qty, rounded, l.Started)
		}
	}
	// What is left of them is called untouched, and waits.
	goTo(t, ctx, s.URL+at(short))
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-not-good]"), click(panel+"[data-not-done]"), click(panel+"[data-key='2']"),
		click(panel+"[data-rest-box] label:has([value=waits])"), click(panel+"[data-tally-done]"), click("[data-go]"), seen("#sign"))
	if got := browsertest.Text(t, ctx, "#sign [data-sum]"); !strings.HasSuffix(got, ": 10 good, 2 not done yet, untouched, louvre blade") {
		t.Errorf("what is signed is %q", got)
	}
	browsertest.Do(t, ctx, chromedp.KeyEvent(badge+"\r"), chromedp.KeyEvent(apptest.PIN), seen("[data-done-line]"))
	for _, l := range s.World.State.LotsAt(core.On(short)) {
		if l.Started != nil {
			t.Errorf("%d parts are begun: %+v", l.Qty, l.Started)
		}
	}
}

// A badge scanned while somebody types words signs, and is not among the words.
func TestBadgeAmongWords(t *testing.T) {
	s := serve(t)
	badge, ctx := s.Badge(t, operator), s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(onward))
	browsertest.Do(t, ctx, click("main [data-open=problem]"), keys("#report [data-why-text]", "film torn"), chromedp.KeyEvent(badge+"\r"),
		seen("#sign"), chromedp.KeyEvent(apptest.PIN), seen("form[action='/pallets/travellers']"))
	for _, p := range s.World.State.Problems {
		if p.What != "film torn" || p.Qty != 1 {
			t.Errorf("problem %+v", p)
		}
	}
	if n := len(s.World.State.Problems); n != 1 {
		t.Errorf("%d problems, want 1", n)
	}
}
