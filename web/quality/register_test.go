package quality_test

import (
	"encoding/csv"
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

// decided is the shop of store with one problem used as it is and one made again.
func decided(t *testing.T) *apptest.Store {
	s := store(t)
	settle := func(id core.ProblemID, d core.Disposition, hours float64, by ...core.PersonID) {
		p := s.World.State.Problems[id]
		p.Disposition, p.Reason, p.Disposers, p.Closed = d, "as agreed", by, apptest.Now
		p.Arose, p.Hours = "fold", hours
		s.World.State.Problems[id] = p
	}
	settle("N-1", core.DisposeUseAsIs, 0.5, "P18", "P03")
	settle("N-2", core.DisposeRemake, 3, "P03")
	lot := s.World.State.Lots[s.World.State.Problems["N-1"].Lot]
	s.Problem("N-3", lot.ID, 1, "pack", "DOCK-1", "=strap mark", time.Hour)
	return s
}

// What must be retained of each nonconformity: ISO 9001:2015, 8.7.2 a to d (from
// memory). The wanted texts are of the two that were decided.
func TestTheRegisterHoldsWhatMustBeKept(t *testing.T) {
	s := decided(t)
	noted := s.World.State.Problems["N-2"]
	noted.Photos = []string{strings.Repeat("ab", 32)}
	s.World.State.Problems["N-2"] = noted
	site := webtest.Serve(t, caller, apptest.Now, quality.Endpoints(s.Service(t))...)
	_, page, _ := site.Get(t, "/quality/register")
	_, file, head := site.Get(t, "/quality/register.csv")
	if got := head.Get("Content-Type"); got != "text/csv; charset=utf-8; header=present" {
		t.Errorf("the file is sent as %q", got)
	}
	for clause, want := range map[string][]string{
		"8.7.2 a, describes the nonconformity":    {"undercut 0.4 mm along the hinge side", "1 door leaf, left", "film under 48 µm on the inside face"},
		"8.7.2 b, describes the actions taken":    {"scrap, and make again", "as agreed"},
		"8.7.2 c, describes concessions obtained": {"use as it is, under concession"},
		"8.7.2 d, identifies who decided":         {"Rafe Tolliver and Ilse Marrable"},
		"what it cost, and where it came about":   {"3.5", "Fold", "open for 1 h"},
		"what it looked like":                     {"/photos/" + strings.Repeat("ab", 32) + "/thumb"},
	} {
		for _, w := range want {
			if !strings.Contains(page, w) {
				t.Errorf("%s: the page lacks %q", clause, w)
			}
		}
	}
	rows, err := csv.NewReader(strings.NewReader(file)).ReadAll()
	if err != nil || len(rows) != 4 {
		t.Fatalf("%d lines, %v", len(rows), err)
	}
	field := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	if got := field(rows[1], "nonconformity"); got != "'=strap mark" {
		t.Errorf("a text that could run as a formula is written %q", got)
	}
	for name, want := range map[string]string{
		"nonconformity": "undercut 0.4 mm along the hinge side", "action": "use as it is, under concession", "concession": "yes",
		"decided_by": "Rafe Tolliver; Ilse Marrable", "came_about_at": "Fold", "hours": "0.5", "parts": "1", "order": "O-4105",
	} {
		if got := field(rows[2], name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	if status, _, _ := site.Get(t, "/quality/register?from=yesterday"); status != 409 {
		t.Errorf("a day that is none: status %d", status)
	}
}

func TestTheRegisterInTheBrowser(t *testing.T) {
	s := decided(t)
	s.Lost = []app.MissingEntry{{Lot: core.Lot{ID: "L77", Item: s.Item("HP-80"), Owner: core.Owner{Order: "O-4104", Line: 1}, Lost: 2},
		From: "P4K7M2QX", Qty: 2, At: apptest.Now.Add(-time.Hour), Station: "BRAKE-1", Person: "P12"}}
	site := webtest.Serve(t, caller, apptest.Now, quality.Endpoints(s.Service(t))...)
	ctx := browsertest.New(t, browsertest.Desk)
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/quality/register"), chromedp.WaitVisible(".register"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "register")
	// By keys alone: what came about at folding, and the file of it.
	browsertest.Keys(t, ctx, "[name=arose]", "Fold")
	browsertest.Keys(t, ctx, "form.filters button", "\r")
	browsertest.Do(t, ctx, chromedp.WaitVisible("a[download][href*='arose=fold']"))
	browsertest.TabTo(t, ctx, "a[download][href*='arose=fold']")
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/quality"), chromedp.WaitVisible(".case"))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "quality-missing")
	browsertest.Keys(t, ctx, "a[href='/history/lot/L77']", "")
	text := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.body.innerText`))
	if want := "missed on P4K7 M2QX"; !strings.Contains(text, want) || !strings.Contains(text, "2 hinge plates left") && !strings.Contains(text, "2 hinge plate") {
		t.Errorf("the page lacks %q or what is missing", want)
	}
}
