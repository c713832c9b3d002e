package browsertest

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/chromedp/chromedp"
)

// screenshotsVariable names the folder pictures go to; `make screenshots` sets it.
const screenshotsVariable = "TAGALONG_SCREENSHOTS"

// pictureName is what a picture may be called: it becomes a file name.
var pictureName = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// Screenshot takes a picture of the window into the folder named by TAGALONG_SCREENSHOTS, as name.png. Where none is
// named it does nothing.
func Screenshot(t testing.TB, ctx context.Context, name string) {
	t.Helper()
	take(t, ctx, name, chromedp.CaptureScreenshot())
}

// FullScreenshot is Screenshot for the whole page, however long.
func FullScreenshot(t testing.TB, ctx context.Context, name string) {
	t.Helper()
	const lossless = 100 // the quality at which chromedp gives PNG
	take(t, ctx, name, chromedp.FullScreenshot(lossless))
}

func take(t testing.TB, ctx context.Context, name string, picture chromedp.Action[[]byte]) {
	t.Helper()
	if !pictureName.MatchString(name) {
		t.Fatalf("browsertest: a picture can't be called %q: small letters, digits and hyphens only", name)
	}
	dir := os.Getenv(screenshotsVariable)
	if dir == "" {
		return
	}
	png := Run(t, ctx, picture)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatalf("browsertest: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		t.Fatalf("browsertest: %v", err)
	}
}
