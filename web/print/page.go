package print

import (
	_ "embed"
	"encoding/base64"
	"strconv"
	"strings"

	"tagalong/internal/code"
	"tagalong/internal/paper"
)

// StylesheetHref is where the page looks for Stylesheet.
const StylesheetHref = "/assets/print.css"

// Stylesheet is the page's CSS, to be served at StylesheetHref as text/css. It
// takes the B612 fonts from /assets/fonts.
//
//go:embed print.css
var Stylesheet []byte

// symbolPath is a QR symbol as SVG: the side in modules, quiet zone included,
// and the path. It fails on an address no symbol holds.
func symbolPath(address string) (viewBox, path string, err error) {
	s, err := code.QR(address)
	if err != nil {
		return "", "", err
	}
	side := strconv.Itoa(s.Size())
	return "0 0 " + side + " " + side, s.Path(), nil
}

// drawing is an outline as SVG, y turned downwards.
type drawing struct {
	viewBox string
	path    string
}

// outline draws polylines; ok is false when there are none to draw.
func outline(o paper.Outline) (d drawing, ok bool) {
	lo, hi, ok := o.Bounds()
	if !ok {
		return d, false
	}
	f := func(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }
	var b strings.Builder
	for _, path := range o.Paths {
		for i, p := range path {
			b.WriteByte("LM"[btoi(i == 0)])
			b.WriteString(f(p.X-lo.X) + " " + f(hi.Y-p.Y))
		}
	}
	// A margin keeps the line, which has one width on paper, inside the box.
	w, h := hi.X-lo.X, hi.Y-lo.Y
	m := max(w, h) * 0.02
	return drawing{viewBox: strings.Join([]string{f(-m), f(-m), f(w + 2*m), f(h + 2*m)}, " "), path: b.String()}, true
}

// picture is a PNG or JPEG as a data URL, re-encoded; empty when unreadable.
func picture(o paper.Outline) string {
	b, err := o.JPEG()
	if err != nil {
		return ""
	}
	return "data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(b)
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// symbolClass says by a class whether a symbol is filled.
func symbolClass(done bool) string {
	if done {
		return "symbol done"
	}
	return "symbol"
}

func symbolName(s paper.Step) string {
	name := s.Kind.Name()
	if s.HoldPoint {
		name = "hold point"
	}
	if s.Done {
		name += ", done"
	}
	return name
}

func each(l paper.Lot) string {
	if l.MassEachKg <= 0 {
		return "mass each not known"
	}
	return paper.Kg(l.MassEachKg) + " each"
}

func itemText(l paper.Lot) string {
	if l.Revision == "" {
		return l.Item
	}
	return l.Item + " rev " + l.Revision
}

func nameText(l paper.Lot) string {
	if l.HandMarking == "" {
		return l.Name
	}
	return l.Name + ", " + l.HandMarking
}

func promised(l paper.Lot) string {
	if l.Promised.IsZero() {
		return paper.PromisedText(l.Promised)
	}
	return "promised " + paper.Date(l.Promised)
}

func lotsOf(o paper.OrderLine) string {
	if len(o.Lots) == 1 {
		return "lot " + o.Lots[0]
	}
	return "lots " + strings.Join(o.Lots, ", ")
}
