package browsertest

import (
	"context"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// mostTabs is how many stops there may be on the way to anything on a page.
const mostTabs = 80

// focused tells what has the focus: whether it fits the selector, whether it can be seen that it has it, and what it is.
const focused = `((css) => {
	const e = document.activeElement, s = getComputedStyle(e), b = e.getBoundingClientRect();
	const marked = (x) => parseFloat(getComputedStyle(x).outlineWidth) > 0 && getComputedStyle(x).outlineStyle !== "none";
	const inside = b.bottom > 0 && b.right > 0 && b.top < innerHeight && b.left < innerWidth && b.width > 0;
	// Of a date the browser itself marks the day, month or year that has the focus, inside the field.
	return {fits: e.matches(css), seen: inside && (e.type === "date" || marked(e) || [e.nextElementSibling, e.closest("label, .button")].some((x) => x && marked(x))),
		what: e.tagName.toLowerCase() + (e.name ? "[name=" + e.name + "]" : "") + " " + (e.innerText ?? "").trim().slice(0, 30)};
})`

type stop struct {
	Fits bool   `json:"fits"`
	Seen bool   `json:"seen"`
	What string `json:"what"`
}

// TabTo presses Tab until the focus is on an element that fits the CSS selector, as somebody without a mouse does. It
// fails the test where none is reached, or where one on the way has the focus and can't be seen to have it.
func TabTo(t testing.TB, ctx context.Context, css string) {
	t.Helper()
	var way []string
	for range mostTabs {
		at := Run(t, ctx, chromedp.Evaluate[stop](focused+"(`"+css+"`)"))
		if len(way) > 0 && !at.Seen && !strings.HasPrefix(at.What, "body") {
			t.Errorf("browsertest: %s has the focus, and nobody sees it", at.What)
		}
		if at.Fits {
			return
		}
		way = append(way, at.What)
		Do(t, ctx, chromedp.KeyEvent("\t"))
	}
	t.Fatalf("browsertest: Tab does not lead to %s, only to %s\n%s", css, strings.Join(way, "; "), whatIsSeen(ctx))
}

// Keys is TabTo, then keys typed there: "\r" presses a button, " " ticks.
func Keys(t testing.TB, ctx context.Context, css, keys string) {
	t.Helper()
	TabTo(t, ctx, css)
	Do(t, ctx, chromedp.KeyEvent(keys))
}
