package wall_test

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/browsertest"
)

// A wall on a smaller screen is whole on it, nothing beyond an edge, nothing to
// scroll, and fills it.
func TestWallFitsSmallerScreens(t *testing.T) {
	site := serve(t, busy(), newFeed())
	for _, size := range []browsertest.Size{{Width: 1600, Height: 900}, {Width: 1366, Height: 768}, {Width: 1280, Height: 800}, {Width: 1280, Height: 720}} {
		ctx := browsertest.New(t, size)
		browsertest.Do(t, ctx, chromedp.Navigate(site.URL+"/wall"), chromedp.WaitVisible(".groups"))
		name := fmt.Sprintf("%d × %d", size.Width, size.Height)
		if browsertest.Run(t, ctx, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > innerWidth || document.documentElement.scrollHeight > innerHeight`)) {
			t.Errorf("%s: the wall scrolls", name)
		}
		edges := browsertest.Run(t, ctx, chromedp.Evaluate[[]float64](`(r => [innerWidth - r.right, innerHeight - r.bottom])(document.querySelector(".wall").getBoundingClientRect())`))
		if edges[0] < -1 || edges[0] > 24 || edges[1] < -1 {
			t.Errorf("%s: beyond the wall are %.0f px on the right and %.0f below", name, edges[0], edges[1])
		}
		if px := browsertest.Run(t, ctx, chromedp.Evaluate[float64](`(e => e.getBoundingClientRect().height)(document.querySelector(".groups .name"))`)); px < 36 {
			t.Errorf("%s: a line of the wall is %.0f px high", name, px)
		}
		browsertest.Screenshot(t, ctx, fmt.Sprintf("wall-at-%d-%d", size.Width, size.Height))
	}
}
