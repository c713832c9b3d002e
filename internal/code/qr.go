package code

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"strconv"
	"strings"

	qrcode "github.com/skip2/go-qrcode"
)

// QuietZone is the width, in modules, of the blank border a QR symbol needs on
// every side (ISO/IEC 18004).
const QuietZone = 4

// Level is a QR symbol's error correction level.
type Level byte

// The levels used here: a ticket gets dirty, so never less than Q.
const (
	LevelQ Level = 'Q' // recovers about 25 % of the codewords
	LevelH Level = 'H' // recovers about 30 %
)

// skip2/go-qrcode calls level Q High and level H Highest.
var levels = map[Level]qrcode.RecoveryLevel{LevelQ: qrcode.High, LevelH: qrcode.Highest}

// Symbol is a QR symbol with its quiet zone.
type Symbol struct {
	Version int   // 1 to 40; the side is 17+4·Version modules without quiet zone
	Level   Level // LevelQ or LevelH
	modules [][]bool
}

// The versions taken at level H. From version 5 on, the blocks are so laid out
// that a rectangle of 7 % of the symbol, of any shape and wherever it lies
// outside finders, timing and format areas, leaves every block within what it
// corrects; in versions 2, 3 and 4 some rectangle beats one of the blocks, and
// at level Q in version 5 and 6 too (the tests count the codewords hit). A text
// too long for version 6, 41 modules a side, gets level Q, so that modules
// don't become finer than a label printer draws well: no address is that long.
const (
	minVersionH = 5
	maxVersionH = 6
)

// QR makes the symbol for content, which must be in the alphanumeric set (an
// Address or a badge is). A ticket gets scratched and oily, so it takes level H
// in version 5 or 6, and level Q in the smallest version that fits beyond. It
// fails if the content is empty, holds another character or is too long for
// version 40. The symbols made last are kept; a badge's is not to be, see
// SecretQR.
func QR(content string) (*Symbol, error) {
	if s, ok := drawnBefore(content); ok {
		return s, nil
	}
	s, err := SecretQR(content)
	if err == nil {
		keepDrawn(content, s)
	}
	return s, err
}

// SecretQR is QR for what nobody else is to know: nothing of it is kept.
func SecretQR(content string) (*Symbol, error) {
	if content == "" {
		return nil, fmt.Errorf("make a QR symbol: the content is empty")
	}
	if i := strings.IndexFunc(content, outsideAlphanumeric); i >= 0 {
		return nil, fmt.Errorf("make a QR symbol: %q at place %d is outside the alphanumeric set", content[i], i)
	}
	for version := minVersionH; version <= maxVersionH; version++ {
		if q, err := qrcode.NewWithForcedVersion(content, version, levels[LevelH]); err == nil {
			return &Symbol{Version: version, Level: LevelH, modules: q.Bitmap()}, nil
		}
	}
	return qrAt(content, LevelQ)
}

// qrAt makes the symbol in the smallest version that fits at a level.
func qrAt(content string, level Level) (*Symbol, error) {
	q, err := qrcode.New(content, levels[level])
	if err != nil {
		return nil, fmt.Errorf("make a QR symbol: %w", err)
	}
	return &Symbol{Version: q.VersionNumber, Level: level, modules: q.Bitmap()}, nil
}

// Size is the side of the symbol in modules, quiet zone included.
func (s *Symbol) Size() int { return len(s.modules) }

// Dark reports whether the module at column x, row y is dark. Columns and rows
// count from 0 at the top left of the quiet zone.
func (s *Symbol) Dark(x, y int) bool { return s.modules[y][x] }

// Runs calls draw for each horizontal run of dark modules, row by row: column
// x, row y, width modules. It suits a drawer of rectangles, such as a PDF's.
func (s *Symbol) Runs(draw func(x, y, width int)) {
	for y, row := range s.modules {
		for x := 0; x < len(row); x++ {
			start := x
			for x < len(row) && row[x] {
				x++
			}
			if x > start {
				draw(start, y, x-start)
			}
		}
	}
}

// Path is the symbol as the data of one SVG path, one unit a module, quiet zone
// included as an offset of 4.
func (s *Symbol) Path() string {
	var b strings.Builder
	s.Runs(func(x, y, width int) {
		fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", x, y, width, width)
	})
	return b.String()
}

// SVG is the symbol as a whole svg element with one path and no style, so that
// it takes the page's colour and size and passes a strict content security
// policy.
func (s *Symbol) SVG() string {
	side := strconv.Itoa(s.Size())
	return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ` + side + " " + side +
		`" shape-rendering="crispEdges"><path d="` + s.Path() + `"/></svg>`
}

// Image draws the symbol in black and white, scale pixels a module.
func (s *Symbol) Image(scale int) *image.Paletted {
	side := s.Size() * scale
	img := image.NewPaletted(image.Rect(0, 0, side, side), color.Palette{color.White, color.Black})
	s.Runs(func(x, y, width int) {
		for py := y * scale; py < (y+1)*scale; py++ {
			for px := x * scale; px < (x+width)*scale; px++ {
				img.SetColorIndex(px, py, 1)
			}
		}
	})
	return img
}

// PNG is the symbol as a PNG file, scale pixels a module.
func (s *Symbol) PNG(scale int) ([]byte, error) {
	if scale < 1 {
		return nil, fmt.Errorf("draw a QR symbol: %d pixels a module is too small", scale)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, s.Image(scale)); err != nil {
		return nil, fmt.Errorf("draw a QR symbol: %w", err)
	}
	return b.Bytes(), nil
}
