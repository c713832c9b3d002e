package paper

import (
	"strconv"

	"codeberg.org/go-pdf/fpdf"

	"tagalong/internal/code"
)

// stamp keeps what draw draws on a page of w × h millimetres once in the
// document, to be shown on as many pages as need it.
func (s *sheet) stamp(w, h float64, draw func()) fpdf.Template {
	page, set, pageH := s.pdf, s.set, s.pageH
	made := page.CreateTemplateCustom(fpdf.PointType{}, fpdf.SizeType{Wd: w, Ht: h}, func(t *fpdf.Tpl) {
		s.pdf, s.pageH = &t.Fpdf, h
		draw()
		page.SetError(t.Error())
	})
	s.pdf, s.set, s.pageH = page, set, pageH
	return made
}

// stampedQR gives a drawer of a symbol that several pages show.
func (s *sheet) stampedQR(symbol *code.Symbol) func(x, y, side float64) {
	var t fpdf.Template
	return func(x, y, side float64) {
		if t == nil {
			t = s.stamp(side, side, func() { s.qr(symbol, 0, 0, side) })
		}
		s.pdf.UseTemplateScaled(t, fpdf.PointType{X: x, Y: y}, fpdf.SizeType{Wd: side, Ht: side})
	}
}

// about draws a shape about a centre with that as the origin, which makes like
// shapes like bytes: a page holds dozens of each, and deflates to less.
func (s *sheet) about(cx, cy float64, draw func(cx, cy float64)) {
	k := s.pdf.GetConversionRatio()
	b := append(make([]byte, 0, 48), "q 1 0 0 1 "...)
	b = strconv.AppendFloat(b, cx*k, 'f', 2, 64)
	b = append(b, ' ')
	b = strconv.AppendFloat(b, (s.pageH-cy)*k, 'f', 2, 64)
	b = append(b, " cm"...)
	s.pdf.RawWriteStr(string(b))
	draw(0, s.pageH)
	s.pdf.RawWriteStr("Q")
}
