package ui

import (
	"fmt"
	"math"
	"strings"
)

// outlineBox gives the view box of closed polylines (flat x, y, x, y … in mm)
// with a small margin. It reports false where there is nothing to draw.
func outlineBox(lines [][]float64) (string, bool) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, l := range lines {
		for i := 0; i+1 < len(l); i += 2 {
			x0, x1 = min(x0, l[i]), max(x1, l[i])
			y0, y1 = min(y0, l[i+1]), max(y1, l[i+1])
		}
	}
	w, h := x1-x0, y1-y0
	if !(w > 0 && h > 0) || w > 1e6 || h > 1e6 {
		return "", false
	}
	m := max(w, h) * 0.02
	// Drawings count y upwards, SVG downwards: the path is mirrored, see outlinePath.
	return fmt.Sprintf("%.4g %.4g %.4g %.4g", x0-m, -y1-m, w+2*m, h+2*m), true
}

// outlinePath draws the polylines, holes left open by the even-odd rule.
func outlinePath(lines [][]float64) string {
	var b strings.Builder
	for _, l := range lines {
		for i := 0; i+1 < len(l); i += 2 {
			c := 'L'
			if i == 0 {
				c = 'M'
			}
			fmt.Fprintf(&b, "%c%.6g %.6g", c, l[i], -l[i+1])
		}
		if len(l) >= 4 {
			b.WriteByte('Z')
		}
	}
	return b.String()
}
