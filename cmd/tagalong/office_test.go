package main

import (
	"compress/gzip"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/screens"
	"tagalong/web/server"
)

var shownCode = regexp.MustCompile(`[2-9A-HJKMNP-Z]{4}-[2-9A-HJKMNP-Z]{4}`)

// TestFirstAdminToSigning goes the way of a new shop: the first admin sets a
// PIN and signs in, takes somebody on, prints a badge, enrols a tablet.
func TestFirstAdminToSigning(t *testing.T) {
	s := newShop(t)
	must(t, s.change("P01", func(p *core.Person) { p.Roles = []core.Role{core.Manager} })) // the samples' admin
	p, badge, one, err := s.app.FirstAdmin(t.Context(), "  Odo   Finch ")
	must(t, err)
	if p.Name != "Odo Finch" {
		t.Errorf("named %q", p.Name)
	}
	if _, _, _, err := s.app.FirstAdmin(t.Context(), "Second"); codeOf(err) != "admin-there" {
		t.Errorf("a second first admin: %v", err)
	}
	b := s.browser()
	set := url.Values{"badge": {badge.Text()}, "code": {one.Text()}, "pin": {"730416"}, "again": {"730416"}}
	if got := b.form("/set-pin", set); got.StatusCode != http.StatusOK || !strings.Contains(got.body, "The PIN of Odo Finch is set.") {
		t.Fatalf("set the PIN: %d %s", got.StatusCode, got.body)
	}
	if got := b.form("/set-pin", set); got.StatusCode != http.StatusForbidden || !strings.Contains(got.body, "not good, or no longer") {
		t.Errorf("the code used twice: %d", got.StatusCode)
	}
	got := b.form("/signin", url.Values{"badge": {badge.Text()}, "pin": {"730416"}, "next": {"/people"}})
	if got.StatusCode != http.StatusSeeOther || got.Header.Get("Location") != "/people" {
		t.Fatalf("sign in: %d %s", got.StatusCode, got.body)
	}
	for _, c := range got.Cookies() {
		if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" {
			t.Errorf("cookie %s: HttpOnly %v, SameSite %v", c.Name, c.HttpOnly, c.SameSite)
		}
	}
	got = b.form("/people", url.Values{"name": {"Wilma Tarn"}, "role": {"operator", "inspector"}})
	where := got.Header.Get("Location")
	if got.StatusCode != http.StatusSeeOther || !strings.HasPrefix(where, "/people/p-") {
		t.Fatalf("take on: %d %s", got.StatusCode, got.body)
	}
	if got := b.form("/people", url.Values{"name": {""}}); got.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("somebody without a name: %d", got.StatusCode)
	}
	if got := b.get(where); !strings.Contains(got.body, "no badge in force, no PIN yet") {
		t.Errorf("before the badge: %s", got.body)
	}
	if got := b.form(where+"/badge", nil); got.StatusCode != http.StatusOK || !strings.HasPrefix(got.body, "%PDF-") {
		t.Errorf("print a badge: %d %.40q", got.StatusCode, got.body)
	}
	if got := b.form(where+"/pin-code", nil); shownCode.FindString(got.body) == "" {
		t.Errorf("no code is shown: %s", got.body)
	}
	if got := b.form("/people/"+string(p.ID)+"/pin-code", nil); got.StatusCode != http.StatusForbidden || !strings.Contains(got.body, "own badge") {
		t.Errorf("a PIN code for oneself: %d", got.StatusCode)
	}
	if got := b.form("/people/"+string(p.ID), url.Values{"name": {"Odo Finch"}, "role": {"manager"}}); got.StatusCode != http.StatusConflict {
		t.Errorf("the last admin stops being one: %d", got.StatusCode)
	}
	shown := shownCode.FindString(b.form("/tablets", url.Values{"station": {"STORE-1"}}).body)
	tablet := s.browser()
	if got := tablet.form("/enrol", url.Values{"code": {strings.ToLower(shown)}}); got.StatusCode != http.StatusSeeOther {
		t.Fatalf("enrol: %d %s", got.StatusCode, got.body)
	}
	if got := s.browser().form("/enrol", url.Values{"code": {shown}}); got.StatusCode != http.StatusForbidden {
		t.Errorf("the same code on a second tablet: %d", got.StatusCode)
	}
	if got := b.get("/tablets"); !strings.Contains(got.body, "pallet store") || !strings.Contains(got.body, "Revoke") {
		t.Errorf("the list of tablets: %s", got.body)
	}
}

func codeOf(err error) string {
	if refused, ok := err.(*app.Refused); ok {
		return refused.Refusal.Code
	}
	return ""
}

func TestOneTimeCodesGrowOld(t *testing.T) {
	s := newShop(t)
	one, err := s.app.EnrolmentCode(t.Context(), app.Machine(), "STORE-1")
	must(t, err)
	s.pass(61 * time.Minute)
	if got := s.browser().form("/enrol", url.Values{"code": {one.Text()}}); got.StatusCode != http.StatusForbidden {
		t.Errorf("after an hour: %d", got.StatusCode)
	}
}

func TestSessionsEnd(t *testing.T) {
	s := newShop(t)
	open := func(b *browser) bool { return b.get("/office").StatusCode == http.StatusOK }

	aged := s.signedIn("P02")
	out := s.signedIn("P04")
	lost := s.signedIn("P05")
	left := s.signedIn("P06")
	for name, b := range map[string]*browser{"aged": aged, "out": out, "lost": lost, "left": left} {
		if !open(b) {
			t.Fatalf("%s is not signed in", name)
		}
	}
	if got := out.form("/sign-out", nil); got.StatusCode != http.StatusSeeOther || open(out) {
		t.Errorf("after signing out (%d) the session is still open", got.StatusCode)
	}
	must(t, s.app.RevokeBadge(t.Context(), app.Machine(), "P05"))
	if open(lost) {
		t.Error("the session of a badge that was ended is still open")
	}
	must(t, s.change("P06", func(p *core.Person) { p.Left = true }))
	if open(left) {
		t.Error("the session of somebody who left is still open")
	}
	s.pass(app.SessionLife + time.Second)
	if open(aged) {
		t.Error("a session outlives its time")
	}
}

func TestSignInGoesOnToOurOwnPagesOnly(t *testing.T) {
	s := newShop(t)
	badge := s.badge("P01")
	for next, want := range map[string]string{
		"/people":              "/people",
		"/find?q=4117":         "/find?q=4117",
		"":                     "/office",
		"//elsewhere.example":  "/office",
		"/\\elsewhere.example": "/office",
		"https://elsewhere.ex": "/office",
		"javascript:alert(1)":  "/office",
	} {
		got := s.browser().form("/signin", url.Values{"badge": {badge}, "pin": {pin}, "next": {next}})
		if got.Header.Get("Location") != want {
			t.Errorf("next=%q leads to %q, want %q", next, got.Header.Get("Location"), want)
		}
	}
}

// TestNoSecretInTheLog: neither badges, PINs, cookies nor one-time codes.
func TestNoSecretInTheLog(t *testing.T) {
	s := newShop(t)
	badge := s.badge(inspector)
	one, err := s.app.EnrolmentCode(t.Context(), app.Machine(), "INSPECT-1")
	must(t, err)
	b := s.browser()
	b.form("/enrol", url.Values{"code": {one.Text()}})
	b.form("/signin", url.Values{"badge": {badge}, "pin": {pin}})
	b.post("place-hold", s.request(hold).signed(badge))
	b.get("/signin?next=/people&badge=" + badge)
	b.get("/people/" + badge)
	address, err := url.Parse(s.url)
	must(t, err)
	secrets := []string{badge, pin, one.Text()}
	for _, c := range b.http.Jar.Cookies(address) {
		secrets = append(secrets, c.Value)
	}
	if len(secrets) != 5 {
		t.Fatalf("%d cookies, want the tablet's and the session's", len(secrets)-3)
	}
	log := s.log.String()
	if !strings.Contains(log, "POST /api/commands/place-hold") {
		t.Fatalf("the log lacks the command:\n%s", log)
	}
	for _, x := range secrets {
		if strings.Contains(log, x) {
			t.Errorf("the log holds the secret %.4s…", x)
		}
	}
}

func TestErrorsInPagesAndDocuments(t *testing.T) {
	s := newShop(t)
	b := s.browser()
	page := b.get("/no/such/page")
	if page.StatusCode != http.StatusNotFound || !strings.Contains(page.body, "There is nothing at this address.") {
		t.Errorf("page: %d %s", page.StatusCode, page.body)
	}
	if p := b.get("/api/no-such").problem(t); p.Code != "page-unknown" || p.Status != http.StatusNotFound || p.Remedy == "" {
		t.Errorf("document: %+v", p)
	}
	if got := b.send(http.MethodDelete, "/signin", "", nil); got.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("DELETE: %d", got.StatusCode)
	}
	big := url.Values{"name": {strings.Repeat("x", 100<<10)}}
	if got := s.signedIn("P01").form("/people", big); got.StatusCode != http.StatusRequestEntityTooLarge {
		t.Errorf("a large form: %d", got.StatusCode)
	}
}

func TestHealthNoticesTheDatabase(t *testing.T) {
	s := newShop(t)
	if got := s.browser().get("/healthz"); got.StatusCode != http.StatusOK {
		t.Errorf("healthy: %d", got.StatusCode)
	}
	s.store.Close()
	if got := s.browser().get("/healthz"); got.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("without its database: %d", got.StatusCode)
	}
}

// TestCookiesOverHTTPS: there the cookies' names keep a neighbouring host from
// setting them (the prefix __Host- of RFC 6265bis, section 4.1.3.2).
func TestCookiesOverHTTPS(t *testing.T) {
	s := newShop(t)
	badge := s.badge("P01")
	site, err := server.New(server.Options{App: s.app, Endpoints: screens.Endpoints(s.app), Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	must(t, err)
	web := httptest.NewTLSServer(site.Handler())
	defer web.Close()
	b := s.browser()
	b.shop = &testShop{t: t, url: web.URL}
	b.http.Transport = web.Client().Transport
	got := b.form("/signin", url.Values{"badge": {badge}, "pin": {pin}})
	if len(got.Cookies()) != 1 {
		t.Fatalf("%d cookies: %d %s", len(got.Cookies()), got.StatusCode, got.body)
	}
	c := got.Cookies()[0]
	if c.Name != "__Host-tagalong-session" || !c.Secure || !c.HttpOnly || c.Path != "/" || c.Domain != "" || c.SameSite != http.SameSiteStrictMode {
		t.Errorf("the cookie is %s", c.String())
	}
	if got := b.get("/people"); got.StatusCode != http.StatusOK {
		t.Errorf("with that cookie: %d", got.StatusCode)
	}
	if got := b.form("/sign-out", nil); len(got.Cookies()) != 1 || got.Cookies()[0].MaxAge >= 0 {
		t.Errorf("signing out leaves the cookie: %v", got.Cookies())
	}
}

// TestProxyHeadersAreNotBelieved: without a proxy in front, whoever asks can't
// make the server take plain HTTP for HTTPS.
func TestProxyHeadersAreNotBelieved(t *testing.T) {
	s := newShop(t)
	for behind, want := range map[bool]bool{false: false, true: true} {
		site, err := server.New(server.Options{App: s.app, Endpoints: screens.Endpoints(s.app), BehindTLS: behind,
			Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
		must(t, err)
		r := httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/sign-out", nil)
		r.Header.Set("X-Forwarded-Proto", "https")
		w := httptest.NewRecorder()
		site.Handler().ServeHTTP(w, r)
		cookies := w.Result().Cookies()
		if len(cookies) != 1 || cookies[0].Secure != want {
			t.Errorf("behind a proxy %v: %v", behind, cookies)
		}
	}
}

func TestPagesAreCompressed(t *testing.T) {
	s := newShop(t)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.url+"/api/refusals", nil)
	must(t, err)
	r.Header.Set("Accept-Encoding", "gzip")
	resp, err := http.DefaultClient.Do(r)
	must(t, err)
	defer resp.Body.Close()
	if got := resp.Header.Get("Content-Encoding"); got != "gzip" {
		t.Fatalf("Content-Encoding %q", got)
	}
	plain, err := gzip.NewReader(resp.Body)
	must(t, err)
	text, err := io.ReadAll(plain)
	must(t, err)
	if !strings.Contains(string(text), "pin-wrong") {
		t.Errorf("unpacked: %.200s", text)
	}
}
