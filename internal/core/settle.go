package core

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// settle makes an unsure fact yes or no, by a qualified person looking. A fact
// that an absolute rule leans on takes two signers.
func (d *deciding) settle(b Settle) *Refusal {
	l, ok := d.s.Lots[b.Lot]
	if !ok || !l.Live() {
		return refuse("lot-not-here", "lot", string(b.Lot), "pallet", "").of(b.Lot)
	}
	was, known := l.Facts[b.Fact]
	if !known || was.Value != Unsure {
		return d.about(refuse("fact-not-unsure", "fact", b.Fact.String()), l, l.Qty)
	}
	if b.Reason == "" {
		return refuse("reason-missing")
	}
	if b.Value == Unsure {
		return refuse("fact-unsure", "fact", b.Fact.Name, "face", b.Fact.Of)
	}
	ids := d.signers()
	if len(ids) == 0 {
		return refuse("signature-missing", "stage", "looking")
	}
	if !d.w.Book.People[ids[0]].Is(Inspector, Quality) {
		return refuse("role-missing", "person", string(ids[0]), "stage", "settle a fact by looking", "roles", "inspector or quality")
	}
	if d.w.Book.Table.absolute(b.Fact.Name) && !d.twoSigners(Inspector, Quality) {
		return refuse("two-must-look", "fact", b.Fact.String()).absolute()
	}
	d.ev.Kind, d.ev.Note = EvSettled, b.Fact.String()+" is "+b.Value.String()+": "+b.Reason
	for i := range d.ev.Signed {
		d.ev.Signed[i].Meaning = MeantInspected
	}
	d.counted(l, l.Qty, 0, 0)
	if b.Value == Yes {
		d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: b.Fact, Value: Yes, Relied: was.Relied, Lapses: was.Lapses, Note: was.Note, Was: &was}})
	} else {
		d.takeBack(l.ID, b.Fact)
	}
	d.touchPalletOf(l)
	return nil
}

// absolute reports whether some stage's absolute rule leans on a fact.
func (t StageTable) absolute(fact string) bool {
	for _, s := range t.Stages {
		for _, c := range append(slices.Clone(s.Needs), s.Forbids...) {
			if c.Absolute && c.Fact == fact {
				return true
			}
		}
	}
	return false
}

// touchPalletOf marks the lot's pallet as changed, so that its pages follow.
func (d *deciding) touchPalletOf(l Lot) {
	if p, ok := d.s.Pallets[PalletCode(l.Place.Ref)]; ok && l.Place.Kind == OnPallet {
		d.put(p)
	}
}

// recount says how many parts are really there. A count that differs from the
// record is asked twice, then taken, and the difference is unexplained until
// somebody explains it.
func (d *deciding) recount(b Recount) *Refusal {
	l, r := d.lotOn(b.Lot, b.Pallet)
	if r != nil {
		return r
	}
	if b.Found < 0 || b.Found > 100000 {
		return refuse("count-impossible", "count", strconv.Itoa(b.Found), "most", "100000")
	}
	if b.Found == l.Qty {
		return d.about(refuse("count-agrees"), l, l.Qty)
	}
	if b.Recorded != l.Qty {
		if r := d.stop(d.about(refuse("count-differs", "found", strconv.Itoa(b.Found)).ask(), l, l.Qty)); r != nil {
			return r
		}
	}
	d.ev.Kind, d.ev.Note = EvRecounted, strconv.Itoa(l.Qty)+" recorded, "+strconv.Itoa(b.Found)+" found: "+b.Reason
	d.counted(l, b.Found, 0, 0)
	lost := Place{Unexplained, string(b.Pallet)}
	if b.Found < l.Qty {
		d.moveLot(l, l.Place, lost, l.Qty-b.Found)
	} else {
		d.foundAgain(l, lost, b.Found-l.Qty)
	}
	d.touchPallet(b.Pallet)
	return nil
}

// foundAgain brings back what the lot had lost, as far as its owner has not been
// given others since. Parts beyond that were asked for by nobody and belong to
// stock; where they come from nobody knows, so whatever is known of the lot is
// unsure of them.
func (d *deciding) foundAgain(l Lot, from Place, qty int) {
	if back := min(qty, l.Lost, d.room(l.Owner, l.Item)); back > 0 {
		d.moveLot(l, from, l.Place, back)
		qty -= back
	}
	if qty == 0 {
		return
	}
	extra := d.s.Lots[l.ID]
	extra.ID, extra.Qty, extra.Lost, extra.Owner, extra.Promised, extra.Unit = d.newLot(), 0, 0, Owner{}, "", ""
	extra.Parents, extra.Facts = union(l.Parents, l.ID), Facts{}
	for f, st := range l.Facts {
		st.Value = Unsure
		extra.Facts[f] = st
	}
	d.bear(extra)
	d.moveLot(extra, from, l.Place, qty)
	d.follow(d.stopping(l), d.s.Lots[extra.ID])
}

func (d *deciding) touchPallet(code PalletCode) { d.put(d.s.Pallets[code]) }

// changeOwner lends parts to another order line or takes them to stock.
func (d *deciding) changeOwner(b ChangeOwner) *Refusal {
	l, r := d.lotOn(b.Lot, b.Pallet)
	if r != nil {
		return r
	}
	if b.Qty < 1 || b.Qty > l.Qty {
		return d.about(refuse("more-than-there", "asked", strconv.Itoa(b.Qty)), l, l.Qty)
	}
	if r := d.whole(l, b.Qty); r != nil {
		return d.about(r, l, l.Qty)
	}
	if b.To == l.Owner {
		return d.about(refuse("same-owner", "owner", b.To.String()), l, l.Qty)
	}
	if b.Reason == "" {
		return refuse("reason-missing")
	}
	if !b.To.Stock() && d.asks(b.To)[l.Item.Item] == 0 {
		return d.about(refuse("owner-asks-none", "owner", b.To.String()), l, l.Qty)
	}
	if h, held := d.heldAsOrder(l); held {
		return d.about(refuse("lot-held", "reason", h.Reason, "hold", string(h.ID)), l, l.Qty)
	}
	d.ev.Kind, d.ev.Note = EvOwnerChanged, l.Owner.String()+" to "+b.To.String()+": "+b.Reason
	d.counted(l, b.Qty, 0, 0)
	d.reown(l, b.Qty, b.To)
	d.touchPallet(b.Pallet)
	return nil
}

// heldAsOrder: parts don't slip out of their order's hold by a change of owner.
func (d *deciding) heldAsOrder(l Lot) (Hold, bool) {
	for _, id := range d.stopping(l) {
		if h := d.s.Holds[id]; h.Scope == HoldOrder {
			return h, true
		}
	}
	return Hold{}, false
}

// reown makes a lot of so many parts for another owner, by descent; the move of
// owner is as visible as any other move.
func (d *deciding) reown(l Lot, qty int, to Owner) Lot {
	child := l
	child.ID, child.Qty, child.Lost, child.Owner, child.For = d.newLot(), 0, 0, to, ""
	child.Parents, child.Promised = union(l.Parents, l.ID), d.promised(to)
	place, descent, stopped := l.Place, Place{Descent, string(d.ev.ID)}, d.stopping(l)
	d.bear(child)
	d.moveLot(l, place, descent, qty)
	d.moveLot(child, descent, place, qty)
	d.stopDescends(l, child.ID)
	d.follow(stopped, d.s.Lots[child.ID])
	return d.s.Lots[child.ID]
}

// fuse makes one lot of several. Equal lots just join; a declared mix unites
// what differs and makes facts that differ unsure. Lots of other metals,
// finishes or holds never fuse, nor made units: each holds parts of its own.
func (d *deciding) fuse(b Fuse) *Refusal {
	if len(b.Lots) < 2 {
		return refuse("no-lots", "stage", "", "pallet", string(b.Pallet))
	}
	var lots []Lot
	for i, id := range b.Lots {
		if slices.Contains(b.Lots[:i], id) {
			return refuse("lot-twice", "lot", string(id)).of(id)
		}
		l, r := d.lotOn(id, b.Pallet)
		if r != nil {
			return r
		}
		if r := d.presented(l); r != nil {
			return d.about(r, l, l.Qty)
		}
		if l.Unit != "" {
			return d.about(refuse("fuse-units"), l, l.Qty)
		}
		lots = append(lots, l)
	}
	first := lots[0]
	for _, l := range lots[1:] {
		if r := d.fusable(first, l); r != nil {
			return d.about(r, l, l.Qty)
		}
		if !b.Mix && !equalLots(first, l) {
			return d.about(refuse("lots-differ"), l, l.Qty)
		}
	}
	d.ev.Kind = EvFused
	whole := mixed(lots, d.newLot())
	place, descent := first.Place, Place{Descent, string(d.ev.ID)}
	whole.Mixed = whole.Mixed || b.Mix
	d.bear(whole)
	qty := 0
	for _, l := range lots {
		d.counted(l, l.Qty, 0, 0)
		d.moveLot(l, place, descent, l.Qty)
		qty += l.Qty
	}
	d.moveLot(whole, descent, place, qty)
	d.touchPallet(b.Pallet)
	return nil
}

// fusable refuses a fusion that nothing could undo.
func (d *deciding) fusable(a, b Lot) *Refusal {
	ra, rb := d.w.Book.Items[a.Item], d.w.Book.Items[b.Item]
	switch {
	case ra.Metal != rb.Metal || ra.Grade != rb.Grade: // told first: mixing metals is the worse mistake
		return refuse("fuse-metals", "one", ra.Grade, "other", rb.Grade)
	case a.Item != b.Item:
		return refuse("fuse-items", "one", a.Item.String(), "other", b.Item.String())
	case !slices.Equal(d.stopping(a), d.stopping(b)):
		return refuse("fuse-held")
	case coats(a) != coats(b):
		return refuse("fuse-finishes")
	case a.For != b.For:
		return refuse("fuse-kept", "one", string(a.For), "other", string(b.For))
	case a.Owner != b.Owner:
		return refuse("fuse-owners", "one", a.Owner.String(), "other", b.Owner.String())
	case a.Route != b.Route || (a.Rework == nil) != (b.Rework == nil) || a.Rework != nil && a.Rework.Route != b.Rework.Route:
		return refuse("fuse-routes")
	}
	return nil
}

// stopping lists the open holds that stop a lot. Lots fuse only under the same
// ones: a problem's disposition must go on finding its parts.
func (d *deciding) stopping(l Lot) []HoldID {
	return slices.DeleteFunc(sortedHolds(d.s.Holds), func(id HoldID) bool {
		h := d.s.Holds[id]
		return !h.Open() || !h.stops(&l)
	})
}

// coats is a lot's finish as one text: every coated face with its colour.
func coats(l Lot) string {
	var out []string
	for _, f := range l.Facts.List() {
		if f.Name == Coated {
			colour, _, _ := strings.Cut(l.Facts[f].Note, ",")
			out = append(out, f.Of+"="+colour)
		}
	}
	return strings.Join(out, ";")
}

// equalLots: nothing that matters tells them apart.
func equalLots(a, b Lot) bool {
	if !slices.Equal(a.Done, b.Done) || !sameRework(a.Rework, b.Rework) || (a.Started == nil) != (b.Started == nil) ||
		!slices.Equal(a.Heats, b.Heats) || !slices.Equal(a.Batches, b.Batches) || a.Expires != b.Expires ||
		a.Remake != b.Remake || a.Bakes != b.Bakes || !slices.Equal(a.Overcoat, b.Overcoat) || len(a.Facts) != len(b.Facts) {
		return false
	}
	for f, s := range a.Facts {
		if t, ok := b.Facts[f]; !ok || t.Value != s.Value || !t.Lapses.Equal(s.Lapses) {
			return false
		}
	}
	return true
}

// sameRework: on the same rework, as far along it, and back to the same step.
func sameRework(a, b *Rework) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.Route == b.Route && slices.Equal(a.Done, b.Done) && a.Rejoin == b.Rejoin && a.Problem == b.Problem && slices.Equal(a.Change, b.Change)
}

// mixed is the lot several become: steps only where all have done them, facts
// unsure where they differ, the earliest lapse, date and step to rejoin at, and
// everything else united.
func mixed(lots []Lot, id LotID) Lot {
	m := lots[0]
	m.ID, m.Qty, m.Lost, m.Parents, m.Facts, m.Started, m.Makers = id, 0, 0, nil, Facts{}, nil, map[string][]PersonID{}
	for _, l := range lots {
		m.Parents = union(union(m.Parents, l.Parents...), l.ID)
		m.Heats, m.Sheets, m.Batches = union(m.Heats, l.Heats...), union(m.Sheets, l.Sheets...), union(m.Batches, l.Batches...)
		m.Done = slices.DeleteFunc(slices.Clone(m.Done), func(n int) bool { return !l.DoneStep(n) })
		m.Bakes, m.Gauges = max(m.Bakes, l.Bakes), laterOf(m.Gauges, l.Gauges)
		m.Overcoat = slices.DeleteFunc(slices.Clone(m.Overcoat), func(f Face) bool { return !slices.Contains(l.Overcoat, f) })
		m.Mixed, m.Expires, m.Promised = m.Mixed || l.Mixed, earlier(m.Expires, l.Expires), earlier(m.Promised, l.Promised)
		if l.Arrived.Before(m.Arrived) {
			m.Arrived = l.Arrived
		}
		if l.Nest != m.Nest { // what came from two was cut in neither: its parents say where
			m.Nest = ""
		}
		for work, people := range l.Makers {
			m.Makers[work] = union(m.Makers[work], people...)
		}
		for f := range l.Facts {
			m.Facts[f] = mixedStanding(lots, f)
		}
	}
	if m.Rework != nil {
		r := *m.Rework
		for _, l := range lots {
			r.Done = slices.DeleteFunc(slices.Clone(r.Done), func(n int) bool { return !slices.Contains(l.Rework.Done, n) })
			r.Rejoin = min(r.Rejoin, l.Rework.Rejoin) // the later would pass over steps that the other owes
		}
		m.Rework = &r
	}
	return m
}

// laterOf unites when instruments were last used: a hold on a gauge must find
// what it measured, also after it was fused or built in.
func laterOf(a, b map[string]time.Time) map[string]time.Time {
	if len(b) == 0 {
		return a
	}
	out := maps.Clone(b)
	for id, at := range a {
		if at.After(out[id]) {
			out[id] = at
		}
	}
	return out
}

func mixedStanding(lots []Lot, f Fact) Standing {
	var out Standing
	for i, l := range lots {
		s := l.Facts[f]
		if i == 0 {
			out = s
			continue
		}
		if s.Value != out.Value {
			out.Value = Unsure
		}
		if out.Lapses.IsZero() || (!s.Lapses.IsZero() && s.Lapses.Before(out.Lapses)) {
			out.Lapses = s.Lapses
		}
		out.Relied = union(out.Relied, s.Relied...)
		if out.By == "" {
			out.By = s.By
		}
		if out.Note == "" {
			out.Note = s.Note
		}
	}
	return out
}
