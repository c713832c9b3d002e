package wall

import (
	"context"
	"sync"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/live"
	"tagalong/web/endpoint"
)

// EndpointsOf are this screen's over a service: one feed for all browsers, which
// follows the record while somebody watches. Nothing is asked of s before a
// request comes.
func EndpointsOf(s *app.Service) []endpoint.Endpoint {
	return Endpoints(s, &feedOf{service: s}, func() time.Time { return s.Clock() })
}

// feedOf is the feed of a service's wall. Its hub runs while there are watchers,
// so that it needs no start and no stop of its own.
type feedOf struct {
	service *app.Service

	mu       sync.Mutex
	watchers int
	feed     *live.Feed
	stop     context.CancelFunc
}

// Watch is [Feed]'s.
func (f *feedOf) Watch(ctx context.Context) <-chan []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.watchers == 0 {
		var running context.Context
		running, f.stop = context.WithCancel(context.Background())
		f.feed = live.Start(running, f.service.Store, live.Options{Clock: f.service.Clock}).Feed(f.render, nil)
	}
	f.watchers++
	context.AfterFunc(ctx, f.leave)
	return f.feed.Watch(ctx)
}

// Fresh is [Feed]'s; the zero time while nobody watches.
func (f *feedOf) Fresh() time.Time {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.feed == nil {
		return time.Time{}
	}
	return f.feed.Fresh()
}

func (f *feedOf) leave() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.watchers--; f.watchers == 0 {
		f.stop()
		f.feed, f.stop = nil, nil
	}
}

func (f *feedOf) render(ctx context.Context) ([]byte, error) {
	w, err := f.service.Glance(ctx)
	if err != nil {
		return nil, err
	}
	return Render(ctx, w)
}
