package paper

import (
	"fmt"
	"io"
	"time"

	"tagalong/internal/code"
)

// A PlaceSign hangs at a slot of the pallet store.
type PlaceSign struct {
	Shop    string
	Store   string // "pallet store"
	Place   string // "C4", as typed where no scanner is
	Address string // what the QR says
	Notice  string
}

// A4 holds eight signs, two across.
const (
	placesAcross, placesDown = 2, 4
	placeH                   = 68.75
)

// WritePlaceSigns draws signs of 95 × 68.75 mm, eight to an A4 page, with lines
// to cut along. made is the date of the document. It fails on an empty list
// (ErrNothing), on an address no QR code holds (small letters, for one), and when
// w does.
func WritePlaceSigns(w io.Writer, signs []PlaceSign, made time.Time) error {
	return writePlaceSigns(w, signs, made, nil)
}

func writePlaceSigns(w io.Writer, signs []PlaceSign, made time.Time, prepare func(*sheet)) error {
	if len(signs) == 0 {
		return ErrNothing
	}
	s := newSheet(A4, "Signs", signs[0].Shop, made)
	if prepare != nil {
		prepare(s)
	}
	const perPage = placesAcross * placesDown
	for i, g := range signs {
		k := i % perPage
		if k == 0 {
			s.addPage()
			s.forget()
		}
		at := rect{s.frameX + float64(k%placesAcross)*s.frameW/placesAcross, s.frameY + float64(k/placesAcross)*placeH, s.frameW / placesAcross, placeH}
		if err := s.place(g, at); err != nil {
			return fmt.Errorf("sign of %s: %w", g.Place, err)
		}
		if k == perPage-1 || i == len(signs)-1 {
			s.text(rect{s.frameX, s.frameY + s.frameH + 0.8, s.frameW, 5.2}, fit(s.notes(), style{regular, least}, s.frameW, 5.2), left)
		}
	}
	return s.write(w)
}

func (s *sheet) place(g PlaceSign, at rect) error {
	m, err := code.QR(g.Address)
	if err != nil {
		return err
	}
	const side, margin, storeH, shopH = 40.0, 4.0, 8.0, 5.0
	s.box(at)
	in := at.inset(margin, margin)
	s.middle(rect{in.x, in.y, in.w, storeH}, s.fit(g.Store, style{regular, 13}, in.w, storeH), left)
	s.qr(m, in.x+in.w-side, in.y+storeH+1, side)
	w := in.w - side - 2
	// In one line where that is still read from the aisle.
	st, high := style{mono, 72}, side
	for st.size > 24 && width(g.Place, mono, st.size) > w {
		st.size -= 2
	}
	if width(g.Place, mono, st.size) <= w {
		high = st.line()
	}
	s.middle(rect{in.x, in.y + storeH + 1, w, side}, s.fit(g.Place, st, w, high), centre)
	s.middle(rect{in.x, in.y + in.h - shopH, in.w, shopH}, s.fit(joinFilled(". ", g.Shop, g.Notice), style{regular, small + 1}, in.w, shopH), left)
	return nil
}
