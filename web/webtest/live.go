package webtest

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/server"
)

// LiveSite is the real server over a shop in memory: people sign, the core
// decides, and a refusal comes back as the problem document it is.
type LiveSite struct {
	*apptest.Live
	URL string
	// Down has nothing answered: connections are cut, as where there is no network.
	Down atomic.Bool
}

// Live serves the screens' endpoints over a floor until the test ends.
func Live(t testing.TB, f *apptest.Floor, endpoints func(*app.Service) []endpoint.Endpoint) *LiveSite {
	t.Helper()
	live := f.Live(t)
	svc := live.Service()
	s, err := server.New(server.Options{App: svc, Endpoints: endpoints(svc), Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	site, pages := &LiveSite{Live: live}, s.Handler()
	site.URL = start(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if site.Down.Load() {
			panic(http.ErrAbortHandler)
		}
		pages.ServeHTTP(w, r)
	}), nil)
	return site
}

// Get reads a page as a tablet of the station does.
func (s *LiveSite) Get(t testing.TB, at core.StationID, path string) (int, string) {
	t.Helper()
	r, err := http.NewRequest(http.MethodGet, s.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.AddCookie(&http.Cookie{Name: "tagalong-tablet", Value: s.Live.Tablet(t, at)})
	r.Header.Set("Accept", "text/html")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, string(text)
}

// Tablet opens a browser of a tablet's size that is enrolled to a station.
func (s *LiveSite) Tablet(t testing.TB, at core.StationID) context.Context {
	t.Helper()
	ctx := browsertest.New(t, browsertest.Tablet)
	s.Enrol(t, ctx, at)
	return ctx
}

// Enrol makes a browser that is open already a tablet of a station.
func (s *LiveSite) Enrol(t testing.TB, ctx context.Context, at core.StationID) {
	t.Helper()
	until := cdp.TimeSinceEpoch(time.Now().Add(time.Hour).Unix()) // a tablet that is switched off is a tablet of the station still
	cookie := network.SetCookieParams{Name: "tagalong-tablet", Value: s.Live.Tablet(t, at), URL: s.URL, Path: "/", Expires: until}
	browsertest.Do(t, ctx, chromedp.Func(func(ctx context.Context, page *chromedp.Target) error {
		_, err := cdp.Call(ctx, page, network.SetCookie, cookie)
		return err
	}))
}
