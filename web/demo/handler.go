// Package demo is the first page of a demo shop: every badge and PIN, a tablet
// for every station, and what is worth trying. It exists in a demo shop only.
package demo

import (
	"context"
	"net/http"
	"net/url"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/shopgen"
	"tagalong/web/endpoint"
)

// Endpoints of the demo's page.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	return []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/demo", Access: endpoint.DemoOnly, Handler: show(s),
			Doc: "The demo's first page: badges and PINs, a tablet for every station, things to try."},
		{Method: http.MethodPost, Path: "/demo/tablet", Access: endpoint.DemoOnly, Handler: becomeTablet(s),
			Doc: "Make this browser the tablet of a station; next= is the page to go on to."},
		{Method: http.MethodPost, Path: "/demo/office", Access: endpoint.DemoOnly, Handler: signIn(s),
			Doc: "Sign a person of the demo in to the office pages."},
	}
}

func show(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		v, err := newView(r.Context(), s, endpoint.PageOf(r))
		if err != nil {
			return err
		}
		w.Header().Set("Cache-Control", "no-store")
		return endpoint.Render(w, r, page(v))
	}
}

// becomeTablet enrols the browser as a person would, with a one-time code.
func becomeTablet(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		code, err := s.EnrolmentCode(r.Context(), app.Machine(), core.StationID(r.PostForm.Get("station")))
		if err != nil {
			return err
		}
		secret, _, err := s.Enrol(r.Context(), code.Text())
		if err != nil {
			return err
		}
		endpoint.SetTablet(w, r, secret)
		return endpoint.SeeOther(w, r, ownPath(r.PostForm.Get("next"), "/station"))
	}
}

func signIn(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		h, err := holder(r.Context(), s, core.PersonID(r.PostForm.Get("person")))
		if err != nil {
			return err
		}
		token, _, err := s.SignIn(r.Context(), endpoint.CallerOf(r), app.Sign{Badge: h.Badge, PIN: h.PIN})
		if err != nil {
			return err
		}
		endpoint.SetSession(w, r, token)
		return endpoint.SeeOther(w, r, ownPath(r.PostForm.Get("next"), "/office"))
	}
}

func holder(ctx context.Context, s *app.Service, id core.PersonID) (shopgen.Holder, error) {
	roster, err := shopgen.Roster(ctx, s)
	if err != nil {
		return shopgen.Holder{}, err
	}
	for _, h := range roster {
		if h.ID == id {
			return h, nil
		}
	}
	return shopgen.Holder{}, app.Refuse("person-unknown")
}

// ownPath is a path of ours to go on to, or the usual one.
func ownPath(text, usual string) string {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(text, "/") || strings.HasPrefix(text, "//") || strings.Contains(text, `\`) {
		return usual
	}
	return text
}
