package pictures

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"strings"
	"testing"
)

// A page's flat colours stay as they are, the few pixels of a mark too.
func TestFlatColoursStay(t *testing.T) {
	img := image.NewRGBA(image.Rect(5, 5, 105, 55))
	flat := []color.RGBA{{0xfb, 0xfa, 0xf6, 0xff}, {0x14, 0x17, 0x1a, 0xff}, {0xf5, 0xc4, 0x00, 0xff}, {0xa0, 0x0b, 0x14, 0xff}, {0x0b, 0x4a, 0x9b, 0xff}}
	for x := 5; x < 105; x++ {
		for y := 5; y < 55; y++ {
			img.SetRGBA(x, y, flat[0])
		}
		img.SetRGBA(x, 20, flat[1])
	}
	for i, c := range flat[2:] {
		img.SetRGBA(30+i, 40, c)
	}
	got := reduce(img, 16)
	if len(got.Palette) != len(flat) {
		t.Errorf("%d colours of %d", len(got.Palette), len(flat))
	}
	for y := range 50 {
		for x := range 100 {
			if want := img.RGBAAt(x+5, y+5); got.At(x, y) != color.Color(want) {
				t.Fatalf("at %d, %d: %v, want %v", x, y, got.At(x, y), want)
			}
		}
	}
}

// However many colours come, no pixel strays far: 16 boxes of the cube's grey
// diagonal are 16 levels long.
func TestManyColoursComeClose(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 256, 4))
	for x := range 256 {
		for y := range 4 {
			img.SetGray(x, y, color.Gray{uint8(x)})
		}
	}
	got := reduce(img, 16)
	if len(got.Palette) != 16 {
		t.Errorf("%d colours", len(got.Palette))
	}
	for x := range 256 {
		r, _, _, _ := got.At(x, 1).RGBA()
		if d := int(r>>8) - x; d < -16 || d > 16 {
			t.Errorf("grey %d became %d", x, r>>8)
		}
	}
}

func TestWriteRefusesAnotherSize(t *testing.T) {
	var b bytes.Buffer
	err := Station.Write(&b, image.NewGray(image.Rect(0, 0, 1280, 799)))
	if err == nil || !strings.Contains(err.Error(), "1280 × 799, want 1280 × 800") {
		t.Errorf("%v", err)
	}
	if err := Station.Write(&b, image.NewGray(image.Rect(0, 0, 1280, 800))); err != nil {
		t.Fatal(err)
	}
	if c, err := png.DecodeConfig(&b); err != nil || c.Width != 1280 || c.Height != 800 {
		t.Errorf("%v, %v", c, err)
	}
}
