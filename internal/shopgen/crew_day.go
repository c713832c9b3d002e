package shopgen

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// day is the shop as the people find it at one tick.
type day struct {
	*hands
	crew   *Crew
	cards  []app.PalletCard
	orders []app.OrderCard          // that the story does not tell of, the first promised first
	shown  map[core.PalletCode]bool // put out to be tried
}

// look reads what the people need to choose what to do.
func (c *Crew) look(ctx context.Context) (*day, error) {
	book, err := c.svc.Book(ctx)
	if err != nil {
		return nil, err
	}
	cards, err := c.svc.Store.Pallets(ctx, 500)
	if err != nil {
		return nil, err
	}
	docket, err := c.svc.Store.Docket(ctx, 100)
	if err != nil {
		return nil, err
	}
	f := &floor{ctx: ctx, svc: c.svc, clock: liveClock(c.svc.Clock), book: book, state: core.NewState(), zone: c.zone, rng: c.rng,
		badges: c.badges, tablets: c.tablets, sent: c.sent, last: c.svc.Clock(), crowds: map[core.StationID]int{}}
	d := &day{hands: &hands{floor: f, flawed: 40, road: roadLive, home: homeLive}, crew: c, cards: cards, shown: map[core.PalletCode]bool{}}
	for _, card := range cards {
		f.crowds[card.Station]++
		f.crowds[card.Bound]++
	}
	tries, err := Tries(ctx, c.svc, nil)
	if err != nil {
		return nil, err
	}
	now := c.svc.Clock()
	for _, t := range tries {
		if t.Pallet != "" {
			c.shown[t.Pallet] = now
		}
	}
	for code, at := range c.shown {
		if now.Sub(at) < shownFor {
			d.shown[code] = true
		} else {
			delete(c.shown, code)
		}
	}
	for _, o := range docket {
		if !ofStory(o.No) {
			d.orders = append(d.orders, o)
		}
	}
	d.hands.apart, d.hands.strange = d.leaves, d.strangers
	f.told = func(by app.Caller, body core.Body, signers []core.PersonID) { c.did(book, by, body, signers) }
	return d, nil
}

// work does one thing for one order, those promised first more often; else
// receives a truck, else brings a new order in.
func (d *day) work() (bool, error) {
	if len(d.orders) < ordersInHand {
		if err := d.orderIn(); err != nil {
			return false, err
		}
		return true, nil
	}
	if d.rng.IntN(10) == 0 {
		if did, err := d.arrived(); did || err != nil {
			return did, err
		}
	}
	room := d.room()
	for _, no := range d.byUrgency() {
		first := slices.IndexFunc(d.orders, func(o app.OrderCard) bool { return o.No == no }) < 2*cutAtOnce
		if did, err := d.forOrder(no, room && first); did || err != nil {
			return did, err
		}
	}
	if did, err := d.arrived(); did || err != nil {
		return did, err
	}
	for _, o := range d.orders { // nothing can move: it waits for parts not yet cut
		if did, err := d.forOrder(o.No, true); did || err != nil {
			return did, err
		}
	}
	return false, nil
}

// byUrgency lists the orders: those with a pallet between pretreatment and coat,
// then the others by chance, weighted towards those promised first.
func (d *day) byUrgency() []string {
	var rest, out []string
	for _, o := range d.orders {
		rest = append(rest, o.No)
	}
	for _, card := range d.cards {
		for _, no := range card.Orders {
			coats := slices.Contains(card.Stages, "coat") || slices.Contains(card.Stages, "mask")
			if i := slices.Index(rest, no); coats && i >= 0 {
				out, rest = append(out, no), slices.Delete(rest, i, i+1)
			}
		}
	}
	for len(rest) > 0 {
		i := min(int(d.rng.ExpFloat64()*float64(len(rest))/2), len(rest)-1)
		out, rest = append(out, rest[i]), slices.Delete(rest, i, i+1)
	}
	return out
}

// room reports whether another sheet may be cut: the floor is not full.
func (d *day) room() bool {
	standing := 0
	for _, card := range d.cards {
		if card.Kind != core.SheetCarrier && len(card.Orders) > 0 && !slices.ContainsFunc(card.Orders, ofStory) && !d.crew.visitors.Touched(card.Code) {
			standing++
		}
	}
	return standing < crowded
}

// forOrder does one thing for an order.
func (d *day) forOrder(no string, cut bool) (bool, error) {
	w, err := d.svc.Store.LoadOrder(d.ctx, no)
	if err != nil {
		return false, err
	}
	d.state, d.seen, d.cutting = w.State, nil, nil
	if cut {
		d.cutting = []string{no}
	}
	if len(d.nests(no)) > 0 {
		if err := d.seeSheets(); err != nil {
			return false, err
		}
	}
	deed, there := d.choose(no)
	if !there || d.sulks(deed.about) {
		return false, nil
	}
	return d.try(deed)
}

// try does a deed. What is refused is left alone for a while.
func (d *day) try(x deed) (bool, error) {
	err := x.do()
	var no *app.Refused
	var gone noBatch
	switch {
	case err == nil:
		return true, nil
	case errors.As(err, &gone):
		return true, d.renew(gone)
	case errors.As(err, &no), errors.Is(err, errVisited):
		d.crew.sulking[x.about] = d.clock.Now().Add(sulk)
		d.crew.log.Debug("the simulated people", "about", x.about, "error", err)
		return true, nil
	}
	return false, err
}

func (d *day) sulks(about string) bool {
	until, there := d.crew.sulking[about]
	if there && d.clock.Now().After(until) {
		delete(d.crew.sulking, about)
		return false
	}
	return there
}

// seeSheets reads the sheets the people took in themselves.
func (d *day) seeSheets() error {
	open, err := d.svc.Store.OpenSheets(d.ctx)
	if err != nil {
		return err
	}
	var codes []core.PalletCode
	for _, s := range open {
		if strings.HasPrefix(s.Label, received) && !slices.Contains(codes, s.Code) {
			codes = append(codes, s.Code)
		}
	}
	if len(codes) == 0 {
		return nil
	}
	w, err := d.svc.World(d.ctx, core.Names{Pallets: codes}, "")
	if err != nil {
		return err
	}
	maps.Copy(d.state.Pallets, w.State.Pallets)
	maps.Copy(d.state.Lots, w.State.Lots)
	d.seen = nil
	return nil
}

// arrived receives a truck that has been on the road long enough.
func (d *day) arrived() (bool, error) {
	all, err := d.svc.Store.Consignments(d.ctx, 50)
	if err != nil {
		return false, err
	}
	for _, c := range all {
		if c.Gone.IsZero() || !c.Received.IsZero() || d.sulks(string(c.Code)) {
			continue
		}
		if x := d.truckDeed(c); x.do != nil {
			return d.try(x)
		}
	}
	all = slices.DeleteFunc(all, func(c core.Consignment) bool { return d.sulks(string(c.Code)) })
	if x := d.homeDeed(all); x.do != nil {
		return d.try(x)
	}
	return false, nil
}

// leaves reports whether a pallet is left alone: it is put out to be tried, a
// visitor touched it, or parts of several orders lie on it.
func (d *day) leaves(code core.PalletCode) bool {
	if d.shown[code] || d.crew.visitors.Touched(code) || d.sulks(string(code)) {
		return true
	}
	lots := d.lots(code)
	for _, l := range lots {
		if ofStory(l.Owner.Order) || l.Owner.Order != lots[0].Owner.Order {
			return true
		}
	}
	return d.remembered(string(code), app.HistoryQuery{Pallet: code, Limit: 500}, func(app.Recorded) bool { return true })
}

// strangers reports whether a visitor gathered for a unit.
func (d *day) strangers(b core.Build) bool {
	return d.sulks(string(b.Code)) || d.remembered(string(b.Code), app.HistoryQuery{Order: b.Owner.Order, Limit: 2000},
		func(e app.Recorded) bool { return e.Kind == core.EvGathered && e.Ref == string(b.Code) })
}

// remembered asks the record once whether a visitor did something, and keeps
// the answer: what visitors do from now on, [Visitors] sees.
func (d *day) remembered(key string, q app.HistoryQuery, about func(app.Recorded) bool) bool {
	if was, there := d.crew.strangers[key]; there {
		return was
	}
	events, err := d.svc.Store.History(d.ctx, q)
	if err != nil {
		return true // leave it alone this time
	}
	found := slices.ContainsFunc(events, func(e app.Recorded) bool { return about(e) && d.crew.visitors.Stranger(e) })
	d.crew.strangers[key] = found
	return found
}
