package live

import (
	"bytes"
	"context"
	"slices"
	"sync"
	"time"

	"tagalong/internal/app"
)

// Feed hands the latest rendering of one thing to everybody who watches.
type Feed struct {
	hub    *Hub
	render func(ctx context.Context) ([]byte, error)
	wants  func(app.Change) bool
	due    chan struct{} // holds one while there is something to render

	mu       sync.Mutex
	watchers []*watcher
	last     []byte
	changes  uint64    // changes told of so far
	rendered uint64    // as many of them are in last
	good     time.Time // where last lacks some: until when it was known to be good
}

// outdated: a change has been told of that the last rendering lacks.
func (f *Feed) outdated() bool { return f.changes > f.rendered }

// watcher holds at most one rendering that was not taken yet.
type watcher struct {
	c       chan []byte
	served  bool
	waiting time.Time // since when it has taken nothing; zero: it keeps up
}

// Feed adds a feed. render is called once for each change that wants accepts
// (nil: every one) while somebody watches; never twice at a time.
func (h *Hub) Feed(render func(ctx context.Context) ([]byte, error), wants func(app.Change) bool) *Feed {
	f := &Feed{hub: h, render: render, wants: wants, due: make(chan struct{}, 1), changes: 1}
	h.mu.Lock()
	h.feeds = append(slices.Clone(h.feeds), f)
	h.mu.Unlock()
	h.work.Go(f.run)
	return f
}

// Watch gives the latest rendering at once and each newer one after it; a slow
// reader misses some, never the last. The channel is closed when ctx ends, the
// hub ends, or the reader is given up.
func (f *Feed) Watch(ctx context.Context) <-chan []byte {
	w := &watcher{c: make(chan []byte, 1)}
	f.mu.Lock()
	f.watchers = append(f.watchers, w)
	if f.outdated() || f.last == nil {
		f.wake()
	} else {
		f.hand(w, f.last)
	}
	f.mu.Unlock()
	context.AfterFunc(ctx, func() { f.drop(w) })
	context.AfterFunc(f.hub.ctx, func() { f.drop(w) })
	return w.c
}

// Fresh is when the latest rendering was last known to say what is recorded.
func (f *Feed) Fresh() time.Time {
	followed := f.hub.lastFollowed()
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.outdated() {
		return f.good
	}
	return followed
}

// Watchers is how many watch now.
func (f *Feed) Watchers() int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return len(f.watchers)
}

func (f *Feed) concerned(changes []app.Change) bool {
	return f.wants == nil || slices.ContainsFunc(changes, f.wants)
}

// outdate says that the last rendering was good until a moment and may be no
// longer.
func (f *Feed) outdate(good time.Time) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if !f.outdated() {
		f.good = good
	}
	f.changes++
	f.wake()
}

// wake makes run render; it holds the lock or doesn't mind.
func (f *Feed) wake() {
	select {
	case f.due <- struct{}{}:
	default:
	}
}

func (f *Feed) run() {
	refresh := time.NewTicker(f.hub.options.Refresh)
	defer refresh.Stop()
	failing := false
	for {
		select {
		case <-f.hub.ctx.Done():
			return
		case <-f.due:
		case <-refresh.C:
		}
		if f.Watchers() == 0 {
			f.idle()
			continue
		}
		if err := f.renew(); err != nil && f.hub.ctx.Err() == nil {
			if !failing {
				f.hub.options.Log.Warn("a live page can't be drawn; it says so and this is tried again", "error", err)
			}
			failing = true
			f.wake()
			f.hub.pause(nil, f.hub.options.Poll)
			continue
		}
		failing = false
		f.hub.pause(nil, f.hub.options.Gap)
	}
}

// idle forgets the last rendering: nobody keeps it up to date.
func (f *Feed) idle() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if len(f.watchers) == 0 {
		f.last, f.good = nil, time.Time{}
		f.changes++
	}
}

// renew renders and hands out. A change told of meanwhile makes it due again.
func (f *Feed) renew() error {
	f.mu.Lock()
	changes := f.changes
	f.mu.Unlock()
	begun := f.hub.options.Clock()
	body, err := f.render(f.hub.ctx)
	if err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.rendered, f.good = changes, begun
	changed := !bytes.Equal(body, f.last)
	f.last = body
	for _, w := range slices.Clone(f.watchers) {
		if changed || !w.served {
			f.hand(w, body)
		}
	}
	return nil
}

// hand gives a watcher a rendering, in place of one it hasn't taken, and gives
// up who takes none for long. It holds the lock, so nobody else sends.
func (f *Feed) hand(w *watcher, body []byte) {
	select {
	case <-w.c:
		if w.waiting.IsZero() {
			w.waiting = time.Now()
		}
	default:
		w.waiting = time.Time{}
	}
	w.c <- body
	w.served = true
	if !w.waiting.IsZero() && time.Since(w.waiting) > f.hub.options.GiveUp {
		f.remove(w)
	}
}

func (f *Feed) drop(w *watcher) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.remove(w)
}

// remove ends a watcher once; it holds the lock.
func (f *Feed) remove(w *watcher) {
	i := slices.Index(f.watchers, w)
	if i < 0 {
		return
	}
	f.watchers = slices.Delete(f.watchers, i, i+1)
	close(w.c)
}
