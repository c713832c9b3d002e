package live

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"tagalong/internal/app"
)

// Log is the record as a follower sees it; the store is one.
type Log interface {
	// Tip is the cursor behind everything that every reader can see now.
	Tip(ctx context.Context) (app.Cursor, error)
	// Since lists the changes after a cursor, and the cursor after them.
	Since(ctx context.Context, c app.Cursor, limit int) ([]app.Change, app.Cursor, error)
	// Upcoming is closed at the next wake-up.
	Upcoming() <-chan struct{}
}

// Options tune a hub; the zero value is good.
type Options struct {
	Poll    time.Duration    // longest time between two looks at the log; 0: 500 ms
	Gap     time.Duration    // shortest time between two renderings of a feed; 0: 100 ms
	Refresh time.Duration    // render this often though nothing changed, for what the clock changes; 0: 30 s
	GiveUp  time.Duration    // how long a watcher may take nothing; 0: 30 s
	Clock   func() time.Time // the application's clock, for Fresh; nil: time.Now
	Log     *slog.Logger     // nil: slog.Default()
}

func (o Options) withDefaults() Options {
	for _, d := range []struct {
		is  *time.Duration
		def time.Duration
	}{{&o.Poll, 500 * time.Millisecond}, {&o.Gap, 100 * time.Millisecond}, {&o.Refresh, 30 * time.Second}, {&o.GiveUp, 30 * time.Second}} {
		if *d.is == 0 {
			*d.is = d.def
		}
	}
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	return o
}

// Hub follows the log for all its feeds.
type Hub struct {
	log     Log
	options Options
	ctx     context.Context
	work    sync.WaitGroup

	mu       sync.Mutex
	feeds    []*Feed
	followed time.Time // when the log was last read with success
}

// Start makes a hub that follows until ctx ends.
func Start(ctx context.Context, log Log, o Options) *Hub {
	h := &Hub{log: log, options: o.withDefaults(), ctx: ctx}
	h.work.Go(h.follow)
	return h
}

// Wait returns once the context has ended and nothing of the hub runs any more.
func (h *Hub) Wait() { h.work.Wait() }

// A burst of wake-ups makes one look, and a wake-up may come before the
// change it tells of can be seen by every reader: so the next looks follow
// soon, then ever later.
const soonest = 10 * time.Millisecond

// manyChanges is how many changes are read at a time.
const manyChanges = 500

func (h *Hub) follow() {
	cursor, placed := app.Cursor{}, false
	failing := false
	for wait := soonest; h.ctx.Err() == nil; {
		upcoming := h.log.Upcoming()
		var changes []app.Change
		next, err := cursor, error(nil)
		if placed {
			changes, next, err = h.log.Since(h.ctx, cursor, manyChanges)
		} else {
			next, err = h.log.Tip(h.ctx)
		}
		if err != nil {
			if !failing && h.ctx.Err() == nil {
				h.options.Log.Warn("the log can't be followed; live pages say so and this is tried again", "error", err)
			}
			failing = true
			h.pause(nil, h.options.Poll)
			continue
		}
		if !placed {
			// Whatever was rendered before the place was found may be old.
			h.changed(nil)
		}
		cursor, placed, failing = next, true, false
		if len(changes) > 0 {
			h.changed(changes)
			wait = soonest
		}
		h.mark()
		if len(changes) == manyChanges {
			continue
		}
		h.pause(nil, soonest)
		if h.pause(upcoming, wait) {
			wait = soonest
		} else {
			wait = min(2*wait, h.options.Poll)
		}
	}
}

// pause waits for a wake-up, at most d, and reports whether one came.
func (h *Hub) pause(upcoming <-chan struct{}, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-upcoming:
		return true
	case <-timer.C:
	case <-h.ctx.Done():
	}
	return false
}

// mark notes that the log was read just now.
func (h *Hub) mark() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.followed = h.options.Clock()
}

// changed tells every feed that wants one of the changes; nil concerns all.
func (h *Hub) changed(changes []app.Change) {
	h.mu.Lock()
	feeds, followed := h.feeds, h.followed
	h.mu.Unlock()
	for _, f := range feeds {
		if changes == nil || f.concerned(changes) {
			f.outdate(followed)
		}
	}
}

func (h *Hub) lastFollowed() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.followed
}
