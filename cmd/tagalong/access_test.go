package main

import (
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

// asker is one kind of caller with a browser.
type asker struct {
	name    string
	words   []string // of admitted that let them in
	browser *browser
}

// askers are nobody, a tablet, the bearer of a link, and one person of each role
// and of none.
func askers(t *testing.T, s *testShop) []asker {
	all := []asker{
		{"nobody", []string{"everybody", "demo"}, s.browser()},
		{"tablet", []string{"everybody", "demo", "tablet"}, s.tablet("STORE-1")},
		{"bearer", []string{"everybody", "demo", "bearer"}, s.bearer()},
	}
	roles := append([]core.Role{""}, core.Roles...)
	for i, role := range roles {
		id := core.PersonID(fmt.Sprintf("X%02d", i))
		p := core.Person{ID: id, Name: "Test " + string(role)}
		if role != "" {
			p.Roles = []core.Role{role}
		}
		_, _, err := s.store.SaveBook(t.Context(), "", "test", app.BookRows{People: []core.Person{p}})
		must(t, err)
		all = append(all, asker{"role " + string(role), []string{"everybody", "demo", "signed-in", string(role)}, s.signedIn(id)})
	}
	return all
}

// TestEveryEndpointByEveryRole asks for every endpoint as every caller. Who is
// let in may be refused for what was asked; who isn't gets 401 or 403, or is
// sent to sign in, and nothing else.
func TestEveryEndpointByEveryRole(t *testing.T) {
	s := newShop(t)
	people := askers(t, s)
	for _, e := range table() {
		name := e.Method + " " + e.Path
		want, ok := admitted[name]
		if !ok {
			t.Errorf("%s stands in the table of endpoints and not in this test's: say here who may call it", name)
			continue
		}
		for _, who := range people {
			if changesWho(e) && who.name != "nobody" {
				continue // it would end or move who asks
			}
			let := slices.ContainsFunc(strings.Fields(want), func(w string) bool { return slices.Contains(who.words, w) })
			if e.Stream {
				continue // never ends; its access is judged below
			}
			got := who.browser.send(e.Method, filled(e.Path), "application/json", strings.NewReader(""))
			if in := wasLetIn(got); in != let {
				t.Errorf("%s as %s: let in %v, want %v (%d %s)", name, who.name, in, let, got.StatusCode, got.Header.Get("Location"))
			}
		}
	}
	for name := range admitted {
		if !slices.ContainsFunc(table(), func(e endpoint.Endpoint) bool { return e.Method+" "+e.Path == name }) {
			t.Errorf("%s stands in this test's table and is no endpoint", name)
		}
	}
}

// changesWho reports whether an endpoint changes who the browser is.
func changesWho(e endpoint.Endpoint) bool {
	return e.Method == http.MethodPost && slices.Contains([]string{"/sign-out", "/enrol", "/signin", "/demo/tablet", "/demo/office"}, e.Path)
}

// wasLetIn tells the server's own turning away from whatever a handler says: it
// has one of four codes or leads to the sign-in page with a page to go on to.
func wasLetIn(a answer) bool {
	if strings.HasPrefix(a.Header.Get("Location"), "/signin?next=") {
		return false
	}
	if a.StatusCode != http.StatusUnauthorized && a.StatusCode != http.StatusForbidden {
		return true
	}
	return !regexp.MustCompile(`(unenrolled-tablet|needs-sign-in|needs-tablet|role-lacking|tablet-revoked|link-needed|bearer-may-not)`).MatchString(a.body)
}

var parameter = regexp.MustCompile(`\{[a-z]+\}`)

// filled puts something in for the parameters of a path that names nothing.
func filled(path string) string {
	return parameter.ReplaceAllString(strings.TrimSuffix(path, "*"), "nobody")
}

// TestAccessAsWritten judges every endpoint, those that never end too, without
// asking for it.
func TestAccessAsWritten(t *testing.T) {
	for _, e := range table() {
		words := strings.Fields(admitted[e.Method+" "+e.Path])
		for _, x := range []struct {
			caller app.Caller
			words  []string
		}{
			{app.Caller{}, []string{"everybody"}},
			{app.Caller{Tablet: "t-1", Station: "S"}, []string{"everybody", "tablet"}},
			{app.Caller{Person: "p", Roles: []core.Role{core.Fitter}}, []string{"everybody", "signed-in", "fitter"}},
			{app.Caller{Person: "p", Roles: []core.Role{core.Admin}}, []string{"everybody", "signed-in", "admin"}},
			{app.Caller{Bearer: app.Bearer{Link: "L-C-1", Consignment: "C"}}, []string{"everybody", "bearer"}},
			{app.Caller{LinkOver: "link-ended"}, []string{"everybody"}},
			{app.Caller{Revoked: true}, []string{"everybody"}},
		} {
			want := slices.ContainsFunc(words, func(w string) bool { return slices.Contains(x.words, w) })
			if got := e.Access.Judge(x.caller, false) == endpoint.Allowed; got != want {
				t.Errorf("%s %s for %+v: %v, want %v", e.Method, e.Path, x.caller, got, want)
			}
		}
	}
}

// TestEveryPageIsGuarded: a content security policy without inline script or
// style, and pages that obey it.
func TestEveryPageIsGuarded(t *testing.T) {
	s := newShop(t)
	admin := s.signedIn("P01")
	inline := regexp.MustCompile(`(?i)<script(?:\s[^>]*)?>\s*[^<\s]|\sstyle=|\son[a-z]+=|<style|javascript:`)
	for _, e := range table() {
		if e.Method != http.MethodGet || e.Stream || e.Path == "/assets/*" {
			continue
		}
		got := admin.get(filled(e.Path))
		policy := got.Header.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'self'", "script-src 'self'", "style-src 'self'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"} {
			if !strings.Contains(policy, want) {
				t.Errorf("%s: the policy %q lacks %s", e.Path, policy, want)
			}
		}
		if strings.Contains(policy, "unsafe") {
			t.Errorf("%s: the policy allows something unsafe: %s", e.Path, policy)
		}
		if got.Header.Get("X-Content-Type-Options") != "nosniff" || got.Header.Get("Referrer-Policy") != referrers(e) || got.Header.Get("Cache-Control") != "no-store" {
			t.Errorf("%s: headers %v", e.Path, got.Header)
		}
		if strings.HasPrefix(got.Header.Get("Content-Type"), "text/html") {
			if hit := inline.FindString(got.body); hit != "" {
				t.Errorf("%s holds %q, which its policy forbids", e.Path, hit)
			}
		}
	}
}

// referrers is what a page lets the next one know of its address: within the
// shop the whole of it, of one that holds a secret never more than the host.
func referrers(e endpoint.Endpoint) string {
	if e.Path == "/L/{token}" {
		return "strict-origin"
	}
	return "same-origin"
}

func TestOtherSitesAreRefused(t *testing.T) {
	s := newShop(t)
	desk := s.signedIn("P01")
	for _, header := range []map[string]string{
		{"Sec-Fetch-Site": "cross-site"},
		{"Sec-Fetch-Site": "same-site"},
		{"Origin": "https://elsewhere.example"},
	} {
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.url+"/people", strings.NewReader("name=Nobody"))
		must(t, err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		for k, v := range header {
			req.Header.Set(k, v)
		}
		resp, err := desk.http.Do(req)
		must(t, err)
		resp.Body.Close()
		if resp.StatusCode != http.StatusForbidden {
			t.Errorf("%v: %d", header, resp.StatusCode)
		}
	}
	book, err := s.app.Book(t.Context())
	must(t, err)
	for _, p := range book.People {
		if p.Name == "Nobody" {
			t.Error("another site's form took somebody on")
		}
	}
}
