package paper

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// A rect is a place on the page in millimetres from its upper left corner.
type rect struct{ x, y, w, h float64 }

// inset is r without a margin of d on the left and right, and v above and below.
func (r rect) inset(d, v float64) rect { return rect{r.x + d, r.y + v, r.w - 2*d, r.h - 2*v} }

// A sheet is a PDF being drawn. It remembers what it couldn't print as given.
type sheet struct {
	form
	pdf    *fpdf.Fpdf
	loaded [faceCount]bool
	set    style // what the page is set in now

	footStamp fpdf.Template

	borrowed bool   // some letters were set in the fallback font
	absent   []rune // letters no font holds
	short    bool   // some text was cut off

	fitted map[fitting]fitted

	placed func(frame rect, t text, lineX, lineW []float64) // for tests; with it nothing is stamped
}

// A fitting is a text and the frame it was fitted to.
type fitting struct {
	str  string
	st   style
	w, h float64
}

// fitted is what came of it.
type fitted struct {
	text     text
	borrowed bool
	absent   []rune
}

// newSheet begins a document on one size of paper. All dates in it are made.
func newSheet(size Size, title, author string, made time.Time) *sheet {
	f := size.form()
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: f.pageW, Ht: f.pageH}, OrientationStr: "P"})
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetLineWidth(ink)
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(made.UTC())
	pdf.SetModificationDate(made.UTC())
	pdf.SetTitle(title, true)
	pdf.SetAuthor(author, true)
	pdf.SetCreator("Tagalong", true)
	pdf.SetLang("en")
	pdf.SetDisplayMode("fullpage", "continuous")
	return &sheet{form: f, pdf: pdf, fitted: map[fitting]fitted{}}
}

// forget drops the notes of the document before, at a new traveller.
func (s *sheet) forget() { s.borrowed, s.absent, s.short = false, nil, false }

func (s *sheet) addPage() { s.pdf.AddPage() }

func (s *sheet) write(w io.Writer) error {
	if err := s.pdf.Output(w); err != nil {
		return fmt.Errorf("draw PDF: %w", err)
	}
	return nil
}

// fit is fit, and remembers for the notes what the text lost. Sheets repeat
// themselves, from pages to pallets, so each text is fitted once a document.
func (s *sheet) fit(str string, st style, w, h float64) text {
	key := fitting{str, st, w, h}
	f, ok := s.fitted[key]
	if !ok {
		f.text = fit(str, st, w, h)
		f.borrowed, f.absent = letters(clean(str), st.face)
		s.fitted[key] = f
	}
	s.borrowed = s.borrowed || f.borrowed
	s.short = s.short || f.text.short
	for _, r := range f.absent {
		if !slices.Contains(s.absent, r) {
			s.absent = append(s.absent, r)
		}
	}
	return f.text
}

// flow sets text at a width and lets it grow downwards, to at most most lines.
func (s *sheet) flow(str string, st style, w float64, most int) text {
	return s.fit(str, st, w, float64(most)*st.line())
}

// notes says what could not be printed as given, or nothing.
func (s *sheet) notes() string {
	var out []string
	if s.short {
		out = append(out, ellipsis+" text cut short here; the tablet shows it whole.")
	}
	if len(s.absent) > 0 {
		var codes []string
		for _, r := range s.absent[:min(len(s.absent), 6)] {
			codes = append(codes, fmt.Sprintf("U+%04X", r))
		}
		if len(s.absent) > 6 {
			codes = append(codes, "and more")
		}
		out = append(out, string(missing)+" stands for a letter this sheet's fonts lack: "+strings.Join(codes, ", ")+". The tablet shows it.")
	}
	if s.borrowed {
		out = append(out, "Letters that B612 lacks are set in DejaVu Sans.")
	}
	return strings.Join(out, " ")
}

// align is where text stands in its frame.
type align int

const (
	left align = iota
	centre
	right
)

// text draws t at the top of frame and reports its height.
func (s *sheet) text(frame rect, t text, a align) float64 {
	line := t.style.line()
	var xs, ws []float64
	for i, str := range t.lines {
		w := width(str, t.style.face, t.style.size)
		x := frame.x
		switch a {
		case centre:
			x += (frame.w - w) / 2
		case right:
			x += frame.w - w
		}
		xs, ws = append(xs, x), append(ws, w)
		base := frame.y + float64(i)*line + line*0.79
		for _, r := range runs(str, t.style.face) {
			s.setFont(r.face, t.style.size)
			s.pdf.Text(x, base, r.text)
			x += width(r.text, r.face, t.style.size)
		}
	}
	if s.placed != nil && len(t.lines) > 0 {
		s.placed(frame, t, xs, ws)
	}
	return t.height()
}

// middle draws t at the middle of the height of frame.
func (s *sheet) middle(frame rect, t text, a align) {
	d := (frame.h - t.height()) / 2
	frame.y += d
	frame.h -= d
	s.text(frame, t, a)
}

// setFont loads a face when it is first used: most sheets need no fallback. A
// new page is set in what the page before ended with.
func (s *sheet) setFont(f int, size float64) {
	if s.set == (style{f, size}) {
		return
	}
	s.set = style{f, size}
	fc := faces()[f]
	if !s.loaded[f] {
		s.pdf.AddUTF8FontFromBytes(fc.family, fc.style, fc.bytes)
		s.loaded[f] = true
	}
	s.pdf.SetFont(fc.family, fc.style, size)
}

func (s *sheet) box(r rect)            { s.pdf.Rect(r.x, r.y, r.w, r.h, "D") }
func (s *sheet) hline(x, y, w float64) { s.pdf.Line(x, y, x+w, y) }
func (s *sheet) vline(x, y, h float64) { s.pdf.Line(x, y, x, y+h) }
func (s *sheet) tint(r rect, grey int) { s.fill(r, grey); s.pdf.SetFillColor(0, 0, 0) }
func (s *sheet) fill(r rect, grey int) {
	s.pdf.SetFillColor(grey, grey, grey)
	s.pdf.Rect(r.x, r.y, r.w, r.h, "F")
}
func (s *sheet) polygon(how string, p ...float64) {
	pts := make([]fpdf.PointType, len(p)/2)
	for i := range pts {
		pts[i] = fpdf.PointType{X: p[2*i], Y: p[2*i+1]}
	}
	s.pdf.Polygon(pts, how)
}
