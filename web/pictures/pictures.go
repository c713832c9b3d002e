// Package pictures holds the README's pictures: screens and a print of the demo
// shop, at their real sizes. `make screenshots` takes them anew; the program
// doesn't carry them.
package pictures

import (
	"fmt"
	"image"
	"image/png"
	"io"
)

// A Picture is one file of this folder, Name.png.
type Picture struct {
	Name          string
	Width, Height int // pixels
	Colours       int // at most; ink on paper needs fewer than a screen
}

// The README's pictures. Screens have the size of their windows; the traveller
// is A4 (ISO 216) at 100 dots an inch.
var (
	Station   = Picture{"station", 1280, 800, 16}
	Refusal   = Picture{"refusal", 1280, 800, 16}
	Wall      = Picture{"wall", 1920, 1080, 16}
	Find      = Picture{"find", 1440, 900, 16}
	Bench     = Picture{"bench", 1280, 800, 16}
	Traveller = Picture{"traveller", 827, 1170, 8}
)

// All lists every picture there is.
func All() []Picture { return []Picture{Station, Refusal, Wall, Find, Bench, Traveller} }

// MostBytes is how large one picture's file may be; all together may be 400 KB.
const MostBytes = 60 << 10

// Write writes img as a PNG of few colours, of which a pixel takes half a byte.
// It fails when img isn't of the picture's size, and when w does.
func (p Picture) Write(w io.Writer, img image.Image) error {
	if size := img.Bounds().Size(); size.X != p.Width || size.Y != p.Height {
		return fmt.Errorf("picture %s is %d × %d, want %d × %d", p.Name, size.X, size.Y, p.Width, p.Height)
	}
	e := png.Encoder{CompressionLevel: png.BestCompression}
	if err := e.Encode(w, reduce(img, p.Colours)); err != nil {
		return fmt.Errorf("picture %s: %w", p.Name, err)
	}
	return nil
}
