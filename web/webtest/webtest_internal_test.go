package webtest

import (
	"context"
	"net/http"
	"testing"
	"time"
)

// A page that is still open listens again as soon as it is cut off, as a browser
// does; a test's site ends all the same. The moment at which it could not is
// short, so many sites are ended.
func TestASiteEndsThoughSomebodyListensOn(t *testing.T) {
	ctx, done := context.WithCancel(t.Context())
	defer done()
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for range 200 {
			open, closed := context.WithCancel(ctx)
			t.Run("a test", func(t *testing.T) { listenedTo(open, t) })
			closed()
		}
	}()
	select {
	case <-ended:
	case <-time.After(20 * time.Second):
		t.Fatal("a site waits for who listens on")
	}
}

// listenedTo is a test that ends while 32 pages, open until ctx is over, listen
// to its site.
func listenedTo(ctx context.Context, t *testing.T) {
	listening := make(chan struct{}, 1)
	url := start(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(http.StatusOK)
		_ = http.NewResponseController(w).Flush()
		select {
		case listening <- struct{}{}:
		default:
		}
		<-r.Context().Done()
	}), nil)
	for range 32 {
		go func() {
			for ctx.Err() == nil {
				r, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
				if err != nil {
					return
				}
				if answer, err := http.DefaultClient.Do(r); err == nil {
					_, _ = answer.Body.Read(make([]byte, 1))
					_ = answer.Body.Close()
				}
			}
		}()
	}
	<-listening
}
