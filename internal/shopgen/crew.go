package shopgen

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/sign"
)

const (
	// Pace is how long the simulated people take from one command to the next.
	Pace = 12 * time.Second
	// mostEvents is how long a record the simulated people add to: a month or
	// two of going on day and night. Then they rest.
	mostEvents = 250_000
	// openOrders is how many orders they have in hand beside the story's; when
	// one is gone the next comes in.
	ordersInHand = 9
	// roadLive is how long a truck is on its way in a demo that runs.
	roadLive = 25 * time.Minute
	// sulk is how long they leave alone what they were refused.
	sulk = 30 * time.Minute
)

// Crew are the simulated people of a running demo: they go on with the shop's
// work by the commands that people send, with badges, PINs and enrolled tablets
// of their own, one command a tick. They leave alone what a visitor has touched,
// the orders of the story, and the pallets that are put out to be tried.
type Crew struct {
	svc      *app.Service
	visitors *Visitors
	log      *slog.Logger
	rng      *rand.Rand
	zone     *time.Location
	tablets  map[core.StationID]app.Caller
	badges   map[core.PersonID]string
	sent     map[core.StationID]int64
	next     int // number of the next order to come in

	strangers map[string]bool      // pallets and units, as the record told
	sulking   map[string]time.Time // until when what was refused is left alone

	mu     sync.Mutex
	paused bool
	status Status
}

// Status is what the simulated people are doing.
type Status struct {
	Paused bool
	Full   bool      // the record has grown enough: they rest
	Done   int       // commands since the start
	At     time.Time // of the last one
	What   string    // "Tilda Rooke at weld bench 4: hand-over"
}

// NewCrew makes the people of a demo shop ready to go on. Nothing is sent yet.
func NewCrew(ctx context.Context, svc *app.Service, visitors *Visitors, log *slog.Logger) (*Crew, error) {
	book, err := svc.Book(ctx)
	if err != nil {
		return nil, err
	}
	c := &Crew{svc: svc, visitors: visitors, log: log, zone: book.Zone, rng: rand.New(rand.NewPCG(rand.Uint64(), rand.Uint64())),
		tablets: map[core.StationID]app.Caller{}, badges: map[core.PersonID]string{}, sent: map[core.StationID]int64{}, next: firstOrder,
		strangers: map[string]bool{}, sulking: map[string]time.Time{}}
	for id := range book.Stations {
		if c.tablets[id], err = c.tablet(ctx, id); err != nil {
			return nil, fmt.Errorf("the tablet of %s: %w", id, err)
		}
		visitors.enrolled(c.tablets[id].Tablet)
		c.sent[id] = svc.Clock().Unix() // above whatever it counted before
	}
	roster, err := Roster(ctx, svc)
	if err != nil {
		return nil, err
	}
	for _, h := range roster {
		if !h.Ended && !h.Left {
			c.badges[h.ID] = h.Badge
		}
	}
	visitors.mu.Lock()
	defer visitors.mu.Unlock()
	visitors.crew = c
	return c, nil
}

// tablet is the tablet that the making of the shop enrolled at a station; a new
// one where that was revoked.
func (c *Crew) tablet(ctx context.Context, at core.StationID) (app.Caller, error) {
	r := Random("tablet of " + string(at))
	if _, err := sign.NewOneTime(r); err != nil {
		return app.Caller{}, err
	}
	secret, err := sign.NewTabletSecret(r)
	if err != nil {
		return app.Caller{}, err
	}
	caller, err := c.svc.CallerOf(ctx, secret.Text(), "")
	if err != nil || caller.OnTablet() && caller.Station == at {
		return caller, err
	}
	one, err := c.svc.EnrolmentCode(ctx, app.Machine(), at)
	if err != nil {
		return app.Caller{}, err
	}
	if secret, _, err = c.svc.Enrol(ctx, one.Text()); err != nil {
		return app.Caller{}, err
	}
	return c.svc.CallerOf(ctx, secret.Text(), "")
}

// Run works at every tick until ctx ends. What goes wrong is logged, and tried
// again another time.
func (c *Crew) Run(ctx context.Context, ticks <-chan time.Time) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
		if _, err := c.Step(ctx); err != nil && ctx.Err() == nil {
			c.log.Warn("the simulated people", "error", err)
		}
	}
}

// Pause stops the people, or lets them go on.
func (c *Crew) Pause(stop bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.paused, c.status.Paused = stop, stop
}

// Status tells what they are doing.
func (c *Crew) Status() Status {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.status
}

// Step sends at most one command, and reports whether it did.
func (c *Crew) Step(ctx context.Context) (bool, error) {
	if c.Status().Paused {
		return false, nil
	}
	wall, err := c.svc.Store.Wall(ctx)
	if err != nil {
		return false, err
	}
	full := wall.Seq > mostEvents
	c.mu.Lock()
	c.status.Full = full
	c.mu.Unlock()
	if full {
		return false, nil
	}
	d, err := c.look(ctx)
	if err != nil {
		return false, err
	}
	return d.work()
}

// did keeps what was done last.
func (c *Crew) did(book *core.Book, by app.Caller, body core.Body, signers []core.PersonID) {
	what := strings.ReplaceAll(body.Kind(), "-", " ")
	if done, ok := body.(core.SignOff); ok {
		what = strings.ReplaceAll(string(done.Stage), "-", " ")
	}
	who := by.Name
	if len(signers) > 0 {
		who = app.PersonName(book, signers[0])
	}
	if at := book.Stations[by.Station].Name; who != "" && at != "" {
		who += ", " + at
	} else {
		who += at
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.status.Done++
	c.status.At, c.status.What = c.svc.Clock(), who+": "+what
}

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
	d := &day{hands: &hands{floor: f, flawed: 40, road: roadLive}, crew: c, cards: cards, shown: map[core.PalletCode]bool{}}
	for _, card := range cards {
		f.crowds[card.Station]++
		f.crowds[card.Bound]++
	}
	tries, err := Tries(ctx, c.svc, nil)
	if err != nil {
		return nil, err
	}
	for _, t := range tries {
		d.shown[t.Pallet] = true
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
		if did, err := d.forOrder(no, room); did || err != nil {
			return did, err
		}
	}
	if did, err := d.arrived(); did || err != nil || room {
		return did, err
	}
	for _, o := range d.orders { // a full floor on which nothing can move
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
