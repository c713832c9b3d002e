package paper

import (
	"embed"
	"fmt"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/bidi"
	"golang.org/x/text/unicode/norm"
)

//go:embed fonts/B612-Regular.ttf fonts/B612-Bold.ttf fonts/B612Mono-Bold.ttf fonts/DejaVuSans.ttf
var fontFiles embed.FS

// A face is one font file with the advance of every letter of the basic
// multilingual plane it holds, in thousandths of the size, as PDF counts.
type face struct {
	family, style string
	bytes         []byte
	advance       [0x10000]uint16 // 0: the font lacks the letter
}

// The faces a sheet is set in. The fallback has Greek, Cyrillic and most signs.
const (
	regular = iota
	bold
	mono
	fallback
	faceCount
)

// missing stands for a letter that none of the fonts holds.
const missing = '\u25AF' // white vertical rectangle, held by the fallback

var faces = sync.OnceValue(func() [faceCount]*face {
	return [faceCount]*face{
		loadFace("B612", "", "B612-Regular.ttf"),
		loadFace("B612", "B", "B612-Bold.ttf"),
		loadFace("B612Mono", "B", "B612Mono-Bold.ttf"),
		loadFace("DejaVu", "", "DejaVuSans.ttf"),
	}
})

// loadFace panics on a broken font: the files are part of the program.
func loadFace(family, style, file string) *face {
	b, err := fontFiles.ReadFile("fonts/" + file)
	if err != nil {
		panic(err)
	}
	f, err := sfnt.Parse(b)
	if err != nil {
		panic(fmt.Errorf("font %s: %w", file, err))
	}
	fc := &face{family: family, style: style, bytes: b}
	var buf sfnt.Buffer
	em := fixed.Int26_6(f.UnitsPerEm())
	for r := rune(0x20); r < 0x10000; r++ {
		if g, err := f.GlyphIndex(&buf, r); err != nil || g == 0 || rightToLeft(r) {
			continue
		} else if adv, err := f.GlyphAdvance(&buf, g, em, font.HintingNone); err == nil && adv > 0 {
			fc.advance[r] = uint16((int(adv)*1000 + int(em)/2) / int(em))
		}
	}
	return fc
}

// rightToLeft reports letters of a script that runs the other way, such as
// Arabic and Hebrew. Sheets are set from left to right, letter by letter, which
// would turn such a word round: better a box that the notes explain.
func rightToLeft(r rune) bool {
	p, _ := bidi.LookupRune(r)
	return p.Class() == bidi.R || p.Class() == bidi.AL
}

func (f *face) has(r rune) bool { return r < 0x10000 && f.advance[r] > 0 }

// A run is text of one face.
type run struct {
	face int
	text string
}

// runs splits s into what the wanted face can set, what the fallback must, and
// the sign for a missing letter.
func runs(s string, want int) []run {
	all := faces()
	if !strings.ContainsFunc(s, func(r rune) bool { return !all[want].has(r) }) {
		return []run{{want, s}}
	}
	var out []run
	current := -1
	var b strings.Builder
	for _, r := range s {
		f := want
		if !all[want].has(r) {
			f = fallback
			if !all[fallback].has(r) {
				r = missing
			}
		}
		if f != current && b.Len() > 0 {
			out = append(out, run{current, b.String()})
			b.Reset()
		}
		current = f
		b.WriteRune(r)
	}
	if b.Len() > 0 {
		out = append(out, run{current, b.String()})
	}
	return out
}

// width is the length of s in millimetres at a size in points.
func width(s string, want int, size float64) float64 {
	f, fb := faces()[want], faces()[fallback]
	n := 0
	for _, r := range s {
		n += advance(r, f, fb)
	}
	return float64(n) * size / 1000 * mmPerPoint
}

// advance is the width of r in thousandths of the size, in whichever of the
// fonts will set it.
func advance(r rune, f, fb *face) int {
	switch {
	case f.has(r):
		return int(f.advance[r])
	case fb.has(r):
		return int(fb.advance[r])
	}
	return int(fb.advance[missing])
}

// prefix is the number of bytes of word that fit into w millimetres.
func prefix(word string, st style, w float64) int {
	f, fb := faces()[st.face], faces()[fallback]
	n := 0
	for i, r := range word {
		n += advance(r, f, fb)
		if float64(n)*st.size/1000*mmPerPoint > w {
			return i
		}
	}
	return len(word)
}

const mmPerPoint = 25.4 / 72

// clean makes text safe to set: composed letters (Unicode form NFC), one line,
// no control or direction characters that could hide or turn what is printed.
func clean(s string) string {
	s = norm.NFC.String(strings.ToValidUTF8(s, string(unicode.ReplacementChar)))
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r), unicode.IsControl(r):
			return ' '
		case unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// letters tells which letters of s the sheet's own font lacks: those set in the
// fallback font, and those no font of ours holds and a box stands for.
func letters(s string, want int) (borrowed bool, absent []rune) {
	all := faces()
	for _, r := range s {
		switch {
		case all[want].has(r):
		case all[fallback].has(r):
			borrowed = true
		default:
			absent = append(absent, r)
		}
	}
	return borrowed, absent
}
