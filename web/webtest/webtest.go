// Package webtest serves a screen's endpoints to its tests, under the content
// security policy and with the page data of the real server, without its
// database: the screen's own service stands behind them.
package webtest

import (
	"bytes"
	"context"
	"errors"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/web/assets"
	"tagalong/web/endpoint"
)

// Policy is as strict as the server's.
const Policy = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// Site is a running site.
type Site struct {
	URL string
	// Posted are the commands that browsers sent, as "kind body".
	Posted chan string
}

// Serve runs the endpoints as the caller sees them until the test ends. Each
// command posted is noted and answered with success.
func Serve(t testing.TB, caller app.Caller, now time.Time, endpoints ...endpoint.Endpoint) *Site {
	t.Helper()
	site := &Site{Posted: make(chan string, 16)}
	r := chi.NewRouter()
	for _, e := range endpoints {
		r.Method(e.Method, e.Path, page(t, e, caller, now))
	}
	r.Handle(assets.Root+"*", assets.Handler())
	r.Get("/healthz", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusOK) })
	r.Post("/api/commands/{kind}", func(w http.ResponseWriter, r *http.Request) {
		var body bytes.Buffer
		if _, err := body.ReadFrom(http.MaxBytesReader(w, r.Body, app.MaxRequest)); err != nil {
			t.Errorf("webtest: read a command: %v", err)
		}
		site.Posted <- chi.URLParam(r, "kind") + " " + body.String()
		w.Header().Set("Content-Type", "application/json")
		_, _ = w.Write([]byte(`{"command":"x"}`))
	})
	var said bytes.Buffer
	site.URL = start(t, r, log.New(&said, "", 0))
	return site
}

// start serves until the test ends. A browser still open then listens to what is
// live, and asks for it again as often as it is cut off: whatever it is being
// answered, or asks for yet, is over with the test.
func start(t testing.TB, h http.Handler, faults *log.Logger) (url string) {
	ctx, over := context.WithCancel(context.Background())
	server := httptest.NewUnstartedServer(h)
	server.Config.ErrorLog = faults
	server.Config.BaseContext = func(net.Listener) context.Context { return ctx }
	server.Start()
	t.Cleanup(func() {
		over()
		server.CloseClientConnections()
		server.Close()
	})
	return server.URL
}

func page(t testing.TB, e endpoint.Endpoint, caller app.Caller, now time.Time) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", Policy)
		if e.Access.Judge(caller, true) != endpoint.Allowed {
			http.Error(w, "forbidden", http.StatusForbidden)
			return
		}
		p := endpoint.Page{Shop: "Corrie Sheetworks", Demo: true, Zone: now.Location(), Caller: caller, Now: now, Path: r.URL.Path}
		err := e.Handler(w, r.WithContext(endpoint.WithPage(r.Context(), p)))
		var no *app.Refused
		switch {
		case err == nil:
		case errors.Is(err, app.ErrNotFound):
			http.Error(w, "not found", http.StatusNotFound)
		case errors.As(err, &no):
			http.Error(w, no.Error(), http.StatusConflict)
		case r.Context().Err() != nil: // the browser has gone
		default:
			t.Errorf("webtest: %s %s: %v", r.Method, r.URL.Path, err)
			http.Error(w, "fault", http.StatusInternalServerError)
		}
	}
}

// Get reads a page and returns its status and text.
func (s *Site) Get(t testing.TB, path string) (int, string, http.Header) {
	t.Helper()
	answer, err := http.Get(s.URL + path)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	var b strings.Builder
	var buf bytes.Buffer
	if _, err := buf.ReadFrom(answer.Body); err != nil {
		t.Fatal(err)
	}
	b.Write(buf.Bytes())
	return answer.StatusCode, b.String(), answer.Header
}
