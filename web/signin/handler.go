package signin

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/a-h/templ"

	"tagalong/internal/app"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
)

// Endpoints of signing in, enrolling and setting a PIN.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	return []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/signin", Access: endpoint.Everybody, Handler: showSignIn(s),
			Doc: "The page to sign in to the office pages; next= is the page to go on to."},
		{Method: http.MethodPost, Path: "/signin", Access: endpoint.Everybody, Handler: signIn(s),
			Doc: "Sign in with badge and PIN."},
		{Method: http.MethodGet, Path: "/sign-out", Access: endpoint.Everybody, Handler: showSignOut,
			Doc: "The page to sign out."},
		{Method: http.MethodPost, Path: "/sign-out", Access: endpoint.Everybody, Handler: signOut(s),
			Doc: "End the office session."},
		{Method: http.MethodGet, Path: "/enrol", Access: endpoint.Everybody, Handler: showEnrol,
			Doc: "The page to enrol a tablet."},
		{Method: http.MethodPost, Path: "/enrol", Access: endpoint.Everybody, Handler: enrol(s),
			Doc: "Enrol this browser to a station with a one-time code."},
		{Method: http.MethodGet, Path: "/set-pin", Access: endpoint.Everybody, Handler: showSetPIN,
			Doc: "The page to set a PIN."},
		{Method: http.MethodPost, Path: "/set-pin", Access: endpoint.Everybody, Handler: setPIN(s),
			Doc: "Set a PIN with badge and one-time code."},
	}
}

// says is what a form's page says about the try before: a refusal's words.
type says struct {
	words.Text
}

func (s says) something() bool { return s.Title != "" }

// kept is what need not be given again to set a PIN: the badge and the one-time
// code, where only the PIN was refused. Neither was tried then, and the page is
// stored nowhere.
type kept struct {
	badge, code string
}

func keptOf(f url.Values, err error) kept {
	refused, ok := errors.AsType[*app.Refused](err)
	if !ok || !slices.Contains([]string{"pin-shape", "pin-twice", "pin-weak"}, refused.Refusal.Code) {
		return kept{}
	}
	return kept{f.Get("badge"), f.Get("code")}
}

// again shows a form anew with the refusal's words. PINs are always typed anew,
// badges and codes unless they are kept.
func again(w http.ResponseWriter, r *http.Request, err error, page func(says) templ.Component) error {
	refused, ok := errors.AsType[*app.Refused](err)
	if !ok {
		return err
	}
	text := words.Refusal(refused.Refusal.Code, refused.Refusal.Params)
	endpoint.RetryAfter(w, refused)
	return endpoint.RenderStatus(w, r, endpoint.StatusOf(refused.Refusal.Code), page(says{text}))
}

func showSignIn(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		nobody, err := s.WantsFirstAdmin(r.Context())
		switch {
		case err != nil:
			return err
		case nobody:
			return endpoint.Render(w, r, firstAdminPage(endpoint.PageOf(r)))
		}
		next := r.URL.Query().Get("next")
		if next == "" {
			setup, err := s.Setup(r.Context())
			if err != nil {
				return err
			}
			if !setup.Finished() {
				next = "/" // which leads on with a new shop
			}
		}
		return endpoint.Render(w, r, signInPage(endpoint.PageOf(r), ownPath(next), says{}))
	}
}

func signIn(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		page, next := endpoint.PageOf(r), ownPath(r.PostForm.Get("next"))
		token, _, err := s.SignIn(r.Context(), page.Caller, app.Sign{Badge: r.PostForm.Get("badge"), PIN: r.PostForm.Get("pin")})
		if err != nil {
			return again(w, r, err, func(x says) templ.Component { return signInPage(page, next, x) })
		}
		endpoint.SetSession(w, r, token)
		return endpoint.SeeOther(w, r, next)
	}
}

// ownPath is a path of ours to go on to, and the office's first page for
// anything else, such as an address on another site.
func ownPath(next string) string {
	if !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n\t") {
		return "/office"
	}
	return next
}

func showSignOut(w http.ResponseWriter, r *http.Request) error {
	return endpoint.Render(w, r, signOutPage(endpoint.PageOf(r)))
}

func signOut(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		session := endpoint.Secrets(r, endpoint.PageOf(r).Secure).Session
		if err := s.SignOut(r.Context(), session); err != nil {
			return err
		}
		endpoint.ClearSession(w, r)
		return endpoint.SeeOther(w, r, "/signin")
	}
}

func showEnrol(w http.ResponseWriter, r *http.Request) error {
	return endpoint.Render(w, r, enrolPage(endpoint.PageOf(r), says{}))
}

func enrol(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		secret, _, err := s.Enrol(r.Context(), r.PostForm.Get("code"))
		if err != nil {
			return again(w, r, err, func(x says) templ.Component { return enrolPage(endpoint.PageOf(r), x) })
		}
		endpoint.SetTablet(w, r, secret)
		return endpoint.SeeOther(w, r, "/station")
	}
}

func showSetPIN(w http.ResponseWriter, r *http.Request) error {
	return endpoint.Render(w, r, setPINPage(endpoint.PageOf(r), "", kept{}, says{}))
}

func setPIN(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		f, page := r.PostForm, endpoint.PageOf(r)
		person, err := s.SetPIN(r.Context(), f.Get("badge"), f.Get("code"), f.Get("pin"), f.Get("again"))
		if err != nil {
			return again(w, r, err, func(x says) templ.Component { return setPINPage(page, "", keptOf(f, err), x) })
		}
		return endpoint.Render(w, r, setPINPage(page, person.Name, kept{}, says{}))
	}
}
