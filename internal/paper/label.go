package paper

import (
	"fmt"
	"strconv"
	"strings"

	"tagalong/internal/code"
)

// A label printer of 203 dpi has 8 dots a millimetre. Modules are whole dots
// and begin on one, so that the printer draws every bar alike.
const (
	dot         = 0.125
	labelModule = 6 * dot
	labelCare   = "Edges are sharp until rounded: gloves and sleeves. Lifting weights are guidelines. Site rules, local codes and licensed people come first."
	labelFootH  = 11.0
	penRowH     = 7.5
)

// travellerLabel draws one pallet on one label: black on white, nothing finer
// than two dots. What finds no room is counted and said.
func (s *sheet) travellerLabel(t Traveller) error {
	m, err := code.QR(t.Address)
	if err != nil {
		return err
	}
	s.addPage()
	y := s.labelHead(t, m)
	y = s.labelOrders(t, y)
	y = s.labelLoad(t, y)
	y = s.labelHeld(t, y)
	end := s.frameY + s.frameH - labelFootH
	y = s.labelLots(t, y, end)
	s.labelPen(t, y, end)
	s.labelFoot(t, end)
	return nil
}

// labelHead is the code, the print and the earliest promise.
func (s *sheet) labelHead(t Traveller, m *code.Symbol) float64 {
	side := float64(m.Size()) * labelModule
	h := side + 1
	x, w := s.frameX+h, s.frameW-h
	s.box(rect{s.frameX, s.frameY, h, h})
	s.qr(m, s.frameX+0.5, s.frameY+0.5, side)
	const codeH, promisedH = 11.0, 12.0
	in := w - 2*pad
	s.box(rect{x, s.frameY, w, codeH})
	s.middle(rect{x + pad, s.frameY, in, codeH}, s.fit(t.Code, style{mono, 26}, in, codeH-1), left)
	promised := PromisedText(t.promised())
	s.draw(cell{"promised", s.fit(promised, style{bold, 17}, in, promisedH-labelH-2*pad*0.7), left}, rect{x, s.frameY + codeH, w, promisedH})
	at := s.frameY + codeH + promisedH
	rest := h - codeH - promisedH
	s.box(rect{x, at, w, rest})
	print := s.fit("print "+t.PrintText(), style{bold, normal + 1}, in, 5)
	used := s.text(rect{x + pad, at + pad*0.7, in, 5}, print, left)
	s.text(rect{x + pad, at + pad*0.7 + used, in, rest - used - 2*pad*0.7}, s.fit(t.PrintedText(), style{regular, 7}, in, rest-used-2*pad*0.7), left)
	return s.frameY + h
}

// labelOrders names the orders on the pallet, earliest promised first.
func (s *sheet) labelOrders(t Traveller, y float64) float64 {
	const most = 2
	in := s.frameW - 2*pad
	orders := t.Orders()
	const dateW = 24.0
	type line struct{ name, date text }
	var lines []line
	h := pad
	for _, o := range orders[:min(len(orders), most)] {
		name, date, w := joinFilled(" ", o.Order, o.Customer), "", in
		if len(orders) > 1 {
			name, date, w = joinFilled(", ", name, lotsText(o.Lots)), ShortDate(o.Promised), in-dateW-1
		}
		lines = append(lines, line{s.fit(name, style{bold, 10.5}, w, style{bold, 10.5}.line()), s.fit(date, style{bold, 10.5}, dateW, style{bold, 10.5}.line())})
	}
	if n := len(orders) - most; n > 0 {
		lines = append(lines, line{name: s.flow("and "+plural(n, "more order")+", named on the A4 traveller", style{regular, 8}, in, 1)})
	}
	if len(lines) == 0 {
		lines = append(lines, line{name: s.fit("nothing on this pallet", style{regular, normal}, in, 4)})
	}
	row := style{bold, 10.5}.line()
	h += float64(len(lines)) * row
	s.box(rect{s.frameX, y, s.frameW, h})
	at := y + pad/2
	for _, l := range lines {
		s.middle(rect{s.frameX + pad, at, in, row}, l.name, left)
		s.middle(rect{s.frameX + pad + in - dateW, at, dateW, row}, l.date, right)
		at += row
	}
	return y + h
}

// labelLoad is how much it is, of what metals, and how it may be lifted.
func (s *sheet) labelLoad(t Traveller, y float64) float64 {
	const loadW, massW, h, signW, liftH = 38.0, 26.0, 10.0, 10.0, 10.5
	s.draw(cell{"on this pallet", s.fit(t.LoadText(), style{bold, strong - 1}, loadW-2*pad, 5), left}, rect{s.frameX, y, loadW, h})
	s.draw(cell{"mass of the parts", s.fit(t.MassText(), style{bold, strong - 1}, massW-2*pad, 5), left}, rect{s.frameX + loadW, y, massW, h})
	metalX, metalW := s.frameX+loadW+massW, s.frameW-loadW-massW
	s.draw(cell{"metal", s.fit(strings.Join(t.metals(), "; "), style{bold, 8}, metalW-2*pad, 5), left}, rect{metalX, y, metalW, h})
	y += h
	s.box(rect{s.frameX, y, s.frameW, liftH})
	s.warning(s.frameX+signW/2, y+liftH/2, 3)
	in := rect{s.frameX + signW, y, s.frameW - signW - pad, liftH}
	s.middle(in, s.fit(joinFilled(" ", t.LiftingNote(), firstSentence(t.AbrasiveNote())), style{regular, 7}, in.w, liftH-1), left)
	return y + liftH
}

// labelHeld warns of holds and concessions. Who can lift a hold stands on the
// A4 traveller and on the tablet.
func (s *sheet) labelHeld(t Traveller, y float64) float64 {
	var why, waived []string
	for _, h := range t.Holds {
		why = append(why, "pallet: "+h.Reason)
	}
	for range t.Concessions {
		waived = append(waived, "pallet")
	}
	for _, l := range t.Lots {
		for _, h := range l.Holds {
			why = append(why, "lot "+l.Letter+": "+h.Reason)
		}
		if len(l.Concessions) > 0 {
			waived = append(waived, "lot "+l.Letter)
		}
	}
	bar := func(word, value string, double bool) {
		const wordW = 27.5
		in := s.frameW - wordW - 2*pad
		body := s.flow(value, style{regular, 8}, in, 3)
		h := max(6.5, body.height()+2.2)
		s.box(rect{s.frameX, y, s.frameW, h})
		if double {
			s.box(rect{s.frameX + 0.75, y + 0.75, s.frameW - 1.5, h - 1.5})
		}
		s.middle(rect{s.frameX + 2*pad, y, wordW - 2*pad, h}, s.fit(word, style{bold, 11}, wordW-2*pad, h-1.5), left)
		s.middle(rect{s.frameX + wordW, y, in, h}, body, left)
		y += h
	}
	if len(why) > 0 {
		bar("HELD", strings.Join(why, "; "), true)
	}
	if len(waived) > 0 {
		bar("CONCESSION", strings.Join(waived, ", ")+": reason and signatures stand on the A4 traveller", false)
	}
	return y
}

// labelLots draws the lots: with outline and finish where there is room, else
// in two lines each; the rest is counted.
func (s *sheet) labelLots(t Traveller, y, end float64) float64 {
	const moreH = 6.0
	room := end - y
	if len(t.Lots) > 0 && float64(len(t.Lots))*roomyH <= room {
		for _, l := range t.Lots {
			s.labelLot(t, l, y, roomyH)
			y += roomyH
		}
		return y
	}
	fit := len(t.Lots)
	if float64(fit)*tightH > room {
		fit = max(0, int((room-moreH)/tightH))
	}
	for _, l := range t.Lots[:fit] {
		s.labelLot(t, l, y, tightH)
		y += tightH
	}
	if rest := t.Lots[fit:]; len(rest) > 0 {
		more := fmt.Sprintf("%s of %s: see the A4 traveller", plural(len(rest), "more lot"), plural(Traveller{Lots: rest}.Count(), "part"))
		s.box(rect{s.frameX, y, s.frameW, moreH})
		s.middle(rect{s.frameX + pad, y, s.frameW - 2*pad, moreH}, s.fit(more, style{bold, 10}, s.frameW-2*pad, moreH-1), left)
		y += moreH
	}
	return y
}

// Heights of a lot with and without its outline.
const (
	roomyH = 17.0
	tightH = 9.0
)

// labelLot is one lot with its next steps as a strip of their symbols.
func (s *sheet) labelLot(t Traveller, l Lot, y, h float64) {
	const markW, pictureW, figureW, stripH = 8.0, 22.0, 16.0, 4.2
	s.box(rect{s.frameX, y, s.frameW, h})
	s.middle(rect{s.frameX + 0.5, y, markW - 1, h}, s.fit(l.Letter, style{mono, 16}, markW-1, h-1), centre)
	x := s.frameX + markW
	s.vline(x, y, h)
	if h == roomyH {
		s.outline(l.Outline, rect{x, y, pictureW, h}.inset(1.5, 1.2))
		x += pictureW
		s.vline(x, y, h)
	}
	w := s.frameX + s.frameW - figureW - x
	in := w - 2*pad
	at := y + 0.8
	item := joinFilled(" ", l.Item, prefixed("rev ", l.Revision, ""))
	named := joinFilled(", ", l.Name, l.HandMarking)
	if h == roomyH {
		at += s.text(rect{x + pad, at, in, 4.8}, s.fit(item, style{bold, 11}, in, 4.8), left)
		at += s.text(rect{x + pad, at, in, 3.4}, s.fit(named, style{regular, 8}, in, 3.4), left)
		about := []string{l.FinishText()}
		if len(t.Orders()) > 1 {
			about = append([]string{"order " + l.Order}, about...)
		}
		if l.CutHazard {
			about = append([]string{"CUT HAZARD: edges left as cut"}, about...)
		}
		s.text(rect{x + pad, at, in, 3.2}, s.fit(strings.Join(about, ", "), style{regular, 7}, in, 3.2), left)
	} else {
		if l.CutHazard {
			named = joinFilled(", ", "CUT HAZARD", named)
		}
		s.text(rect{x + pad, at, in, 3.8}, s.fit(joinFilled(", ", item, named), style{bold, 8.5}, in, 3.8), left)
	}
	s.strip(l, rect{x + pad, y + h - stripH - 0.3, in, stripH})
	s.vline(x+w, y, h)
	s.middle(rect{x + w + 1, y, figureW - 2, h}, s.fit(strconv.Itoa(l.Count), style{bold, s.figures}, figureW-2, h-1), centre)
}

// strip names the steps a lot still has before it, as many as there is room
// for, each with its symbol.
func (s *sheet) strip(l Lot, frame rect) {
	st := style{regular, 7}
	ahead := l.ahead()
	if len(ahead) == 0 {
		s.middle(frame, s.fit("route done", st, frame.w, frame.h), left)
		return
	}
	const symbolW, gap = 3.6, 2.4
	x, end := frame.x, frame.x+frame.w
	for i, p := range ahead {
		tail := 0.0
		if i < len(ahead)-1 {
			tail = width("+99", st.face, st.size) + gap
		}
		name := st
		if i == 0 {
			name.face = bold
		}
		room := end - x - symbolW - tail
		w := width(clean(p.Stage), name.face, name.size)
		if i > 0 && w > room {
			more := "+" + strconv.Itoa(len(ahead)-i)
			s.middle(rect{x, frame.y, end - x, frame.h}, s.fit(more, st, end-x, frame.h), left)
			return
		}
		s.symbol(x+1.3, frame.y+frame.h/2, 1.3, p.Kind, p.HoldPoint, false)
		w = min(w, room) + 0.01
		s.middle(rect{x + symbolW, frame.y, w, frame.h}, s.fit(p.Stage, name, w, frame.h), left)
		x += symbolW + w + gap
	}
}

// labelPen gives boxes for a pen to the next steps, while there is room: first
// the next of every lot, then the second.
func (s *sheet) labelPen(t Traveller, y, end float64) {
	const headH, markW, boxW = 3.6, 8.0, 11.0
	type row struct {
		lot  string
		step Step
	}
	var rows []row
	for k := 0; ; k++ {
		before := len(rows)
		for _, l := range t.Lots {
			if ahead := l.ahead(); k < len(ahead) {
				rows = append(rows, row{l.Letter, ahead[k]})
			}
		}
		if len(rows) == before {
			break
		}
	}
	rows = rows[:min(len(rows), max(0, int((end-y-headH)/penRowH)))]
	if len(rows) == 0 {
		return
	}
	stageW := 32.0
	x := s.frameX + markW + 5
	signX := x + stageW + 2*boxW
	for _, c := range []struct {
		word string
		x    float64
	}{{"without power, sign here", s.frameX + pad}, {"good", x + stageW}, {"not good", x + stageW + boxW}, {"name, time", signX}} {
		s.text(rect{c.x, y + 0.5, 40, labelH}, s.fit(c.word, style{regular, small}, 40, labelH), left)
	}
	y += headH
	for _, r := range rows {
		s.middle(rect{s.frameX + 0.5, y, markW - 1, penRowH}, s.fit(r.lot, style{mono, 12}, markW-1, penRowH-1), centre)
		s.symbol(x-2.4, y+penRowH/2, 1.6, r.step.Kind, r.step.HoldPoint, false)
		stage := joinFilled(", ", r.step.Stage, map[bool]string{true: "not the welder"}[r.step.NotTheWelder])
		s.middle(rect{x, y, stageW - 1, penRowH}, s.fit(stage, style{bold, 8.5}, stageW-1, penRowH-0.5), left)
		s.box(rect{x + stageW, y + 0.75, boxW - 1.5, penRowH - 1.5})
		s.box(rect{x + stageW + boxW, y + 0.75, boxW - 1.5, penRowH - 1.5})
		s.box(rect{signX, y + 0.75, s.frameX + s.frameW - signX - pad, penRowH - 1.5})
		y += penRowH
	}
}

// labelFoot is the cautions, the shop, and what could not be printed as given.
func (s *sheet) labelFoot(t Traveller, y float64) {
	const shopW = 31.0
	s.box(rect{s.frameX, s.frameY, s.frameW, s.frameH})
	s.hline(s.frameX, y, s.frameW)
	x := s.frameX + s.frameW - shopW
	s.vline(x, y, labelFootH)
	care := labelCare
	if t.hasHoldPoint() {
		care = "Double square: " + HoldRule + ". " + care
	}
	s.middle(rect{s.frameX + pad, y, x - s.frameX - 2*pad, labelFootH}, s.fit(care, style{regular, small}, x-s.frameX-2*pad, labelFootH-0.6), left)
	s.middle(rect{x + pad, y, shopW - 2*pad, labelFootH}, s.fit(joinFilled(". ", t.Shop, t.Notice), style{regular, small}, shopW-2*pad, labelFootH-0.6), left)
	s.text(rect{s.frameX, s.frameY + s.frameH + 0.5, s.frameW, 5.2}, fit(s.notes(), style{regular, least}, s.frameW, 5.2), left)
}

// ahead are the steps not yet done, from the one the lot stands before.
func (l Lot) ahead() []Step {
	var out []Step
	for _, p := range l.Steps {
		if !p.Done {
			out = append(out, p)
		}
	}
	return out
}

func (t Traveller) hasHoldPoint() bool {
	for _, l := range t.Lots {
		for _, p := range l.ahead() {
			if p.HoldPoint {
				return true
			}
		}
	}
	return false
}
