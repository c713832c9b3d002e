package paper

import (
	"html"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// Where poppler finds each word is where we laid it: inside its line's place,
// with the letters about the middle of the line's height.
func TestWordsStandWhereTheyWereLaid(t *testing.T) {
	var laid []placed
	pdf := draw(t, func(w io.Writer) error {
		return writeTravellers(w, A4, watch(t, &laid), exampleTraveller())
	})
	word := regexp.MustCompile(`<word xMin="([0-9.]+)" yMin="([0-9.]+)" xMax="([0-9.]+)" yMax="([0-9.]+)">(.*)</word>`)
	words := 0
	for i, page := range strings.Split(output(t, "pdftotext", "-bbox", pdf, "-"), "<page ")[1:] {
	next:
		for _, m := range word.FindAllStringSubmatch(page, -1) {
			words++
			var at [4]float64
			for k := range at {
				pts, err := strconv.ParseFloat(m[k+1], 64)
				if err != nil {
					t.Fatal(err)
				}
				at[k] = pts * mmPerPoint
			}
			text := html.UnescapeString(m[5])
			near := math.Inf(1)
			for _, p := range laid {
				if p.page != i+1 || !strings.Contains(p.text, text) {
					continue
				}
				// Side bearings and rounding leave a little; half a millimetre would show.
				off := max(p.ink.x-at[0], at[2]-p.ink.x-p.ink.w, math.Abs((at[1]+at[3])/2-p.ink.y-p.ink.h/2))
				if near = min(near, off); near < 0.5 {
					continue next
				}
			}
			t.Errorf("page %d: %q at %.1f is %.2f mm off its place", i+1, text, at, near)
		}
	}
	if words < 300 {
		t.Errorf("poppler found only %d words", words)
	}
}
