package shopgen

import (
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
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
	// ordersInHand is how many orders they have in hand beside the story's; when
	// one is gone the next comes in.
	ordersInHand = 9
	// roadLive is how long a truck is on its way in a demo that runs.
	roadLive = 25 * time.Minute
	// homeLive is how long after that carriers come back.
	homeLive = 3 * time.Hour
	// sulk is how long they leave alone what they were refused.
	sulk = 6 * time.Hour
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

	// shown are the pallets the desk's list named, and when it last did: a visitor
	// may still have the list before them in which one stood.
	shown map[core.PalletCode]time.Time

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

// shownFor is how long a pallet that the desk's list named is left alone.
const shownFor = 2 * time.Hour

// NewCrew makes the people of a demo shop ready to go on. Nothing is sent yet.
func NewCrew(ctx context.Context, svc *app.Service, visitors *Visitors, log *slog.Logger) (*Crew, error) {
	book, err := svc.Book(ctx)
	if err != nil {
		return nil, err
	}
	c := &Crew{svc: svc, visitors: visitors, log: log, zone: book.Zone, rng: rand.New(rand.NewPCG(rand.Uint64(), rand.Uint64())),
		tablets: map[core.StationID]app.Caller{}, badges: map[core.PersonID]string{}, sent: map[core.StationID]int64{}, next: firstOrder,
		strangers: map[string]bool{}, sulking: map[string]time.Time{}, shown: map[core.PalletCode]time.Time{}}
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
	caller, err := c.svc.CallerOf(ctx, app.Secrets{Tablet: secret.Text()})
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
	return c.svc.CallerOf(ctx, app.Secrets{Tablet: secret.Text()})
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
	if _, ok := body.(core.Enlist); ok {
		what = "an order comes in"
	}
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
