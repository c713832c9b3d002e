package quality_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/quality"
	"tagalong/web/webtest"
)

var caller = app.Caller{Person: "P03", Name: "Ilse Marrable", Roles: []core.Role{core.Quality}}

func store(t *testing.T) *apptest.Store {
	f := apptest.New(t)
	f.Pallet("P4K7M2QX", "INSPECT-1")
	welded := f.Lot("P4K7M2QX", "DL-L", core.Owner{Order: "O-4105", Line: 2}, 1, "weld-inspect")
	f.Problem("N-1", welded, 1, "weld-inspect", "INSPECT-1", "undercut 0.4 mm along the hinge side", 130*time.Minute)
	f.World.State.Holds["N-1"] = core.Hold{ID: "N-1", Scope: core.HoldLot, Ref: string(welded), Problem: "N-1", At: apptest.Now}
	f.Pallet("PT6V4EJK", "COAT-TABLE-1")
	coated := f.Lot("PT6V4EJK", "WP-2400", core.Owner{Order: "O-4104", Line: 1}, 2, "coat-inspect")
	f.Problem("N-2", coated, 2, "coat-inspect", "COAT-TABLE-1", "film under 48 µm on the inside face", 26*time.Hour)
	f.Hold("H-1", core.HoldBatch, "PW-2291", "Recalled by its maker", 3*time.Hour)
	f.Hold("H-2", core.HoldPallet, "PB5W3XGN", "Straps cut; count before use", 20*time.Minute)
	s := &apptest.Store{Floor: f}
	for i, code := range []string{"wrong-station", "print-stale", "hold-unknown"} {
		s.Said = append(s.Said, app.RefusalRow{At: apptest.Now.Add(-time.Duration(i*17) * time.Minute), Kind: "sign-off", Person: "P12", Station: "WELD-2",
			Refusal: core.Refusal{Code: code, Params: map[string]string{"pallet": "P4K7M2QX", "station": "weld bench 2", "stage": "Fold", "stations": "press brake 1", "print": "2", "changes": "2 × hinge plate left", "hold": "H-9"}}})
	}
	return s
}

func TestQualityPage(t *testing.T) {
	s := store(t)
	site := webtest.Serve(t, caller, apptest.Now, quality.Endpoints(s.Service(t))...)
	status, text, _ := site.Get(t, "/quality")
	if status != 200 {
		t.Fatalf("status %d", status)
	}
	for _, want := range []string{
		"1 door leaf, left", "undercut 0.4 mm", "found at weld inspection, inspection bay, by Rafe Tolliver", `data-name="WELD-REPAIR"`, `data-command="dispose"`,
		"2 wall panels 2400", `name="overcoat.0"`, "pallet PB5W 3XGN", "Recalled by its maker", `data-command="lift-hold"`, `data-command="place-hold"`,
		"2 problems and 2 holds open", "rule", "Tilda Rooke",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(text, `name="hold" value="N-1"`) {
		t.Error("a problem's own hold may be lifted without its disposition")
	}
	nobody := webtest.Serve(t, app.Caller{Person: "P27", Roles: []core.Role{core.Fitter}}, apptest.Now, quality.Endpoints(s.Service(t))...)
	if status, _, _ := nobody.Get(t, "/quality"); status != 403 {
		t.Errorf("a fitter: status %d", status)
	}
}

func TestQualityWithNothingOpen(t *testing.T) {
	s := &apptest.Store{Floor: apptest.New(t)}
	_, text, _ := webtest.Serve(t, caller, apptest.Now, quality.Endpoints(s.Service(t))...).Get(t, "/quality")
	for _, want := range []string{"No open problem.", "Nothing is held.", "Nothing was refused."} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

func TestQualityInTheBrowser(t *testing.T) {
	s := store(t)
	site := webtest.Serve(t, caller, apptest.Now, quality.Endpoints(s.Service(t))...)
	browser := browsertest.Shared(t)
	ctx := browser.Open(t, browsertest.Desk)
	const first = "ol > li.case:first-child "
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/quality"), chromedp.WaitVisible(".case"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "quality")
	browsertest.Do(t, ctx, chromedp.Click(first+"summary"), chromedp.Click(first+"[value=rework]"), chromedp.WaitVisible(first+".rework"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "quality-rework")
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.light = "night"`))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "quality-night")

	// What the form would send, by the shared script that reads it.
	body := browsertest.Run(t, ctx, chromedp.Evaluate[string](`(async () => {
		const form = document.querySelector("li.case form[data-dispose]");
		form.elements.reason.value = "ground out and welded again";
		form.querySelector("[name='clear.0']").click();
		const panels = [...document.scripts].map(s => s.src).find(s => s.includes("/panels"));
		const text = await (await fetch(panels)).text();
		const { bodyOf } = await import(text.match(/from "([^"]*command[^"]*)"/)[1]);
		return JSON.stringify([bodyOf(form), form.dataset.sign]);
	})()`, chromedp.EvalAwaitPromise))
	var got []json.RawMessage
	var d core.Dispose
	if err := json.Unmarshal([]byte(body), &got); err != nil || json.Unmarshal(got[0], &d) != nil {
		t.Fatalf("the form sends %s: %v", body, err)
	}
	if d.Problem != "N-2" || d.Disposition != core.DisposeRework || d.Route.Name == "" || d.Route.Version != 1 || d.Rejoin != 140 || len(d.Clear) != 1 {
		t.Errorf("the form sends %+v", d)
	}
	concession := browsertest.Run(t, ctx, chromedp.Evaluate[[]string](`(() => {
		const form = document.querySelector("li.case form[data-dispose]");
		form.querySelector("[value='use-as-is']").click();
		return [form.dataset.sign, String(form.querySelector(".rework").hidden), String(form.querySelector(".rework").disabled)];
	})()`))
	if !slices.Equal(concession, []string{"2", "true", "true"}) {
		t.Errorf("a concession: signers, rework hidden, disabled: %q", concession)
	}
	phone := browser.Open(t, browsertest.Phone)
	browsertest.Do(t, phone, chromedp.Navigate(site.URL+"/quality"), chromedp.WaitVisible(".case"))
	if browsertest.Run(t, phone, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > innerWidth`)) {
		t.Error("the page is wider than the phone")
	}
}
