package code

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/makiuchi-d/gozxing"
	zxdecoder "github.com/makiuchi-d/gozxing/qrcode/decoder"
)

// page is a symbol printed on paper as one camera frame sees it.
type page struct {
	dpi    float64 // of the picture, at the paper
	module float64 // mm
	turn   float64 // degrees
	offset [2]float64
	blur   float64 // side of the square that light is spread over, in modules
	hidden map[[2]int]bool
	worn   bool // hidden modules are rubbed off, not stained
}

// frame is the page a moment later, in a hand that holds it up to a camera: up
// to 20° further round, a quarter nearer or further away, moved aside, and not
// always in focus.
func (p page) frame(rng *rand.Rand) page {
	around := func(most float64) float64 { return (2*rng.Float64() - 1) * most }
	p.turn += around(20)
	p.module *= 1 + around(0.25)
	p.offset = [2]float64{around(0.5), around(0.5)}
	p.blur = rng.Float64() * 1.5
	return p
}

// render draws the page as a camera would see it, with nine samples a pixel.
func (p page) render(symbol *Symbol) *image.Gray {
	perModule := p.module / 25.4 * p.dpi
	side := int(float64(symbol.Size())*perModule*1.5) + 1
	img := image.NewGray(image.Rect(0, 0, side, side))
	dark := p.modules(symbol)
	// Nine samples, apart enough for the blur and at least over the pixel.
	spread := 1 + p.blur*perModule
	sample := func(pixel, s int, offset float64, side int) float64 {
		return (float64(pixel) + 0.5 + float64(s-1)/3*spread - float64(side)/2 + offset) / perModule
	}
	sin, cos := math.Sincos(-p.turn * math.Pi / 180)
	half := float64(symbol.Size()) / 2
	for py := range side {
		for px := range side {
			light := 0
			for s := range 9 {
				dx, dy := sample(px, s%3, p.offset[0], side), sample(py, s/3, p.offset[1], side)
				x, y := int(math.Floor(dx*cos-dy*sin+half)), int(math.Floor(dx*sin+dy*cos+half))
				if x < 0 || y < 0 || x >= len(dark) || y >= len(dark) || !dark[y][x] {
					light++
				}
			}
			img.SetGray(px, py, color.Gray{Y: uint8(light * 255 / 9)})
		}
	}
	return img
}

// modules is what is left to see of the symbol.
func (p page) modules(symbol *Symbol) [][]bool {
	out := make([][]bool, symbol.Size())
	for y := range out {
		out[y] = make([]bool, symbol.Size())
		for x := range out[y] {
			out[y][x] = symbol.Dark(x, y)
			if p.hidden[[2]int{x, y}] {
				out[y][x] = !p.worn
			}
		}
	}
	return out
}

// patch hides one rectangle of at least 7 % of the symbol's modules, anything
// from a strip to a square, anywhere outside finders, timing and format areas;
// an alignment pattern may be under it.
func patch(symbol *Symbol, rng *rand.Rand) map[[2]int]bool {
	n := symbol.Size() - 2*QuietZone
	least := int(math.Ceil(covered * float64(n*n)))
	for {
		w := 3 + rng.IntN(n-2)
		h := (least + w - 1) / w
		if h > n {
			continue
		}
		if hidden, clear := hide(rng.IntN(n-w+1), rng.IntN(n-h+1), w, h, n, nil); clear {
			return hidden
		}
	}
}

// specks hide at least 7 % in blotches of 3 × 3 modules, nearly 2 mm on the
// smallest print, scattered over the same areas. Scattered finer, 7 % of the
// modules are in more codewords than any level corrects (level H: about 33 %
// of them, ISO/IEC 18004 table 9), so blotches the blocks can't bear are drawn
// again; again counts these.
func specks(t *testing.T, symbol *Symbol, rng *rand.Rand, worn bool) (hidden map[[2]int]bool, again int) {
	t.Helper()
	const blotch = 3
	n := symbol.Size() - 2*QuietZone
	least := int(math.Ceil(covered * float64(n*n)))
	for {
		hidden = map[[2]int]bool{}
		for len(hidden) < least {
			hide(rng.IntN(n-blotch+1), rng.IntN(n-blotch+1), blotch, blotch, n, hidden)
		}
		if correctable(t, page{hidden: hidden, worn: worn}.modules(symbol)) {
			return hidden, again
		}
		again++
	}
}

// correctable reports whether a symbol's modules, each seen where it is, can be
// decoded.
func correctable(t *testing.T, dark [][]bool) bool {
	t.Helper()
	n := len(dark) - 2*QuietZone
	bits, err := gozxing.NewSquareBitMatrix(n)
	if err != nil {
		t.Fatal(err)
	}
	for y := range n {
		for x := range n {
			if dark[y+QuietZone][x+QuietZone] {
				bits.Set(x, y)
			}
		}
	}
	_, err = zxdecoder.NewDecoder().Decode(bits, nil)
	return err == nil
}

// hide adds a rectangle to hidden unless it touches what is spared.
func hide(x0, y0, w, h, n int, hidden map[[2]int]bool) (map[[2]int]bool, bool) {
	for y := y0; y < y0+h; y++ {
		for x := x0; x < x0+w; x++ {
			if spared(x, y, n) {
				return hidden, false
			}
		}
	}
	if hidden == nil {
		hidden = map[[2]int]bool{}
	}
	for y := y0; y < y0+h; y++ {
		for x := x0; x < x0+w; x++ {
			hidden[[2]int{x + QuietZone, y + QuietZone}] = true
		}
	}
	return hidden, true
}
