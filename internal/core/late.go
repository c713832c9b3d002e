package core

import (
	"slices"
	"strconv"
)

// joinLate puts late components into a made unit, in the place of others that
// come out. The unit afterwards holds just what its bill asks: a short one is
// never signed. What was welded is to be welded and inspected again.
func (d *deciding) joinLate(b JoinLate) *Refusal {
	p, stage, r := d.atWork(b.Pallet, "join-late", b.PrintSeen)
	if r != nil {
		return r
	}
	unit, step, r := d.openedUnit(b, stage)
	if r != nil {
		return r
	}
	d.record(EvJoinedLate, stage, step)
	d.ev.Ref, d.ev.Note = string(unit.Unit), b.Note
	r = d.readings(unit, step, b.Checks)
	if r == nil {
		r = d.takeOut(unit, stage, b)
	}
	if r == nil {
		r = d.changed(unit, b)
	}
	var joined []Lot
	if r == nil {
		joined, r = d.putIn(unit, b)
	}
	if r == nil {
		r = d.asBilled(unit)
	}
	if r != nil {
		r = d.about(r, unit, unit.Qty)
		r.Lots = []LotID{unit.ID}
		return r
	}
	d.unite(unit, joined)
	d.perform(d.s.Lots[unit.ID], step, stage, b.Checks)
	d.counted(unit, 1, 0, 0)
	d.put(d.s.Pallets[p.Code])
	return nil
}

// openedUnit is the unit named, if the stage may be done on it now by who signs.
func (d *deciding) openedUnit(b JoinLate, stage Stage) (Lot, Step, *Refusal) {
	unit, r := d.lotOn(b.Unit, b.Pallet)
	if r != nil {
		return unit, Step{}, r
	}
	step, r := d.judge(unit, stage)
	switch {
	case r != nil:
	case unit.Qty != 1:
		r = refuse("unit-not-alone")
	case len(b.In) == 0:
		r = refuse("late-part-not-gathered").absolute()
	case len(b.Out) > 0 && b.Why == "":
		r = refuse("why-missing", "bad", strconv.Itoa(len(b.Out)))
	default:
		r = d.mayDo(unit, step, stage)
	}
	if r != nil {
		return unit, step, d.about(r, unit, unit.Qty)
	}
	return unit, step, nil
}

// Components lists what is inside a unit. The lots it was before are asked as
// well: a unit that changed its owner is a lot of its own, and nobody moved what
// is in it. What is inside a component is that component's own.
func Components(s *State, unit Lot) []Lot {
	out := s.LotsAt(Place{Inside, string(unit.ID)})
	for _, id := range unit.Parents {
		if s.Lots[id].Unit == unit.Unit {
			out = append(out, s.LotsAt(Place{Inside, string(id)})...)
		}
	}
	return out
}

// takeOut brings components out of the unit into quarantine. They are stock
// from then on, since the unit gets others, and what cutting them out did to
// their edges nobody knows.
func (d *deciding) takeOut(unit Lot, stage Stage, b JoinLate) *Refusal {
	for _, k := range b.Out {
		l, there := d.s.Lots[k.Lot]
		if !there || !slices.ContainsFunc(Components(d.s, unit), func(x Lot) bool { return x.ID == k.Lot }) {
			return refuse("not-inside", "lot", string(k.Lot))
		}
		if k.Qty < 1 || k.Qty > l.Qty {
			return refuse("more-than-there", "asked", strconv.Itoa(k.Qty))
		}
		if !l.Owner.Stock() {
			l = d.reown(l, k.Qty, Owner{})
		}
		to, r := d.quarantine()
		if r != nil {
			return r
		}
		l = d.split(l, k.Qty, On(to))
		d.edgesInDoubt(l)
		d.counted(l, 0, l.Qty, 0)
		d.found(l, stage, b.Why)
	}
	return nil
}

// changed: what the disposition said is to be changed has come out.
func (d *deciding) changed(unit Lot, b JoinLate) *Refusal {
	if unit.Rework == nil {
		return nil
	}
	for _, k := range unit.Rework.Change {
		for _, o := range b.Out {
			if o.Lot == k.Lot {
				k.Qty -= o.Qty
			}
		}
		if k.Qty > 0 {
			left := d.s.Lots[k.Lot]
			if r := d.stop(refuse("change-left-inside", "left", d.shortText([]Short{{left.Item, k.Qty}}), "problem", string(unit.Rework.Problem))); r != nil {
				return r
			}
		}
	}
	return nil
}

// putIn brings components off pallets at the station into the unit, each judged
// as it would have been when the unit was made.
func (d *deciding) putIn(unit Lot, b JoinLate) ([]Lot, *Refusal) {
	build := Build{Code: unit.Unit, Item: unit.Item, Owner: unit.Owner}
	first, r := d.firstStep(unit.Item)
	if r != nil {
		return nil, r
	}
	making, _ := d.w.Book.Table.Stage(first.Stage)
	var in []Lot
	for _, k := range b.In {
		l, r := d.atHand(k)
		if r == nil {
			r = d.component(build, making, l)
		}
		if r != nil {
			return nil, r
		}
		from := PalletCode(l.Place.Ref)
		if l.Owner != unit.Owner {
			l = d.reown(l, k.Qty, unit.Owner)
		}
		d.counted(l, k.Qty, 0, 0)
		in = append(in, d.split(l, k.Qty, Place{Inside, string(unit.ID)}))
		d.leave(from)
	}
	return in, nil
}

// asBilled: what is inside the unit is what its bill asks, no less and no more.
func (d *deciding) asBilled(unit Lot) *Refusal {
	short, over := against(d.w.Book.Items[unit.Item].Bill, Components(d.s, unit))
	if len(short) > 0 {
		return refuse("unit-short", "missing", d.shortText(short)).absolute()
	}
	if len(over) > 0 {
		return refuse("unit-over", "over", d.shortText(over))
	}
	return nil
}

// unite gives the unit what its new components bring, and takes *and* over the
// facts they share.
func (d *deciding) unite(unit Lot, in []Lot) {
	j := Joined{Lot: unit.ID}
	for _, l := range in {
		j.Parents = union(union(j.Parents, l.Parents...), l.ID)
		j.Heats, j.Sheets, j.Batches = union(j.Heats, l.Heats...), union(j.Sheets, l.Sheets...), union(j.Batches, l.Batches...)
		j.Gauges, j.Expires = laterOf(j.Gauges, l.Gauges), earlier(j.Expires, l.Expires)
	}
	d.emit(Effect{Joined: &j})
	for _, name := range inherited {
		f := Fact{Name: name}
		was := standingOf(unit, f)
		if was == nil || was.Value != Yes {
			continue
		}
		if slices.ContainsFunc(in, func(l Lot) bool { return d.asksOf(name, l) && l.Facts.At(f, d.at) != Yes }) {
			d.emit(Effect{Given: &FactGiven{Lot: unit.ID, Fact: f, Value: Unsure, Relied: was.Relied, Was: was}})
		}
	}
}
