package wall_test

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/web/wall"
	"tagalong/web/webtest"
)

// log is a store whose record grows when it is told to.
type log struct {
	*apptest.Store
	mu    sync.Mutex
	n     int64
	next  chan struct{}
	looks int
}

func (l *log) Tip(context.Context) (app.Cursor, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return app.Cursor{Seq: l.n}, nil
}

func (l *log) Since(_ context.Context, c app.Cursor, _ int) ([]app.Change, app.Cursor, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.looks++
	if c.Seq == l.n {
		return nil, c, nil
	}
	return []app.Change{{Seq: l.n}}, app.Cursor{Seq: l.n}, nil
}

func (l *log) Upcoming() <-chan struct{} {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.next
}

func (l *log) Wall(context.Context) (app.Wall, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	w := l.Glance
	w.Pallets = int(l.n)
	return w, nil
}

func (l *log) grow() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.n++
	close(l.next)
	l.next = make(chan struct{})
}

// A change in the record reaches every browser that watches; when none watches
// any more, nothing follows the record.
func TestWallFollowsTheRecord(t *testing.T) {
	l := &log{Store: &apptest.Store{Floor: apptest.New(t), Glance: quiet()}, n: 40, next: make(chan struct{})}
	svc := &app.Service{Store: l, Clock: time.Now}
	site := webtest.Serve(t, screen, apptest.Now, wall.EndpointsOf(svc)...)
	ctx, leave := context.WithCancel(t.Context())
	defer leave()
	var streams []*http.Response
	for range 2 {
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, site.URL+"/wall/live", nil)
		if err != nil {
			t.Fatal(err)
		}
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		streams = append(streams, answer)
	}
	for _, s := range streams {
		until(t, s, ">40<")
	}
	began := time.Now()
	l.grow()
	for _, s := range streams {
		until(t, s, ">41<")
	}
	if took := time.Since(began); took > time.Second { // what screens.md allows
		t.Errorf("a change took %v to every browser", took)
	}
	leave()
	still := func() bool {
		before := l.looked()
		time.Sleep(1200 * time.Millisecond) // more than two looks of a hub that runs
		return l.looked() == before
	}
	for range 5 {
		if still() {
			return
		}
	}
	t.Error("the record is followed though nobody watches")
}

func (l *log) looked() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.looks
}

// until reads a stream up to a text.
func until(t *testing.T, s *http.Response, want string) {
	t.Helper()
	var seen strings.Builder
	buf := make([]byte, 4096)
	for !strings.Contains(seen.String(), want) {
		n, err := s.Body.Read(buf)
		seen.Write(buf[:n])
		if err != nil {
			t.Fatalf("the stream ended without %q: %v\n%s", want, err, seen.String())
		}
	}
}
