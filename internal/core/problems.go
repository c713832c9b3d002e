package core

import (
	"slices"
	"strconv"
)

// reportProblem records a nonconformity. The bad parts go to a quarantine
// pallet, unless they stay because they are the whole lot; either way they are
// held until something has become of them.
func (d *deciding) reportProblem(b ReportProblem) *Refusal {
	if b.Pallet == "" {
		return d.reportAtSite(b)
	}
	p, r := d.pallet(b.Pallet)
	if r == nil {
		r = d.notGone(p)
	}
	if r != nil {
		return r
	}
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
	if b.What == "" {
		return d.about(refuse("why-missing", "bad", strconv.Itoa(b.Qty)), l, l.Qty)
	}
	d.ev.Kind, d.ev.Note = EvProblemReported, b.What
	d.counted(l, l.Qty-b.Qty, b.Qty, 0)
	stage := Stage{}
	if next := NextSteps(d.w.Book, l); len(next) > 0 {
		stage.Name = next[0].Stage
		d.ev.Stage, d.ev.Step = next[0].Stage, next[0].No
	}
	if b.Qty == l.Qty && b.Stay {
		d.found(l, stage, b.What)
		d.put(d.s.Pallets[b.Pallet])
		return nil
	}
	to, r := d.palletOrFresh(b.To, Quarantine)
	if r != nil {
		return r
	}
	if d.s.Pallets[to].Kind != Quarantine {
		return refuse("not-quarantine", "pallet", string(to))
	}
	d.found(d.split(l, b.Qty, On(to)), stage, b.What)
	d.put(d.s.Pallets[to])
	d.leave(b.Pallet, to)
	return nil
}

// mostHours is what one nonconformity may be said to cost: half a person's year.
const mostHours = 1000

// dispose says what becomes of a problem's parts.
func (d *deciding) dispose(b Dispose) *Refusal {
	p, ok := d.s.Problems[b.Problem]
	if !ok {
		return refuse("problem-unknown", "problem", string(b.Problem))
	}
	if !p.Open() {
		return refuse("problem-closed", "problem", string(b.Problem), "disposition", string(p.Disposition))
	}
	if b.Reason == "" {
		return refuse("reason-missing")
	}
	if len(d.signers()) == 0 {
		return refuse("signature-missing", "stage", "disposition")
	}
	if _, known := d.w.Book.Table.Stage(b.Arose); b.Arose != "" && !known {
		return refuse("stage-unknown", "stage", string(b.Arose))
	}
	if !(b.Hours >= 0 && b.Hours <= mostHours) {
		return refuse("hours-impossible", "most", strconv.Itoa(mostHours))
	}
	lots := d.problemLots(p)
	if len(lots) == 0 {
		return refuse("lot-not-here", "lot", string(p.Lot), "pallet", "").of(p.Lot)
	}
	d.ev.Kind, d.ev.Ref, d.ev.Note = EvDisposed, string(p.ID), string(b.Disposition)+": "+b.Reason
	d.approved()
	var r *Refusal
	switch b.Disposition {
	case DisposeRework:
		r = d.rework(b, p, lots)
	case DisposeUseAsIs:
		if !d.twoSigners(Quality) {
			return refuse("concession-needs-two", "code", "use-as-is")
		}
	case DisposeScrap, DisposeRemake:
		d.scrap(p, lots, b.Disposition == DisposeRemake)
	default:
		return refuse("disposition-unknown", "disposition", string(b.Disposition))
	}
	if r != nil {
		return r
	}
	for _, l := range lots {
		d.counted(l, l.Qty, 0, 0)
		if now := d.s.Lots[l.ID]; now.Place == l.Place {
			d.touchPalletOf(now) // the decision is part of the pallet's history as well
		}
	}
	p.Disposition, p.Reason, p.Disposers, p.Closed = b.Disposition, b.Reason, d.signers(), d.w.Now
	p.Arose, p.Hours = b.Arose, b.Hours
	d.emit(Effect{ProblemPut: &p})
	d.liftFor(p.ID)
	return nil
}

// problemLots finds the lot a problem was found on, with what was split off it
// or came out of it since: all of it that is in the shop or at a site.
func (d *deciding) problemLots(p Problem) []Lot {
	var out []Lot
	for _, l := range d.s.Lots {
		if (l.Live() || l.Place.Kind == AtSite && l.Qty > 0) && (l.ID == p.Lot || d.heldFor(p.ID, l.ID)) {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b Lot) int { return compareText(string(a.ID), string(b.ID)) })
	return out
}

// heldFor reports whether the problem's hold was carried over to a lot.
func (d *deciding) heldFor(p ProblemID, lot LotID) bool {
	for _, h := range d.s.Holds {
		if h.Problem == p && h.Scope == HoldLot && LotID(h.Ref) == lot {
			return true
		}
	}
	return false
}

// approved marks every signature after the first as an approval.
func (d *deciding) approved() {
	for i := range d.ev.Signed {
		d.ev.Signed[i].Meaning = MeantApproved
	}
}

// rework sends the lots over a rework route and back to a step of their own.
func (d *deciding) rework(b Dispose, p Problem, lots []Lot) *Refusal {
	route, ok := d.w.Book.Routes[b.Route]
	if !ok || !route.Rework || len(route.Steps) == 0 {
		return refuse("rework-route-unknown", "route", b.Route.String())
	}
	for _, l := range lots {
		if l.Place.Kind == AtSite {
			return refuse("rework-in-shop", "site", d.w.Book.Stations[StationID(l.Place.Ref)].Name)
		}
		main := d.w.Book.Routes[l.Route]
		if _, ok := main.Step(b.Rejoin); !ok {
			return refuse("rejoin-unknown", "route", l.Route.String(), "step", strconv.Itoa(b.Rejoin))
		}
		rejoin := b.Rejoin
		if l.Rework != nil { // the rework given up owed the steps from its own rejoining on
			rejoin = min(rejoin, l.Rework.Rejoin)
			d.emit(Effect{Rejoined: &LotOnly{Lot: l.ID, At: d.w.Now}})
		}
		d.judgedBySample(l.ID) // presented anew when it comes back
		for _, name := range b.Clear {
			d.notSo(l.ID, name)
		}
		if len(b.Overcoat) > 0 {
			d.emit(Effect{OvercoatAllowed: &OvercoatAllowed{l.ID, b.Overcoat, l.Overcoat}})
		}
		again := Rework{Route: b.Route, Rejoin: rejoin, Problem: p.ID}
		if l.ID == b.Unit {
			again.Change = b.Change
		}
		d.emit(Effect{SentToRework: &SentToRework{l.ID, again}})
	}
	return d.changeIn(b, p, lots, route)
}

// notSo takes away a fact found not to hold, on every face.
func (d *deciding) notSo(id LotID, name string) {
	for {
		l := d.s.Lots[id]
		var f Fact
		found := false
		for _, g := range l.Facts.List() {
			if g.Name == name {
				f, found = g, true
				break
			}
		}
		if !found {
			return
		}
		d.takeBack(id, f)
	}
}

// liftFor lifts every hold a problem placed.
func (d *deciding) liftFor(p ProblemID) {
	for _, id := range sortedHolds(d.s.Holds) {
		h := d.s.Holds[id]
		if h.Problem == p && h.Open() {
			h.Released, h.Releaser = d.w.Now, d.signer()
			d.emit(Effect{HoldPut: &h})
		}
	}
}

func sortedHolds(hs map[HoldID]Hold) []HoldID {
	var out []HoldID
	for id := range hs {
		out = append(out, id)
	}
	slices.Sort(out)
	return out
}

// placeHold stops what it names.
func (d *deciding) placeHold(b PlaceHold) *Refusal {
	if b.Reason == "" {
		return refuse("reason-missing")
	}
	if b.Ref == "" || !slices.Contains([]HoldScope{HoldLot, HoldPallet, HoldItem, HoldHeat, HoldBatch, HoldOrder, HoldGauge}, b.Scope) {
		return refuse("hold-scope-unknown", "scope", string(b.Scope))
	}
	if r := d.holdable(b); r != nil {
		return r
	}
	d.ev.Kind, d.ev.Ref, d.ev.Note = EvHeld, b.Ref, b.Reason
	h := Hold{ID: HoldID("H-" + string(d.c.ID)), Scope: b.Scope, Ref: b.Ref, Since: b.Since, Reason: b.Reason, By: d.signer(), At: d.at}
	d.emit(Effect{HoldPut: &h})
	return nil
}

// holdable refuses a hold on what does not exist: it would stop nothing, and
// whoever placed it would think it did. A heat is read off the metal and may
// come in later, so any is taken.
func (d *deciding) holdable(b PlaceHold) *Refusal {
	known := true
	switch b.Scope {
	case HoldPallet:
		_, r := d.pallet(PalletCode(b.Ref))
		return r
	case HoldLot:
		_, known = d.s.Lots[LotID(b.Ref)]
	case HoldItem:
		known = false
		for rev := range d.w.Book.Items {
			known = known || rev.Key() == b.Ref || string(rev.Item) == b.Ref
		}
	case HoldOrder:
		_, known = d.s.Orders[b.Ref]
	case HoldBatch:
		_, known = d.w.Book.Batches[b.Ref]
	case HoldGauge:
		_, known = d.w.Book.Instruments[b.Ref]
	}
	if !known {
		return refuse("nothing-to-hold", "scope", string(b.Scope), "ref", b.Ref)
	}
	return nil
}

// liftHold lets it go on. A problem's own hold goes only with its disposition.
func (d *deciding) liftHold(b LiftHold) *Refusal {
	h, ok := d.s.Holds[b.Hold]
	if !ok || !h.Open() {
		return refuse("hold-unknown", "hold", string(b.Hold))
	}
	if h.Problem != "" {
		return refuse("hold-of-problem", "problem", string(h.Problem))
	}
	if r := d.outOfTouch(Stage{Title: "release", ServerOnly: true}); r != nil {
		return r
	}
	if b.Reason == "" {
		return refuse("reason-missing")
	}
	if len(d.signers()) == 0 {
		return refuse("signature-missing", "stage", "release")
	}
	for i := range d.ev.Signed {
		d.ev.Signed[i].Meaning = MeantReleased
	}
	h.Released, h.Releaser = d.w.Now, d.signer()
	d.ev.Kind, d.ev.Ref, d.ev.Note = EvReleased, string(h.ID), b.Reason
	d.emit(Effect{HoldPut: &h})
	for _, id := range sortedHolds(d.s.Holds) {
		if f := d.s.Holds[id]; f.Follows == h.ID && f.Open() {
			f.Released, f.Releaser = h.Released, h.Releaser
			d.emit(Effect{HoldPut: &f})
		}
	}
	return nil
}
