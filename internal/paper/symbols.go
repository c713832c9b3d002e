package paper

import "math"

// symbol draws a step's sign of the flow process chart at a centre, about
// 2 × r wide. Filled means done. A hold point is a square within a square: ours.
func (s *sheet) symbol(cx, cy, r float64, k StepKind, holdPoint, done bool) {
	s.about(cx, cy, func(cx, cy float64) { s.symbolAt(cx, cy, r, k, holdPoint, done) })
}

func (s *sheet) symbolAt(cx, cy, r float64, k StepKind, holdPoint, done bool) {
	const how = "DF"
	if !done { // white, so that the line of the route ends at the symbol
		s.pdf.SetFillColor(255, 255, 255)
		defer s.pdf.SetFillColor(0, 0, 0)
	}
	q := r * 0.9
	switch {
	case holdPoint:
		s.pdf.SetFillColor(255, 255, 255)
		s.pdf.Rect(cx-r, cy-r, 2*r, 2*r, how)
		if done {
			s.pdf.SetFillColor(0, 0, 0)
		}
		s.pdf.Rect(cx-r*0.6, cy-r*0.6, 1.2*r, 1.2*r, how)
	case k == Inspection:
		s.pdf.Rect(cx-q, cy-q, 2*q, 2*q, how)
	case k == Transport:
		s.polygon(how, cx-r, cy-r*0.4, cx, cy-r*0.4, cx, cy-q, cx+r, cy, cx, cy+q, cx, cy+r*0.4, cx-r, cy+r*0.4)
	case k == Delay:
		pts := []float64{cx - r*0.7, cy - q, cx - r*0.1, cy - q}
		for i := 1; i < 16; i++ {
			a := -math.Pi/2 + math.Pi*float64(i)/16
			pts = append(pts, cx-r*0.1+q*math.Cos(a), cy+q*math.Sin(a))
		}
		s.polygon(how, append(pts, cx-r*0.1, cy+q, cx-r*0.7, cy+q)...)
	case k == Storage:
		s.polygon(how, cx-r, cy-q*0.85, cx+r, cy-q*0.85, cx, cy+q)
	default:
		s.pdf.Circle(cx, cy, q, how)
	}
}

// warning draws the triangle of the general warning sign (ISO 7010, W001), in
// ink only.
func (s *sheet) warning(cx, cy, r float64) {
	s.polygon("D", cx, cy-r, cx+r*1.1, cy+r*0.9, cx-r*1.1, cy+r*0.9)
	s.pdf.Rect(cx-0.18*r, cy-0.35*r, 0.36*r, 0.68*r, "F")
	s.pdf.Rect(cx-0.18*r, cy+0.45*r, 0.36*r, 0.28*r, "F")
}
