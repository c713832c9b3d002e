package paper

import (
	"fmt"
	"io"
	"time"

	"tagalong/internal/code"
)

// A card of format ID-1 (ISO/IEC 7810), in millimetres.
const (
	CardW = 85.60
	CardH = 53.98
)

// A Badge is a card a person signs with.
type Badge struct {
	Shop   string
	Name   string
	Role   string
	Number string // of the badge, printed; says nothing of the token
	Token  string // what the QR says
	Notice string // such as "Invented demo data"
}

// WriteBadges draws cards of 85.60 × 53.98 mm, ten to an A4 page, edge to edge
// with cut marks in the margin. made is the date of the document. It fails on
// an empty list (ErrNothing), on a token no QR code holds, and when w does.
func WriteBadges(w io.Writer, badges []Badge, made time.Time) error {
	return writeBadges(w, badges, made, nil)
}

func writeBadges(w io.Writer, badges []Badge, made time.Time, prepare func(*sheet)) error {
	if len(badges) == 0 {
		return ErrNothing
	}
	const across, down = 2, 5
	s := newSheet(A4, "Badges", badges[0].Shop, made)
	x0, y0 := (s.pageW-across*CardW)/2, (s.pageH-down*CardH)/2
	if prepare != nil {
		prepare(s)
	}
	for i, b := range badges {
		k := i % (across * down)
		if k == 0 {
			s.addPage()
			s.cutMarks(x0, y0, across, down)
		}
		if err := s.badge(b, x0+float64(k%across)*CardW, y0+float64(k/across)*CardH); err != nil {
			return fmt.Errorf("badge of %s: %w", b.Name, err)
		}
		if k == across*down-1 || i == len(badges)-1 {
			s.text(rect{x0, s.pageH - 8, across * CardW, 2.6}, fit(s.notes(), style{regular, least}, across*CardW, 2.6), left)
			s.forget()
		}
	}
	return s.write(w)
}

// cutMarks are ticks outside the cards, where a ruler is laid.
func (s *sheet) cutMarks(x0, y0 float64, across, down int) {
	const gap, tick = 1.0, 4.0
	x1, y1 := x0+float64(across)*CardW, y0+float64(down)*CardH
	for i := range across + 1 {
		x := x0 + float64(i)*CardW
		s.vline(x, y0-gap-tick, tick)
		s.vline(x, y1+gap, tick)
	}
	for i := range down + 1 {
		y := y0 + float64(i)*CardH
		s.hline(x0-gap-tick, y, tick)
		s.hline(x1+gap, y, tick)
	}
}

func (s *sheet) badge(b Badge, x, y float64) error {
	m, err := code.SecretQR(b.Token)
	if err != nil {
		return err
	}
	// The margin leaves room for a cut that is a millimetre off.
	const margin, side = 3.5, 40.0
	in := rect{x + margin, y + margin, CardW - 2*margin, CardH - 2*margin}
	s.box(in)
	s.vline(in.x+in.w-side-1, in.y, in.h)
	s.qr(m, in.x+in.w-side-0.5, in.y+(in.h-side)/2, side)
	w := in.w - side - 1 - 2*pad
	left1 := rect{in.x + pad, in.y + pad, w, 5.5}
	s.text(left1, s.fit(b.Shop, style{regular, small + 0.5}, w, 5.5), left)
	s.text(rect{left1.x, in.y + 9, w, 18}, s.fit(b.Name, style{bold, 15}, w, 18), left)
	s.text(rect{left1.x, in.y + 28, w, 9}, s.fit(b.Role, style{regular, normal + 1}, w, 9), left)
	s.text(rect{left1.x, in.y + in.h - 8.5, w, 3.4}, s.fit(b.Number, style{mono, normal - 1}, w, 3.4), left)
	s.text(rect{left1.x, in.y + in.h - 5, w, 4.6}, s.fit(b.Notice, style{regular, least}, w, 4.6), left)
	return nil
}
