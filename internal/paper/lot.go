package paper

import "strconv"

// Columns of a lot's heading and of its route, in millimetres; each row adds up
// to the frame's width.
const (
	letterW  = 11.0
	outlineW = 34.0
	itemW    = 80.0
	metalW   = 37.0
	countW   = 28.0

	stageW = 38.0
	goodW  = 11.5
	signW  = 31.0
	timeW  = 30.0
	lookW  = frameW - letterW - stageW - 2*goodW - signW - timeW
)

// lot is the heading, the warnings and the route of one lot.
func (s *sheet) lot(l Lot) []block {
	out := []block{s.lotHead(l)}
	for _, h := range l.Holds {
		out = append(out, s.holdBar("HELD", h))
	}
	for _, c := range l.Concessions {
		out = append(out, s.concessionBar(c))
	}
	if l.CutHazard {
		out = append(out, s.hazardBar())
	}
	columns := s.columns()
	out = append(out, columns)
	again := []block{s.lotAgain(l), columns}
	for i, step := range l.Steps {
		b := s.step(step, i > 0, i < len(l.Steps)-1)
		b.again = again
		b.lead = i < 2 && i < len(l.Steps)-1 // a heading never stands alone
		out = append(out, b)
	}
	if len(l.Steps) == 0 {
		none := s.fit("no route", style{regular, normal}, 60, 5)
		out = append(out, block{h: 6, draw: func(y float64) {
			s.middle(rect{frameX + letterW + pad, y, 60, 6}, none, left)
		}})
	}
	return out
}

func (s *sheet) lotHead(l Lot) block {
	itemIn, metalIn := itemW-2*pad, metalW-2*pad
	letter := s.fit(l.Letter, style{mono, huge}, letterW-2, 10)
	item := s.flow(joinFilled(" ", l.Item, prefixed("rev ", l.Revision, "")), style{bold, strong + 1}, itemIn, 3)
	name := s.flow(joinFilled(", ", l.Name, l.HandMarking), style{regular, normal + 1}, itemIn, 3)
	order := s.flow(l.OrderText(), style{regular, normal}, itemIn, 3)
	promised := s.flow("promised "+PromisedText(l.Promised), style{regular, normal}, itemIn, 1)
	if l.Promised.IsZero() {
		promised = s.flow(PromisedText(l.Promised), style{regular, normal}, itemIn, 1)
	}
	finish := s.flow(l.FinishText(), style{bold, normal}, itemIn, 3)

	each := "mass each not known"
	if l.MassEachKg > 0 {
		each = Kg(l.MassEachKg) + " each"
	}
	metal := s.flow(l.Metal.Text(), style{bold, normal}, metalIn, 2)
	mass := s.flow(each, style{regular, normal}, metalIn, 1)
	sheets := s.flow(l.SheetText(), style{regular, normal}, metalIn, 5)
	count := s.fit(strconv.Itoa(l.Count), style{bold, huge}, countW-2*pad, 10)

	h := max(27,
		pad*2+item.height()+name.height()+order.height()+promised.height()+labelH+finish.height(),
		pad*2+3*labelH+metal.height()+mass.height()+sheets.height())
	return block{h: h, lead: true, draw: func(y float64) {
		s.box(rect{frameX, y, frameW, h})
		x := frameX
		s.middle(rect{x + 1, y, letterW - 2, h}, letter, centre)
		x += letterW
		s.vline(x, y, h)
		s.outline(l.Outline, rect{x, y, outlineW, h}.inset(2, 2))
		x += outlineW
		s.vline(x, y, h)
		at := y + pad*0.7
		for _, part := range []text{item, name, order, promised} {
			at += s.text(rect{x + pad, at, itemIn, part.height()}, part, left)
		}
		at += s.label("finish", rect{x + pad, at, itemIn, labelH})
		s.text(rect{x + pad, at, itemIn, finish.height()}, finish, left)
		x += itemW
		s.vline(x, y, h)
		at = y + pad*0.7
		at += s.label("metal", rect{x + pad, at, metalIn, labelH})
		at += s.text(rect{x + pad, at, metalIn, metal.height()}, metal, left)
		at += s.text(rect{x + pad, at, metalIn, mass.height()}, mass, left)
		at += s.label("sheet, heat", rect{x + pad, at, metalIn, labelH})
		s.text(rect{x + pad, at, metalIn, sheets.height()}, sheets, left)
		x += metalW
		s.vline(x, y, h)
		s.label("count", rect{x + pad, y + pad*0.7, countW - 2*pad, labelH})
		s.text(rect{x + pad, y + pad*0.7 + labelH, countW - 2*pad, 10}, count, right)
		s.label("counted", rect{x + pad, y + h - 11, countW - 2*pad, labelH})
		s.box(rect{x + pad, y + h - 8, countW - 2*pad, 6.5})
	}}
}

// lotAgain heads the rest of a route on the next page.
func (s *sheet) lotAgain(l Lot) block {
	const h = 8.0
	letter := s.fit(l.Letter, style{mono, large}, letterW-2, h-1)
	what := joinFilled(" ", l.Item, prefixed("rev ", l.Revision, "")) + ", " + plural(l.Count, "part")
	line := s.fit(joinFilled(", ", what, "order "+l.Order)+", continued", style{bold, strong - 2}, frameW-letterW-2*pad, h-2)
	return block{h: h, draw: func(y float64) {
		s.box(rect{frameX, y, frameW, h})
		s.vline(frameX+letterW, y, h)
		s.middle(rect{frameX + 1, y, letterW - 2, h}, letter, centre)
		s.middle(rect{frameX + letterW + pad, y, frameW - letterW - 2*pad, h}, line, left)
	}}
}

func (s *sheet) label(word string, frame rect) float64 {
	return s.text(frame, s.fit(word, style{regular, small}, frame.w, labelH), left)
}

// columns names the columns of a route.
func (s *sheet) columns() block {
	const h = 4.4
	return block{h: h, lead: true, draw: func(y float64) {
		x := frameX + letterW
		for _, c := range []struct {
			word string
			w    float64
		}{{"step", stageW}, {"look at", lookW}, {"good", goodW}, {"not good", goodW}, {"signed", signW}, {"time", timeW}} {
			s.middle(rect{x + 1, y, c.w - 1, h}, s.fit(c.word, style{regular, small}, c.w-1, h), left)
			x += c.w
		}
		s.hline(frameX, y+h, frameW)
	}}
}

// step is one row of a route: its symbol on the line that joins the steps, what
// to look at, and what was signed or boxes for a pen.
func (s *sheet) step(p Step, before, after bool) block {
	stage := s.flow(p.Stage, style{bold, normal + 0.5}, stageW-2, 3)
	rule := s.flow(p.Remark(), style{bold, small}, stageW-2, 2)
	look := s.flow(p.LookAt, style{regular, normal}, lookW-2, 4)
	const penH = 6.0
	h := max(stage.height()+rule.height(), look.height()) + 1.6
	notWelder := text{}
	var good, bad, signed, at text
	if p.Done {
		g, b := p.JudgedText()
		good = s.fit(g, style{bold, normal}, goodW-2, 4)
		bad = s.fit(b, style{bold, normal}, goodW-2, 4)
		signed = s.flow(p.SignedBy, style{regular, normal}, signW-2, 2)
		at = s.flow(SignedAt(p.At), style{regular, normal - 0.5}, timeW-2, 2)
		h = max(h, signed.height()+1.6, at.height()+1.6, 5.8)
	} else {
		h = max(h, penH+2)
		if p.NotTheWelder {
			notWelder = s.fit("not the welder", style{bold, small}, signW-2, 3)
			h = max(h, penH+2+notWelder.height())
		}
	}
	return block{h: h, draw: func(y float64) {
		const r = 2.0
		cx, cy := frameX+letterW/2, y+h/2
		if p.Done {
			s.tint(rect{frameX + letterW, y, frameW - letterW, h}, 240)
			s.hline(frameX+letterW, y, frameW-letterW)
		}
		if before {
			s.vline(cx, y, h/2)
		}
		if after {
			s.vline(cx, cy, h/2)
		}
		s.symbol(cx, cy, r, p.Kind, p.HoldPoint, p.Done)
		if p.Next {
			s.polygon("DF", frameX+0.6, cy-1.2, frameX+2.4, cy, frameX+0.6, cy+1.2)
		}
		x := frameX + letterW
		top := y + (h-stage.height()-rule.height())/2
		s.text(rect{x + 1, top, stageW - 2, stage.height()}, stage, left)
		s.text(rect{x + 1, top + stage.height(), stageW - 2, rule.height()}, rule, left)
		x += stageW
		s.middle(rect{x + 1, y, lookW - 2, h}, look, left)
		x += lookW
		if p.Done {
			s.middle(rect{x + 1, y, goodW - 2, h}, good, left)
			s.middle(rect{x + goodW + 1, y, goodW - 2, h}, bad, left)
			s.middle(rect{x + 2*goodW + 1, y, signW - 2, h}, signed, left)
			s.middle(rect{x + 2*goodW + signW + 1, y, timeW - 2, h}, at, left)
		} else {
			boxY := y + (h-penH-notWelder.height())/2
			s.box(rect{x + 1, boxY, goodW - 2, penH})
			s.box(rect{x + goodW + 1, boxY, goodW - 2, penH})
			s.box(rect{x + 2*goodW + 1, boxY, signW - 2, penH})
			s.box(rect{x + 2*goodW + signW + 1, boxY, timeW - 2, penH})
			s.text(rect{x + 2*goodW + 1, boxY + penH, signW - 2, notWelder.height()}, notWelder, left)
		}
		s.hline(frameX+letterW, y+h, frameW-letterW)
	}}
}
