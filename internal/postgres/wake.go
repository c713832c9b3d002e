package postgres

import (
	"context"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
)

// channel carries no content: it only says that the log has grown.
const channel = "tagalong_log"

// coalesce is how long wake-ups for other servers are gathered into one. A
// NOTIFY takes a lock of the whole cluster until its commit is on disk, so
// commands never send one themselves.
const coalesce = 20 * time.Millisecond

// wakes tells everybody in this process who waits that the log may have grown.
type wakes struct {
	mu    sync.Mutex
	next  chan struct{} // closed at the next wake-up
	grown chan struct{} // tells notifyOthers; holds at most one
}

func (w *wakes) init() { w.next, w.grown = make(chan struct{}), make(chan struct{}, 1) }

// upcoming is closed at the next wake-up.
func (w *wakes) upcoming() <-chan struct{} {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.next
}

// wake is called when the log may have grown.
func (w *wakes) wake() {
	w.mu.Lock()
	defer w.mu.Unlock()
	close(w.next)
	w.next = make(chan struct{})
}

// committed is called after a commit of this process.
func (w *wakes) committed() {
	w.wake()
	select {
	case w.grown <- struct{}{}:
	default: // one is due already
	}
}

// Upcoming returns a channel that is closed at the next wake-up. Take it before
// reading the log, so that nothing recorded in between is slept through.
func (s *Store) Upcoming() <-chan struct{} { return s.wakes.upcoming() }

// Wait returns nil after the next wake-up, or the context's error. A wake-up
// may be lost with a connection, so wait no longer than half a second.
func (s *Store) Wait(ctx context.Context) error {
	select {
	case <-s.wakes.upcoming():
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// notifyOthers wakes the other servers on the database, at most every 20 ms.
func (s *Store) notifyOthers(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.wakes.grown:
		}
		if !sleep(ctx, coalesce) {
			return
		}
		if _, err := s.pool.Exec(ctx, "SELECT pg_notify($1, '')", channel); err != nil && ctx.Err() == nil {
			s.log.Warn("other servers were not woken; they look by themselves", "error", err)
		}
	}
}

// listen passes on the wake-ups of other servers, over a connection of its own.
func (s *Store) listen(ctx context.Context) {
	for wait := time.Duration(0); sleep(ctx, wait); wait = min(2*wait+100*time.Millisecond, 5*time.Second) {
		conn, err := pgx.ConnectConfig(ctx, s.pool.Config().ConnConfig)
		if err != nil {
			continue
		}
		if _, err = conn.Exec(ctx, "LISTEN "+channel); err == nil {
			wait = 0
			s.wakes.wake() // whatever was said while nobody listened
		}
		for err == nil {
			if _, err = conn.WaitForNotification(ctx); err == nil {
				s.wakes.wake()
			}
		}
		conn.Close(context.WithoutCancel(ctx))
	}
}

// sleep reports whether the time passed before ctx ended.
func sleep(ctx context.Context, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return ctx.Err() == nil
	case <-ctx.Done():
		return false
	}
}
