package paper

import (
	"strconv"

	"tagalong/internal/code"
)

// qr draws a symbol in a square of side millimetres, quiet zone included. All
// its bars are one path, so that no renderer shows seams between them.
func (s *sheet) qr(symbol *code.Symbol, x, y, side float64) {
	k := s.pdf.GetConversionRatio()
	module := side / float64(symbol.Size()) * k
	b := make([]byte, 0, 8192)
	b = append(b, "q "...)
	b = strconv.AppendFloat(b, module, 'f', 4, 64)
	b = append(b, " 0 0 -"...)
	b = strconv.AppendFloat(b, module, 'f', 4, 64)
	b = append(b, ' ')
	b = strconv.AppendFloat(b, x*k, 'f', 3, 64)
	b = append(b, ' ')
	b = strconv.AppendFloat(b, (s.pageH-y)*k, 'f', 3, 64)
	b = append(b, " cm 0 g\n"...)
	symbol.Runs(func(x, y, width int) {
		b = strconv.AppendInt(b, int64(x), 10)
		b = append(b, ' ')
		b = strconv.AppendInt(b, int64(y), 10)
		b = append(b, ' ')
		b = strconv.AppendInt(b, int64(width), 10)
		b = append(b, " 1 re\n"...)
	})
	b = append(b, "f Q"...)
	s.pdf.RawWriteStr(string(b))
}
