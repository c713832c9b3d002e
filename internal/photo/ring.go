package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
)

// Box is where a ring is on a picture: the box it fills, in percent of the
// picture's width and height.
type Box struct{ X, Y, W, H int }

// ringQuality is that of a copy with a ring, which is looked at and not kept.
const ringQuality = 84

// Ringed is a copy of a kept picture with an ellipse drawn in the box: a dark
// line cased in white, which is seen on any ground. The picture itself stays as
// it is. It fails on what is no picture of ours.
func Ringed(kept []byte, b Box) ([]byte, error) {
	img, err := jpeg.Decode(bytes.NewReader(kept))
	if err != nil {
		return nil, fmt.Errorf("open a kept picture: %w", err)
	}
	out, ok := img.(*image.YCbCr)
	if !ok {
		return nil, fmt.Errorf("open a kept picture: it is a %T, as none is written here", img)
	}
	ring(out, b)
	var copied bytes.Buffer
	if err := jpeg.Encode(&copied, out, &jpeg.Options{Quality: ringQuality}); err != nil {
		return nil, fmt.Errorf("write a picture: %w", err)
	}
	return copied.Bytes(), nil
}

// ring draws the ellipse. How far a pixel is from it is judged by the slope of
// the ellipse's own equation there, which is near enough for a line's width.
func ring(img *image.YCbCr, b Box) {
	w, h := float64(img.Rect.Dx()), float64(img.Rect.Dy())
	line := max(2, 0.004*max(w, h)) // half its width, pixels
	rx, ry := max(1, w*float64(b.W)/200), max(1, h*float64(b.H)/200)
	cx, cy := w*float64(b.X)/100+rx, h*float64(b.Y)/100+ry
	for y := max(0, int(cy-ry-3*line)); y < min(img.Rect.Dy(), int(cy+ry+3*line)+1); y++ {
		for x := max(0, int(cx-rx-3*line)); x < min(img.Rect.Dx(), int(cx+rx+3*line)+1); x++ {
			u, v := (float64(x)+0.5-cx)/rx, (float64(y)+0.5-cy)/ry
			off := math.Abs(u*u+v*v-1) / max(1e-6, 2*math.Hypot(u/rx, v/ry))
			if off > 2*line {
				continue
			}
			at := img.YOffset(x, y)
			img.Y[at] = 255
			if off <= line {
				img.Y[at] = 20
			}
			at = img.COffset(x, y)
			img.Cb[at], img.Cr[at] = 128, 128
		}
	}
}
