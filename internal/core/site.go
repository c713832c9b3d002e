package core

import (
	"slices"
	"strconv"
)

// workAtSite signs a stage of the fitting site on parts that were received
// there. Returned parts go on a pallet, unpacked, and are held until somebody
// says what becomes of them.
func (d *deciding) workAtSite(b WorkAtSite) *Refusal {
	stage, ok := d.w.Book.Table.Stage(b.Stage)
	if !ok {
		return refuse("stage-unknown", "stage", string(b.Stage))
	}
	if !stage.Site || slices.ContainsFunc(stage.Gives, func(c Condition) bool { return c.Fact == IsReceived }) {
		return refuse("not-site-work", "stage", stage.Title)
	}
	if d.c.Station != "" && !d.station().Does(stage.Name) {
		return refuse("wrong-station", "station", d.station().Name, "stage", stage.Title,
			"stations", d.stationsDoing(stage.Name), "pallet", "")
	}
	back := stage.Mark == Transport
	if back && b.Note == "" {
		return refuse("reason-missing")
	}
	if len(b.Picks) == 0 {
		return refuse("no-lots", "stage", stage.Title, "pallet", "")
	}
	kind := EvSigned
	if back {
		kind = EvSentBack
	}
	d.record(kind, stage, Step{})
	d.ev.Note = b.Note
	to, r := d.carrierBack(back, b)
	if r != nil {
		return r
	}
	var seen []LotID
	for _, k := range b.Picks {
		if slices.Contains(seen, k.Lot) {
			return refuse("lot-twice", "lot", string(k.Lot)).of(k.Lot)
		}
		seen = append(seen, k.Lot)
		l, r := d.pickAtSite(stage, k)
		if r == nil {
			r = d.oneClient(stage, b.Picks[0], l)
		}
		if r != nil {
			return r
		}
		d.counted(l, k.Qty, 0, 0)
		l = d.split(l, k.Qty, l.Place)
		d.offRoute(l, stage)
		if back {
			d.bringBack(d.s.Lots[l.ID], stage, to, b.Note)
		}
	}
	return nil
}

// oneClient refuses an acceptance of several orders at once: each client signs
// for what is theirs.
func (d *deciding) oneClient(stage Stage, first Pick, l Lot) *Refusal {
	accepts := slices.ContainsFunc(stage.Gives, func(c Condition) bool { return c.Fact == IsAtClient })
	if of := d.s.Lots[first.Lot].Owner.Order; accepts && l.Owner.Order != of {
		return refuse("clients-apart", "order", of, "other", l.Owner.Order).of(l.ID)
	}
	return nil
}

// pickAtSite judges one lot at the site.
func (d *deciding) pickAtSite(stage Stage, k Pick) (Lot, *Refusal) {
	l, ok := d.s.Lots[k.Lot]
	if !ok || l.Place.Kind != AtSite || l.Qty == 0 || d.station().Site && l.Place.Ref != string(d.c.Station) {
		return l, refuse("lot-not-at-site", "lot", string(k.Lot)).of(k.Lot)
	}
	if k.Qty < 1 || k.Qty > l.Qty {
		return l, d.about(refuse("more-than-there", "asked", strconv.Itoa(k.Qty)), l, l.Qty)
	}
	if h, held := d.heldBy(l); held && stage.Mark != Transport {
		return l, d.about(refuse("lot-held", "reason", h.Reason, "hold", string(h.ID)), l, k.Qty)
	}
	rev, t := d.w.Book.Items[l.Item], traits(d.w.Book, l, Step{})
	r := d.facts(l, rev, Step{Stage: stage.Name}, stage, t, d.at, false)
	for _, c := range stage.Gives {
		if r == nil && l.Facts.At(Fact{Name: c.Fact}, d.at) == Yes {
			r = refuse("step-done", "stage", stage.Title, "next", d.afterAtSite(stage))
		}
	}
	if r == nil {
		r = d.mayDo(l, Step{Stage: stage.Name}, stage)
	}
	if r != nil {
		return l, d.about(r, l, k.Qty)
	}
	return l, nil
}

// afterAtSite names the work at the site that wants what a stage gives.
func (d *deciding) afterAtSite(stage Stage) string {
	for _, n := range d.w.Book.Table.Order {
		next, _ := d.w.Book.Table.Stage(n)
		if next.Site && next.Mark != Transport && slices.ContainsFunc(next.Needs, func(c Condition) bool {
			return slices.ContainsFunc(stage.Gives, func(g Condition) bool { return g.Fact == c.Fact })
		}) {
			return next.Title
		}
	}
	return "nothing more at the site"
}

// offRoute writes what a stage that stands on no route does to a lot.
func (d *deciding) offRoute(l Lot, stage Stage) {
	var relied []Fact
	for _, c := range stage.Needs {
		relied = append(relied, Fact{Name: c.Fact})
	}
	for _, c := range stage.Clears {
		f := Fact{Name: c.Fact}
		if was := standingOf(l, f); was != nil {
			d.emit(Effect{Cleared: &FactCleared{Lot: l.ID, Fact: f, Was: was}})
		}
	}
	for _, c := range stage.Gives {
		f := Fact{Name: c.Fact}
		d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: f, Value: Yes, Relied: relied, Was: standingOf(l, f)}})
	}
}

// carrierBack is the pallet that returned parts travel on: one that stands
// empty, perhaps the one they came on, or a fresh one. It stands at the site
// the parts are at, also where an office page says so.
func (d *deciding) carrierBack(back bool, b WorkAtSite) (PalletCode, *Refusal) {
	if !back {
		return "", nil
	}
	code := b.To
	if code == "" {
		fresh, r := d.freshPallet(PalletCarrier)
		if r != nil {
			return "", r
		}
		code = fresh
	}
	p, r := d.pallet(code)
	if r != nil {
		return "", r
	}
	if len(d.s.LotsAt(On(code))) > 0 {
		return "", refuse("pallet-not-empty", "pallet", string(code))
	}
	p.Consignment, p.Station, p.Bound, p.Slot, p.Since, p.GoneTo = "", d.c.Station, "", "", d.w.Now, nil
	if l := d.s.Lots[b.Picks[0].Lot]; l.Place.Kind == AtSite {
		p.Station = StationID(l.Place.Ref)
	}
	d.put(p)
	return code, nil
}

// bringBack puts a lot on a pallet again, to be packed anew once somebody has
// looked at it.
func (d *deciding) bringBack(l Lot, stage Stage, to PalletCode, why string) {
	d.moveLot(l, l.Place, On(to), l.Qty)
	for _, s := range d.w.Book.Routes[l.Route].Steps {
		if s.Stage == "pack" && l.DoneStep(s.No) {
			d.emit(Effect{StepsUndone: &StepsUndone{l.ID, s.No}})
			break
		}
	}
	d.found(d.s.Lots[l.ID], stage, why)
}
