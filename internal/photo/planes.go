package photo

import (
	"image"
	"image/color"
)

// planes are a picture's brightness and its two colour differences (ITU-T T.871), each as large as the picture.
type planes struct {
	width, height int
	of            [3][]byte
}

// shrink makes a picture at most so long, by the mean of what comes to lie in each pixel. It is never enlarged.
func shrink(img image.Image, longest int) planes {
	b := img.Bounds()
	out := planes{}
	out.width, out.height = within(b.Dx(), b.Dy(), longest)
	if y, ok := img.(*image.YCbCr); ok {
		cb, ch := chroma(y)
		out.of[0] = averaged(y.Y, y.YStride, b.Dx(), b.Dy(), out)
		out.of[1] = averaged(y.Cb, y.CStride, cb, ch, out)
		out.of[2] = averaged(y.Cr, y.CStride, cb, ch, out)
		return out
	}
	var to [3]*mean
	var row [3][]byte
	for i := range to {
		to[i], row[i] = newMean(b.Dx(), b.Dy(), out.width, out.height), make([]byte, b.Dx())
	}
	at := colours(img)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for i := range b.Dx() {
			row[0][i], row[1][i], row[2][i] = onWhite(at(b.Min.X+i, y))
		}
		for i := range to {
			to[i].add(row[i])
		}
	}
	for i := range to {
		out.of[i] = to[i].out
	}
	return out
}

// shorter makes planes shorter still.
func (p planes) shorter(longest int) planes {
	out := planes{}
	out.width, out.height = within(p.width, p.height, longest)
	for i, from := range p.of {
		out.of[i] = averaged(from, p.width, p.width, p.height, out)
	}
	return out
}

// within is the size of a picture made at most so long.
func within(width, height, longest int) (int, int) {
	most := max(width, height)
	if most <= longest {
		return width, height
	}
	scaled := func(n int) int { return max(1, (2*n*longest+most)/(2*most)) }
	return scaled(width), scaled(height)
}

// chroma is the size of the colour planes, in which a row or column at the edge may count for half.
func chroma(y *image.YCbCr) (width, height int) {
	b := y.Rect
	x1, y1 := b.Max.X-1, b.Max.Y-1
	last := y.COffset(x1, y1) - y.COffset(b.Min.X, b.Min.Y)
	return last%y.CStride + 1, last/y.CStride + 1
}

// colours gives a picture's colours, of most kinds without making each a value of its own.
func colours(img image.Image) func(x, y int) color.RGBA64 {
	if quick, ok := img.(image.RGBA64Image); ok {
		return quick.RGBA64At
	}
	return func(x, y int) color.RGBA64 {
		r, g, b, a := img.At(x, y).RGBA()
		return color.RGBA64{R: uint16(r), G: uint16(g), B: uint16(b), A: uint16(a)}
	}
}

// onWhite is a colour in front of white, as T.871 has it.
func onWhite(c color.RGBA64) (y, cb, cr byte) {
	rest := 0xffff - c.A
	return color.RGBToYCbCr(byte((c.R+rest)>>8), byte((c.G+rest)>>8), byte((c.B+rest)>>8))
}

// averaged makes one plane as large as to.
func averaged(from []byte, stride, width, height int, to planes) []byte {
	m := newMean(width, height, to.width, to.height)
	for y := range height {
		m.add(from[y*stride : y*stride+width])
	}
	return m.out
}

// mean makes a plane smaller row by row. All of it is whole numbers, so a mirrored plane comes out mirrored to the last
// bit.
type mean struct {
	width, height     int // of what comes in
	toWidth, toHeight int
	y, done           int // rows that came in, and that are made
	across            []uint64
	sum               []uint64
	out               []byte
}

func newMean(width, height, toWidth, toHeight int) *mean {
	return &mean{width: width, height: height, toWidth: toWidth, toHeight: toHeight,
		across: make([]uint64, toWidth), sum: make([]uint64, toWidth), out: make([]byte, 0, toWidth*toHeight)}
}

// add takes the next row. Distances down are counted in steps of 1/toHeight of a row that comes in, of which each row
// that is made has height many; likewise across.
func (m *mean) add(row []byte) {
	m.squeeze(row)
	top, bottom := m.y*m.toHeight, (m.y+1)*m.toHeight
	m.y++
	for m.done < m.toHeight {
		from, to := m.done*m.height, (m.done+1)*m.height
		share := uint64(min(bottom, to) - max(top, from))
		for x, v := range m.across {
			m.sum[x] += share * v
		}
		if to > bottom {
			return
		}
		m.finish()
		if to == bottom {
			return
		}
	}
}

// squeeze makes one row as wide as what is made, each value times width.
func (m *mean) squeeze(row []byte) {
	for x := range m.across {
		from, to := x*m.width, (x+1)*m.width
		i, last := from/m.toWidth, (to-1)/m.toWidth
		if i == last {
			m.across[x] = uint64(row[i]) * uint64(m.width)
			continue
		}
		sum := uint64(row[i])*uint64((i+1)*m.toWidth-from) + uint64(row[last])*uint64(to-last*m.toWidth)
		var whole uint64
		for _, v := range row[i+1 : last] {
			whole += uint64(v)
		}
		m.across[x] = sum + whole*uint64(m.toWidth)
	}
}

func (m *mean) finish() {
	all := uint64(m.width) * uint64(m.height)
	for x, sum := range m.sum {
		m.out = append(m.out, byte((sum+all/2)/all))
		m.sum[x] = 0
	}
	m.done++
}

// upright turns a picture of an orientation (CIPA DC-008, 4.6.4 A) as it was seen: 2 mirrored, 3 upside down, 4 mirrored
// upside down, 6 and 8 lying on a side, 5 and 7 those mirrored.
func (p planes) upright(orientation int) planes {
	if orientation == 1 {
		return p
	}
	out := planes{width: p.width, height: p.height}
	lying := orientation >= 5
	if lying {
		out.width, out.height = p.height, p.width
	}
	left := orientation == 2 || orientation == 3 || orientation == 7 || orientation == 8
	up := orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7
	for i, from := range p.of {
		to := make([]byte, len(from))
		for y := range out.height {
			for x := range out.width {
				u, v := x, y
				if lying {
					u, v = y, x
				}
				if left {
					u = p.width - 1 - u
				}
				if up {
					v = p.height - 1 - v
				}
				to[y*out.width+x] = from[v*p.width+u]
			}
		}
		out.of[i] = to
	}
	return out
}
