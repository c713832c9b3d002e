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

const (
	legendH = 6.0
	footH   = 18.0
	bodyEnd = frameY + frameH - footH - legendH
)

// WriteTraveller draws the traveller of one pallet as a PDF on A4, on as many
// pages as its lots and routes need; each page carries the code.
// It fails on an address no QR code holds and when w does.
func WriteTraveller(w io.Writer, t Traveller) error {
	return writeTravellers(w, "Traveller "+t.Code+", print "+fmt.Sprint(t.Print), []Traveller{t}, nil)
}

// WriteTravellers draws several travellers, such as those of a whole order, as
// one PDF; each counts its own pages. It fails as WriteTraveller does, and with
// ErrNothing on an empty list.
func WriteTravellers(w io.Writer, ts []Traveller) error {
	if len(ts) == 1 {
		return WriteTraveller(w, ts[0])
	}
	return writeTravellers(w, fmt.Sprintf("Travellers of %d pallets", len(ts)), ts, nil)
}

func writeTravellers(w io.Writer, title string, ts []Traveller, prepare func(*sheet)) error {
	if len(ts) == 0 {
		return ErrNothing
	}
	var made time.Time
	for _, t := range ts {
		if t.PrintedAt.After(made) {
			made = t.PrintedAt
		}
	}
	s := newSheet(title, ts[0].Shop, made)
	if prepare != nil {
		prepare(s)
	}
	for _, t := range ts {
		if err := s.traveller(t); err != nil {
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
	s.forget()
	head, headAgain := s.head(t, m), s.headAgain(t, m)
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
	pages := paginate(blocks, bodyEnd-frameY-head.h, bodyEnd-frameY-headAgain.h)
	for i, page := range pages {
		s.addPage()
		top := head
		if i > 0 {
			top = headAgain
		}
		top.draw(frameY)
		y := frameY + top.h
		for _, b := range page {
			b.draw(y)
			y += b.h
		}
		s.hline(frameX, y, frameW)
		s.foot(t, i+1, len(pages))
	}
	return nil
}

// foot is on every page: the symbols, what to do without power, the cautions,
// and the page's number.
func (s *sheet) foot(t Traveller, n, m int) {
	s.box(rect{frameX, frameY, frameW, frameH})
	y := bodyEnd
	s.hline(frameX, y, frameW)
	x := frameX + pad
	legend := func(word string, k StepKind, hold, done bool) {
		s.symbol(x+1.4, y+legendH/2, 1.3, k, hold, done)
		x += 4
		t := s.fit(word, style{regular, small}, 60, 3)
		w := width(word, regular, small)
		s.middle(rect{x, y, w + 0.01, legendH}, t, left)
		x += w + 4
	}
	legend("filled: done", Operation, false, true)
	for _, k := range []StepKind{Operation, Inspection, Transport, Delay, Storage} {
		legend(k.Name(), k, false, false)
	}
	legend(HoldRule, Inspection, true, false)

	y += legendH
	const powerW, careW = 62.0, 82.0
	note := func(x, w float64, title, body string) {
		frame := rect{x, y, w, footH}
		s.box(frame)
		in := frame.inset(pad, pad*0.7)
		used := s.text(in, s.fit(title, style{bold, small + 1}, in.w, 4), left)
		s.text(rect{in.x, in.y + used, in.w, in.h - used}, s.fit(body, style{regular, small + 1}, in.w, in.h-used), left)
	}
	note(frameX, powerW, "No power?", NoPower)
	note(frameX+powerW, careW, "Care", Care)
	x, w := frameX+powerW+careW, frameW-powerW-careW
	s.box(rect{x, y, w, footH})
	in := rect{x, y, w, footH}.inset(pad, pad*0.7)
	used := s.text(in, s.fit(t.Shop, style{bold, small + 1}, in.w, 3.5), left)
	s.text(rect{in.x, in.y + used, in.w, 6.5}, s.fit(t.Notice, style{regular, small + 1}, in.w, 6.5), left)
	s.text(rect{in.x, in.y + in.h - 5, in.w, 5}, s.fit(fmt.Sprintf("page %d of %d", n, m), style{bold, strong - 2}, in.w, 5), left)

	s.text(rect{frameX, frameY + frameH + 0.8, frameW, 5.2}, fit(s.notes(), style{regular, least}, frameW, 5.2), left)
}
