package server

import (
	"errors"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"

	"tagalong/internal/app"
	"tagalong/web/endpoint"
)

// identified says who is asking, once for the whole request.
func (s *Server) identified(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if needsNobody(r.URL.Path) {
			next.ServeHTTP(w, r)
			return
		}
		page := endpoint.Page{Path: r.URL.Path, Secure: s.isSecure(r), From: s.from(r)}
		r = r.WithContext(endpoint.WithPage(r.Context(), page))
		read, err := s.ownShop(r.Context())
		if err != nil {
			s.fail(w, r, err)
			return
		}
		page.Shop, page.Demo, page.Zone = read.shop.Name, read.shop.Demo, read.zone
		page.Now = s.app.Clock().In(read.zone)
		if s.authority != nil {
			authority := s.authority()
			page.Authority = &authority
		}
		r = r.WithContext(endpoint.WithPage(r.Context(), page))
		if page.Caller, err = s.app.CallerOf(r.Context(), endpoint.Secrets(r, page.Secure)); err != nil {
			s.fail(w, r, err)
			return
		}
		noteCaller(r, page.Caller)
		next.ServeHTTP(w, r.WithContext(endpoint.WithPage(r.Context(), page)))
	})
}

// needsNobody spares files and the health check the questions to the database.
func needsNobody(path string) bool {
	return strings.HasPrefix(path, "/assets/") || path == "/healthz"
}

func (s *Server) isSecure(r *http.Request) bool {
	return r.TLS != nil || s.behindTLS && r.Header.Get("X-Forwarded-Proto") == "https"
}

// from is the network a request came from. A proxy in front adds the address it
// saw to the end of X-Forwarded-For; what stands before that, anybody may have
// written.
func (s *Server) from(r *http.Request) string {
	text, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		text = r.RemoteAddr
	}
	if seen := r.Header.Values("X-Forwarded-For"); s.behindTLS && len(seen) > 0 {
		last := seen[len(seen)-1]
		text = strings.TrimSpace(last[strings.LastIndexByte(last, ',')+1:])
	}
	at, err := netip.ParseAddr(text)
	if err != nil {
		return text
	}
	if at = at.Unmap().WithZone(""); at.Is4() {
		return at.String()
	}
	return netip.PrefixFrom(at, 64).Masked().String()
}

// admit lets the caller in, or says as what they are turned away.
func (s *Server) admit(e endpoint.Endpoint, r *http.Request) error {
	page := endpoint.PageOf(r)
	switch e.Access.Judge(page.Caller, page.Demo) {
	case endpoint.Allowed:
		return nil
	case endpoint.Absent:
		return app.Refuse("page-unknown")
	case endpoint.Forbidden:
		return e.Access.Denial(page.Caller, subject(e))
	}
	switch {
	case page.Caller.LinkOver != "" && e.Access.OffersBearer():
		return app.Refuse(page.Caller.LinkOver)
	case e.Access.OffersBearer() && !e.Access.OffersTablet():
		return app.Refuse("link-needed")
	case page.Caller.Revoked:
		return app.Refuse("tablet-revoked")
	case e.Access.OffersSignIn() && !e.Access.OffersTablet():
		return app.Refuse("needs-sign-in")
	}
	return app.Refuse("unenrolled-tablet")
}

// turnAway answers somebody not admitted. A page that signing in would open
// sends the browser there; what would have changed something is recorded.
func (s *Server) turnAway(e endpoint.Endpoint, w http.ResponseWriter, r *http.Request, err error) {
	refused, _ := errors.AsType[*app.Refused](err)
	signIn := e.Access.OffersSignIn() && refused != nil && endpoint.StatusOf(refused.Refusal.Code) == http.StatusUnauthorized
	if r.Method == http.MethodGet && signIn && !wantsJSON(r) {
		http.Redirect(w, r, "/signin?next="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
		return
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		err = s.app.NoteDenied(r.Context(), endpoint.CallerOf(r), subject(e), err)
	}
	s.fail(w, r, err)
}

// subject is what an endpoint is called in a refusal: a command by its kind.
func subject(e endpoint.Endpoint) string {
	if kind, ok := strings.CutPrefix(e.Path, commandsPath); ok {
		return kind
	}
	return e.Method + " " + e.Path
}
