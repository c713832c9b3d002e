package core

import "strings"

// reportSnag records a snag of an order, or of a unit of it that is at the site.
func (d *deciding) reportSnag(b ReportSnag) *Refusal {
	s := Snag{ID: SnagID("G-" + string(d.c.ID)), Order: b.Order, Consignment: b.Consignment, Unit: b.Unit,
		What: strings.TrimSpace(b.What), By: d.signer(), At: d.at, Wanted: b.Wanted, Photos: b.Photos, Reported: d.ev.ID}
	d.ev.Kind, d.ev.Ref, d.ev.Note = EvSnagReported, string(s.ID), s.What
	if b.Unit != "" {
		l, ok := d.s.Lots[b.Unit]
		if !ok || l.Place.Kind != AtSite || l.Qty == 0 || b.Order != "" && l.Owner.Order != b.Order {
			return refuse("lot-not-at-site", "lot", string(b.Unit)).of(b.Unit)
		}
		s.Order, s.Site = l.Owner.Order, StationID(l.Place.Ref)
		d.counted(l, l.Qty, 0, 0)
	}
	o, ok := d.s.Orders[s.Order]
	switch {
	case !ok:
		return refuse("snag-of-which-order", "order", s.Order)
	case s.What == "":
		return refuse("snag-unsaid")
	}
	if s.Site == "" {
		s.Site = StationID(o.Site)
	}
	if c, ok := d.s.Consignments[b.Consignment]; ok {
		s.Site = StationID(c.Site)
	} else if b.Consignment != "" {
		return refuse("consignment-unknown", "consignment", string(b.Consignment))
	}
	if d.station().Site && s.Site != d.c.Station {
		return refuse("snag-other-site", "site", d.w.Book.Stations[s.Site].Name)
	}
	d.emit(Effect{SnagPut: &s})
	return nil
}

// openSnag is a snag of which a signer may say that something was done about it.
func (d *deciding) openSnag(id SnagID, done string) (Snag, *Refusal) {
	s, ok := d.s.Snags[id]
	switch {
	case !ok:
		return s, refuse("snag-unknown", "snag", string(id))
	case !s.Open():
		return s, refuse("snag-closed", "done", s.Done)
	case strings.TrimSpace(done) == "":
		return s, refuse("snag-undone")
	case len(d.signers()) == 0:
		return s, refuse("signature-missing", "stage", "snag")
	}
	return s, nil
}

// putRightSnag keeps what whoever put a snag right says of it. That is a word, and
// no release: the snag is open until it is closed.
func (d *deciding) putRightSnag(b PutRightSnag) *Refusal {
	s, r := d.openSnag(b.Snag, b.Done)
	switch {
	case r != nil:
		return r
	case s.PutRight != nil:
		return refuse("snag-put-right", "done", s.PutRight.Done)
	}
	s.PutRight = &PutRight{Done: strings.TrimSpace(b.Done), By: d.signer(), At: d.at, Photos: b.Photos, Said: d.ev.ID}
	d.ev.Kind, d.ev.Ref, d.ev.Note = EvSnagPutRight, string(s.ID), s.PutRight.Done
	d.emit(Effect{SnagPut: &s})
	return nil
}

// closeSnag says what was done about a snag; who says so signs.
func (d *deciding) closeSnag(b CloseSnag) *Refusal {
	s, r := d.openSnag(b.Snag, b.Done)
	if r != nil {
		return r
	}
	s.Done, s.Closer, s.After, s.Closed, s.ClosedBy = strings.TrimSpace(b.Done), d.signer(), b.Photos, d.w.Now, d.ev.ID
	d.ev.Kind, d.ev.Ref, d.ev.Note = EvSnagClosed, string(s.ID), s.Done
	d.emit(Effect{SnagPut: &s})
	return nil
}
