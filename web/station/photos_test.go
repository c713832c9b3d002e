package station_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

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
	browsertest.Do(t, ctx, keys("#problem [data-number]", "2"), click("#problem [data-why='bent wrong']"), click("#problem button[type=submit]"),
		signing(badge), seen("[data-done-line]"))
	reported := signedEvents(s, core.EvProblemReported)
	if len(reported) != 1 || len(reported[0].Photos) != 1 {
		t.Fatalf("reported: %+v", reported)
	}
	goTo(t, ctx, s.URL+"/history/"+string(short))
	browsertest.Run(t, ctx, chromedp.Poll[bool](`document.querySelector(".entry .photos img")?.naturalWidth === 97`))
	browsertest.Axe(t, ctx)
	browsertest.Screenshot(t, ctx, "history-photo")
}
