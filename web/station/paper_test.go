package station_test

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/webtest"
)

// What was signed with a pen is entered with the paper's own time, by two; one
// alone and a time to come are refused, and what was entered stays.
func TestEnterFromPaper(t *testing.T) {
	s := serve(t)
	maker, other := s.Badge(t, operator), s.Badge(t, "P21")
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+at(short))
	browsertest.Do(t, ctx, click("[data-open=more]"), seen("#more"), click("#more a[href*='/station/paper/']"), seen("[name=onPaper]"), fonts)
	if got := browsertest.Text(t, ctx, "[data-go]"); got != "Type the time on the paper" {
		t.Errorf("the button says %q", got)
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
	look("paper")
	browsertest.Do(t, ctx, days("[name=onPaper]", "2026-11-26T07:30"), click("[data-go]"), click("[data-go]"), click("[data-go]"), seen("#sign"))
	look("paper-sign")
	browsertest.Do(t, ctx, signing(maker), signing(other), seen("#refusal"))
	if got := browsertest.Text(t, ctx, "#refusal-title"); got != "The time on the paper is in the future, or more than 31 days ago." {
		t.Errorf("refused with %q", got)
	}
	// The same person twice is told at the panel; a page that asked one signature
	// only is told that it takes two, and goes on with two.
	browsertest.Do(t, ctx, click("#refusal [data-close]"), days("[name=onPaper]", "2026-11-25T07:30"), click("[data-go]"), signing(maker), signing(maker))
	browsertest.Do(t, ctx, seen("#sign [data-part=message]:not(:empty)"))
	if got := browsertest.Text(t, ctx, "#sign [data-part=message]"); !strings.Contains(got, "has signed twice") {
		t.Errorf("one person twice is refused with %q", got)
	}
	browsertest.Do(t, ctx, click("#sign [data-part=back]"), chromedp.Evaluate[chromedp.Void](`document.querySelector("#do").dataset.sign = "1"`),
		click("[data-go]"), signing(maker), seen("#refusal"))
	if got := browsertest.Text(t, ctx, "#refusal-title"); got != "A signature entered from paper takes two people: who did the work, and one who compared the paper." {
		t.Errorf("one person alone is refused with %q", got)
	}
	if n := len(signedEvents(s, core.EvSigned)); n != 0 {
		t.Fatalf("%d signed all the same", n)
	}
	browsertest.Do(t, ctx, click("#refusal [data-part=two]"), signing(maker), signing(other), seen("[data-done-line]"))
	signed := signedEvents(s, core.EvSigned)
	if len(signed) != 1 || !signed[0].OnPaper || !signed[0].Happened.Equal(time.Date(2026, 11, 25, 7, 30, 0, 0, time.UTC)) {
		t.Fatalf("signed: %+v", signed)
	}
	by := signed[0].Signed
	if len(by) != 2 || by[0].Person != operator || by[0].Meaning != core.MeantMade || by[1].Person != "P21" || by[1].Meaning != core.MeantApproved {
		t.Errorf("signed by %+v", by)
	}
	if l := lotOn(t, s, short, 0); l.Facts.At(core.Fact{Name: core.EdgesRounded}, apptest.Now) != core.Yes {
		t.Error("the edges are not rounded in the record")
	}
}

// The browser turns the paper's time into a moment by the shop's own clock, in
// winter and in summer, wherever the tablet thinks it is.
func TestPaperTimeIsTheShops(t *testing.T) {
	s := serve(t)
	ctx := s.Tablet(t, "ROUND-AL")
	goTo(t, ctx, s.URL+"/station/paper/"+string(short))
	body := func(zone, local string) string {
		browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.querySelector("[name=onPaper]").dataset.zone = "`+zone+`"`), days("[name=onPaper]", local))
		return browsertest.Run(t, ctx, chromedp.Evaluate[string](`import([...document.scripts].find(s => s.src.includes("panels")).src).then(async () => {
			const url = performance.getEntriesByType("resource").map(e => e.name).find(n => n.includes("/command."));
			const {bodyOf} = await import(url);
			return bodyOf(document.querySelector("#do")).onPaper;
		})`, chromedp.EvalAwaitPromise))
	}
	for _, c := range []struct{ zone, local string }{
		{"Europe/London", "2026-07-01T07:30"}, {"Europe/London", "2026-11-25T07:30"}, {"Europe/London", "2026-10-25T03:30"},
		{"America/New_York", "2026-03-08T12:00"}, {"Australia/Adelaide", "2026-10-04T12:00"}, {"Asia/Kathmandu", "2026-01-01T00:15"},
	} {
		zone, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		want, err := time.ParseInLocation("2006-01-02T15:04", c.local, zone)
		if err != nil {
			t.Fatal(err)
		}
		got, err := time.Parse(time.RFC3339, body(c.zone, c.local))
		if err != nil || !got.Equal(want) {
			t.Errorf("%s in %s is %v (%v), want %v", c.local, c.zone, got, err, want.UTC())
		}
	}
}

// A page reloaded while the shop was silent asks both signatures again, and the
// step is recorded once.
func TestPaperReloadedAsksBoth(t *testing.T) {
	s := serve(t)
	maker, other := s.Badge(t, operator), s.Badge(t, "P21")
	ctx := s.Tablet(t, "ROUND-AL")
	browsertest.Expect(t, ctx, "answered 500")
	goTo(t, ctx, s.URL+"/station/paper/"+string(short))
	browsertest.Do(t, ctx, days("[name=onPaper]", "2026-11-25T07:30"), click("[data-go]"), click("[data-go]"), click("[data-go]"), seen("#sign"))
	s.Change(func(*apptest.Floor) { s.Lose = 3 })
	browsertest.Do(t, ctx, signing(maker), signing(other), seen("#silent"), chromedp.Reload(), seen("#sign"))
	if got := browsertest.Text(t, ctx, "#sign [data-part=which]"); got != "First signature" {
		t.Errorf("after the reload the panel asks for %q", got)
	}
	browsertest.Do(t, ctx, signing(maker), signing(other), seen("[data-done-line]"))
	if signed := signedEvents(s, core.EvSigned); len(signed) != 1 || len(signed[0].Signed) != 2 {
		t.Errorf("signed: %+v", signed)
	}
}
