package station_test

import (
	"context"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/webtest"
)

// everythingKept is all that the browser keeps of the site: both storages and its database.
const everythingKept = `new Promise((ok, no) => {
	const open = indexedDB.open("tagalong", 1);
	open.onerror = () => no(open.error);
	open.onsuccess = () => {
		const all = open.result.transaction("waiting").objectStore("waiting").getAll();
		all.onsuccess = () => { open.result.close(); ok(JSON.stringify([all.result, {...localStorage}, {...sessionStorage}])); };
	};
})`

func kept(t testing.TB, ctx context.Context) string {
	t.Helper()
	return browsertest.Run(t, ctx, chromedp.Evaluate[string](everythingKept, chromedp.EvalAwaitPromise))
}

// waits waits for the line at the foot of the page to say how much waits.
func waits(t testing.TB, ctx context.Context, text string) {
	t.Helper()
	browsertest.Do(t, ctx, seen("[data-waits]"))
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector("[data-waits] [data-part=text]").textContent === `+"`"+text+"`"))
}

var keepIt = chromedp.Steps(seen("#silent"), click("#silent [data-part=keep]"))

// back is the network's return, as the browser tells it.
var back = chromedp.Evaluate[chromedp.Void](`dispatchEvent(new Event("online"))`)

// A tablet that loses the network keeps what is done on it, is switched off, and sends it when it is switched on again:
// oldest first, each once, what was recorded already too. A signature is given once more, by the same badge: neither
// badge nor PIN was kept. What is refused then stays on the list, and whoever made it is told.
func TestWhatWaitsOutlivesTheBrowser(t *testing.T) {
	s := serve(t)
	badge, stranger := s.Badge(t, operator), s.Badge(t, welder)
	home := t.TempDir()
	first := browsertest.StartIn(t, home)
	ctx := first.OpenOwn(t, browsertest.Tablet)
	for _, text := range []string{"answered 500", "ERR_EMPTY_RESPONSE"} {
		browsertest.Expect(t, ctx, text)
	}
	s.Enrol(t, ctx, "ROUND-AL")

	// Taken, and the answer is lost on its way.
	goTo(t, ctx, s.URL+at(coming))
	s.Change(func(*apptest.Floor) { s.Lose = 3 })
	browsertest.Do(t, ctx, click("form[data-command='take-in'] button"), keepIt)
	waits(t, ctx, "1 waiting to be sent, since 14:12")

	// Never arrived: begun, two reported, ten carried off.
	s.Change(func(*apptest.Floor) { s.Lose = 3 }) // while the page that follows looks whether it may be sent now
	goTo(t, ctx, s.URL+at(short))
	waits(t, ctx, "1 waiting to be sent, since 14:12")
	s.Down.Store(true)
	browsertest.Do(t, ctx, click("[data-open=more]"), click("#more form[data-command=begin] button"), keepIt, click("#more [data-close]"))
	browsertest.Do(t, ctx, other("problem")...)
	browsertest.Do(t, ctx, keys("#report [data-number]", "2"), click("#problem [data-why=scratched]"), click("[data-report-go]"), signing(badge), keepIt, click("#problem [data-close]"))
	browsertest.Do(t, ctx, other("divide")...)
	browsertest.Do(t, ctx, keys("#divide [data-number]", "10"), click("[data-parts-go]"), keepIt, click("#divide [data-close]"))
	waits(t, ctx, "4 waiting to be sent, since 14:12")
	browsertest.Screenshot(t, ctx, "station-waits")
	webtest.CheckTablet(t, ctx, "what waits, at the page's foot")
	if all := kept(t, ctx); strings.Contains(all, badge) || strings.Contains(all, apptest.PIN) || !strings.Contains(all, string(short)) {
		t.Errorf("the browser keeps %s", all)
	}
	first.Close(t)

	ctx = browsertest.StartIn(t, home).OpenOwn(t, browsertest.Tablet)
	for _, text := range []string{"answered 500", "ERR_EMPTY_RESPONSE"} {
		browsertest.Expect(t, ctx, text)
	}
	s.Down.Store(false)
	s.Change(func(*apptest.Floor) { s.Lose = 6 }) // of the take-in and, about another pallet, of the beginning
	goTo(t, ctx, s.URL+"/station")
	waits(t, ctx, "4 waiting to be sent, since 14:12, 1 to be signed once more")
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector("[data-touch]").dataset.touch === "lost"`))
	browsertest.Do(t, ctx, back)
	waits(t, ctx, "2 waiting to be sent, since 14:12, 1 to be signed once more")
	recorded(t, ctx, "2 that waited")
	webtest.CheckTablet(t, ctx, "what was recorded beside what waits")
	browsertest.Screenshot(t, ctx, "station-waits-recorded")
	browsertest.Do(t, ctx, click("[data-waits] [data-part=see]"), seen("#waits"))
	browsertest.Axe(t, ctx)
	webtest.CheckTablet(t, ctx, "the list of what waits")
	browsertest.Screenshot(t, ctx, "station-waits-list")
	browsertest.Do(t, ctx, click("#waits li:first-child button"), seen("#sign"))
	if got := browsertest.Text(t, ctx, "#sign [data-part=resume-what]"); !strings.HasSuffix(got, "Report a problem, "+string(short[:4])+" "+string(short[4:])+": 2 of 24, scratched") {
		t.Errorf("what is signed once more is %q", got)
	}
	browsertest.Axe(t, ctx)
	webtest.CheckTablet(t, ctx, "signed once more")
	browsertest.Screenshot(t, ctx, "station-waits-sign")
	browsertest.Do(t, ctx, signing(stranger))
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector("#sign .message").textContent.includes("another badge")`))
	if n := len(signedEvents(s, core.EvProblemReported)); n != 0 {
		t.Fatalf("%d problems reported with another's badge", n)
	}
	// Meanwhile somebody carried most of them off.
	s.Change(func(f *apptest.Floor) {
		f.ChangeLot(f.World.State.LotsAt(core.On(short))[0].ID, func(l *core.Lot) { l.Qty = 1 })
	})
	browsertest.Do(t, ctx, signing(badge), seen("#waits"))
	waits(t, ctx, "2 to look at")
	browsertest.Screenshot(t, ctx, "station-waits-refused")
	if got := browsertest.Text(t, ctx, "#waits"); strings.Count(got, "Refused: ") != 2 {
		t.Errorf("the list says %q", got)
	}
	var kinds []core.EventKind
	for _, e := range s.Events {
		kinds = append(kinds, e.Kind)
		if late := e.Kind != core.EvTakenIn; e.Device.Offline != late {
			t.Errorf("%s is recorded as out of touch: %v", e.Kind, e.Device.Offline)
		}
	}
	if len(kinds) != 2 || kinds[0] != core.EvTakenIn || kinds[1] != core.EvBegun {
		t.Errorf("recorded: %v, want taken in, then begun, each once", kinds)
	}

	// Whoever made it is told when their badge is read next.
	goTo(t, ctx, s.URL+at(onward))
	browsertest.Do(t, ctx, click("main [data-open=problem]"), click("#problem [data-why=scratched]"), chromedp.KeyEvent(badge+"\r"), seen("#sign"))
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector("#sign .message").textContent.includes("you made while the server was out of touch was refused")`))
	goTo(t, ctx, s.URL+"/station")
	browsertest.Do(t, ctx, click("[data-waits] [data-part=see]"), click("#waits li:first-child button"))
	waits(t, ctx, "1 to look at")
	browsertest.Do(t, ctx, click("#waits li:first-child button"), chromedp.WaitNotVisible(chromedp.CSS("[data-waits]")))
	if all := kept(t, ctx); !strings.HasPrefix(all, "[[],") {
		t.Errorf("the browser keeps %s", all)
	}
}

// On a page that stays open what was signed needs no second signature: it goes out by itself when the server is back.
func TestSignedGoesOutByItself(t *testing.T) {
	s := serve(t)
	badge, ctx := s.Badge(t, operator), s.Tablet(t, "ROUND-AL")
	browsertest.Expect(t, ctx, "ERR_EMPTY_RESPONSE")
	goTo(t, ctx, s.URL+at(short))
	s.Down.Store(true)
	browsertest.Do(t, ctx, click("[data-go]"), click("[data-go]"), signing(badge), keepIt)
	waits(t, ctx, "1 waiting to be sent, since 14:12")
	s.Down.Store(false)
	browsertest.Do(t, ctx, back, chromedp.WaitNotVisible(chromedp.CSS("[data-waits]")))
	recorded(t, ctx, "Round the edges: signed")
	if signed := signedEvents(s, core.EvSigned); len(signed) != 1 || signed[0].Signed[0].Person != operator || !s.Events[len(s.Events)-1].Device.Offline {
		t.Errorf("signed: %+v", signed)
	}
}
