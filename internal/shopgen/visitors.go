package shopgen

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
)

// Undisturbed is how long a pallet is a visitor's own after what they last did
// to it: nobody else who tries the demo out gets at it meanwhile.
const Undisturbed = 5 * time.Minute

// Visitors knows who tries the demo out and what they touched. The simulated
// people leave that alone; two visitors don't work on one pallet at once. What
// it knows is kept in memory: after a restart the record itself still tells
// which pallets strangers' tablets touched.
type Visitors struct {
	now func() time.Time

	mu      sync.Mutex
	own     map[core.TabletID]bool   // tablets of the simulated people
	browser map[core.TabletID]string // visitors' tablets, by the browser they are in
	visits  map[core.PalletCode]visit
	crew    *Crew
}

// visit is the last that a visitor did to a pallet.
type visit struct {
	who  string
	at   time.Time
	left bool // handed on: the next one may take it in
}

// NewVisitors knows nobody yet.
func NewVisitors(now func() time.Time) *Visitors {
	return &Visitors{now: now, own: map[core.TabletID]bool{}, browser: map[core.TabletID]string{}, visits: map[core.PalletCode]visit{}}
}

// Met says in whose browser a tablet is.
func (v *Visitors) Met(t core.TabletID, browser string) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.browser[t] = browser
}

// Visit says that a visitor is going to try something out with a pallet.
func (v *Visitors) Visit(browser string, code core.PalletCode) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if x, there := v.visits[code]; !there || !v.busy(x, browser) {
		v.visits[code] = visit{who: browser, at: v.now()}
	}
}

// Touched reports whether any visitor has ever done something to a pallet since
// the start.
func (v *Visitors) Touched(code core.PalletCode) bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	_, there := v.visits[code]
	return there
}

// Busy reports whether a visitor other than the one in this browser is at work
// on a pallet.
func (v *Visitors) Busy(code core.PalletCode, browser string) bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	x, there := v.visits[code]
	return there && v.busy(x, browser)
}

func (v *Visitors) busy(x visit, browser string) bool {
	return x.who != browser && !x.left && v.now().Sub(x.at) < Undisturbed
}

// Stranger reports whether a recorded event was done by a visitor: on a tablet
// that is not the simulated people's, or at a desk. Sheets and goods that an
// import brought were received at no tablet, and are nobody's visit.
func (v *Visitors) Stranger(e app.Recorded) bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	if e.Device.Tablet == "" {
		return e.Kind != core.EvGoodsReceived && e.Kind != core.EvImported
	}
	return !v.own[e.Device.Tablet]
}

// enrolled says that a tablet is the simulated people's.
func (v *Visitors) enrolled(t core.TabletID) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.own[t] = true
}

// VisitorsOf is who minds a store; nil where nobody does.
func VisitorsOf(s app.Store) *Visitors {
	if m, ok := s.(minded); ok {
		return m.visitors
	}
	return nil
}

// CrewOf is the people who work by themselves over a store; nil where none do.
func CrewOf(s app.Store) *Crew {
	v := VisitorsOf(s)
	if v == nil {
		return nil
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.crew
}

// Store is a store that minds the visitors.
func (v *Visitors) Store(s app.Store) app.Store { return minded{s, v} }

type minded struct {
	app.Store
	visitors *Visitors
}

// Execute passes a command on, unless it is about a pallet that somebody else
// is trying out.
func (m minded) Execute(ctx context.Context, c core.Command, sha [32]byte, decide func(core.World) core.Outcome) (app.Answer, error) {
	names := c.Body.Names()
	pallets := names.Pallets
	if lots := lotsOf(names, c.Body); len(lots) > 0 {
		found, err := m.Lots(ctx, lots)
		if err != nil {
			return app.Answer{}, err
		}
		for _, l := range found {
			if l.Place.Kind == core.OnPallet {
				pallets = append(slices.Clone(pallets), core.PalletCode(l.Place.Ref))
			}
		}
	}
	if err := m.visitors.admit(c, pallets); err != nil {
		return app.Answer{}, err
	}
	answer, err := m.Store.Execute(ctx, c, sha, decide)
	if err == nil {
		m.visitors.done(c, answer)
	}
	return answer, err
}

// lotsOf lists the lots a command picks, wherever they lie.
func lotsOf(n core.Names, b core.Body) []core.LotID {
	lots := slices.Clone(n.Lots)
	if g, ok := b.(core.Gather); ok {
		for _, p := range g.Picks {
			lots = append(lots, p.Lot)
		}
	}
	return lots
}

// errVisited: one of the simulated people came upon a visitor's pallet.
var errVisited = fmt.Errorf("a visitor of the demo has this pallet")

// admit lets a command through, and notes whose the pallets are now.
func (v *Visitors) admit(c core.Command, pallets []core.PalletCode) error {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.own[c.Device.Tablet] {
		if slices.ContainsFunc(pallets, func(p core.PalletCode) bool { _, there := v.visits[p]; return there }) {
			return errVisited
		}
		return nil
	}
	who := v.who(c)
	for _, p := range pallets {
		if x, there := v.visits[p]; there && v.busy(x, who) {
			return app.Refuse("demo-other-visitor", "pallet", code.Code(p).Spaced(), "wait", minutes(Undisturbed-v.now().Sub(x.at)))
		}
	}
	for _, p := range pallets {
		v.visits[p] = visit{who: who, at: v.now()}
	}
	return nil
}

// done notes the pallets that a visitor's command came to.
func (v *Visitors) done(c core.Command, a app.Answer) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.own[c.Device.Tablet] || a.Refusal != nil {
		return
	}
	for _, e := range a.Events {
		for _, p := range e.Pallets {
			v.visits[p] = visit{who: v.who(c), at: v.now(), left: handsOn(c.Body)}
		}
	}
}

// handsOn reports whether a command sends a pallet on to somebody else.
func handsOn(b core.Body) bool {
	switch b := b.(type) {
	case core.HandOver, core.Ship:
		return true
	case core.SignOff:
		return b.HandTo != ""
	}
	return false
}

// who is the visitor behind a command: a browser, else a tablet or a desk.
func (v *Visitors) who(c core.Command) string {
	if b, there := v.browser[c.Device.Tablet]; there {
		return b
	}
	if c.Device.Tablet != "" {
		return "tablet " + string(c.Device.Tablet)
	}
	if len(c.Signers) > 0 {
		return "desk of " + string(c.Signers[0].Person)
	}
	return "a desk"
}

// minutes says a short wait in words.
func minutes(d time.Duration) string {
	if d <= time.Minute {
		return "a minute"
	}
	return fmt.Sprintf("%d minutes", int((d+time.Minute-1)/time.Minute))
}
