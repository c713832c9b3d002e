package endpoint

import (
	"net/http"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/sign"
)

// tabletLife is how long a tablet stays enrolled without being revoked.
const tabletLife = 365 * 24 * time.Hour

const (
	tabletCookie  = "tagalong-tablet"
	sessionCookie = "tagalong-session"
	bearerCookie  = "tagalong-bearer"
)

// SetTablet leaves the secret of an enrolled tablet in its browser.
func SetTablet(w http.ResponseWriter, r *http.Request, secret sign.TabletSecret) {
	setCookie(w, r, tabletCookie, secret.Text(), tabletLife)
}

// SetSession leaves the token of an office session in the browser.
func SetSession(w http.ResponseWriter, r *http.Request, token string) {
	setCookie(w, r, sessionCookie, token, app.SessionLife)
}

// ClearSession takes it away.
func ClearSession(w http.ResponseWriter, r *http.Request) {
	setCookie(w, r, sessionCookie, "", -time.Second)
}

// SetBearer leaves the secret of a claimed link in the browser. The link may be
// opened again from a message, which another site can show: so this cookie also
// comes with a page that is asked for from elsewhere, though with nothing that
// changes something.
func SetBearer(w http.ResponseWriter, r *http.Request, secret string, life time.Duration) {
	put(w, r, bearerCookie, secret, life, http.SameSiteLaxMode)
}

// Secrets are what the browser has of each; empty where it has none.
func Secrets(r *http.Request, secure bool) app.Secrets {
	of := func(name string) string { return cookieValue(r, cookieName(name, secure)) }
	return app.Secrets{Tablet: of(tabletCookie), Session: of(sessionCookie), Bearer: of(bearerCookie)}
}

// setCookie sets a cookie no script reads and no other site sends. Over HTTPS
// its name has the prefix __Host-, which keeps a neighbouring host from setting
// it (RFC 6265bis); over plain HTTP, on the server's own machine, no browser
// would take that name.
func setCookie(w http.ResponseWriter, r *http.Request, name, value string, life time.Duration) {
	put(w, r, name, value, life, http.SameSiteStrictMode)
}

func put(w http.ResponseWriter, r *http.Request, name, value string, life time.Duration, site http.SameSite) {
	secure := PageOf(r).Secure
	http.SetCookie(w, &http.Cookie{
		Name: cookieName(name, secure), Value: value, Path: "/", MaxAge: int(life.Seconds()),
		Secure: secure, HttpOnly: true, SameSite: site,
	})
}

func cookieName(name string, secure bool) string {
	if secure {
		return "__Host-" + name
	}
	return name
}

func cookieValue(r *http.Request, name string) string {
	c, err := r.Cookie(name)
	if err != nil {
		return ""
	}
	return c.Value
}
