package paper

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // pictures come as PNG or JPEG
	"math"
	"strconv"

	"codeberg.org/go-pdf/fpdf"
)

// largestPicture is the most picture points that are read: a photograph of
// 24 million.
const largestPicture = 24_000_000

// Bounds is the overall size of the outline in millimetres.
func (o Outline) Bounds() (lo, hi Point, ok bool) {
	lo, hi = Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, path := range o.Paths {
		for _, p := range path {
			lo = Point{min(lo.X, p.X), min(lo.Y, p.Y)}
			hi = Point{max(hi.X, p.X), max(hi.Y, p.Y)}
		}
	}
	// Also false for values that are no number, and for a single point.
	return lo, hi, hi.X-lo.X+hi.Y-lo.Y > 0 && hi.X-lo.X < 1e6 && hi.Y-lo.Y < 1e6
}

// SizeText is the overall size, "1180 × 620 mm", or nothing for a picture.
func (o Outline) SizeText() string {
	lo, hi, ok := o.Bounds()
	if !ok {
		return ""
	}
	f := func(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }
	return f(hi.X-lo.X) + " × " + f(hi.Y-lo.Y) + " mm"
}

// JPEG gives the picture in a form every printer takes: baseline, on white, at
// most 600 points wide or high. It fails on what is no PNG or JPEG.
func (o Outline) JPEG() ([]byte, error) {
	cfg, _, err := image.DecodeConfig(bytes.NewReader(o.Picture))
	if err != nil {
		return nil, fmt.Errorf("read picture: %w", err)
	}
	if cfg.Width <= 0 || cfg.Height <= 0 || cfg.Width*cfg.Height > largestPicture {
		return nil, errors.New("read picture: too large")
	}
	src, _, err := image.Decode(bytes.NewReader(o.Picture))
	if err != nil {
		return nil, fmt.Errorf("read picture: %w", err)
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, shrink(src, 600), &jpeg.Options{Quality: 82}); err != nil {
		return nil, fmt.Errorf("write picture: %w", err)
	}
	return out.Bytes(), nil
}

// shrink averages a picture down, on white, to at most most points a side.
func shrink(src image.Image, most int) image.Image {
	b := src.Bounds()
	step := max(1, (max(b.Dx(), b.Dy())+most-1)/most)
	dst := image.NewRGBA(image.Rect(0, 0, max(1, b.Dx()/step), max(1, b.Dy()/step)))
	for y := range dst.Bounds().Dy() {
		for x := range dst.Bounds().Dx() {
			var r, g, bl, n uint32
			for dy := range step {
				for dx := range step {
					px, py := b.Min.X+x*step+dx, b.Min.Y+y*step+dy
					if px >= b.Max.X || py >= b.Max.Y {
						continue
					}
					cr, cg, cb, ca := src.At(px, py).RGBA() // premultiplied
					white := 0xffff - ca
					r, g, bl, n = r+(cr+white)>>8, g+(cg+white)>>8, bl+(cb+white)>>8, n+1
				}
			}
			n = max(n, 1)
			dst.SetRGBA(x, y, color.RGBA{uint8(r / n), uint8(g / n), uint8(bl / n), 255})
		}
	}
	return dst
}

// outline draws the part in a frame, with its overall size beneath.
func (s *sheet) outline(o Outline, frame rect) {
	if len(o.Picture) > 0 {
		s.picture(o, frame)
		return
	}
	lo, hi, ok := o.Bounds()
	if !ok {
		s.middle(frame, s.fit("no picture", style{regular, small}, frame.w, frame.h), centre)
		return
	}
	label := s.fit(o.SizeText(), style{regular, small}, frame.w, 3)
	frame.h -= label.height() + 0.6
	k := min(frame.w/max(hi.X-lo.X, 1e-9), frame.h/max(hi.Y-lo.Y, 1e-9))
	x0 := frame.x + (frame.w-(hi.X-lo.X)*k)/2
	y0 := frame.y + (frame.h+(hi.Y-lo.Y)*k)/2
	for _, path := range o.Paths {
		for i, p := range path {
			x, y := x0+(p.X-lo.X)*k, y0-(p.Y-lo.Y)*k
			if i == 0 {
				s.pdf.MoveTo(x, y)
			} else {
				s.pdf.LineTo(x, y)
			}
		}
		if len(path) > 1 {
			s.pdf.DrawPath("D")
		}
	}
	s.text(rect{frame.x, frame.y + frame.h + 0.6, frame.w, label.height()}, label, centre)
}

// picture draws a PNG or JPEG; the same picture on many sheets is stored once.
func (s *sheet) picture(o Outline, frame rect) {
	name := fmt.Sprintf("%x", sha256.Sum256(o.Picture))
	info := s.pdf.GetImageInfo(name)
	if info == nil {
		b, err := o.JPEG()
		if err != nil {
			s.middle(frame, s.fit("picture can't be read", style{regular, small}, frame.w, frame.h), centre)
			return
		}
		info = s.pdf.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPG"}, bytes.NewReader(b))
	}
	if info == nil { // the document keeps the error and reports it when written
		return
	}
	k := min(frame.w/info.Width(), frame.h/info.Height())
	w, h := info.Width()*k, info.Height()*k
	s.pdf.ImageOptions(name, frame.x+(frame.w-w)/2, frame.y+(frame.h-h)/2, w, h, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
}
