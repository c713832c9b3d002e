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

// closeSnag says what was done about a snag; who says so signs.
func (d *deciding) closeSnag(b CloseSnag) *Refusal {
	s, ok := d.s.Snags[b.Snag]
	switch {
	case !ok:
		return refuse("snag-unknown", "snag", string(b.Snag))
	case !s.Open():
		return refuse("snag-closed", "done", s.Done)
	case strings.TrimSpace(b.Done) == "":
		return refuse("snag-undone")
	case len(d.signers()) == 0:
		return refuse("signature-missing", "stage", "snag")
	}
	s.Done, s.Closer, s.After, s.Closed, s.ClosedBy = strings.TrimSpace(b.Done), d.signer(), b.Photos, d.w.Now, d.ev.ID
	d.ev.Kind, d.ev.Ref, d.ev.Note = EvSnagClosed, string(s.ID), s.Done
	d.emit(Effect{SnagPut: &s})
	return nil
}
