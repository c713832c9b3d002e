package paper

import "strings"

// mostOrders is how many orders the head names; the rest stand at their lots.
const mostOrders = 5

// head is the title block of a traveller's first page. qr draws its code.
func (s *sheet) head(t Traveller, qr func(x, y, side float64)) block {
	x, w := s.frameX+s.codeW, s.frameW-s.codeW

	orders := t.Orders()
	st, dated := style{bold, s.customerSize}, style{bold, s.dateSize}
	if len(orders) > 1 {
		st.size, dated.size = strong, strong
	}
	type orderRow struct {
		order, customer, date text
		h                     float64
	}
	var rows []orderRow
	for _, o := range orders[:min(len(orders), mostOrders)] {
		name := o.Customer
		if len(orders) > 1 {
			name = joinFilled(", ", o.Customer, lotsText(o.Lots))
		}
		r := orderRow{
			order:    s.fit(o.Order, st, s.orderW-2*pad, st.line()),
			customer: s.flow(name, style{bold, st.size}, w-s.promiseW-s.orderW-pad, 2),
			date:     s.fit(PromisedText(o.Promised), dated, s.promiseW-2*pad, dated.line()),
		}
		r.h = max(r.order.height(), r.customer.height(), r.date.height()) + 1.4
		rows = append(rows, r)
	}
	ordersH := labelH + 2*pad*0.7
	for _, r := range rows {
		ordersH += r.h
	}
	var more text
	if len(orders) > mostOrders {
		more = s.flow("and "+plural(len(orders)-mostOrders, "more order")+", named at the lot", style{regular, normal}, w-2*pad, 1)
		ordersH += more.height()
	}

	load := s.flowCell("on this pallet", t.LoadText(), style{bold, strong}, s.loadW, 1)
	mass := s.flowCell("mass of the parts", t.MassText(), style{bold, strong}, s.massW, 1)
	liftX, liftW := s.loadW+s.massW, w-s.loadW-s.massW
	if s.liftOwn {
		liftX, liftW = 0, w
	}
	lift := s.flowCell("lifting", t.LiftingNote(), style{regular, normal - 0.5}, liftW, 4)
	loadH := max(load.height(), mass.height())
	liftH := lift.height()
	if !s.liftOwn {
		loadH, liftH = max(loadH, liftH), 0
	}
	abrasive := s.flowCell("metal and abrasives", t.MetalsText(), style{regular, normal - 0.5}, w, 4)
	print := s.flowCell("print", t.PrintText(), style{bold, strong}, s.loadW, 1)
	printed := s.flowCell("printed", t.PrintedText(), style{regular, normal}, w-s.loadW, 2)
	printH := max(print.height(), printed.height())

	codeH := s.qrFirst + 12
	h := max(ordersH+loadH+liftH+abrasive.height()+printH, codeH)
	ordersH = h - loadH - liftH - abrasive.height() - printH
	codeText := s.fit(t.Code, style{mono, 18}, s.codeW-2*pad, 8)

	return block{h: h, draw: func(y float64) {
		s.box(rect{s.frameX, y, s.codeW, h})
		top := y + (h-codeH)/2
		qr(s.frameX+(s.codeW-s.qrFirst)/2, top+1, s.qrFirst)
		s.text(rect{s.frameX + pad, top + s.qrFirst + 1, s.codeW - 2*pad, 8}, codeText, centre)

		s.box(rect{x, y, w, ordersH})
		label := y + pad*0.7
		s.label("order", rect{x + pad, label, s.orderW - pad, labelH})
		s.text(rect{x + s.orderW, label, 40, labelH}, s.fit("for", style{regular, small}, 40, labelH), left)
		s.text(rect{x + w - s.promiseW + pad, label, 30, labelH}, s.fit("promised", style{regular, small}, 30, labelH), left)
		at := label + labelH
		for _, r := range rows {
			s.text(rect{x + pad, at, s.orderW - 2*pad, r.h}, r.order, left)
			s.text(rect{x + s.orderW, at, w - s.promiseW - s.orderW - pad, r.h}, r.customer, left)
			s.text(rect{x + w - s.promiseW + pad, at, s.promiseW - 2*pad, r.h}, r.date, left)
			at += r.h
		}
		s.text(rect{x + pad, at, w - 2*pad, more.height()}, more, left)
		s.vline(x+w-s.promiseW, y, ordersH)

		at = y + ordersH
		s.draw(load, rect{x, at, s.loadW, loadH})
		if s.liftOwn {
			s.draw(mass, rect{x + s.loadW, at, w - s.loadW, loadH})
			s.draw(lift, rect{x, at + loadH, w, liftH})
		} else {
			s.draw(mass, rect{x + s.loadW, at, s.massW, loadH})
			s.draw(lift, rect{x + liftX, at, liftW, loadH})
		}
		at += loadH + liftH
		s.draw(abrasive, rect{x, at, w, abrasive.height()})
		at += abrasive.height()
		s.draw(print, rect{x, at, s.loadW, printH})
		s.draw(printed, rect{x + s.loadW, at, w - s.loadW, printH})
	}}
}

// headAgain is the head of the pages after the first.
func (s *sheet) headAgain(t Traveller, qr func(x, y, side float64)) block {
	h := s.qrRest + 2
	w := s.frameW - s.qrRest - 2
	codeText := s.fit(t.Code, style{mono, 22}, s.againW, 11)
	print := s.fit("print "+t.PrintText(), style{bold, strong}, w-s.againW-3*pad, 6)
	load := s.fit(t.LoadText()+", "+t.PrintedText(), style{regular, normal}, w-2*pad, 5)
	lines := t.orderLines(3)
	lineH := (h - 19) / float64(max(len(lines), 1))
	var orders []text
	for _, l := range lines {
		orders = append(orders, s.fit(l, style{regular, normal}, w-2*pad, lineH))
	}
	return block{h: h, draw: func(y float64) {
		x := s.frameX + s.qrRest + 2
		s.box(rect{s.frameX, y, s.frameW, h})
		s.vline(x, y, h)
		qr(s.frameX+1, y+1, s.qrRest)
		s.middle(rect{x + pad, y, s.againW, 12}, codeText, left)
		s.middle(rect{x + s.againW + pad, y, w - s.againW - 3*pad, 12}, print, right)
		s.hline(x, y+12, w)
		s.middle(rect{x + pad, y + 12, w - 2*pad, 6.5}, load, left)
		s.hline(x, y+18.5, w)
		for i, o := range orders {
			s.middle(rect{x + pad, y + 18.8 + float64(i)*lineH, w - 2*pad, lineH}, o, left)
		}
	}}
}

// orderLines names the orders in at most most lines.
func (t Traveller) orderLines(most int) []string {
	var out []string
	orders := t.Orders()
	for i, o := range orders {
		if i == most-1 && len(orders) > most {
			return append(out, "and "+plural(len(orders)-i, "more order"))
		}
		out = append(out, joinFilled(", ", o.Order+" "+o.Customer, PromisedText(o.Promised)))
	}
	return out
}

func lotsText(letters []string) string {
	if len(letters) == 1 {
		return "lot " + letters[0]
	}
	return "lots " + strings.Join(letters, ", ")
}
