// Package demo is the desk of a demo shop: what is worth trying, every badge
// and PIN, a tablet for every station, and a switch for the people who work by
// themselves. It exists in a demo shop only.
package demo

import (
	"context"
	"crypto/rand"
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
			Doc: "The demo's desk: things to try, badges and PINs, a tablet for every station."},
		{Method: http.MethodPost, Path: "/demo/tablet", Access: endpoint.DemoOnly, Handler: becomeTablet(s),
			Doc: "Make this browser the tablet of a station; next= is the page to go on to, pallet= one to try out."},
		{Method: http.MethodPost, Path: "/demo/office", Access: endpoint.DemoOnly, Handler: signIn(s),
			Doc: "Sign a person of the demo in to the office pages."},
		{Method: http.MethodPost, Path: "/demo/people", Access: endpoint.DemoOnly, Handler: pause(s),
			Doc: "Let the demo's people rest (work=no) or go on with their work (work=yes)."},
	}
}

func show(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		v, err := newView(r.Context(), s, endpoint.PageOf(r), browser(r))
		if err != nil {
			return err
		}
		w.Header().Set("Cache-Control", "no-store")
		return endpoint.Render(w, r, page(v))
	}
}

// becomeTablet enrols the browser as a person would, with a one-time code. What
// the visitor is going to try is theirs from here on.
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
		if v := shopgen.VisitorsOf(s.Store); v != nil {
			tablet, err := s.CallerOf(r.Context(), app.Secrets{Tablet: secret.Text()})
			if err != nil {
				return err
			}
			who := remember(w, r)
			v.Met(tablet.Tablet, who)
			if pallet := r.PostForm.Get("pallet"); pallet != "" {
				v.Visit(who, core.PalletCode(pallet))
			}
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

// pause lets the simulated people rest or go on, for everybody who looks.
func pause(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		work := r.PostForm.Get("work")
		if work != "yes" && work != "no" {
			return app.Refuse("bad-value", "field", "work", "problem", "it is yes or no")
		}
		if crew := shopgen.CrewOf(s.Store); crew != nil {
			crew.Pause(work == "no")
		}
		return endpoint.SeeOther(w, r, "/demo")
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

// visitorCookie tells one visitor's browser from another's. It opens nothing.
const visitorCookie = "tagalong-visitor"

// browser is which visitor's browser a request came from; empty for a new one.
func browser(r *http.Request) string {
	c, err := r.Cookie(visitorCookie)
	if err != nil || len(c.Value) > 40 {
		return ""
	}
	return c.Value
}

// remember is browser, and gives a new one its cookie.
func remember(w http.ResponseWriter, r *http.Request) string {
	if who := browser(r); who != "" {
		return who
	}
	who := rand.Text()
	http.SetCookie(w, &http.Cookie{Name: visitorCookie, Value: who, Path: "/demo", HttpOnly: true,
		Secure: endpoint.PageOf(r).Secure, SameSite: http.SameSiteStrictMode})
	return who
}

// ownPath is a path of ours to go on to, or the usual one.
func ownPath(text, usual string) string {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(text, "/") || strings.HasPrefix(text, "//") || strings.Contains(text, `\`) {
		return usual
	}
	return text
}
