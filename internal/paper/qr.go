package paper

import (
	"fmt"
	"strconv"

	qrcode "github.com/skip2/go-qrcode"
)

// QuietZone is the white border of a code, in modules each side
// (ISO/IEC 18004, clause 6.3.8).
const QuietZone = 4

// A Matrix is a code's modules without quiet zone; true is dark.
type Matrix [][]bool

// QR encodes content at the level that restores about a quarter of a dirty
// symbol (Q of ISO/IEC 18004). It fails on content no symbol holds.
func QR(content string) (Matrix, error) {
	// The library names level Q High; its Highest is level H.
	q, err := qrcode.New(content, qrcode.High)
	if err != nil {
		return nil, fmt.Errorf("encode %d bytes as a QR code: %w", len(content), err)
	}
	q.DisableBorder = true
	return q.Bitmap(), nil
}

// Bars calls f for every horizontal bar of dark modules: x, y, length.
func (m Matrix) Bars(f func(x, y, n int)) {
	for y, row := range m {
		for x := 0; x < len(row); {
			if !row[x] {
				x++
				continue
			}
			n := 1
			for x+n < len(row) && row[x+n] {
				n++
			}
			f(x, y, n)
			x += n
		}
	}
}

// Size is the number of modules each side, quiet zone included.
func (m Matrix) Size() int { return len(m) + 2*QuietZone }

// qr draws m in a square of side millimetres, quiet zone included. All bars
// are one path, so that no renderer shows seams between them.
func (s *sheet) qr(m Matrix, x, y, side float64) {
	k := s.pdf.GetConversionRatio()
	module := side / float64(m.Size()) * k
	b := make([]byte, 0, 8192)
	b = append(b, "q "...)
	b = strconv.AppendFloat(b, module, 'f', 4, 64)
	b = append(b, " 0 0 -"...)
	b = strconv.AppendFloat(b, module, 'f', 4, 64)
	b = append(b, ' ')
	b = strconv.AppendFloat(b, x*k+QuietZone*module, 'f', 3, 64)
	b = append(b, ' ')
	b = strconv.AppendFloat(b, (pageH-y)*k-QuietZone*module, 'f', 3, 64)
	b = append(b, " cm 0 g\n"...)
	m.Bars(func(x, y, n int) {
		b = strconv.AppendInt(b, int64(x), 10)
		b = append(b, ' ')
		b = strconv.AppendInt(b, int64(y), 10)
		b = append(b, ' ')
		b = strconv.AppendInt(b, int64(n), 10)
		b = append(b, " 1 re\n"...)
	})
	b = append(b, "f Q"...)
	s.pdf.RawWriteStr(string(b))
}
