// Package wall is the screen on the wall: the shop at one glance, read from 6 m,
// kept live by server-sent events, and blank rather than stale.
package wall

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"time"

	"tagalong/internal/app"
	"tagalong/web/endpoint"
)

// Beat is how often a live page hears that it is still live. The page gives up
// after three of them.
const Beat = time.Second

// Glancer reads the shop at one glance.
type Glancer interface {
	Glance(ctx context.Context) (app.Wall, error)
}

// Feed hands out rendered walls, the same one to every browser.
type Feed interface {
	// Watch gives the latest wall at once and each newer one after it; a slow
	// reader misses walls, never the last. The channel ends with ctx, or when
	// the feed gives the reader up: the browser then asks again.
	Watch(ctx context.Context) <-chan []byte
	// Fresh is when the record was last followed with success. A wall older
	// than that may be wrong without anybody knowing.
	Fresh() time.Time
}

// Endpoints are this screen's.
func Endpoints(g Glancer, f Feed, clock func() time.Time) []endpoint.Endpoint {
	return []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/wall", Access: endpoint.TabletOr(), Handler: show(g),
			Doc: "the shop at one glance, for a screen read from 6 m"},
		{Method: http.MethodGet, Path: "/wall/live", Access: endpoint.TabletOr(), Handler: stream(f, clock), Stream: true,
			Doc: "server-sent events: wall (the page's content), beat (the server's time, each second while it is live)"},
	}
}

func show(g Glancer) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		glance, err := g.Glance(r.Context())
		if err != nil {
			return err
		}
		p := endpoint.PageOf(r)
		return endpoint.Render(w, r, page(p.Shop, p.Demo, newView(glance)))
	}
}

// Render draws what stands on the wall, for a Feed.
func Render(ctx context.Context, w app.Wall) ([]byte, error) {
	var buf bytes.Buffer
	if err := content(newView(w)).Render(ctx, &buf); err != nil {
		return nil, fmt.Errorf("render the wall: %w", err)
	}
	return buf.Bytes(), nil
}

func stream(f Feed, clock func() time.Time) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		h := w.Header()
		h.Set("Content-Type", "text/event-stream")
		h.Set("Cache-Control", "no-store")
		h.Set("X-Accel-Buffering", "no") // a proxy in front must not hold events back
		w.WriteHeader(http.StatusOK)
		out := http.NewResponseController(w)
		walls := f.Watch(r.Context())
		ticks := time.NewTicker(Beat)
		defer ticks.Stop()
		var next []byte // to be sent once it is known to be fresh
		for {
			select {
			case wall, ok := <-walls:
				if !ok {
					return nil // the browser asks again
				}
				next = wall
			case <-ticks.C:
				if stale(f, clock()) {
					continue // the page hears nothing, and says so
				}
				if write(w, out, "beat", []byte(clock().Format(time.RFC3339))) != nil {
					return nil
				}
			case <-r.Context().Done():
				return nil
			}
			if next != nil && !stale(f, clock()) {
				if write(w, out, "wall", next) != nil {
					return nil
				}
				next = nil
			}
		}
	}
}

// stale: the record has not been followed for longer than a wall may be trusted.
func stale(f Feed, now time.Time) bool { return now.Sub(f.Fresh()) > 3*Beat/2 }

// write sends one event; each line of its data begins with "data: " (WHATWG
// HTML, server-sent events, 9.2.6). It fails when the browser has gone.
func write(w http.ResponseWriter, out *http.ResponseController, name string, data []byte) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "event: %s\n", name)
	for line := range bytes.Lines(data) {
		b.WriteString("data: ")
		b.Write(bytes.TrimRight(line, "\r\n"))
		b.WriteByte('\n')
	}
	b.WriteByte('\n')
	if _, err := w.Write(b.Bytes()); err != nil {
		return err
	}
	return out.Flush()
}
