package core

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"
)

// Decide says what a command comes to in a world: events to record, or one
// refusal. It changes nothing it is given; the same world and command always
// come to the same outcome.
func Decide(w World, c Command) Outcome {
	d := newDeciding(w, c)
	r := d.decide()
	if r == nil {
		r = d.noSurplus()
	}
	if r == nil && d.broken != nil {
		r = refuse("record-disagrees", "detail", d.broken.Error())
	}
	if r != nil {
		return Outcome{Refusal: r}
	}
	d.ev.V, d.ev.Photos = eventKinds[d.ev.Kind], slices.Clone(PhotosOf(c.Body))
	return Outcome{Events: []Event{d.ev}, Notices: d.notices}
}

func (d *deciding) decide() *Refusal {
	switch b := d.c.Body.(type) {
	case ReceiveGoods:
		return d.receiveGoods(b)
	case Separate:
		return d.separate(b)
	case TakeIn:
		return d.takeIn(b)
	case HandOver:
		return d.handOver(b)
	case Begin:
		return d.begin(b)
	case SignOff:
		return d.signOff(b)
	case Divide:
		return d.divide(b)
	case Fuse:
		return d.fuse(b)
	case Gather:
		return d.gather(b)
	case PutBack:
		return d.putBack(b)
	case Assemble:
		return d.assemble(b)
	case ReportProblem:
		return d.reportProblem(b)
	case Dispose:
		return d.dispose(b)
	case PlaceHold:
		return d.placeHold(b)
	case LiftHold:
		return d.liftHold(b)
	case Settle:
		return d.settle(b)
	case Recount:
		return d.recount(b)
	case ChangeOwner:
		return d.changeOwner(b)
	case PrintTraveller:
		return d.printTraveller(b)
	case Load:
		return d.load(b)
	case Ship:
		return d.ship(b)
	case Weigh:
		return d.weigh(b)
	case TakeBack:
		return d.carriersBack(b)
	case ReceiveAtSite:
		return d.receiveAtSite(b)
	case WorkAtSite:
		return d.workAtSite(b)
	case TurnUp:
		return d.turnUpAtSite(b)
	case ReportSnag:
		return d.reportSnag(b)
	case PutRightSnag:
		return d.putRightSnag(b)
	case CloseSnag:
		return d.closeSnag(b)
	case JoinLate:
		return d.joinLate(b)
	case BeginUnit:
		return d.beginUnit(b)
	case TakeApart:
		return d.takeApart(b)
	case Correct:
		return d.correct(b)
	case Enlist:
		return d.enlist(b)
	}
	return refuse("unknown-command", "kind", d.c.Body.Kind())
}

// deciding is one decision under way: the world, a scratch state that the
// effects so far have been applied to, and the event being written.
type deciding struct {
	w       World
	c       Command
	at      time.Time // when it happened, never after now
	s       *State
	ev      Event
	inputs  []Batch // nil until read: a dry look does not know them
	notices []Refusal
	born    int   // lots made so far
	made    int   // pallets made so far
	broken  error // an effect the state would not take

	problems int // found so far

	letters     map[PalletCode]PalletCode // fresh pallets by the letter they were asked for with
	ontoPallets []PalletCode              // where good parts were put down
}

func newDeciding(w World, c Command) *deciding {
	at := c.Happened
	if b, ok := c.Body.(SignOff); ok && !b.OnPaper.IsZero() {
		at = b.OnPaper
	}
	if at.IsZero() || at.After(w.Now) {
		at = w.Now
	}
	s := *w.State
	s.Lots, s.Pallets, s.Builds = maps.Clone(s.Lots), maps.Clone(s.Pallets), maps.Clone(s.Builds)
	s.Consignments, s.Holds, s.Problems = maps.Clone(s.Consignments), maps.Clone(s.Holds), maps.Clone(s.Problems)
	s.Abrasives, s.Orders, s.Nests, s.Snags = maps.Clone(s.Abrasives), maps.Clone(s.Orders), maps.Clone(s.Nests), maps.Clone(s.Snags)
	return &deciding{w: w, c: c, at: at, s: &s, letters: map[PalletCode]PalletCode{}, ev: Event{
		ID: EventID(string(c.ID) + ".1"), Happened: at, Station: c.Station,
		Rules: w.Book.Table.Version, Signed: slices.Clone(c.Signers),
	}}
}

// emit adds effects to the event and applies them to the scratch state, so that
// whatever is decided next already sees them.
func (d *deciding) emit(effects ...Effect) {
	for _, f := range effects {
		d.ev.Effects = append(d.ev.Effects, f)
		if err := d.s.apply(d.ev, f); err != nil && d.broken == nil {
			d.broken = err
		}
		if f.Moved != nil {
			d.changedLoad(*f.Moved)
		}
	}
}

// stop lets a refusal pass where the person has answered its question, or where
// a concession sets its rule aside: a reason and two signatures, one of them
// quality's. An absolute rule is never set aside.
func (d *deciding) stop(r *Refusal) *Refusal {
	if r == nil {
		return nil
	}
	if r.Ask && slices.Contains(d.c.Confirm, r.Code) {
		return nil
	}
	if r.Absolute || r.Ask {
		return r
	}
	i := slices.IndexFunc(d.c.Waive, func(x Waiver) bool { return x.Code == r.Code })
	if i < 0 {
		return r
	}
	if d.c.Waive[i].Reason == "" {
		return refuse("reason-missing")
	}
	if !d.twoSigners(Quality) {
		return refuse("concession-needs-two", "code", r.Code)
	}
	d.ev.Waived = append(d.ev.Waived, d.c.Waive[i])
	return nil
}

// signers lists the different persons who signed.
func (d *deciding) signers() []PersonID {
	var out []PersonID
	for _, s := range d.c.Signers {
		out = union(out, s.Person)
	}
	return out
}

// twoSigners: two different persons signed, one of them in one of the roles.
func (d *deciding) twoSigners(roles ...Role) bool {
	ids := d.signers()
	return len(ids) >= 2 && slices.ContainsFunc(ids, func(p PersonID) bool { return d.w.Book.People[p].Is(roles...) })
}

// signer is the first person who signed.
func (d *deciding) signer() PersonID {
	if len(d.c.Signers) == 0 {
		return ""
	}
	return d.c.Signers[0].Person
}

func (d *deciding) station() Station { return d.w.Book.Stations[d.c.Station] }

// pallet finds a pallet by its code.
func (d *deciding) pallet(code PalletCode) (PalletRow, *Refusal) {
	p, ok := d.s.Pallets[code]
	if !ok {
		return PalletRow{}, refuse("pallet-unknown", "pallet", string(code))
	}
	return p, nil
}

// put records a new version of a pallet row.
func (d *deciding) put(p PalletRow) {
	p.Version++
	d.ev.Pallets = union(d.ev.Pallets, p.Code)
	d.emit(Effect{PalletPut: &p})
}

// lotOn finds a lot and checks that it rests on the pallet.
func (d *deciding) lotOn(id LotID, code PalletCode) (Lot, *Refusal) {
	l, ok := d.s.Lots[id]
	if !ok || l.Place != On(code) || l.Qty == 0 {
		return Lot{}, refuse("lot-not-here", "lot", string(id), "pallet", string(code)).of(id)
	}
	return l, nil
}

// freshPallet takes the next unused code for a new carrier, at the command's
// station.
func (d *deciding) freshPallet(kind CarrierKind) (PalletCode, *Refusal) {
	if d.made >= len(d.w.Fresh) {
		return "", refuse("too-many-pallets", "most", strconv.Itoa(len(d.w.Fresh)))
	}
	code := d.w.Fresh[d.made]
	d.made++
	d.put(PalletRow{Code: code, Kind: kind, Station: d.c.Station, Since: d.w.Now})
	return code, nil
}

// palletOrFresh is the pallet named, brought here, or a fresh one where none is.
func (d *deciding) palletOrFresh(code PalletCode, kind CarrierKind) (PalletCode, *Refusal) {
	if code == "" {
		return d.freshPallet(kind)
	}
	p, r := d.pallet(code)
	if r == nil {
		r = d.notGone(p)
	}
	if r == nil {
		r = d.broughtHere(p)
	}
	return code, r
}

// notGone refuses work on what has left the shop.
func (d *deciding) notGone(p PalletRow) *Refusal {
	if c, ok := d.s.Consignments[p.Consignment]; ok && !c.Gone.IsZero() {
		return refuse("pallet-gone", "pallet", string(p.Code), "consignment", string(c.Code))
	}
	return nil
}

// newLot is the id of the next lot this command makes.
func (d *deciding) newLot() LotID {
	d.born++
	return LotID(fmt.Sprintf("%s/%d", d.c.ID, d.born))
}

// bear makes a lot. It takes a copy: what an event says is not changed after.
func (d *deciding) bear(l Lot) { d.emit(Effect{LotBorn: &l}) }

// moveLot moves parts of a lot between two places.
func (d *deciding) moveLot(l Lot, from, to Place, qty int) {
	d.emit(Effect{Moved: &Move{Lot: l.ID, Item: l.Item, From: from, To: to, Qty: qty}})
}

// split takes qty parts off a lot into a lot of their own at a place; taking
// all of them just moves the lot. Facts, makers, heats and readings go with the
// parts by descent. It returns the lot that holds the qty.
func (d *deciding) split(l Lot, qty int, to Place) Lot {
	stopped := d.stopping(l)
	if qty == l.Qty {
		if l.Place != to {
			d.moveLot(l, l.Place, to, qty)
			d.follow(stopped, d.s.Lots[l.ID])
		}
		return d.s.Lots[l.ID]
	}
	child := d.descend(l, qty, l.Place, to)
	d.follow(stopped, child)
	return child
}

// descend makes a lot of its own of qty parts on their way from one place to
// another.
func (d *deciding) descend(l Lot, qty int, from, to Place) Lot {
	child := d.newLot()
	descent := Place{Descent, string(d.ev.ID)}
	d.emit(Effect{LotSplit: &LotSplit{Lot: child, Of: l.ID}})
	d.moveLot(l, from, descent, qty)
	d.moveLot(d.s.Lots[child], descent, to, qty)
	d.stopDescends(l, child)
	return d.s.Lots[child]
}

// stopDescends keeps parts from slipping out of an open problem by a split, or
// by a split of a split: a problem's hold on the lot goes over to its child.
func (d *deciding) stopDescends(l Lot, child LotID) {
	for _, id := range sortedHolds(d.s.Holds) {
		if h := d.s.Holds[id]; h.Open() && h.Problem != "" && h.Scope == HoldLot && LotID(h.Ref) == l.ID {
			h.ID, h.Ref, h.At = HoldID(string(h.Problem)+"-"+string(child)), string(child), d.w.Now
			d.emit(Effect{HoldPut: &h})
		}
	}
}

// counted notes how a lot's parts fared, for the event and its readers.
func (d *deciding) counted(l Lot, good, bad, notDone int) {
	d.ev.Lots = append(d.ev.Lots, LotCount{Lot: l.ID, Item: l.Item, Owner: l.Owner, Good: good, Bad: bad, NotDone: notDone})
}

// words gives a refusal the parameters its sentence wants about a lot.
func (d *deciding) about(r *Refusal, l Lot, qty int) *Refusal {
	rev := d.w.Book.Items[l.Item]
	r.Params["count"] = strconv.Itoa(qty)
	r.Params["name"] = rev.Name
	r.Params["item"] = string(l.Item.Item)
	if l.Place.Kind == OnPallet {
		r.Params["pallet"] = l.Place.Ref
	}
	if len(r.Lots) == 0 {
		r.Lots = []LotID{l.ID}
	}
	return r
}
