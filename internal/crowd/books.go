package crowd

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"tagalong/internal/core"
)

// Books are a book-keeping beside the core: they know of a lot only what it was
// born as, and its moves. Counts, places, owners and the order equation are
// worked out from these, and the state has to agree.
type Books struct {
	book   *core.Book
	lots   map[core.LotID]*entry
	became map[core.LotID]core.LotID // the lot that took all of another over
	orders map[string]core.Order
	nests  map[string]core.Nest
	holds  map[core.HoldID]*heldParts
	masses map[standsOn]float64          // kg
	gone   map[core.ConsignmentCode]bool // trucks
	owed   map[core.ConsignmentCode]map[core.ReturnKind]int
	prints map[core.PalletCode]map[core.LotID]int // what was there at the newest
	snags  map[core.SnagID]core.Snag
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

func NewBooks(b *core.Book) *Books {
	return &Books{book: b, lots: map[core.LotID]*entry{}, became: map[core.LotID]core.LotID{}, orders: map[string]core.Order{},
		nests: map[string]core.Nest{}, holds: map[core.HoldID]*heldParts{}, masses: map[standsOn]float64{}, gone: map[core.ConsignmentCode]bool{},
		owed: map[core.ConsignmentCode]map[core.ReturnKind]int{}, prints: map[core.PalletCode]map[core.LotID]int{}, snags: map[core.SnagID]core.Snag{}}
}

func (k *Books) Fork() *Books {
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
	c.masses, c.gone, c.prints, c.snags = maps.Clone(k.masses), maps.Clone(k.gone), maps.Clone(k.prints), maps.Clone(k.snags)
	c.owed = map[core.ConsignmentCode]map[core.ReturnKind]int{}
	for code, owed := range k.owed {
		c.owed[code] = maps.Clone(owed)
	}
	return &c
}

// Post books an event.
func (k *Books) Post(e core.Event) error {
	k.weighing(e)
	if err := cmp.Or(k.post(e), k.away(e)); err != nil {
		return fmt.Errorf("%s (%s): %w", e.ID, e.Kind, err)
	}
	k.printing(e)
	return nil
}

// Judge holds a state against the books, once every event behind it is booked:
// every lot's count, place and owner, every order line, what carriers weigh, what
// travellers are worth, carriers away, snags, every hold. A hold is to be judged
// before the next event: only then is it known what it stopped.
func (k *Books) Judge(s *core.State) error {
	return cmp.Or(k.Agree(s), k.equation(), k.Weighed(s), k.Printed(s), k.Owed(s), k.Snagged(s), k.Held(s))
}

// changesOwner are the events that may take parts from one owner to another.
var changesOwner = []core.EventKind{core.EvOwnerChanged, core.EvGathered, core.EvJoinedLate, core.EvTakenApart, core.EvReceived, core.EvTurnedUp, core.EvCorrected}

// post books one event.
func (k *Books) post(e core.Event) error {
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
		case f.SnagPut != nil:
			if err := k.snag(e, *f.SnagPut); err != nil {
				return err
			}
		case f.LotBorn != nil:
			l := f.LotBorn
			if k.lots[l.ID] != nil {
				return fmt.Errorf("lot %s is born twice", l.ID)
			}
			k.lots[l.ID] = &entry{item: l.Item, owner: l.Owner, unit: l.Unit, at: l.Place}
		case f.LotSplit != nil:
			of := k.lots[f.LotSplit.Of]
			if of == nil || k.lots[f.LotSplit.Lot] != nil {
				return fmt.Errorf("lot %s is split off %s: one is there already, or the other isn't", f.LotSplit.Lot, f.LotSplit.Of)
			}
			k.lots[f.LotSplit.Lot] = &entry{item: of.item, owner: of.owner, unit: of.unit, at: of.at}
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
func (k *Books) move(m core.Move) error {
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

// Agree holds every lot of the state against its entry.
func (k *Books) Agree(s *core.State) error {
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
