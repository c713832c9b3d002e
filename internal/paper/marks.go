package paper

import "math"

// A Mark is a handling mark of ISO 780. What each asks for is the standard's;
// the drawing is ours after its description (from memory), in ink only.
type Mark int

// The handling marks a container may carry, with their words in ISO 780.
const (
	Fragile   Mark = iota // "fragile": a wine glass
	ThisWayUp             // "this way up": two arrows standing on a line
	KeepDry               // "keep away from rain": an umbrella under drops
)

// Name is what the mark asks for, in words that stand beneath it.
func (m Mark) Name() string {
	switch m {
	case ThisWayUp:
		return "this way up"
	case KeepDry:
		return "keep away from rain"
	}
	return "fragile"
}

// marks draws handling marks side by side, each with its words beneath.
func (s *sheet) marks(marks []Mark, frame rect) {
	s.box(frame)
	const wordH = 3.6
	w := frame.w / float64(len(marks))
	for i, m := range marks {
		at := rect{frame.x + float64(i)*w, frame.y, w, frame.h}
		if i > 0 {
			s.vline(at.x, at.y, at.h)
		}
		s.middle(rect{at.x + pad, at.y + at.h - wordH - 0.4, w - 2*pad, wordH}, s.fit(m.Name(), style{regular, 8}, w-2*pad, wordH), centre)
		s.mark(m, at.x+w/2, at.y+(at.h-wordH)/2+0.4, at.h-wordH-6)
	}
}

// mark draws one about a centre, size high.
func (s *sheet) mark(m Mark, cx, cy, size float64) {
	s.pdf.SetLineWidth(3 * ink)
	s.pdf.SetLineCapStyle("round")
	s.pdf.SetLineJoinStyle("round")
	u := size / 20
	at := func(pts ...float64) []float64 {
		out := make([]float64, len(pts))
		for i := 0; i < len(pts); i += 2 {
			out[i], out[i+1] = cx+pts[i]*u, cy+pts[i+1]*u
		}
		return out
	}
	switch m {
	case ThisWayUp:
		for _, x := range []float64{-5, 5} {
			s.polygon("F", at(x-1.2, 7, x-1.2, -3, x-4, -3, x, -10, x+4, -3, x+1.2, -3, x+1.2, 7)...)
		}
		s.polygon("F", at(-10, 8.4, 10, 8.4, 10, 10, -10, 10)...)
	case KeepDry:
		s.umbrella(at)
	default:
		s.glass(at)
	}
	s.pdf.SetLineWidth(ink)
	s.pdf.SetLineCapStyle("butt")
	s.pdf.SetLineJoinStyle("miter")
}

// glass is a wine glass: bowl, stem and foot.
func (s *sheet) glass(at func(...float64) []float64) {
	bowl := []float64{-6, -10}
	for i := range 17 {
		a := math.Pi - math.Pi*float64(i)/16
		bowl = append(bowl, 6*math.Cos(a), -5+7*math.Sin(a))
	}
	bowl = append(bowl, 6, -10)
	s.polygon("F", at(bowl...)...)
	s.polygon("F", at(-0.9, 1.5, 0.9, 1.5, 0.9, 8.6, -0.9, 8.6)...)
	s.polygon("F", at(-5.5, 10, -4.4, 8.6, 4.4, 8.6, 5.5, 10)...)
	// The crack is white: the glass is full, so that it prints as one shape.
	s.pdf.SetFillColor(255, 255, 255)
	s.polygon("F", at(1, -10, 2.6, -7, 0.8, -5.6, 2.2, -2.6, -0.6, -5.4, 1.2, -6.8, -0.2, -10)...)
	s.pdf.SetFillColor(0, 0, 0)
}

// umbrella is open, with a hooked stick, under three drops.
func (s *sheet) umbrella(at func(...float64) []float64) {
	var dome []float64
	for i := range 25 {
		a := math.Pi + math.Pi*float64(i)/24
		dome = append(dome, 9.5*math.Cos(a), 1+7.5*math.Sin(a))
	}
	for k := 2; k >= 0; k-- { // three scallops back from right to left
		mid := -6.333 + 6.333*float64(k)
		for i := 1; i <= 8; i++ {
			a := -math.Pi * float64(i) / 8
			dome = append(dome, mid+3.167*math.Cos(a), 1+1.5*math.Sin(a))
		}
	}
	s.polygon("F", at(dome...)...)
	stick := []float64{0, 0, 0, 7.6}
	for i := 1; i <= 10; i++ {
		a := math.Pi * float64(i) / 10
		stick = append(stick, -2+2*math.Cos(a), 7.6+2.2*math.Sin(a))
	}
	p := at(stick...)
	s.pdf.MoveTo(p[0], p[1])
	for i := 2; i < len(p); i += 2 {
		s.pdf.LineTo(p[i], p[i+1])
	}
	s.pdf.DrawPath("D")
	for _, x := range []float64{-6, 0, 6} {
		p := at(x+0.8, -10.6, x-0.4, -8.4)
		if x == 0 {
			p = at(x+0.6, -11, x-0.2, -9)
		}
		s.pdf.Line(p[0], p[1], p[2], p[3])
	}
}
