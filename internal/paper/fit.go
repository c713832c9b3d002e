package paper

import (
	"math"
	"strings"
	"unicode/utf8"
)

// A style is a face and a size in points.
type style struct {
	face int
	size float64
}

const (
	leading  = 1.18 // line height over size
	ellipsis = "…"
	// least is the smallest size, in points, text shrinks to: about 1.5 mm of
	// capital height, still read at arm's length.
	least = 6.0
	// longest is more bytes of text than any frame of a sheet holds.
	longest = 4000
)

// text is set lines: what a frame holds, at the size it was fitted to.
type text struct {
	lines []string
	style style
	short bool // cut off, marked by an ellipsis
}

func (t text) height() float64 { return float64(len(t.lines)) * t.style.line() }

// line is the line height in millimetres.
func (s style) line() float64 { return s.size * mmPerPoint * leading }

// fit sets s into a frame of w × h millimetres. It wraps; where that isn't
// enough it shrinks, first without breaking a word; at the smallest size it
// breaks words and at last cuts the text off with an ellipsis.
func fit(s string, st style, w, h float64) text {
	s = clean(s)
	if s == "" {
		return text{style: st}
	}
	if len(s) > longest {
		t := fit(strings.ToValidUTF8(s[:longest-8], "")+ellipsis, st, w, h)
		t.short = true
		return t
	}
	length, space := width(s, st.face, 1), width(" ", st.face, 1)
	for _, breakWords := range []bool{false, true} {
		for size := st.size; size >= min(least, st.size); size -= 0.5 {
			at := style{st.face, size}
			if n := math.Floor((h + 1e-9) / at.line()); (length-n*space)*size > n*w {
				continue // too long even if every line were full
			}
			lines, broke := wrap(s, at, w)
			if (breakWords || !broke) && float64(len(lines))*at.line() <= h+1e-9 {
				return text{lines: lines, style: at}
			}
		}
	}
	at := style{st.face, min(least, st.size)}
	lines, _ := wrap(s, at, w)
	return cutOff(lines, at, w, int(math.Floor((h+1e-9)/at.line())))
}

func cutOff(lines []string, st style, w float64, n int) text {
	n = max(n, 1)
	if len(lines) <= n {
		return text{lines: lines, style: st}
	}
	lines = lines[:n:n]
	last := lines[n-1]
	for last != "" && width(last+ellipsis, st.face, st.size) > w {
		_, k := utf8.DecodeLastRuneInString(last)
		last = last[:len(last)-k]
	}
	if width(ellipsis, st.face, st.size) <= w {
		last = strings.TrimRight(last, " ") + ellipsis
	}
	lines[n-1] = last
	return text{lines: lines, style: st, short: true}
}

// wrap breaks s at spaces; a word longer than a line is broken after a hyphen,
// slash, dot or at sign, or where it must be, and then broke says so. No line
// is wider than w.
func wrap(s string, st style, w float64) (lines []string, broke bool) {
	line := ""
	for word := range strings.FieldsSeq(s) {
		joined := word
		if line != "" {
			joined = line + " " + word
		}
		if width(joined, st.face, st.size) <= w {
			line = joined
			continue
		}
		if line != "" {
			lines = append(lines, line)
			line = ""
		}
		for k := prefix(word, st, w); k < len(word); k = prefix(word, st, w) {
			switch seam := strings.LastIndexAny(word[:k], "-/.@") + 1; {
			case k == 0: // not even one letter fits: leave it out
				broke = true
				_, n := utf8.DecodeRuneInString(word)
				word = word[n:]
				continue
			case seam > 0:
				k = seam
			default:
				broke = true
			}
			lines = append(lines, word[:k])
			word = word[k:]
		}
		line = word
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines, broke
}
