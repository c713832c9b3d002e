package paper

import (
	"strings"

	"tagalong/internal/code"
)

const (
	qrFirst = 42.0 // side of the code on the first page, quiet zone included
	qrRest  = 30.0 // and on the pages after it
	codeW   = 46.0
	// mostOrders is how many orders the head names; the rest stand at their lots.
	mostOrders = 5
)

// head is the title block of a traveller's first page.
func (s *sheet) head(t Traveller, m *code.Symbol) block {
	x, w := frameX+codeW, frameW-codeW
	const promiseW = 42.0

	orders := t.Orders()
	st := style{bold, large}
	if len(orders) > 1 {
		st.size = strong
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
			order:    s.fit(o.Order, st, 22-2*pad, st.line()),
			customer: s.flow(name, style{bold, st.size}, w-promiseW-22-pad, 2),
			date:     s.fit(PromisedText(o.Promised), st, promiseW-2*pad, st.line()),
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

	load := s.flowCell("on this pallet", t.LoadText(), style{bold, strong}, 42, 1)
	mass := s.flowCell("mass of the parts", t.MassText(), style{bold, strong}, 32, 1)
	lift := s.flowCell("lifting", t.LiftingNote(), style{regular, normal - 0.5}, w-74, 4)
	loadH := max(load.height(), mass.height(), lift.height())
	abrasive := s.flowCell("metal and abrasives", t.MetalsText(), style{regular, normal - 0.5}, w, 3)
	print := s.flowCell("print", t.PrintText(), style{bold, strong}, 42, 1)
	printed := s.flowCell("printed", t.PrintedText(), style{regular, normal}, w-42, 2)
	printH := max(print.height(), printed.height())

	const codeH = qrFirst + 12
	h := max(ordersH+loadH+abrasive.height()+printH, codeH)
	ordersH = h - loadH - abrasive.height() - printH
	codeText := s.fit(t.Code, style{mono, 18}, codeW-2*pad, 8)

	return block{h: h, draw: func(y float64) {
		s.box(rect{frameX, y, codeW, h})
		top := y + (h-codeH)/2
		s.qr(m, frameX+(codeW-qrFirst)/2, top+1, qrFirst)
		s.text(rect{frameX + pad, top + qrFirst + 1, codeW - 2*pad, 8}, codeText, centre)

		s.box(rect{x, y, w, ordersH})
		label := y + pad*0.7
		s.text(rect{x + pad, label, 20, labelH}, s.fit("order", style{regular, small}, 20, labelH), left)
		s.text(rect{x + 22, label, 40, labelH}, s.fit("for", style{regular, small}, 40, labelH), left)
		s.text(rect{x + w - promiseW + pad, label, 30, labelH}, s.fit("promised", style{regular, small}, 30, labelH), left)
		at := label + labelH
		for _, r := range rows {
			s.text(rect{x + pad, at, 22 - 2*pad, r.h}, r.order, left)
			s.text(rect{x + 22, at, w - promiseW - 22 - pad, r.h}, r.customer, left)
			s.text(rect{x + w - promiseW + pad, at, promiseW - 2*pad, r.h}, r.date, left)
			at += r.h
		}
		s.text(rect{x + pad, at, w - 2*pad, more.height()}, more, left)
		s.vline(x+w-promiseW, y, ordersH)

		at = y + ordersH
		s.draw(load, rect{x, at, 42, loadH})
		s.draw(mass, rect{x + 42, at, 32, loadH})
		s.draw(lift, rect{x + 74, at, w - 74, loadH})
		at += loadH
		s.draw(abrasive, rect{x, at, w, abrasive.height()})
		at += abrasive.height()
		s.draw(print, rect{x, at, 42, printH})
		s.draw(printed, rect{x + 42, at, w - 42, printH})
	}}
}

// headAgain is the head of the pages after the first.
func (s *sheet) headAgain(t Traveller, m *code.Symbol) block {
	const h = qrRest + 2
	w := frameW - qrRest - 2
	codeText := s.fit(t.Code, style{mono, 22}, 70, 11)
	print := s.fit("print "+t.PrintText(), style{bold, strong}, w-70-3*pad, 6)
	load := s.fit(t.LoadText()+", "+t.PrintedText(), style{regular, normal}, w-2*pad, 5)
	lines := t.orderLines(3)
	lineH := (h - 19) / float64(max(len(lines), 1))
	var orders []text
	for _, l := range lines {
		orders = append(orders, s.fit(l, style{regular, normal}, w-2*pad, lineH))
	}
	return block{h: h, draw: func(y float64) {
		x := frameX + qrRest + 2
		s.box(rect{frameX, y, frameW, h})
		s.vline(x, y, h)
		s.qr(m, frameX+1, y+1, qrRest)
		s.middle(rect{x + pad, y, 70, 12}, codeText, left)
		s.middle(rect{x + 70 + pad, y, w - 70 - 3*pad, 12}, print, right)
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
