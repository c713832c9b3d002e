package endpoint

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/a-h/templ"

	"tagalong/internal/app"
)

// Page is what every page knows of the shop and of who looks at it.
type Page struct {
	Shop   string
	Demo   bool // invented data, and the page says so
	Zone   *time.Location
	Caller app.Caller
	Now    time.Time // in Zone
	Path   string    // of this page
	Secure bool      // the browser came by HTTPS
	From   string    // the network it came from: an IPv4 address, or the first 64 bits of an IPv6 one

	Authority *Authority // nil where tablets need trust no authority of the shop's own
}

// Authority is what tablets must trust before they trust this server.
type Authority struct {
	DER         []byte    // its certificate, which may be given to everybody
	Fingerprint string    // SHA-256, as people compare it
	Ends        time.Time // when the server's own certificate lapses
}

type pageKey struct{}

// WithPage is used by the server to hand a request's page data to its handler.
func WithPage(ctx context.Context, p Page) context.Context {
	return context.WithValue(ctx, pageKey{}, p)
}

// PageOf is the page data of a request; the zero Page outside the server.
func PageOf(r *http.Request) Page {
	p, _ := r.Context().Value(pageKey{}).(Page)
	return p
}

// CallerOf is who sent the request.
func CallerOf(r *http.Request) app.Caller { return PageOf(r).Caller }

// Render writes a page with status 200. Nothing is written if it fails.
func Render(w http.ResponseWriter, r *http.Request, page templ.Component) error {
	return RenderStatus(w, r, http.StatusOK, page)
}

// RenderStatus writes a page with a status of its own.
func RenderStatus(w http.ResponseWriter, r *http.Request, status int, page templ.Component) error {
	var buf bytes.Buffer
	if err := page.Render(r.Context(), &buf); err != nil {
		return fmt.Errorf("render %s: %w", r.URL.Path, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = buf.WriteTo(w) // the browser has gone: nobody left to tell
	return nil
}

// JSON writes v with status 200.
func JSON(w http.ResponseWriter, v any) error {
	text, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("write JSON: %w", err)
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(text, '\n'))
	return nil
}

// SeeOther sends the browser on to another page of ours, as after a form.
func SeeOther(w http.ResponseWriter, r *http.Request, path string) error {
	http.Redirect(w, r, path, http.StatusSeeOther)
	return nil
}

// Form reads a form's fields, at most the endpoint's MaxBody.
func Form(r *http.Request) error {
	err := r.ParseForm()
	if _, large := errors.AsType[*http.MaxBytesError](err); err == nil || large {
		return err
	}
	return app.Refuse("malformed", "detail", "its fields are not written as a form's are")
}
