package paper

import (
	"io"
	"slices"
	"testing"
)

// What is kept once and shown on many pages looks as if it were drawn on each,
// to within the hundredths of a point the library rounds to.
func TestStampsLookAsIfDrawnInPlace(t *testing.T) {
	const dpi = 100
	for _, size := range []Size{A4, A5} {
		pages := func(prepare func(*sheet)) []string {
			return render(t, draw(t, func(w io.Writer) error {
				return writeTravellers(w, size, prepare, exampleTraveller(), exampleTraveller())
			}), dpi)
		}
		stamped := pages(nil)
		inPlace := pages(func(s *sheet) { s.placed = func(rect, text, []float64, []float64) {} })
		if len(stamped) != len(inPlace) || len(stamped) < 4 {
			t.Fatalf("%v: %d pages stamped, %d drawn in place", size, len(stamped), len(inPlace))
		}
		for i := range stamped {
			a, b := load(t, stamped[i]), load(t, inPlace[i])
			far := 0
			for y := range a.Bounds().Dy() {
				for x := range a.Bounds().Dx() {
					p, _, _, _ := a.At(x, y).RGBA()
					q, _, _, _ := b.At(x, y).RGBA()
					if max(p, q)-min(p, q) > 0x3000 {
						far++
					}
				}
			}
			if far > 0 {
				t.Errorf("%v, page %d: %d points differ", size, i+1, far)
			}
		}
	}
}

// The second of two like travellers says what the first does, its notes too,
// though parts of its pages were drawn for the first.
func TestTheSecondTravellerSaysWhatTheFirstDoes(t *testing.T) {
	tr := exampleTraveller()
	tr.Lots[0].Name = "壁板 Ελάσματα"
	for _, size := range Sizes() {
		pages := pageTexts(t, draw(t, func(w io.Writer) error { return WriteTravellers(w, size, tr, tr) }))
		half := len(pages) / 2
		if !slices.Equal(pages[:half], pages[half:]) {
			t.Errorf("%v: the second traveller says something else", size)
		}
	}
}
