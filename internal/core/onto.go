package core

import (
	"slices"
	"strconv"
)

// ontoSums refuses good parts put down that are not good, or not there.
func ontoSums(code PalletCode, w LotWork) *Refusal {
	sum := 0
	for _, o := range w.Onto {
		if o.Qty < 1 {
			return refuse("count-impossible", "count", strconv.Itoa(o.Qty), "most", strconv.Itoa(w.Good))
		}
		if o.Pallet == code {
			return refuse("same-pallet", "pallet", string(code))
		}
		sum += o.Qty
	}
	if sum > w.Good {
		return refuse("put-down-more", "put", strconv.Itoa(sum), "good", strconv.Itoa(w.Good))
	}
	return nil
}

// putDown brings good parts onto the pallets they were put down on as they came
// off the work: the far end of a conveyor. What is named nowhere stays.
func (d *deciding) putDown(l Lot, onto []Onto) *Refusal {
	for _, o := range onto {
		to, r := d.tickPallet(o.Pallet, d.letters)
		if r != nil {
			return r
		}
		d.noticeMetals(l, to)
		if d.split(l, o.Qty, On(to)); !slices.Contains(d.ontoPallets, to) {
			d.ontoPallets = append(d.ontoPallets, to)
		}
		l = d.s.Lots[l.ID]
	}
	return nil
}

// sendAway hands over what the work came off onto; where it stays as it came,
// its own pallet.
func (d *deciding) sendAway(own PalletCode, to StationID) *Refusal {
	codes := d.ontoPallets
	if len(codes) == 0 {
		codes = []PalletCode{own}
	}
	for _, code := range codes {
		if r := d.sendOn(d.s.Pallets[code], to); r != nil {
			return r
		}
	}
	return nil
}

// broughtHere is a carrier that parts are put on: it is where they are put on
// it, whatever was last recorded. With parts of other work on it that is asked
// first: the wrong pallet may have been scanned.
func (d *deciding) broughtHere(p PalletRow) *Refusal {
	if d.c.Station == "" || p.Station == d.c.Station || p.Station == "" && p.Bound == "" {
		return nil
	}
	if len(d.s.LotsAt(On(p.Code))) > 0 {
		where := "at " + d.w.Book.Stations[p.Station].Name
		if p.Station == "" {
			where = "on its way to " + d.w.Book.Stations[p.Bound].Name
		}
		if r := d.stop(refuse("pallet-elsewhere", "pallet", string(p.Code), "where", where, "station", d.station().Name).ask()); r != nil {
			return r
		}
	}
	p.Station, p.Bound, p.Slot, p.Since = d.c.Station, "", "", d.w.Now
	d.put(p)
	return nil
}

// follow keeps parts from slipping out of holds by a move: those that stopped
// them before and, of a pallet or of a unit, would no longer, follow them until
// they are lifted.
func (d *deciding) follow(stopped []HoldID, l Lot) {
	for _, id := range stopped {
		h := d.s.Holds[id]
		if h.stops(&l) {
			continue
		}
		if h.Problem == "" && h.Follows == "" {
			h.Follows = id
		}
		h.ID, h.Scope, h.Ref = HoldID(string(id)+"-"+string(l.ID)), HoldLot, string(l.ID)
		d.emit(Effect{HoldPut: &h})
	}
}
