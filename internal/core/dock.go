package core

import (
	"slices"
	"strconv"
	"strings"
)

// load puts packed pallets on a consignment.
func (d *deciding) load(b Load) *Refusal {
	c, r := d.consignmentFor(b)
	if r != nil {
		return r
	}
	if !c.Gone.IsZero() {
		return refuse("consignment-gone", "consignment", string(c.Code))
	}
	if len(b.Pallets) == 0 {
		return refuse("no-lots", "stage", "load", "pallet", "")
	}
	ship, _ := d.w.Book.Table.Stage("ship")
	d.ev.Kind, d.ev.Ref = EvLoaded, string(c.Code)
	for _, code := range b.Pallets {
		p, r := d.pallet(code)
		if r == nil {
			r = d.notGone(p)
		}
		if r != nil {
			return r
		}
		lots := d.s.LotsAt(On(code))
		if len(lots) == 0 {
			return refuse("pallet-empty", "pallet", string(code), "gone", joinCodes(p.GoneTo))
		}
		for _, l := range lots {
			if r := d.leaving(l, ship, c.Site); r != nil {
				return d.about(r, l, l.Qty)
			}
			d.counted(l, l.Qty, 0, 0)
		}
		d.unload(p, c.Code)
		p.Consignment = c.Code
		c.Pallets = union(c.Pallets, code)
		d.put(p)
	}
	d.emit(Effect{ConsignmentPut: &c})
	return nil
}

// unload takes a pallet off the consignment it was on, which has not left yet:
// a pallet leaves on one truck only.
func (d *deciding) unload(p PalletRow, to ConsignmentCode) {
	old, on := d.s.Consignments[p.Consignment]
	if !on || old.Code == to {
		return
	}
	old.Pallets = slices.DeleteFunc(slices.Clone(old.Pallets), func(c PalletCode) bool { return c == p.Code })
	old.Gross = ungross(old.Gross, p.Code)
	d.emit(Effect{ConsignmentPut: &old})
}

func (d *deciding) consignmentFor(b Load) (Consignment, *Refusal) {
	if b.Consignment != "" {
		c, ok := d.s.Consignments[b.Consignment]
		if !ok {
			return c, refuse("consignment-unknown", "consignment", string(b.Consignment))
		}
		return c, nil
	}
	if len(d.w.Codes.Consignments) == 0 {
		return Consignment{}, refuse("too-many-pallets", "most", "0")
	}
	return Consignment{Code: d.w.Codes.Consignments[0], Site: b.Site, Day: b.Day}, nil
}

// leaving judges a lot that is to leave: nothing open on it, every step of its
// route done (a rework after packing is one more to do), packed, and bound for
// the site its order names.
func (d *deciding) leaving(l Lot, ship Stage, site string) *Refusal {
	rev := d.w.Book.Items[l.Item]
	if r := d.noOpenStop(l); r != nil {
		return r
	}
	if r := d.stop(d.inDate(l)); r != nil {
		return r
	}
	if next := NextSteps(d.w.Book, l); len(next) > 0 && next[0].Stage != ship.Name && l.Facts.At(Fact{Name: IsPacked}, d.at) == Yes {
		return refuse("step-skipped", "first", d.stageTitle(next[0].Stage), "stage", ship.Title).absolute()
	}
	if r := d.facts(l, rev, Step{Stage: ship.Name}, ship, traits(d.w.Book, l, Step{}), d.at, false); r != nil {
		return r
	}
	if o := d.s.Orders[l.Owner.Order]; site != "" && o.Site != "" && o.Site != site {
		return refuse("other-site", "order", o.No, "site", o.Site, "consignment", site)
	}
	return nil
}

// ship sends a consignment off, complete or by consent.
func (d *deciding) ship(b Ship) *Refusal {
	c, ok := d.s.Consignments[b.Consignment]
	if !ok {
		return refuse("consignment-unknown", "consignment", string(b.Consignment))
	}
	if !c.Gone.IsZero() {
		return refuse("consignment-gone", "consignment", string(c.Code))
	}
	if b.Vehicle == "" {
		return refuse("vehicle-missing")
	}
	if len(c.Pallets) == 0 {
		return refuse("consignment-empty", "consignment", string(c.Code))
	}
	stage, _ := d.w.Book.Table.Stage("ship")
	if r := d.outOfTouch(stage); r != nil {
		return r
	}
	d.record(EvShipped, stage, Step{})
	d.ev.Ref, d.ev.Note = string(c.Code), "vehicle "+b.Vehicle
	orders := map[string]bool{}
	for _, code := range c.Pallets {
		for _, l := range d.s.LotsAt(On(code)) {
			if r := d.leaving(l, stage, c.Site); r != nil {
				return d.about(r, l, l.Qty)
			}
			if r := d.mayDo(l, Step{Stage: stage.Name}, stage); r != nil {
				return r
			}
			orders[l.Owner.Order] = true
		}
	}
	consents, r := d.complete(c, orders, b.Consents)
	if r != nil {
		return r
	}
	signature, r := d.handedOver(b)
	if r != nil {
		return r
	}
	for _, code := range c.Pallets {
		for _, l := range d.s.LotsAt(On(code)) {
			d.counted(l, l.Qty, 0, 0)
			d.offRoute(l, stage)
			d.moveLot(l, On(code), Place{InConsignment, string(c.Code)}, l.Qty)
		}
		p := d.s.Pallets[code]
		p.Station, p.Bound, p.Since = "", "", d.w.Now
		d.put(p)
	}
	c.Vehicle, c.Gone = b.Vehicle, d.w.Now
	c.HandedTo, c.Signature, c.Consents, c.Out = b.HandedTo, signature, consents, some(b.Carriers)
	d.emit(Effect{ConsignmentPut: &c})
	return nil
}

// unshipped lists what the order's lines deliver that was neither shipped
// before nor is on this consignment.
func (d *deciding) unshipped(o Order, c Consignment) string {
	var out []string
	for _, line := range o.Lines {
		want := Deliverables(d.w.Book, line.Item, line.Qty)
		for _, l := range d.s.Lots {
			if l.Owner != line.Owner {
				continue
			}
			loaded := l.Place.Kind == OnPallet && slices.Contains(c.Pallets, PalletCode(l.Place.Ref))
			if loaded || l.Place.Kind == InConsignment || l.Place.Kind == AtSite {
				want[l.Item] -= l.Qty
			}
		}
		for _, item := range sortedItems(want) {
			if n := want[item]; n > 0 {
				out = append(out, strconv.Itoa(n)+" × "+d.w.Book.Items[item].Name)
			}
		}
	}
	return strings.Join(out, ", ")
}

func sortedItems(m map[ItemRev]int) []ItemRev {
	var out []ItemRev
	for k := range m {
		out = append(out, k)
	}
	slices.SortFunc(out, func(a, b ItemRev) int { return compareText(a.Key(), b.Key()) })
	return out
}

func sortedKeys(m map[string]bool) []string {
	var out []string
	for k := range m {
		if k != "" {
			out = append(out, k)
		}
	}
	slices.Sort(out)
	return out
}
