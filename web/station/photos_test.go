package station_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/history"
	"tagalong/web/photos"
	"tagalong/web/station"
	"tagalong/web/webtest"
)

// A problem is reported with a photo: what is no picture is refused in words and
// taken away, one of two is thought better of, and the history shows the other.
func TestPhotoOfAProblem(t *testing.T) {
	s := webtest.Live(t, floor(t), func(svc *app.Service) []endpoint.Endpoint {
		return slices.Concat(station.Endpoints(svc), photos.Endpoints(svc), history.Endpoints(svc))
	})
	badge := s.Badge(t, operator)
	ctx := s.Tablet(t, "ROUND-AL")
	browsertest.Expect(t, ctx, "answered 415")
	words := filepath.Join(t.TempDir(), "corner.jpg")
	if err := os.WriteFile(words, []byte("not a picture at all"), 0o600); err != nil {
		t.Fatal(err)
	}
	sample := func(name string) string {
		path, err := filepath.Abs("../../internal/photo/testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return path
	}
	choose := func(path string) chromedp.Action[chromedp.Void] {
		return chromedp.SetUploadFiles("#problem [data-part=camera]", []string{path})
	}
	taken := func() string { return browsertest.Text(t, ctx, "#problem [data-part=count]") }

	goTo(t, ctx, s.URL+at(short))
	browsertest.Do(t, ctx, other("problem")...)
	browsertest.Do(t, ctx, choose(words), seen("#problem [data-state=failed]"))
	if got := browsertest.Text(t, ctx, "#problem [data-part=says]"); !strings.Contains(got, "not a picture") || !strings.Contains(got, "Nothing was kept") {
		t.Errorf("about words that call themselves a picture the page says %q", got)
	}
	browsertest.Screenshot(t, ctx, "station-photo-refused")
	webtest.CheckTablet(t, ctx, "a photo refused")
	browsertest.Do(t, ctx, click("#problem [data-part=away]"), choose(sample("orientation-6.jpg")), seen("#problem [data-state=kept] img"),
		choose(sample("odd-420.jpg")), seen("#problem li:nth-child(2)[data-state=kept] img"))
	if got := taken(); got != "taken: 2 photos" {
		t.Errorf("two were taken, and the page says %q", got)
	}
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "station-photos")
	webtest.CheckTablet(t, ctx, "two photos taken")
	browsertest.Do(t, ctx, click("#problem li:nth-child(1) [data-part=away]"))
	if got := taken(); got != "taken: 1 photo" {
		t.Errorf("one is left, and the page says %q", got)
	}
	ring := func(want string) {
		t.Helper()
		if got := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector("#problem [data-state=kept] input").value.replace(/^[0-9a-f]{64}/, "")`)); got != want {
			t.Errorf("the photo's ring is %q, want %q", got, want)
		}
	}
	// By keyboard alone: the arrows put a ring, move it and, with Shift, change its size.
	press := func(key string, with chromedp.Modifier) chromedp.Action[chromedp.Void] {
		return chromedp.KeyEvent(key, chromedp.KeyModifiers(with))
	}
	browsertest.Do(t, ctx, click("#problem [data-part=ring]"), seen(".ringing[open] .plate"))
	browsertest.Do(t, ctx, press(kb.ArrowRight, 0), press(kb.ArrowRight, 0), press(kb.ArrowUp, 0), press(kb.ArrowRight, chromedp.ModifierShift), press(kb.ArrowDown, chromedp.ModifierShift), press(kb.ArrowDown, chromedp.ModifierShift))
	if got := browsertest.Run(t, ctx, chromedp.Evaluate[string](`document.querySelector(".ringing [role=status]").textContent`)); got != "The ring is 37 % from the left and 33 % from the top, 32 % wide and 34 % high." {
		t.Errorf("a screen reader hears %q", got)
	}
	browsertest.Do(t, ctx, press(kb.Tab, 0), press(kb.Tab, 0), press(kb.Tab, 0), press(kb.Enter, 0))
	browsertest.Run(t, ctx, chromedp.Poll[bool](`!document.querySelector(".ringing").open`))
	ring("#xywh=percent:37,33,32,34")
	// With a finger, once round.
	browsertest.Do(t, ctx, click("#problem [data-part=ring]"), seen(".ringing[open] .ring"), chromedp.Evaluate[chromedp.Void](`(plate => {
		const r = plate.getBoundingClientRect();
		plate.setPointerCapture = () => {};
		const at = (kind, a) => plate.dispatchEvent(new PointerEvent(kind, {pointerId: 1, bubbles: true,
			clientX: r.left + r.width * (0.5 + 0.2 * Math.cos(a)), clientY: r.top + r.height * (0.4 + 0.1 * Math.sin(a))}));
		at("pointerdown", 0);
		for (let i = 1; i <= 24; i++) at("pointermove", i * Math.PI / 12);
		at("pointerup", 0);
	})(document.querySelector(".plate"))`))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "station-photo-ring")
	webtest.CheckTablet(t, ctx, "a ring on a photo")
	browsertest.Do(t, ctx, click(".ringing [data-part=done]"))
	ring("#xywh=percent:30,30,40,20")
	browsertest.Screenshot(t, ctx, "station-photo-ringed")
	browsertest.Do(t, ctx, keys("#problem [data-number]", "2"), click("#problem [data-why='bent wrong']"), click("#problem button[type=submit]"),
		signing(badge), seen("[data-done-line]"))
	reported := signedEvents(s, core.EvProblemReported)
	if len(reported) != 1 || len(reported[0].Photos) != 1 || !strings.HasSuffix(reported[0].Photos[0], "#xywh=percent:30,30,40,20") {
		t.Fatalf("reported: %+v", reported)
	}
	goTo(t, ctx, s.URL+"/history/"+string(short))
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector(".entry .photos img")?.naturalWidth === 97`))
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector(".entry .photos .ring ellipse")?.getAttribute("rx") === "20"`))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "history-photo")
}
