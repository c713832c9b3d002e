package wall_test

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/wall"
	"tagalong/web/webtest"
)

var screen = app.Caller{Tablet: "T9", Station: "WALL"}

// feed is a Feed that a test pushes walls into, and may stop being fresh.
type feed struct {
	walls chan []byte
	dead  atomic.Bool
}

func newFeed() *feed { return &feed{walls: make(chan []byte, 4)} }

func (f *feed) Watch(context.Context) <-chan []byte { return f.walls }

func (f *feed) Fresh() time.Time {
	if f.dead.Load() {
		return time.Time{}
	}
	return time.Now()
}

func (f *feed) push(t *testing.T, w app.Wall) {
	t.Helper()
	text, err := wall.Render(t.Context(), w)
	if err != nil {
		t.Fatal(err)
	}
	f.walls <- text
}

func ages(now time.Time, hours ...float64) []app.WallAge {
	var out []app.WallAge
	for i, h := range hours {
		out = append(out, app.WallAge{Pallet: core.PalletCode(fmt.Sprint("P", i)), Since: now.Add(-time.Duration(h * float64(time.Hour)))})
	}
	return out
}

// busy is a shop with more stopped and late than fit at once.
func busy() app.Wall {
	now := apptest.Now
	w := app.Wall{AsOf: now, Seq: 4711, Pallets: 78, Today: app.WallDay{Signed: 214, Refused: 3, Parts: 960, Packed: 12, Shipped: 5}}
	for _, g := range []struct {
		name    string
		n       int
		minutes float64
		hours   []float64
	}{
		{"separate", 11, 360, []float64{3, 2, 1.2, 0.4}}, {"round", 7, 35, []float64{2, 1.7, 0.5}}, {"fold", 9, 660, []float64{5, 3.4, 3.1, 0.6}},
		{"weld", 14, 2280, []float64{49, 44, 30, 21, 9, 6, 5, 2}}, {"inspect", 6, 120, []float64{26, 17, 4}}, {"hardware", 5, 240, []float64{3, 1}},
		{"coat", 117, 12600, []float64{30, 17, 15, 12, 8, 1}}, {"dock", 0, 0, nil},
	} {
		grp := app.WallGroup{Name: g.name, Pallets: g.n, Minutes: g.minutes, Ages: ages(now, g.hours...)}
		if len(grp.Ages) > 0 {
			grp.Oldest = grp.Ages[0].Since
		}
		w.Groups = append(w.Groups, grp)
	}
	w.Groups[3].Ages[0].Late, w.Groups[3].Ages[1].Late, w.Groups[6].Ages[0].Late = true, true, true
	w.Groups[4].Ages[0].Held, w.Groups[4].Ages[1].Held, w.Groups[4].Held = true, true, 2
	w.Held = []app.WallLine{
		{Order: "O-4117", What: "wall panels, undercut", Since: now.Add(-6 * time.Minute)},
		{Order: "O-4102", What: "coat under 48 µm on the inside face", Since: now.Add(-130 * time.Minute)},
		{Order: "O-4104", What: "sheet heat not certain", Since: now.Add(-26 * time.Hour)},
	}
	w.Late = []app.WallLine{
		{Order: "O-4107", What: "corner brackets wait for edge rounding", Date: "2026-11-24"},
		{Order: "O-4098", What: "remade door, at fold", Date: "2026-11-23"},
		{Order: "O-4101", What: "waits for weld inspection", Date: "2026-11-20"},
		{Order: "O-4090", What: "base rails not cut", Date: "2026-11-24"},
	}
	return w
}

func quiet() app.Wall {
	w := busy()
	w.Held, w.Late = nil, nil
	for i := range w.Groups {
		for j := range w.Groups[i].Ages {
			w.Groups[i].Ages[j].Held, w.Groups[i].Ages[j].Late = false, false
		}
	}
	return w
}

func serve(t *testing.T, w app.Wall, f *feed) *webtest.Site {
	return webtest.Serve(t, screen, apptest.Now, wall.Endpoints(glance{w}, f, time.Now)...)
}

type glance struct{ app.Wall }

func (g glance) Glance(context.Context) (app.Wall, error) { return g.Wall, nil }

func TestWallPage(t *testing.T) {
	status, text, _ := serve(t, busy(), newFeed()).Get(t, "/wall")
	for _, want := range []string{"in all", ">78<", "New stop", "wall panels, undercut", "<b>214</b> signed", "&#43;2 d", "hardware"} {
		if !strings.Contains(text, want) && !strings.Contains(text, strings.ReplaceAll(want, "&#43;", "+")) {
			t.Errorf("the wall lacks %q", want)
		}
	}
	if status != 200 || strings.Contains(text, "style=") {
		t.Errorf("status %d, or a style inside the page", status)
	}
}

// Every stop and every late order is in some turn, and a new stop is in none
// but always there.
func TestTurnsHideNothing(t *testing.T) {
	w := busy()
	for i := range 9 {
		w.Held = append(w.Held, app.WallLine{Order: fmt.Sprint("H-", i), What: "held", Since: w.AsOf.Add(-time.Hour)})
		w.Late = append(w.Late, app.WallLine{Order: fmt.Sprint("L-", i), What: "late, and it takes two lines to say why", Date: "2026-11-20"})
	}
	text, err := wall.Render(t.Context(), w)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range append(w.Held, w.Late...) {
		if n := strings.Count(string(text), ">"+l.Order+"<"); n != 1 {
			t.Errorf("%s stands %d times", l.Order, n)
		}
	}
	fresh, turns, _ := strings.Cut(string(text), `data-turn="0"`)
	if !strings.Contains(fresh, "O-4117") || strings.Contains(turns, "O-4117") {
		t.Error("the new stop takes turns")
	}
}

func TestLiveSendsWallsAndBeats(t *testing.T) {
	f := newFeed()
	site := serve(t, busy(), f)
	f.push(t, quiet())
	ctx, cancel := context.WithTimeout(t.Context(), browsertest.Patience)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, site.URL+"/wall/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if got := answer.Header.Get("Content-Type"); got != "text/event-stream" {
		t.Errorf("content type %s", got)
	}
	seen := map[string]bool{}
	lines := bufio.NewScanner(answer.Body)
	for lines.Scan() && !(seen["wall"] && seen["beat"]) {
		line := lines.Text()
		if name, ok := strings.CutPrefix(line, "event: "); ok {
			seen[name] = true
		} else if line != "" && !strings.HasPrefix(line, "data: ") {
			t.Errorf("a line that is no field of an event: %q", line)
		}
	}
	if !seen["wall"] || !seen["beat"] {
		t.Errorf("heard %v", seen)
	}
}

// Capital heights of ISO 9241-303 at 6 m on a 55-inch screen of 1920 × 1080:
// 22 minutes of arc, 38 mm or 61 px, for what is read at a glance; 16 minutes,
// 28 mm or 44 px, for the rest. The heights are measured on the drawn letters.
const measure = `(() => {
	const pen = document.createElement("canvas").getContext("2d"), out = [];
	const seen = (e) => { const b = e.getBoundingClientRect(); return b.width > 1 && b.height > 1 && getComputedStyle(e).visibility === "visible"; };
	for (const e of document.querySelectorAll("#page *, #lost *")) {
		if (e.closest("svg") || !seen(e)) continue;
		if (![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())) continue;
		const s = getComputedStyle(e);
		pen.font = s.fontWeight + " " + s.fontSize + " " + s.fontFamily;
		out.push({what: e.className || e.tagName, text: e.textContent.trim().slice(0, 40), px: pen.measureText("H").actualBoundingBoxAscent});
	}
	return out;
})()`

type measured struct {
	What, Text string
	Px         float64
}

func TestWallIsReadFromSixMetres(t *testing.T) {
	f := newFeed()
	site := serve(t, busy(), f)
	ctx := browsertest.New(t, browsertest.Wall)
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/wall"), chromedp.WaitVisible(".groups"),
		chromedp.Evaluate[chromedp.Void](`document.fonts.ready.then(() => {})`, chromedp.EvalAwaitPromise))
	all := browsertest.Run(t, ctx, chromedp.Evaluate[[]measured](measure))
	glances := 0
	for _, m := range all {
		need := 44.0
		if strings.Contains(m.What, "count") {
			need = 61
			glances++
		}
		if m.What == "count" && m.Text == "78" { // the sum of them all is for who stands nearer
			need = 44
		}
		if m.Px < need {
			t.Errorf("%q (%s) has capitals of %.1f px, wants %.0f", m.Text, m.What, m.Px, need)
		}
	}
	if glances != 9 || len(all) < 30 {
		t.Errorf("measured %d texts, %d of them counts", len(all), glances)
	}
	cut := browsertest.Run(t, ctx, chromedp.Evaluate[[]string](`[...document.querySelectorAll(".groups *, .total, header *, .stops .by, .stops .order, .stops h2")]
		.filter(e => !e.closest("svg") && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline").map(e => e.className + ": " + e.textContent.trim())`))
	if len(cut) > 0 {
		t.Errorf("cut off: %q", cut)
	}
	if over := browsertest.Run(t, ctx, chromedp.Evaluate[bool](`(() => { const s = document.querySelector(".stops"), b = s.getBoundingClientRect();
		return s.scrollHeight > s.clientHeight + 1 || b.bottom > 1081; })()`)); over {
		t.Error("the column of stops is longer than the screen")
	}
	browsertest.Axe(t, ctx)
}

// More new stops than have room: how many there are is said, and fits.
func TestManyNewStopsFit(t *testing.T) {
	many := busy()
	fresh := many.Held[0]
	fresh.Since = many.AsOf.Add(-time.Minute)
	for range 12 {
		many.Held = append(many.Held, fresh)
	}
	ctx := browsertest.New(t, browsertest.Wall)
	browsertest.Do(t, ctx, chromedp.Navigate(serve(t, many, newFeed()).URL+"/wall"), chromedp.WaitVisible(".fresh"),
		chromedp.Evaluate[chromedp.Void](`document.fonts.ready.then(() => {})`, chromedp.EvalAwaitPromise))
	if got := browsertest.Text(t, ctx, ".fresh h2"); !strings.HasPrefix(got, "New stops") || !strings.Contains(got, "2 of 1") {
		t.Errorf("the new stops are headed %q", got)
	}
	if out := browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector(".fresh .and").getBoundingClientRect().right > innerWidth`)); out {
		t.Error("how many new stops there are is beyond the edge of the screen")
	}
	// With remakes grown old as well, both stay, and what takes turns still fits.
	for range 3 {
		many.Remakes = append(many.Remakes, app.WallLine{Order: "O-4104", What: "2 wall panels 2400: waits for edge rounding", Since: many.AsOf.Add(-50 * time.Hour)})
	}
	browsertest.Do(t, ctx, chromedp.Navigate(serve(t, many, newFeed()).URL+"/wall"), chromedp.WaitVisible(".fresh + .fresh"),
		chromedp.Evaluate[chromedp.Void](`document.fonts.ready.then(() => {})`, chromedp.EvalAwaitPromise))
	if got := browsertest.Text(t, ctx, ".fresh + .fresh h2"); !strings.HasPrefix(got, "3 old remakes") || !strings.Contains(got, "2 d") {
		t.Errorf("the old remakes are headed %q", got)
	}
	if over := browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector(".stops").scrollHeight > document.querySelector(".stops").clientHeight + 1`)); over {
		t.Error("with old remakes the column of stops is longer than the screen")
	}
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "wall-remakes-and-stops")
	quietly := busy()
	quietly.Remakes = many.Remakes
	for i := range quietly.Held {
		quietly.Held[i].Since = quietly.AsOf.Add(-3 * time.Hour)
	}
	browsertest.Do(t, ctx, chromedp.Navigate(serve(t, quietly, newFeed()).URL+"/wall"), chromedp.WaitVisible(".remakes li"),
		chromedp.Evaluate[chromedp.Void](`document.fonts.ready.then(() => {})`, chromedp.EvalAwaitPromise))
	if over := browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector(".stops").scrollHeight > document.querySelector(".stops").clientHeight + 1`)); over {
		t.Error("with old remakes and no new stop the column is longer than the screen")
	}
	browsertest.Screenshot(t, ctx, "wall-remakes")
	if out := browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector(".fresh .and").getBoundingClientRect().right > innerWidth`)); out {
		t.Error("how many new stops there are is beyond the edge of the screen")
	}
}

func TestWallInTheBrowser(t *testing.T) {
	f := newFeed()
	site := serve(t, busy(), f)
	ctx := browsertest.New(t, browsertest.Wall)
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/wall"), chromedp.WaitVisible(".groups"))
	browsertest.Screenshot(t, ctx, "wall")
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.light = "night"`))
	browsertest.Screenshot(t, ctx, "wall-night")
	browsertest.Do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.light = "day"`))

	f.push(t, quiet())
	browsertest.Do(t, ctx, chromedp.WaitVisible("//p[.='Nothing is held.']"))
	browsertest.Screenshot(t, ctx, "wall-quiet")

	// Out of touch: within 3 s of silence nothing but that is shown.
	f.dead.Store(true)
	began := time.Now()
	browsertest.Do(t, ctx, chromedp.WaitVisible("#lost"))
	if took := time.Since(began); took > 5500*time.Millisecond {
		t.Errorf("the page went on for %v after the record fell silent", took)
	}
	if text := browsertest.Text(t, ctx, "body"); strings.Contains(text, "in all") {
		t.Errorf("numbers are shown though they may be stale:\n%s", text)
	}
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "wall-lost")

	f.push(t, busy()) // it comes back by itself, with what is true now
	f.dead.Store(false)
	browsertest.Do(t, ctx, chromedp.WaitVisible(".fresh"))
}

func TestWallTakesTurns(t *testing.T) {
	site := serve(t, busy(), newFeed())
	ctx := browsertest.New(t, browsertest.Wall)
	browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/wall"), chromedp.WaitVisible(".groups"))
	seen := map[string]bool{}
	for range 3 * 9 * 2 {
		seen[browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector("[data-turn]:not([hidden])").dataset.turn`))] = true
		if fresh := browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.querySelector(".fresh").getBoundingClientRect().height > 100`)); !fresh {
			t.Fatal("the new stop is hidden")
		}
		if len(seen) == 2 {
			return
		}
		time.Sleep(500 * time.Millisecond)
	}
	t.Errorf("turns seen: %v", seen)
}
