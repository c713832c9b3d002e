package core_test

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"tagalong/internal/core"
)

// books are a book-keeping beside the core: they know of a lot only what it was
// born as, and its moves. Counts, places, owners and the order equation are
// worked out from these, and the state has to agree.
type books struct {
	book   *core.Book
	lots   map[core.LotID]*entry
	became map[core.LotID]core.LotID // the lot that took all of another over
	orders map[string]core.Order
	nests  map[string]core.Nest
	holds  map[core.HoldID]*heldParts
	read   int // events read so far
}

// entry is one lot.
type entry struct {
	item  core.ItemRev
	owner core.Owner
	unit  core.BuildCode
	at    core.Place
	qty   int
	made  int // come from sources and other lots, less gone to other lots
	scrap int
	lost  int // gone to the unexplained, less found again
}

// heldParts are the lots that a hold has to stop: those it named when it was
// placed, and whatever descends from them or was made of them.
type heldParts struct {
	open  bool
	stops map[core.LotID]bool
}

func newBooks(b *core.Book) *books {
	return &books{book: b, lots: map[core.LotID]*entry{}, became: map[core.LotID]core.LotID{}, orders: map[string]core.Order{},
		nests: map[string]core.Nest{}, holds: map[core.HoldID]*heldParts{}}
}

func (k *books) fork() *books {
	c := *k
	c.lots, c.holds = map[core.LotID]*entry{}, map[core.HoldID]*heldParts{}
	for id, e := range k.lots {
		copied := *e
		c.lots[id] = &copied
	}
	for id, h := range k.holds {
		c.holds[id] = &heldParts{h.open, maps.Clone(h.stops)}
	}
	c.became, c.orders, c.nests = maps.Clone(k.became), maps.Clone(k.orders), maps.Clone(k.nests)
	return &c
}

// judge reads what is new of the log and holds the state against it.
func (k *books) judge(s *shop) error {
	for ; k.read < len(s.events); k.read++ {
		if err := k.post(s.events[k.read]); err != nil {
			return fmt.Errorf("%s (%s): %w", s.events[k.read].ID, s.events[k.read].Kind, err)
		}
	}
	return cmp.Or(k.agree(s.state), k.equation(), k.heldStays(s.state))
}

// changesOwner are the events that may take parts from one owner to another.
var changesOwner = []core.EventKind{core.EvOwnerChanged, core.EvGathered, core.EvJoinedLate, core.EvCorrected}

// post books one event.
func (k *books) post(e core.Event) error {
	type share struct {
		item  core.ItemRev
		owner core.Owner
	}
	descent, items := map[share]int{}, map[core.ItemRev]int{}
	var into, cut []core.LotID // lots parts have left for descent, and lots cut, in this event
	for _, f := range e.Effects {
		switch {
		case f.OrderPut != nil:
			k.orders[f.OrderPut.No] = *f.OrderPut
		case f.NestPut != nil:
			k.nests[f.NestPut.ID] = *f.NestPut
		case f.HoldPut != nil:
			k.hold(*f.HoldPut)
		case f.LotBorn != nil:
			l := f.LotBorn
			if k.lots[l.ID] != nil {
				return fmt.Errorf("lot %s is born twice", l.ID)
			}
			k.lots[l.ID] = &entry{item: l.Item, owner: l.Owner, unit: l.Unit, at: l.Place}
		case f.Moved != nil:
			m := *f.Moved
			if err := k.move(m); err != nil {
				return err
			}
			switch {
			case m.To.Kind == core.Descent:
				items[m.Item] -= m.Qty
				descent[share{m.Item, k.lots[m.Lot].owner}] -= m.Qty
				into = append(into, m.Lot)
			case m.From.Kind == core.Descent:
				items[m.Item] += m.Qty
				descent[share{m.Item, k.lots[m.Lot].owner}] += m.Qty
				k.descend(into, m.Lot)
				for _, id := range into {
					k.became[id] = m.Lot
				}
				delete(k.became, m.Lot)
				if items[m.Item] == 0 {
					into = nil
				}
			case m.From.Kind == core.FromNest:
				cut = append(cut, m.Lot)
			case m.To.Kind == core.CutUp:
				for _, part := range cut {
					k.descend([]core.LotID{m.Lot}, part)
				}
			case e.Kind == core.EvTakenApart && m.From.Kind == core.Inside:
				k.descend([]core.LotID{core.LotID(m.From.Ref)}, m.Lot)
			case m.To.Kind == core.Inside:
				k.descend([]core.LotID{m.Lot}, core.LotID(m.To.Ref))
			}
		}
	}
	for item, n := range items {
		if n != 0 {
			return fmt.Errorf("descent makes %d of %s from nothing", n, item)
		}
	}
	for s, n := range descent {
		if n != 0 && !slices.Contains(changesOwner, e.Kind) {
			return fmt.Errorf("%d of %s change hands, to or from %s, in an event of another kind", n, s.item, s.owner)
		}
	}
	return nil
}

// move books one move: nothing below zero, no lot in two places.
func (k *books) move(m core.Move) error {
	l := k.lots[m.Lot]
	switch {
	case l == nil:
		return fmt.Errorf("lot %s moves and was never born", m.Lot)
	case m.Qty < 1:
		return fmt.Errorf("lot %s moves %d parts", m.Lot, m.Qty)
	case m.Item != l.item:
		return fmt.Errorf("lot %s of %s moves as %s", m.Lot, l.item, m.Item)
	}
	if m.From.Kind.Holds() {
		if l.at != m.From {
			return fmt.Errorf("lot %s leaves %s and is at %s", m.Lot, m.From, l.at)
		}
		if l.qty -= m.Qty; l.qty < 0 {
			return fmt.Errorf("lot %s goes below zero", m.Lot)
		}
	} else {
		l.book(m.From.Kind, m.Qty)
	}
	if !m.To.Kind.Holds() {
		l.book(m.To.Kind, -m.Qty)
		return nil
	}
	if l.qty > 0 && l.at != m.To {
		return fmt.Errorf("lot %s is at %s and at %s", m.Lot, l.at, m.To)
	}
	l.at, l.qty = m.To, l.qty+m.Qty
	return nil
}

// book posts what comes from, or with a minus goes to, where nothing rests.
func (l *entry) book(kind core.PlaceKind, qty int) {
	switch kind {
	case core.Scrapped:
		l.scrap -= qty
	case core.Unexplained:
		l.lost -= qty
	default:
		l.made += qty
	}
}

// agree holds every lot of the state against its entry.
func (k *books) agree(s *core.State) error {
	if len(s.Lots) != len(k.lots) {
		return fmt.Errorf("%d lots in the state, %d were born", len(s.Lots), len(k.lots))
	}
	for id, l := range s.Lots {
		b := k.lots[id]
		switch {
		case b == nil:
			return fmt.Errorf("lot %s was never born", id)
		case l.Qty != b.qty:
			return fmt.Errorf("lot %s holds %d, its moves say %d", id, l.Qty, b.qty)
		case l.Qty > 0 && l.Place != b.at:
			return fmt.Errorf("lot %s is at %s, its moves say %s", id, l.Place, b.at)
		case l.Owner != b.owner || l.Item != b.item:
			return fmt.Errorf("lot %s is %s of %s and was born as %s of %s", id, l.Item, l.Owner, b.item, b.owner)
		case b.made != b.qty+b.scrap+b.lost:
			return fmt.Errorf("lot %s: %d made are not %d there, %d scrapped and %d missed", id, b.made, b.qty, b.scrap, b.lost)
		}
	}
	return nil
}

// demand is an item, at whatever revision, that an order line asks for.
type demand struct {
	owner core.Owner
	item  core.ItemID
}

// standing is what there is of it.
type standing struct{ asked, shipped, live, spoilt, made, gone, toCut, short int }

// equation works out, for every order line and exploded item, asked = shipped +
// live + to cut + short. Parts inside a unit are where the unit is, and its
// owner's. More than was asked for belongs to stock, not to the line.
func (k *books) equation() error {
	sums := k.sums()
	for _, d := range slices.SortedFunc(maps.Keys(sums), func(a, b demand) int {
		return cmp.Or(cmp.Compare(a.owner.String(), b.owner.String()), cmp.Compare(a.item, b.item))
	}) {
		x := sums[d]
		switch {
		case x.shipped+x.live+x.spoilt != x.made-x.gone:
			return fmt.Errorf("%s %s: %d shipped, %d live and %d inside what is gone are not the %d made less %d gone", d.owner, d.item, x.shipped, x.live, x.spoilt, x.made, x.gone)
		case x.short < 0:
			return fmt.Errorf("%s %s: %d asked for, %d shipped and %d live; a surplus belongs to stock", d.owner, d.item, x.asked, x.shipped, x.live)
		case x.asked != x.shipped+x.live+x.toCut+x.short:
			return fmt.Errorf("%s %s does not add up: %+v", d.owner, d.item, x)
		}
	}
	return nil
}

func (k *books) sums() map[demand]standing {
	out := map[demand]standing{}
	add := func(o core.Owner, item core.ItemID, change func(*standing)) {
		if o.Stock() {
			return
		}
		x := out[demand{o, item}]
		change(&x)
		out[demand{o, item}] = x
	}
	for _, o := range k.orders {
		for _, l := range o.Lines {
			k.explode(l.Item, l.Qty, func(item core.ItemID, n int) { add(l.Owner, item, func(x *standing) { x.asked += n }) })
		}
	}
	for _, l := range k.lots {
		outer := k.outermost(l)
		add(outer.owner, l.item.Item, func(x *standing) {
			switch {
			case outer.qty == 0:
				x.spoilt += l.qty
			case outer.at.Kind == core.InConsignment || outer.at.Kind == core.AtSite:
				x.shipped += l.qty
			case outer.at.Kind == core.OnPallet || outer.at.Kind == core.InBuild:
				x.live += l.qty
			default:
				x.spoilt += l.qty
			}
			x.made += l.made
			x.gone += l.scrap + l.lost
		})
	}
	for _, n := range k.nests {
		for _, p := range n.Parts {
			if !n.Separated {
				add(p.Owner, p.Item.Item, func(x *standing) { x.toCut += p.Qty })
			}
		}
	}
	for d, x := range out {
		if x.asked == 0 { // cut for somebody who never asked: sheets and the like
			delete(out, d)
			continue
		}
		need := x.asked - x.shipped - x.live
		x.toCut = min(x.toCut, max(need, 0)) // what is nested beyond the need becomes stock when it is cut
		x.short = need - x.toCut
		out[d] = x
	}
	return out
}

// explode calls for an item and everything inside it.
func (k *books) explode(item core.ItemRev, qty int, f func(core.ItemID, int)) {
	f(item.Item, qty)
	for _, c := range k.book.Items[item].Bill {
		k.explode(c.Item, c.Qty*qty, f)
	}
}

// outermost is the unit a lot is part of, as the lot that unit is now; or the
// lot itself.
func (k *books) outermost(l *entry) *entry {
	for l.qty > 0 && l.at.Kind == core.Inside {
		unit := k.lots[core.LotID(l.at.Ref)]
		for id := l.at.Ref; unit.qty == 0 && k.became[core.LotID(id)] != ""; unit = k.lots[core.LotID(id)] {
			id = string(k.became[core.LotID(id)])
		}
		l = unit
	}
	return l
}

// hold books a hold placed or lifted; which lots it named is found out when the
// state is next looked at.
func (k *books) hold(h core.Hold) {
	if k.holds[h.ID] == nil {
		k.holds[h.ID] = &heldParts{}
	}
	k.holds[h.ID].open = h.Open()
}

// descend hands every hold on from the lots parts came from to the one they
// went to.
func (k *books) descend(from []core.LotID, to core.LotID) {
	for _, h := range k.holds {
		if h.open && slices.ContainsFunc(from, func(id core.LotID) bool { return h.stops[id] }) {
			h.stops[to] = true
		}
	}
}

// heldStays: no part slips out of a hold, by whatever splits and moves, until
// the hold is lifted.
func (k *books) heldStays(s *core.State) error {
	for id, h := range k.holds {
		if !h.open {
			continue
		}
		if h.stops == nil {
			h.stops = map[core.LotID]bool{}
			for _, l := range s.Lots {
				only := core.State{Holds: map[core.HoldID]core.Hold{id: s.Holds[id]}}
				if _, held := core.HeldBy(&only, l); held && l.Qty > 0 {
					h.stops[l.ID] = true
				}
			}
		}
		for lot := range h.stops {
			if l := s.Lots[lot]; l.Live() {
				if _, held := core.HeldBy(s, l); !held {
					return fmt.Errorf("lot %s slipped out of hold %s", lot, id)
				}
			}
		}
	}
	return nil
}
