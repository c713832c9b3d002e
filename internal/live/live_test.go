package live_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/live"
)

// paper is a log in memory.
type paper struct {
	mu      sync.Mutex
	changes []app.Change
	wake    chan struct{}
	fails   bool
	silent  bool // wake-ups are lost
}

func newPaper() *paper { return &paper{wake: make(chan struct{})} }

func (p *paper) Tip(context.Context) (app.Cursor, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.fails {
		return app.Cursor{}, errors.New("torn")
	}
	return app.Cursor{Seq: int64(len(p.changes))}, nil
}

func (p *paper) Since(_ context.Context, c app.Cursor, limit int) ([]app.Change, app.Cursor, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.fails {
		return nil, c, errors.New("torn")
	}
	after := p.changes[c.Seq:]
	after = after[:min(limit, len(after))]
	return after, app.Cursor{Seq: c.Seq + int64(len(after))}, nil
}

func (p *paper) Upcoming() <-chan struct{} {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.wake
}

func (p *paper) write(at core.StationID) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.changes = append(p.changes, app.Change{Seq: int64(len(p.changes) + 1), Station: at})
	if !p.silent {
		close(p.wake)
		p.wake = make(chan struct{})
	}
}

func (p *paper) set(fails, silent bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.fails, p.silent = fails, silent
}

func (p *paper) written() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.changes)
}

// stand is a hub over a log in memory, with a feed that renders how much is
// written, in simulated time.
type stand struct {
	*paper
	hub     *live.Hub
	feed    *live.Feed
	renders atomic.Int32
	fails   atomic.Bool
	slow    atomic.Int64 // how long a rendering takes
}

func inTime(t *testing.T, test func(t *testing.T, s *stand)) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		s := &stand{paper: newPaper()}
		s.hub = live.Start(ctx, s.paper, live.Options{Log: slog.New(slog.DiscardHandler)})
		s.feed = s.hub.Feed(func(context.Context) ([]byte, error) {
			s.renders.Add(1)
			if s.fails.Load() {
				return nil, errors.New("no ink")
			}
			n := s.written()
			time.Sleep(time.Duration(s.slow.Load()))
			return fmt.Append(nil, n), nil
		}, nil)
		test(t, s)
		cancel()
		s.hub.Wait()
	})
}

// next is the next rendering, which must come within a time.
func next(t *testing.T, c <-chan []byte, within time.Duration) string {
	t.Helper()
	select {
	case b, ok := <-c:
		if !ok {
			t.Fatal("the watch ended")
		}
		return string(b)
	case <-time.After(within):
		t.Fatalf("nothing came within %v", within)
	}
	return ""
}

func TestOneRenderingServesAll(t *testing.T) {
	inTime(t, func(t *testing.T, s *stand) {
		var watches []<-chan []byte
		for range 200 {
			watches = append(watches, s.feed.Watch(t.Context()))
		}
		for _, w := range watches {
			if got := next(t, w, time.Second); got != "0" {
				t.Fatalf("first rendering %q", got)
			}
		}
		time.Sleep(time.Second)
		before := s.renders.Load()
		s.write("A")
		for _, w := range watches {
			if got := next(t, w, 50*time.Millisecond); got != "1" {
				t.Fatalf("after a change %q", got)
			}
		}
		time.Sleep(time.Second)
		if n := s.renders.Load() - before; n != 1 {
			t.Errorf("one change was rendered %d times", n)
		}
		if late := next(t, s.feed.Watch(t.Context()), time.Millisecond); late != "1" {
			t.Errorf("a late watcher got %q", late)
		}
	})
}

func TestALostWakeUpIsMadeUpFor(t *testing.T) {
	inTime(t, func(t *testing.T, s *stand) {
		w := s.feed.Watch(t.Context())
		next(t, w, time.Second)
		time.Sleep(10 * time.Second)
		s.set(false, true)
		s.write("A")
		if got := next(t, w, 700*time.Millisecond); got != "1" {
			t.Errorf("got %q", got)
		}
	})
}

// A burst is drawn few times, and what is drawn last is the last.
func TestABurstIsDrawnFewTimes(t *testing.T) {
	inTime(t, func(t *testing.T, s *stand) {
		w := s.feed.Watch(t.Context())
		next(t, w, time.Second)
		before := s.renders.Load()
		for range 1000 {
			s.write("A")
			time.Sleep(time.Millisecond)
		}
		time.Sleep(time.Second)
		last := ""
		for len(w) > 0 {
			last = next(t, w, time.Second)
		}
		if n := s.renders.Load() - before; n > 13 {
			t.Errorf("a burst of a second was rendered %d times", n)
		}
		if last != "1000" {
			t.Errorf("the last rendering is %q", last)
		}
	})
}

func TestASlowWatcherIsGivenUp(t *testing.T) {
	inTime(t, func(t *testing.T, s *stand) {
		slow, quick := s.feed.Watch(t.Context()), s.feed.Watch(t.Context())
		ended := false
		for range 120 {
			s.write("A")
			time.Sleep(time.Second)
			for len(quick) > 0 {
				next(t, quick, time.Second)
			}
			if s.feed.Watchers() == 1 {
				ended = true
				break
			}
		}
		if !ended {
			t.Fatal("who takes nothing for two minutes is still fed")
		}
		if got := next(t, slow, time.Second); got == "" {
			t.Error("the last rendering before was lost")
		}
		if _, ok := <-slow; ok {
			t.Error("the watch goes on")
		}
		s.write("A")
		if got := next(t, quick, time.Second); got == "" {
			t.Error("the quick one was given up too")
		}
	})
}

func TestAWatchEndsWithItsContext(t *testing.T) {
	inTime(t, func(t *testing.T, s *stand) {
		ctx, cancel := context.WithCancel(t.Context())
		w := s.feed.Watch(ctx)
		next(t, w, time.Second)
		cancel()
		synctest.Wait()
		if _, ok := <-w; ok || s.feed.Watchers() != 0 {
			t.Error("the watch goes on")
		}
		// Nobody watches: nothing is drawn.
		time.Sleep(time.Second)
		before := s.renders.Load()
		for range 10 {
			s.write("A")
			time.Sleep(time.Second)
		}
		if n := s.renders.Load(); n != before {
			t.Errorf("%d renderings for nobody", n-before)
		}
		if got := next(t, s.feed.Watch(t.Context()), time.Second); got != "10" {
			t.Errorf("who comes back gets %q", got)
		}
	})
}

// A page may only claim to be fresh while the log is followed and drawn.
func TestFreshTellsTheTruth(t *testing.T) {
	inTime(t, func(t *testing.T, s *stand) {
		age := func() time.Duration { return time.Since(s.feed.Fresh()) }
		w := s.feed.Watch(t.Context())
		next(t, w, time.Second)
		time.Sleep(5 * time.Second)
		if age() > 600*time.Millisecond {
			t.Errorf("a quiet shop is %v old", age())
		}
		s.set(true, false)
		time.Sleep(5 * time.Second)
		if age() < 4*time.Second {
			t.Errorf("the log can't be read for 5 s and the page claims to be %v old", age())
		}
		s.set(false, false)
		time.Sleep(2 * time.Second)
		if age() > 600*time.Millisecond {
			t.Errorf("the log can be read again and the page is %v old", age())
		}
		s.fails.Store(true)
		s.write("A")
		time.Sleep(5 * time.Second)
		if age() < 4*time.Second {
			t.Errorf("a change can't be drawn for 5 s and the page claims to be %v old", age())
		}
		s.fails.Store(false)
		if got := next(t, w, time.Second); got != "1" {
			t.Errorf("drawn again: %q", got)
		}
		if age() > 600*time.Millisecond {
			t.Errorf("drawn again and %v old", age())
		}
		s.slow.Store(int64(8 * time.Second))
		s.write("A")
		time.Sleep(5 * time.Second)
		if age() < 4*time.Second {
			t.Errorf("a change is being drawn for 5 s and the page claims to be %v old", age())
		}
		s.slow.Store(0)
		if got := next(t, w, 10*time.Second); got != "2" {
			t.Errorf("drawn at last: %q", got)
		}
	})
}

func TestAFeedHearsOnlyWhatItWants(t *testing.T) {
	inTime(t, func(t *testing.T, s *stand) {
		var renders atomic.Int32
		own := s.hub.Feed(func(context.Context) ([]byte, error) {
			return fmt.Append(nil, renders.Add(1)), nil
		}, func(c app.Change) bool { return c.Station == "B" })
		w := own.Watch(t.Context())
		next(t, w, time.Second)
		time.Sleep(time.Second)
		for len(w) > 0 {
			next(t, w, time.Second)
		}
		s.write("A")
		time.Sleep(time.Second)
		if len(w) != 0 {
			t.Error("another station's change was drawn")
		}
		s.write("B")
		next(t, w, time.Second)
	})
}
