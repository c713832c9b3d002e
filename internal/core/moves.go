package core

import (
	"slices"
	"strconv"
)

// takeIn says a pallet has come to this station; in a store, into which slot. A
// pallet that is in the store already is put into another slot.
func (d *deciding) takeIn(b TakeIn) *Refusal {
	p, r := d.pallet(b.Pallet)
	if r == nil {
		r = d.notGone(p)
	}
	if r != nil {
		return r
	}
	slot := SlotName(b.Slot)
	lots := d.s.LotsAt(On(p.Code))
	if len(lots) == 0 {
		return refuse("pallet-empty", "pallet", string(p.Code), "gone", joinCodes(p.GoneTo))
	}
	here := p.Station == d.c.Station && p.Bound == ""
	if r := d.slotWrong(p, here, slot); r != nil {
		return r
	}
	if !here && !d.wants(d.station(), lots) {
		return d.notWanted(p, d.station(), lots)
	}
	if r := d.stop(d.stale(p, b.PrintSeen)); r != nil {
		return r
	}
	if r := d.stop(d.slotTaken(p, slot)); r != nil {
		return r
	}
	for _, l := range lots {
		d.counted(l, l.Qty, 0, 0)
	}
	d.ev.Ref = slot
	if here {
		d.ev.Kind, p.Slot = EvSlotted, slot
	} else {
		d.ev.Kind = EvTakenIn
		d.present(d.station(), lots)
		p.Station, p.Bound, p.Slot, p.Since = d.c.Station, "", slot, d.w.Now
	}
	d.put(p)
	return nil
}

// wants reports whether a station has a next step to do for any of the lots, or
// one to do again. A
// station that does no stage, such as a pallet store, takes everything; the
// dock takes what has come to the end of its route.
func (d *deciding) wants(s Station, lots []Lot) bool {
	if len(s.Stages) == 0 {
		return true
	}
	for _, l := range lots {
		next := NextSteps(d.w.Book, l)
		for _, x := range next {
			if s.Does(x.Stage) {
				return true
			}
		}
		if len(next) == 0 && (s.Dock || d.joins(s, l)) {
			return true
		}
		if _, again := d.toRedo(s, l); again {
			return true
		}
	}
	return false
}

// joins reports whether a lot at the end of its route is a component that this
// station's stages put into an assembly.
func (d *deciding) joins(s Station, l Lot) bool {
	for _, rev := range d.w.Book.Items {
		for _, c := range rev.Bill {
			if c.Item != l.Item {
				continue
			}
			if route := d.w.Book.Routes[rev.Route]; len(route.Steps) > 0 && s.Does(route.Steps[0].Stage) {
				return true
			}
		}
	}
	return false
}

// notWanted says where the pallet should be instead: first of all, that a hold
// point lies between it and this station.
func (d *deciding) notWanted(p PalletRow, s Station, lots []Lot) *Refusal {
	for _, l := range lots {
		if d.holdBefore(s, l) {
			return d.about(refuse("hold-not-released").absolute(), l, l.Qty)
		}
	}
	r := refuse("nothing-to-do", "pallet", string(p.Code), "station", s.Name, "stage", "", "stations", "")
	for _, l := range lots {
		if next := NextSteps(d.w.Book, l); len(next) > 0 {
			r.Params["stage"] = d.stageTitle(next[0].Stage)
			r.Params["stations"] = d.stationsDoing(next[0].Stage)
			break
		}
	}
	return r
}

// holdBefore reports whether the lot waits at a hold point and the station does
// something that lies behind it.
func (d *deciding) holdBefore(s Station, l Lot) bool {
	next := NextSteps(d.w.Book, l)
	if len(next) == 0 {
		return false
	}
	stage, _ := d.w.Book.Table.Stage(next[0].Stage)
	return stage.Hold && slices.ContainsFunc(d.w.Book.Routes[l.Route].Steps, func(x Step) bool {
		return x.No > next[0].No && s.Does(x.Stage)
	})
}

// handOver sends a pallet on to a station.
func (d *deciding) handOver(b HandOver) *Refusal {
	p, r := d.pallet(b.Pallet)
	if r == nil {
		r = d.notGone(p)
	}
	if r != nil {
		return r
	}
	if d.c.Station != "" && p.Station != d.c.Station {
		return refuse("not-taken-in", "pallet", string(p.Code), "station", d.station().Name)
	}
	d.ev.Kind, d.ev.Note = EvHandedOver, b.Note
	return d.sendOn(p, b.To)
}

// sendOn binds a pallet for a station that has something to do for it. Its
// ticket must say what is on it before it travels.
func (d *deciding) sendOn(p PalletRow, to StationID) *Refusal {
	s, ok := d.w.Book.Stations[to]
	if !ok {
		return refuse("station-unknown", "station", string(to))
	}
	lots := d.s.LotsAt(On(p.Code))
	if len(lots) == 0 {
		return refuse("pallet-empty", "pallet", string(p.Code), "gone", joinCodes(p.GoneTo))
	}
	if !d.wants(s, lots) {
		return d.notWanted(p, s, lots)
	}
	if printDue(d.s, d.w.Book, p) {
		if r := d.stop(refuse("reprint-due", "pallet", string(p.Code)).ask()); r != nil {
			return r
		}
	}
	if d.ev.Kind == EvHandedOver {
		for _, l := range lots {
			d.counted(l, l.Qty, 0, 0)
		}
	}
	p.Station, p.Bound, p.Slot, p.Since = "", to, "", d.w.Now
	d.ev.Ref = string(to)
	d.put(p)
	return nil
}

// begin says that work on a stage has started on some lots.
func (d *deciding) begin(b Begin) *Refusal {
	p, stage, r := d.atWork(b.Pallet, b.Stage, 0)
	if r == nil {
		r = d.outOfTouch(stage)
	}
	if r != nil {
		return r
	}
	ids := b.Lots
	if len(ids) == 0 {
		for _, l := range d.s.LotsAt(On(p.Code)) {
			if _, next, _ := d.stepFor(l, stage); next && l.Started == nil {
				ids = append(ids, l.ID)
			}
		}
	}
	if len(ids) == 0 {
		return refuse("no-lots", "stage", stage.Title, "pallet", string(p.Code))
	}
	for _, id := range ids {
		l, r := d.lotOn(id, p.Code)
		if r != nil {
			return r
		}
		step, r := d.judge(l, stage)
		if r != nil {
			return d.about(r, l, l.Qty)
		}
		d.record(EvBegun, stage, step)
		d.counted(l, 0, 0, l.Qty)
		d.emit(Effect{StepBegun: &StepBegun{l.ID, Started{step.No, d.signer(), d.c.Station, d.at}}})
	}
	d.put(p)
	return nil
}

// divide moves parts of lots from one pallet to another.
func (d *deciding) divide(b Divide) *Refusal {
	p, r := d.pallet(b.From)
	if r == nil {
		r = d.notGone(p)
	}
	if r == nil {
		r = d.stop(d.stale(p, b.PrintSeen))
	}
	if r != nil {
		return r
	}
	if len(b.Picks) == 0 {
		return refuse("no-lots", "stage", "", "pallet", string(b.From))
	}
	if b.To == b.From {
		return refuse("same-pallet", "pallet", string(b.From))
	}
	to, r := d.palletOrFresh(b.To, PalletCarrier)
	if r != nil {
		return r
	}
	d.ev.Kind = EvDivided
	there := d.metalsOn(to)
	for _, k := range b.Picks {
		l, r := d.lotOn(k.Lot, b.From)
		if r != nil {
			return r
		}
		if k.Qty < 1 || k.Qty > l.Qty {
			return d.about(refuse("more-than-there", "asked", strconv.Itoa(k.Qty)), l, l.Qty)
		}
		if r := d.whole(l, k.Qty); r != nil {
			return d.about(r, l, l.Qty)
		}
		metal := d.w.Book.Items[l.Item].Metal
		d.noticeMetal(metal, to, there)
		there = union(there, metal)
		d.counted(l, k.Qty, 0, 0)
		d.split(l, k.Qty, On(to))
	}
	d.put(d.s.Pallets[to])
	d.leave(b.From, to)
	return nil
}

// leave puts a pallet that parts were taken off; an emptied one says where they
// went.
func (d *deciding) leave(from PalletCode, to ...PalletCode) {
	p := d.s.Pallets[from]
	p.GoneTo = union(p.GoneTo, to...)
	d.put(p)
}

// noticeMetals warns where a lot is put beside what it may not touch.
func (d *deciding) noticeMetals(l Lot, to PalletCode) {
	d.noticeMetal(d.w.Book.Items[l.Item].Metal, to, d.metalsOn(to))
}

// metalsOn lists the metals on a pallet.
func (d *deciding) metalsOn(code PalletCode) []Metal {
	var out []Metal
	place := On(code)
	for _, l := range d.s.Lots {
		if l.Qty > 0 && l.Place == place {
			out = union(out, d.w.Book.Items[l.Item].Metal)
		}
	}
	return out
}

// noticeMetal warns where bare steel would lie on bare aluminium: of the metals
// there, it names the first by name.
func (d *deciding) noticeMetal(m Metal, to PalletCode, there []Metal) {
	var other Metal
	for _, o := range there {
		if m != "" && o != "" && isAluminium(m) != isAluminium(o) && (other == "" || o < other) {
			other = o
		}
	}
	if other != "" {
		d.notices = append(d.notices, *refuse("metals-together", "pallet", string(to), "one", string(m), "other", string(other)))
	}
}
