package paper

import "strconv"

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
			s.middle(rect{s.frameX + s.letterW + pad, y, 60, 6}, none, left)
		}})
	}
	return out
}

func (s *sheet) lotHead(l Lot) block {
	itemIn, metalIn := s.itemW-2*pad, s.metalW-2*pad
	letter := s.fit(l.Letter, style{mono, s.figures}, s.letterW-2, 10)
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
	count := s.fit(strconv.Itoa(l.Count), style{bold, s.figures}, s.countW-2*pad, 10)

	h := max(27,
		pad*2+item.height()+name.height()+order.height()+promised.height()+labelH+finish.height(),
		pad*2+3*labelH+metal.height()+mass.height()+sheets.height())
	return block{h: h, lead: true, draw: func(y float64) {
		s.box(rect{s.frameX, y, s.frameW, h})
		x := s.frameX
		s.middle(rect{x + 1, y, s.letterW - 2, h}, letter, centre)
		x += s.letterW
		s.vline(x, y, h)
		s.outline(l.Outline, rect{x, y, s.outlineW, h}.inset(2, 2))
		x += s.outlineW
		s.vline(x, y, h)
		at := y + pad*0.7
		for _, part := range []text{item, name, order, promised} {
			at += s.text(rect{x + pad, at, itemIn, part.height()}, part, left)
		}
		at += s.label("finish", rect{x + pad, at, itemIn, labelH})
		s.text(rect{x + pad, at, itemIn, finish.height()}, finish, left)
		x += s.itemW
		s.vline(x, y, h)
		at = y + pad*0.7
		at += s.label("metal", rect{x + pad, at, metalIn, labelH})
		at += s.text(rect{x + pad, at, metalIn, metal.height()}, metal, left)
		at += s.text(rect{x + pad, at, metalIn, mass.height()}, mass, left)
		at += s.label("sheet, heat", rect{x + pad, at, metalIn, labelH})
		s.text(rect{x + pad, at, metalIn, sheets.height()}, sheets, left)
		x += s.metalW
		s.vline(x, y, h)
		s.label("count", rect{x + pad, y + pad*0.7, s.countW - 2*pad, labelH})
		s.text(rect{x + pad, y + pad*0.7 + labelH, s.countW - 2*pad, 10}, count, right)
		s.label("counted", rect{x + pad, y + h - 11, s.countW - 2*pad, labelH})
		s.box(rect{x + pad, y + h - 8, s.countW - 2*pad, 6.5})
	}}
}

// lotAgain heads the rest of a route on the next page.
func (s *sheet) lotAgain(l Lot) block {
	const h = 8.0
	letter := s.fit(l.Letter, style{mono, large}, s.letterW-2, h-1)
	what := joinFilled(" ", l.Item, prefixed("rev ", l.Revision, "")) + ", " + plural(l.Count, "part")
	line := s.fit(joinFilled(", ", what, "order "+l.Order)+", continued", style{bold, strong - 2}, s.frameW-s.letterW-2*pad, h-2)
	return block{h: h, draw: func(y float64) {
		s.box(rect{s.frameX, y, s.frameW, h})
		s.vline(s.frameX+s.letterW, y, h)
		s.middle(rect{s.frameX + 1, y, s.letterW - 2, h}, letter, centre)
		s.middle(rect{s.frameX + s.letterW + pad, y, s.frameW - s.letterW - 2*pad, h}, line, left)
	}}
}

func (s *sheet) label(word string, frame rect) float64 {
	return s.text(frame, s.fit(word, style{regular, small}, frame.w, labelH), left)
}

// columns names the columns of a route.
func (s *sheet) columns() block {
	const h = 4.4
	return block{h: h, lead: true, draw: func(y float64) {
		x := s.frameX + s.letterW
		for _, c := range []struct {
			word string
			w    float64
		}{{"step", s.stageW}, {"look at", s.lookW}, {"good", s.goodW}, {"not good", s.goodW}, {"signed", s.signedW}, {"time", s.timeW}} {
			s.middle(rect{x + 1, y, c.w - 1, h}, s.fit(c.word, style{regular, min(small, s.routeSize-2)}, c.w-1, h), left)
			x += c.w
		}
		s.hline(s.frameX, y+h, s.frameW)
	}}
}

// step is one row of a route: its symbol on the line that joins the steps, what
// to look at, and what was signed or boxes for a pen.
func (s *sheet) step(p Step, before, after bool) block {
	stage := s.flow(p.Stage, style{bold, s.routeSize + 0.5}, s.stageW-2, 3)
	rule := s.flow(p.Remark(), style{bold, small}, s.stageW-2, 2)
	look := s.flow(p.LookAt, style{regular, s.routeSize}, s.lookW-2, 5)
	const penH = 6.0
	h := max(stage.height()+rule.height(), look.height()) + 1.6
	notWelder := text{}
	var good, bad, signed, at text
	if p.Done {
		g, b := p.JudgedText()
		good = s.fit(g, style{bold, normal}, s.goodW-2, 4)
		bad = s.fit(b, style{bold, normal}, s.goodW-2, 4)
		signed = s.flow(p.SignedBy, style{regular, s.routeSize}, s.signedW-2, 2)
		at = s.flow(SignedAt(p.At), style{regular, s.routeSize - 0.5}, s.timeW-2, 2)
		h = max(h, signed.height()+1.6, at.height()+1.6, 5.8)
	} else {
		h = max(h, penH+2)
		if p.NotTheWelder {
			notWelder = s.fit("not the welder", style{bold, small}, s.signedW-2, 3)
			h = max(h, penH+2+notWelder.height())
		}
	}
	return block{h: h, draw: func(y float64) {
		const r = 2.0
		cx, cy := s.frameX+s.letterW/2, y+h/2
		if p.Done {
			s.tint(rect{s.frameX + s.letterW, y, s.frameW - s.letterW, h}, 240)
			s.hline(s.frameX+s.letterW, y, s.frameW-s.letterW)
		}
		if before {
			s.vline(cx, y, h/2)
		}
		if after {
			s.vline(cx, cy, h/2)
		}
		s.symbol(cx, cy, r, p.Kind, p.HoldPoint, p.Done)
		if p.Next {
			s.polygon("DF", s.frameX+0.6, cy-1.2, s.frameX+2.4, cy, s.frameX+0.6, cy+1.2)
		}
		x := s.frameX + s.letterW
		top := y + (h-stage.height()-rule.height())/2
		s.text(rect{x + 1, top, s.stageW - 2, stage.height()}, stage, left)
		s.text(rect{x + 1, top + stage.height(), s.stageW - 2, rule.height()}, rule, left)
		x += s.stageW
		s.middle(rect{x + 1, y, s.lookW - 2, h}, look, left)
		x += s.lookW
		if p.Done {
			s.middle(rect{x + 1, y, s.goodW - 2, h}, good, left)
			s.middle(rect{x + s.goodW + 1, y, s.goodW - 2, h}, bad, left)
			s.middle(rect{x + 2*s.goodW + 1, y, s.signedW - 2, h}, signed, left)
			s.middle(rect{x + 2*s.goodW + s.signedW + 1, y, s.timeW - 2, h}, at, left)
		} else {
			boxY := y + (h-penH-notWelder.height())/2
			s.box(rect{x + 1, boxY, s.goodW - 2, penH})
			s.box(rect{x + s.goodW + 1, boxY, s.goodW - 2, penH})
			s.box(rect{x + 2*s.goodW + 1, boxY, s.signedW - 2, penH})
			s.box(rect{x + 2*s.goodW + s.signedW + 1, boxY, s.timeW - 2, penH})
			s.text(rect{x + 2*s.goodW + 1, boxY + penH, s.signedW - 2, notWelder.height()}, notWelder, left)
		}
		s.hline(s.frameX+s.letterW, y+h, s.frameW-s.letterW)
	}}
}
