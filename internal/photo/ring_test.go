package photo_test

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math"
	"testing"

	"tagalong/internal/photo"
)

// A ring is where its box says, dark and cased in white; the rest of the copy is
// as it was, and so is what is kept.
func TestRinged(t *testing.T) {
	grey := image.NewRGBA(image.Rect(0, 0, 800, 400))
	draw.Draw(grey, grey.Bounds(), image.NewUniform(color.RGBA{120, 120, 160, 255}), image.Point{}, draw.Src)
	var sent bytes.Buffer
	if err := png.Encode(&sent, grey); err != nil {
		t.Fatal(err)
	}
	kept, err := photo.Read(t.Context(), bytes.NewReader(sent.Bytes()), int64(sent.Len()))
	if err != nil {
		t.Fatal(err)
	}
	copied, err := photo.Ringed(kept.JPEG, photo.Box{X: 25, Y: 25, W: 50, H: 50}) // centre 400, 200; half axes 200 and 100
	if err != nil {
		t.Fatal(err)
	}
	if photo.HashOf(kept.JPEG) != kept.Hash {
		t.Error("what is kept was drawn on")
	}
	img, err := jpeg.Decode(bytes.NewReader(copied))
	if err != nil {
		t.Fatal(err)
	}
	light := func(x, y float64) int {
		return int(color.GrayModel.Convert(img.At(int(x), int(y))).(color.Gray).Y)
	}
	for i := range 24 {
		a := 2 * math.Pi * float64(i) / 24
		x, y := math.Cos(a), math.Sin(a)
		if l := light(400+200*x, 200+100*y); l > 70 {
			t.Errorf("at %.0f°, the line is %d light", a*180/math.Pi, l)
		}
		nx, ny := x/200, y/100 // outwards
		n := math.Hypot(nx, ny)
		if l := light(400+200*x+4.6*nx/n, 200+100*y+4.6*ny/n); l < 200 {
			t.Errorf("at %.0f°, its casing is %d light", a*180/math.Pi, l)
		}
		if l := light(400+150*x, 200+70*y); l < 110 || l > 140 {
			t.Errorf("within, at %.0f°, the picture is %d light", a*180/math.Pi, l)
		}
	}
	// One that reaches the edge is cut there.
	if _, err := photo.Ringed(kept.JPEG, photo.Box{X: 90, Y: 0, W: 10, H: 100}); err != nil {
		t.Error(err)
	}
	if _, err := photo.Ringed(sent.Bytes(), photo.Box{X: 1, Y: 1, W: 5, H: 5}); err == nil {
		t.Error("a ring was drawn on what is no kept picture")
	}
}
