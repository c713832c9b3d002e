package code

import (
	"math"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	zxdecoder "github.com/makiuchi-d/gozxing/qrcode/decoder"
)

// covered is the share of the symbol's modules that the tests hide.
const covered = 0.07

// layout is where a symbol keeps its codewords: for each module the codeword it
// belongs to, for each codeword its block, for each block how many wrong
// codewords it corrects.
type layout struct {
	side     int
	codeword [][]int // by row and column without quiet zone; -1: none, or spared
	block    []int
	corrects []int
}

// layoutOf asks a decoder that isn't ours: it flips one module after another
// and sees which codeword comes out changed. Blocks and their capacity are the
// decoder's tables of ISO/IEC 18004.
func layoutOf(t *testing.T, symbol *Symbol) layout {
	t.Helper()
	n := symbol.Size() - 2*QuietZone
	bits, err := gozxing.NewSquareBitMatrix(n)
	if err != nil {
		t.Fatal(err)
	}
	for y := range n {
		for x := range n {
			if symbol.Dark(x+QuietZone, y+QuietZone) {
				bits.Set(x, y)
			}
		}
	}
	read := func() []byte {
		parser, err := zxdecoder.NewBitMatrixParser(bits)
		if err != nil {
			t.Fatal(err)
		}
		words, err := parser.ReadCodewords()
		if err != nil {
			t.Fatal(err)
		}
		parser.Remask() // reading takes the mask off in place
		return words
	}
	clean := read()
	l := layout{side: n, codeword: make([][]int, n), block: make([]int, len(clean))}
	for y := range n {
		l.codeword[y] = make([]int, n)
		for x := range n {
			l.codeword[y][x] = -1
			if spared(x, y, n) {
				continue
			}
			bits.Flip(x, y)
			for i, w := range read() {
				if w != clean[i] {
					l.codeword[y][x] = i
				}
			}
			bits.Flip(x, y)
		}
	}
	version, err := zxdecoder.Version_GetVersionForNumber(symbol.Version)
	if err != nil {
		t.Fatal(err)
	}
	level, err := zxdecoder.ErrorCorrectionLevel_ValueOf(string(symbol.Level))
	if err != nil {
		t.Fatal(err)
	}
	numbers := make([]byte, len(clean)) // a codeword's own number, to see which block it lands in
	for i := range numbers {
		numbers[i] = byte(i)
	}
	blocks, err := zxdecoder.DataBlock_GetDataBlocks(numbers, version, level)
	if err != nil {
		t.Fatal(err)
	}
	for b, block := range blocks {
		words := block.GetCodewords()
		l.corrects = append(l.corrects, (len(words)-block.GetNumDataCodewords())/2)
		for _, i := range words {
			l.block[i] = b
		}
	}
	return l
}

// spared are the areas without error correction: the finders with separators
// and format modules, and the timing patterns. Alignment patterns may be hidden.
func spared(x, y, n int) bool {
	return x < 9 && y < 9 || x >= n-8 && y < 9 || x < 9 && y >= n-8 || x == 6 || y == 6
}

// excess is by how many codewords a rectangle beats its worst block; ok is
// false when it touches what is spared.
func (l layout) excess(x0, y0, w, h int) (worst int, ok bool) {
	var hit [256]bool
	for y := y0; y < y0+h; y++ {
		for x := x0; x < x0+w; x++ {
			if spared(x, y, l.side) {
				return 0, false
			}
			if c := l.codeword[y][x]; c >= 0 {
				hit[c] = true
			}
		}
	}
	var wrong [8]int
	for c, is := range hit {
		if is {
			wrong[l.block[c]]++
		}
	}
	worst = -len(l.block)
	for b, most := range l.corrects {
		worst = max(worst, wrong[b]-most)
	}
	return worst, true
}

// beaten counts the rectangles that cover 7 % of the symbol, in every shape and
// place, and those which leave some block more wrong codewords than it
// corrects, were every module they touch read wrongly. A patch doesn't follow
// the grid: one of w × h modules can lie over the middles of w+1 columns and
// h+1 rows, so those are counted as hidden whole.
func (l layout) beaten() (all, bad int) {
	area := covered * float64(l.side*l.side)
	for w := 2; w <= l.side; w++ {
		h := int(math.Ceil(area / float64(w-1)))
		for y := 0; y+h <= l.side; y++ {
			for x := 0; x+w <= l.side; x++ {
				if excess, ok := l.excess(x, y, w, h); ok {
					all++
					if excess > 0 {
						bad++
					}
				}
			}
		}
	}
	return all, bad
}

// Whatever rectangle of 7 % is hidden outside finders, timing and format areas,
// every block of a symbol we print can be corrected. The same count finds the
// rectangles that beat a smaller symbol or level Q: it can fail, and it is why
// these are not printed. Block structure: ISO/IEC 18004, as gozxing has it.
func TestEveryPatchOfSevenPercentCanBeCorrected(t *testing.T) {
	for _, c := range []struct {
		length, version int
	}{{8, 5}, {34, 5}, {42, 5}, {64, 5}, {65, 6}, {84, 6}} { // 64 and 84 fill versions 5 and 6 at level H (table 7)
		symbol, err := QR(strings.Repeat("A", c.length))
		if err != nil {
			t.Fatal(err)
		}
		if symbol.Version != c.version || symbol.Level != LevelH {
			t.Errorf("%d characters take version %d level %c, want %d H", c.length, symbol.Version, symbol.Level, c.version)
		}
		all, bad := layoutOf(t, symbol).beaten()
		if bad > 0 || all < 5000 {
			t.Errorf("version %d level %c: %d of %d rectangles can't be corrected", symbol.Version, symbol.Level, bad, all)
		}
	}
	for _, c := range []struct {
		length int
		level  Level
	}{{50, LevelH}, {67, LevelQ}, {87, LevelQ}, {108, LevelQ}} { // versions 4 H, 4 Q, 5 Q, 6 Q (table 7)
		symbol, err := qrAt(strings.Repeat("A", c.length), c.level)
		if err != nil {
			t.Fatal(err)
		}
		all, bad := layoutOf(t, symbol).beaten()
		if bad == 0 {
			t.Errorf("version %d level %c: none of %d rectangles beats it, so it could be printed too", symbol.Version, symbol.Level, all)
		}
		t.Logf("version %d level %c: %d of %d rectangles beat a block", symbol.Version, symbol.Level, bad, all)
	}
}
