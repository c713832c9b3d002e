package paper

import (
	"errors"
	"fmt"
	"io"
	"time"

	"tagalong/internal/code"
)

// ErrNothing says that there was nothing to print.
var ErrNothing = errors.New("nothing to print")

// WriteTravellers draws travellers, such as one pallet's or those of a whole
// order, as one PDF. On A4 and A5 each takes as many pages as its lots and
// routes need, carries its code on every page and counts its own pages; on a
// label each takes one, which says what of the pallet it leaves out. It fails
// on an empty list (ErrNothing), on an address no QR code holds, and when w does.
func WriteTravellers(w io.Writer, size Size, ts ...Traveller) error {
	return writeTravellers(w, size, nil, ts...)
}

func writeTravellers(w io.Writer, size Size, prepare func(*sheet), ts ...Traveller) error {
	if len(ts) == 0 {
		return ErrNothing
	}
	title := fmt.Sprintf("Travellers of %d pallets", len(ts))
	if len(ts) == 1 {
		title = fmt.Sprintf("Traveller %s, print %d", ts[0].Code, ts[0].Print)
	}
	var made time.Time
	for _, t := range ts {
		if t.PrintedAt.After(made) {
			made = t.PrintedAt
		}
	}
	s := newSheet(size, title, ts[0].Shop, made)
	if prepare != nil {
		prepare(s)
	}
	one := s.traveller
	if size == Label {
		one = s.travellerLabel
	}
	for _, t := range ts {
		s.forget()
		if err := one(t); err != nil {
			return fmt.Errorf("traveller %s: %w", t.Code, err)
		}
	}
	return s.write(w)
}

// traveller lays one out, then draws it: the number of pages and the notes are
// known only once everything has found its place.
func (s *sheet) traveller(t Traveller) error {
	m, err := code.QR(t.Address)
	if err != nil {
		return err
	}
	show := func(x, y, side float64) { s.qr(m, x, y, side) }
	qr := func(x, y, side float64) { show(x, y, side) }
	head, headAgain := s.head(t, qr), s.headAgain(t, qr)
	var blocks []block
	for _, h := range t.Holds {
		blocks = append(blocks, s.holdBar("PALLET HELD", h))
	}
	if held := t.HeldLots(); held != "" {
		blocks = append(blocks, s.bar("HELD", held, true, s.holdSign))
	}
	for _, c := range t.Concessions {
		blocks = append(blocks, s.concessionBar(c))
	}
	for _, l := range t.Lots {
		blocks = append(blocks, s.lot(l)...)
	}
	pages := paginate(blocks, s.bodyEnd()-s.frameY-head.h, s.bodyEnd()-s.frameY-headAgain.h)
	if len(pages) > 1 && s.placed == nil {
		show = s.stampedQR(m)
	}
	for i, page := range pages {
		s.addPage()
		top := head
		if i > 0 {
			top = headAgain
		}
		top.draw(s.frameY)
		y := s.frameY + top.h
		for _, b := range page {
			b.draw(y)
			y += b.h
		}
		s.hline(s.frameX, y, s.frameW)
		s.foot(t, i+1, len(pages))
	}
	return nil
}

// foot is on every page: the symbols, what to do without power, the cautions,
// and the page's number.
func (s *sheet) foot(t Traveller, n, m int) {
	switch {
	case s.placed != nil:
		s.footWords()
	case s.footStamp == nil:
		s.footStamp = s.stamp(s.pageW, s.pageH, s.footWords)
		fallthrough
	default:
		s.pdf.UseTemplate(s.footStamp)
	}
	x, w := s.frameX+s.powerW+s.careW, s.frameW-s.powerW-s.careW
	in := rect{x, s.bodyEnd() + s.legendH, w, s.footH}.inset(pad, pad*0.7)
	used := s.text(in, s.fit(t.Shop, style{bold, small + 1}, in.w, 3.5), left)
	s.text(rect{in.x, in.y + used, in.w, 6.5}, s.fit(t.Notice, style{regular, small + 1}, in.w, 6.5), left)
	s.text(rect{in.x, in.y + in.h - 5, in.w, 5}, s.fit(fmt.Sprintf("page %d of %d", n, m), style{bold, strong - 2}, in.w, 5), left)

	s.text(rect{s.frameX, s.frameY + s.frameH + 0.8, s.frameW, 5.2}, fit(s.notes(), style{regular, least}, s.frameW, 5.2), left)
}

// footWords is what every foot says.
func (s *sheet) footWords() {
	s.box(rect{s.frameX, s.frameY, s.frameW, s.frameH})
	y := s.bodyEnd()
	s.hline(s.frameX, y, s.frameW)
	x, rowY := s.frameX+pad, y
	rowH := s.legendH / float64(s.legendRows)
	legend := func(word string, k StepKind, hold, done bool) {
		w := width(word, regular, small)
		if x+4+w > s.frameX+s.frameW-pad {
			x, rowY = s.frameX+pad, rowY+rowH
		}
		s.symbol(x+1.4, rowY+rowH/2, 1.3, k, hold, done)
		s.middle(rect{x + 4, rowY, w + 0.01, rowH}, s.fit(word, style{regular, small}, w+0.01, 3), left)
		x += w + 8
	}
	legend("filled: done", Operation, false, true)
	for _, k := range []StepKind{Operation, Inspection, Transport, Delay, Storage} {
		legend(k.Name(), k, false, false)
	}
	legend(HoldRule, Inspection, true, false)

	y += s.legendH
	note := func(x, w float64, title, body string) {
		frame := rect{x, y, w, s.footH}
		s.box(frame)
		in := frame.inset(pad, pad*0.7)
		used := s.text(in, s.fit(title, style{bold, small + 1}, in.w, 4), left)
		s.text(rect{in.x, in.y + used, in.w, in.h - used}, s.fit(body, style{regular, small + 1}, in.w, in.h-used), left)
	}
	note(s.frameX, s.powerW, "No power?", NoPower)
	note(s.frameX+s.powerW, s.careW, "Care", Care)
	s.box(rect{s.frameX + s.powerW + s.careW, y, s.frameW - s.powerW - s.careW, s.footH})
}
