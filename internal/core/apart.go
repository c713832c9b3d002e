package core

import "slices"

// beginUnit says that the bench starts on a unit. The whole set is there and
// fit to go in: a bench starts short by concession only, and signs short never.
func (d *deciding) beginUnit(b BeginUnit) *Refusal {
	build, ok := d.s.Builds[b.Build]
	if !ok {
		return refuse("build-unknown", "build", string(b.Build))
	}
	if build.Lot != "" {
		return refuse("build-made", "build", string(build.Code), "lot", string(build.Lot))
	}
	if !build.Begun.IsZero() {
		return refuse("unit-begun", "build", string(build.Code))
	}
	step, r := d.firstStep(build.Item)
	if r != nil {
		return r
	}
	stage, _ := d.w.Book.Table.Stage(step.Stage)
	if !d.station().Does(stage.Name) {
		return refuse("wrong-station", "station", d.station().Name, "stage", stage.Title,
			"stations", d.stationsDoing(stage.Name), "pallet", string(build.Code))
	}
	if short := BuildShort(d.s, d.w.Book, build); len(short) > 0 {
		r := refuse("start-short", "item", d.w.Book.Items[build.Item].Name, "missing", d.shortText(short), "build", string(build.Code))
		if r := d.stop(r); r != nil {
			return r
		}
	}
	d.record(EvUnitBegun, stage, step)
	d.ev.Ref = string(build.Code)
	for _, l := range d.s.LotsAt(Place{InBuild, string(build.Code)}) {
		if r := d.stop(d.component(build, stage, l)); r != nil {
			return d.about(r, l, l.Qty)
		}
		d.counted(l, 0, 0, l.Qty)
	}
	build.Begun = d.w.Now
	d.emit(Effect{BuildPut: &build})
	return nil
}

// takeApart undoes a made unit. Its components lie on a pallet again with the
// facts they went in with, its owner's, and its build is open, to be gathered anew. What a
// weld held together was cut, and bought goods were fitted: those are held until
// somebody has looked. A problem open on the unit goes over to all of them.
func (d *deciding) takeApart(b TakeApart) *Refusal {
	unit, making, r := d.unitToTakeApart(b)
	if r != nil {
		return r
	}
	to, r := d.palletOrFresh(b.To, PalletCarrier)
	if r != nil {
		return r
	}
	d.record(EvTakenApart, making, Step{})
	d.ev.Ref, d.ev.Note = string(unit.Unit), b.Why
	parts := Components(d.s, unit)
	stops := d.stopping(unit)
	d.moveLot(unit, unit.Place, Place{Made, string(unit.Unit)}, 1)
	for _, l := range parts {
		d.moveLot(l, l.Place, On(to), l.Qty)
		if l = d.s.Lots[l.ID]; l.Owner != unit.Owner {
			l = d.reown(l, l.Qty, unit.Owner) // the unit was lent since
		}
		d.counted(l, l.Qty, 0, 0)
		d.follow(stops, l)
		d.cameOut(l, making)
	}
	d.reopen(unit)
	d.put(d.s.Pallets[to])
	d.leave(b.Pallet, to)
	return nil
}

// unitToTakeApart is the unit named, if it may be taken apart now by who signs:
// whoever may make it.
func (d *deciding) unitToTakeApart(b TakeApart) (Lot, Stage, *Refusal) {
	p, r := d.pallet(b.Pallet)
	if r == nil {
		r = d.notGone(p)
	}
	if r == nil && p.Station != d.c.Station {
		r = refuse("not-taken-in", "pallet", string(p.Code), "station", d.station().Name)
	}
	if r != nil {
		return Lot{}, Stage{}, r
	}
	unit, r := d.lotOn(b.Unit, b.Pallet)
	if r != nil {
		return unit, Stage{}, r
	}
	step, r := d.firstStep(unit.Item)
	making, _ := d.w.Book.Table.Stage(step.Stage)
	switch {
	case unit.Unit == "":
		r = refuse("unit-not-gathered")
	case r != nil:
	case unit.Qty != 1:
		r = refuse("unit-not-alone")
	case b.Why == "":
		r = refuse("reason-missing")
	case unit.Facts.Any(Coated, d.at) != No:
		r = refuse("already-coated", "face", "").absolute() // its components would pass for bare
	default:
		r = d.mayDo(unit, step, making)
	}
	if r != nil {
		return unit, making, d.about(r, unit, unit.Qty)
	}
	return unit, making, nil
}

// cameOut holds what taking apart may have spoilt.
func (d *deciding) cameOut(l Lot, making Stage) {
	if CutApart(making) {
		d.edgesInDoubt(l)
	}
	if HeldApart(d.w.Book, making, l.Item) {
		d.found(d.s.Lots[l.ID], making, "came out of a unit that was taken apart: "+d.ev.Note)
	}
}

// CutApart reports whether what a stage joined comes apart by cutting only.
func CutApart(making Stage) bool {
	return slices.ContainsFunc(making.Gives, func(c Condition) bool { return c.Fact == Welded })
}

// HeldApart reports whether a component is held when the unit that a stage made
// is taken apart.
func HeldApart(b *Book, making Stage, item ItemRev) bool {
	return CutApart(making) || b.Items[item].Kind == BoughtItem
}

// edgesInDoubt: what cutting out did to edges nobody knows.
func (d *deciding) edgesInDoubt(l Lot) {
	if was := standingOf(l, Fact{Name: EdgesRounded}); was != nil {
		d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: Fact{Name: EdgesRounded}, Value: Unsure, Relied: was.Relied, Was: was}})
	}
}
