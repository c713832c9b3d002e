package core

import (
	"slices"
	"strconv"
	"strings"
)

// receiveAtSite says that carriers of a consignment came, with their parts as
// listed, or counted otherwise: what is short is unexplained, what is damaged
// held. No carrier is received twice. Where an order is named, only what is its
// own is received, and what else is in the carriers is still awaited.
func (d *deciding) receiveAtSite(b ReceiveAtSite) *Refusal {
	c, r := d.awaited(b)
	if r != nil {
		return r
	}
	stage, _ := d.w.Book.Table.Stage("receive")
	d.record(EvReceived, stage, Step{})
	d.ev.Ref, d.ev.Note = string(c.Code), b.Note
	boxes := b.Boxes
	if len(boxes) == 0 {
		boxes = slices.DeleteFunc(d.awaitedOf(c, b.Order), func(p PalletCode) bool { return slices.Contains(b.Missing, p) })
	}
	d.turnUp(c, boxes, b.Order)
	lots := d.onWay(c)
	in := func(l Lot, of []PalletCode) bool { return slices.Contains(of, l.Box) && b.takes(l) }
	last := !slices.ContainsFunc(lots, func(l Lot) bool { return l.Box != "" && !in(l, boxes) && !in(l, b.Missing) })
	comes := func(l Lot) bool { return in(l, boxes) || last && l.Box == "" }
	for _, w := range b.Counts {
		if !slices.ContainsFunc(lots, func(l Lot) bool { return l.ID == w.Lot && comes(l) }) {
			return refuse("lot-not-in-box", "lot", string(w.Lot)).of(w.Lot)
		}
	}
	var lost []string
	for _, l := range lots {
		switch {
		case in(l, b.Missing):
			lost = append(lost, d.named(l, l.Qty))
			d.counted(l, 0, 0, l.Qty)
			d.lose(l, l.Qty, c)
		case comes(l):
			short, r := d.arriveAtSite(c, stage, l, b.Counts)
			if r != nil {
				return r
			}
			lost = append(lost, short...)
		}
	}
	if len(lost) > 0 {
		if r := d.stop(refuse("came-short", "consignment", string(c.Code), "missing", strings.Join(lost, ", ")).ask()); r != nil {
			return r
		}
	}
	d.tickOff(c, b.Order, boxes, b.Missing)
	return nil
}

// takes reports whether a receipt is of a lot's owner. What is nobody's comes
// with whatever order's parts are received first.
func (b ReceiveAtSite) takes(l Lot) bool {
	return b.Order == "" || l.Owner.Order == b.Order || l.Owner.Stock()
}

func (d *deciding) named(l Lot, n int) string {
	return strconv.Itoa(n) + " × " + d.w.Book.Items[l.Item].Name
}

// onWay lists what of a consignment is not received yet.
func (d *deciding) onWay(c Consignment) []Lot {
	return d.s.LotsAt(Place{InConsignment, string(c.Code)})
}

// awaitedOf lists the carriers awaited that have parts of an order in them;
// without one, all.
func (d *deciding) awaitedOf(c Consignment, order string) []PalletCode {
	return slices.DeleteFunc(c.Awaited(), func(p PalletCode) bool {
		return order != "" && !slices.ContainsFunc(d.onWay(c), func(l Lot) bool { return l.Box == p && l.Owner.Order == order })
	})
}

// awaited is the consignment, if it is under way and the carriers named are
// still to come, with something of the order named.
func (d *deciding) awaited(b ReceiveAtSite) (Consignment, *Refusal) {
	c, ok := d.s.Consignments[b.Consignment]
	switch {
	case !ok:
		return c, refuse("consignment-unknown", "consignment", string(b.Consignment))
	case c.Gone.IsZero():
		return c, refuse("not-shipped", "face", "")
	case !c.Received.IsZero() && (len(b.Boxes) == 0 || !subset(b.Boxes, c.Missed)):
		return c, refuse("consignment-received", "consignment", string(c.Code))
	case len(b.Boxes)+len(b.Missing) == 0 && len(d.awaitedOf(c, b.Order)) == 0:
		return c, refuse("order-not-awaited", "order", b.Order, "consignment", string(c.Code))
	}
	for i, p := range append(slices.Clone(b.Boxes), b.Missing...) {
		switch {
		case !slices.Contains(c.Pallets, p):
			return c, refuse("box-not-listed", "pallet", string(p), "consignment", string(c.Code))
		case slices.Contains(c.Came, p), slices.Contains(c.Counted, BoxOrder{p, b.Order}), slices.Contains(b.Boxes[:min(i, len(b.Boxes))], p):
			return c, refuse("box-received", "pallet", string(p), "consignment", string(c.Code))
		case b.Order != "" && !d.inBox(c, p, b.Order):
			return c, refuse("order-not-in-box", "pallet", string(p), "order", b.Order)
		}
	}
	return c, nil
}

// inBox reports whether parts of an order are in a box of a consignment that is
// awaited, or went missing with it.
func (d *deciding) inBox(c Consignment, box PalletCode, order string) bool {
	for _, l := range d.s.Lots {
		on := l.Place == Place{InConsignment, string(c.Code)} && l.Qty > 0 || l.Place == Place{Unexplained, string(c.Code)} && l.Lost > 0
		if on && l.Box == box && l.Owner.Order == order {
			return true
		}
	}
	return false
}

// tickOff notes which carriers, and which orders, nothing more is awaited of.
func (d *deciding) tickOff(c Consignment, order string, boxes, missing []PalletCode) {
	left := d.onWay(c)
	awaits := func(of func(Lot) bool) bool { return slices.ContainsFunc(left, of) }
	for _, p := range boxes {
		if order != "" {
			c.Counted = union(c.Counted, BoxOrder{p, order})
		}
	}
	for _, p := range append(slices.Clone(boxes), missing...) {
		some := func(x BoxOrder) bool { return x.Box == p }
		switch {
		case awaits(func(l Lot) bool { return l.Box == p }):
		case slices.Contains(boxes, p) || slices.ContainsFunc(c.Counted, some):
			c.Came = union(c.Came, p)
			c.Missed = slices.DeleteFunc(slices.Clone(c.Missed), func(m PalletCode) bool { return m == p })
		default:
			c.Missed = union(c.Missed, p)
		}
	}
	for _, x := range d.ev.Lots {
		no := x.Owner.Order
		known := slices.ContainsFunc(c.Receipts, func(r OrderReceipt) bool { return r.Order == no })
		if no != "" && !known && !awaits(func(l Lot) bool { return l.Owner.Order == no }) {
			c.Receipts = append(slices.Clone(c.Receipts), OrderReceipt{no, d.w.Now})
		}
	}
	if len(c.Awaited()) == 0 && c.Received.IsZero() {
		c.Received = d.w.Now
	}
	d.emit(Effect{ConsignmentPut: &c})
	d.ev.Pallets = union(d.ev.Pallets, append(slices.Clone(boxes), missing...)...)
}

func subset(of, in []PalletCode) bool {
	return !slices.ContainsFunc(of, func(p PalletCode) bool { return !slices.Contains(in, p) })
}

// arriveAtSite brings one lot to the site as it was counted, and says what of it
// did not come.
func (d *deciding) arriveAtSite(c Consignment, stage Stage, l Lot, counts []SiteCount) (short []string, r *Refusal) {
	w := SiteCount{Lot: l.ID, Found: l.Qty}
	if i := slices.IndexFunc(counts, func(x SiteCount) bool { return x.Lot == l.ID }); i >= 0 {
		w = counts[i]
	}
	switch {
	case w.Found < 0 || w.Damaged < 0 || w.Damaged > w.Found:
		return nil, d.about(refuse("numbers-dont-sum", "good", strconv.Itoa(w.Found-w.Damaged), "bad", strconv.Itoa(w.Damaged),
			"notDone", "0", "total", strconv.Itoa(w.Found)), l, l.Qty)
	case w.Found > l.Qty:
		return nil, d.about(refuse("more-than-sent", "found", strconv.Itoa(w.Found)), l, l.Qty)
	case w.Damaged > 0 && w.Why == "":
		return nil, d.about(refuse("why-missing", "bad", strconv.Itoa(w.Damaged)), l, l.Qty)
	}
	if r := d.mayDo(l, Step{Stage: stage.Name}, stage); r != nil {
		return nil, r
	}
	d.counted(l, w.Found-w.Damaged, w.Damaged, l.Qty-w.Found)
	if n := l.Qty - w.Found; n > 0 {
		short = []string{d.named(l, n)}
		d.lose(l, n, c)
	}
	if w.Found == 0 {
		return short, nil
	}
	l = d.s.Lots[l.ID]
	d.offRoute(l, stage)
	d.moveLot(l, l.Place, Place{AtSite, c.Site}, l.Qty)
	if w.Damaged > 0 {
		l = d.split(d.s.Lots[l.ID], w.Damaged, Place{AtSite, c.Site})
		d.wanted(d.found(l, stage, w.Why), w.Wanted)
	}
	return short, nil
}

// wanted notes by when a site wants a problem put right.
func (d *deciding) wanted(id ProblemID, by Date) {
	if by == "" {
		return
	}
	p := d.s.Problems[id]
	p.Wanted = by
	d.emit(Effect{ProblemPut: &p})
}

// reportAtSite records a nonconformity on parts at a fitting site: they stay
// there, held, until somebody has said what becomes of them.
func (d *deciding) reportAtSite(b ReportProblem) *Refusal {
	l, ok := d.s.Lots[b.Lot]
	switch {
	case !ok || l.Place.Kind != AtSite || l.Qty == 0 || d.station().Site && l.Place.Ref != string(d.c.Station):
		return refuse("lot-not-at-site", "lot", string(b.Lot)).of(b.Lot)
	case b.Qty < 1 || b.Qty > l.Qty:
		return d.about(refuse("more-than-there", "asked", strconv.Itoa(b.Qty)), l, l.Qty)
	case b.What == "":
		return d.about(refuse("why-missing", "bad", strconv.Itoa(b.Qty)), l, l.Qty)
	}
	d.ev.Kind, d.ev.Note = EvProblemReported, b.What
	d.counted(l, l.Qty-b.Qty, b.Qty, 0)
	d.wanted(d.found(d.split(l, b.Qty, l.Place), Stage{Name: "receive"}, b.What), b.Wanted)
	return nil
}
