package main

import (
	"bufio"
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/web/endpoint"
	"tagalong/web/server"
)

// faulty are endpoints that fail in every way a handler can.
func faulty() []endpoint.Endpoint {
	fail := func(err error) endpoint.Handler {
		return func(http.ResponseWriter, *http.Request) error { return err }
	}
	e := func(path string, access endpoint.Access, h endpoint.Handler) endpoint.Endpoint {
		return endpoint.Endpoint{Method: http.MethodGet, Path: path, Access: access, Handler: h, Doc: "fails"}
	}
	return []endpoint.Endpoint{
		e("/fault/panic", endpoint.Everybody, func(http.ResponseWriter, *http.Request) error { panic("the password is swordfish") }),
		e("/fault/error", endpoint.Everybody, fail(errors.New("the password is swordfish"))),
		e("/fault/absent", endpoint.Everybody, fail(app.ErrNotFound)),
		e("/fault/demo", endpoint.DemoOnly, fail(app.Refuse("pin-weak"))),
	}
}

// TestFaultsTellNothing: what went wrong inside is in the log, under the number
// that the page gives, and nowhere else.
func TestFaultsTellNothing(t *testing.T) {
	s := newShop(t)
	site, err := server.New(server.Options{App: s.app, Endpoints: faulty(), Log: slog.New(slog.NewTextHandler(s.log, nil))})
	must(t, err)
	web := httptest.NewServer(site.Handler())
	defer web.Close()
	b := s.browser()
	b.shop = &testShop{t: t, url: web.URL}
	for path, status := range map[string]int{
		"/fault/panic": http.StatusInternalServerError, "/fault/error": http.StatusInternalServerError,
		"/fault/absent": http.StatusNotFound, "/fault/demo": http.StatusUnprocessableEntity,
	} {
		got := b.get(path)
		if got.StatusCode != status || strings.Contains(got.body, "swordfish") {
			t.Errorf("%s: %d %s", path, got.StatusCode, got.body)
		}
		if status != http.StatusInternalServerError {
			continue
		}
		number := regexp.MustCompile(`Tell the office the number ([0-9a-f]{8})`).FindStringSubmatch(got.body)
		if number == nil {
			t.Fatalf("%s tells no number: %s", path, got.body)
		}
		if log := s.log.String(); !strings.Contains(log, "request="+number[1]) || !strings.Contains(log, "swordfish") {
			t.Errorf("%s: the log lacks the fault under %s:\n%s", path, number[1], log)
		}
	}
	// In a shop that is no demo there is no such address.
	must(t, s.app.SetShop(t.Context(), app.Machine(), app.Shop{Name: "Real", Zone: "Europe/London"}))
	site, err = server.New(server.Options{App: s.app, Endpoints: faulty(), Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	must(t, err)
	real := httptest.NewServer(site.Handler())
	defer real.Close()
	b.shop = &testShop{t: t, url: real.URL}
	if got := b.get("/fault/demo"); got.StatusCode != http.StatusNotFound {
		t.Errorf("a demo's address in a real shop: %d", got.StatusCode)
	}
}

func TestTablesThatAreWrong(t *testing.T) {
	good := endpoint.Endpoint{Method: "GET", Path: "/x", Access: endpoint.Everybody, Doc: "x",
		Handler: func(http.ResponseWriter, *http.Request) error { return nil }}
	if err := server.CheckTable([]endpoint.Endpoint{good}); err != nil {
		t.Errorf("a good table: %v", err)
	}
	nobody, silent := good, good
	nobody.Access, silent.Doc = endpoint.Access{}, ""
	for name, table := range map[string][]endpoint.Endpoint{"twice": {good, good}, "admits nobody": {nobody}, "lacks": {silent}} {
		if err := server.CheckTable(table); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestStreamsAreNotHeldBack: an event reaches the browser while the stream goes
// on, through everything the server wraps around a handler.
func TestStreamsAreNotHeldBack(t *testing.T) {
	s := newShop(t)
	read := make(chan struct{})
	stream := endpoint.Endpoint{
		Method: http.MethodGet, Path: "/fault/stream", Access: endpoint.Everybody, Doc: "streams", Stream: true,
		Handler: func(w http.ResponseWriter, r *http.Request) error {
			w.Header().Set("Content-Type", "text/event-stream")
			if _, err := io.WriteString(w, "data: first\n\n"); err != nil {
				return nil
			}
			if err := http.NewResponseController(w).Flush(); err != nil {
				t.Errorf("flush: %v", err)
			}
			select {
			case <-read:
				_, _ = io.WriteString(w, "data: last\n\n")
			case <-r.Context().Done():
			}
			return nil
		},
	}
	site, err := server.New(server.Options{App: s.app, Endpoints: []endpoint.Endpoint{stream}, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	must(t, err)
	web := httptest.NewServer(site.Handler())
	defer web.Close()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, web.URL+"/fault/stream", nil)
	must(t, err)
	resp, err := http.DefaultClient.Do(req)
	must(t, err)
	defer resp.Body.Close()
	lines := bufio.NewScanner(resp.Body)
	if !lines.Scan() || lines.Text() != "data: first" {
		t.Fatalf("the first event: %q, %v", lines.Text(), lines.Err())
	}
	close(read)
	last := ""
	for lines.Scan() {
		if lines.Text() != "" {
			last = lines.Text()
		}
	}
	if last != "data: last" {
		t.Errorf("the last event: %q, %v", last, lines.Err())
	}
}
