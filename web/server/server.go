package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/web/endpoint"
)

// Options say what to serve.
type Options struct {
	App       *app.Service
	Endpoints []endpoint.Endpoint // of the screens; the server adds its own
	Log       *slog.Logger
	// BehindTLS says that a proxy in front ends HTTPS and says so in
	// X-Forwarded-Proto. Without one that header is not believed.
	BehindTLS bool
	// Authority gives the authority of the shop's own that tablets must trust;
	// nil where there is none.
	Authority func() endpoint.Authority
}

// Server answers HTTP. Use Handler.
type Server struct {
	app       *app.Service
	endpoints []endpoint.Endpoint
	log       *slog.Logger
	behindTLS bool
	authority func() endpoint.Authority
	shop      atomic.Pointer[shopRead]
}

// New makes a server.
func New(o Options) (*Server, error) {
	s := &Server{app: o.App, log: o.Log, behindTLS: o.BehindTLS, authority: o.Authority, endpoints: append(Own(o.App), o.Endpoints...)}
	if err := CheckTable(s.endpoints); err != nil {
		return nil, err
	}
	return s, nil
}

// CheckTable finds an endpoint that stands twice, admits nobody or has no doc.
func CheckTable(table []endpoint.Endpoint) error {
	seen := map[string]bool{}
	for _, e := range table {
		name := e.Method + " " + e.Path
		switch {
		case seen[name]:
			return fmt.Errorf("endpoint %s stands twice", name)
		case e.Access.String() == "":
			return fmt.Errorf("endpoint %s admits nobody", name)
		case e.Doc == "" || e.Handler == nil:
			return fmt.Errorf("endpoint %s lacks its doc or its handler", name)
		}
		seen[name] = true
	}
	return nil
}

// Handler is the whole site.
func (s *Server) Handler() http.Handler {
	r := chi.NewRouter()
	r.Use(s.number, s.logged, s.recovered, s.headers, s.sameSite, s.identified)
	for _, e := range s.endpoints {
		h := s.serve(e)
		r.Method(e.Method, e.Path, h)
		if e.Method == http.MethodGet && !e.Stream {
			r.Method(http.MethodHead, e.Path, h)
		}
	}
	r.NotFound(func(w http.ResponseWriter, r *http.Request) { s.fail(w, r, app.Refuse("page-unknown")) })
	r.MethodNotAllowed(func(w http.ResponseWriter, r *http.Request) { s.fail(w, r, app.Refuse("method-unknown")) })
	return r
}

// serve runs one endpoint: its limits, its access, its handler.
func (s *Server) serve(e endpoint.Endpoint) http.Handler {
	most := e.MaxBody
	if most == 0 {
		most = endpoint.DefaultMaxBody
	}
	var h http.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := s.admit(e, r); err != nil {
			s.turnAway(e, w, r, err)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		if err := e.Handler(w, r); err != nil {
			s.fail(w, r, err)
		}
	})
	if e.Stream {
		return h
	}
	return compressed(inTime(h))
}

// shopKept is how long the shop's own row is kept before it is read again.
const shopKept = 10 * time.Second

type shopRead struct {
	shop app.Shop
	zone *time.Location
	at   time.Time
}

// ownShop is the shop's name, zone and whether it is the demo.
func (s *Server) ownShop(ctx context.Context) (shopRead, error) {
	if kept := s.shop.Load(); kept != nil && time.Since(kept.at) < shopKept {
		return *kept, nil
	}
	shop, err := s.app.Shop(ctx)
	switch {
	case errors.Is(err, app.ErrNotFound):
		shop = app.Shop{Name: "Tagalong", Zone: "UTC"} // before the first import
	case err != nil:
		return shopRead{}, fmt.Errorf("read the shop: %w", err)
	}
	zone, err := time.LoadLocation(shop.Zone)
	if err != nil {
		return shopRead{}, fmt.Errorf("the shop's time zone: %w", err)
	}
	read := shopRead{shop, zone, time.Now()}
	s.shop.Store(&read)
	return read, nil
}
