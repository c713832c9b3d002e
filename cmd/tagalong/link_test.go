package main

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
)

// aTruck is the code of a consignment that nothing is known of.
const aTruck core.ConsignmentCode = "C5RPZHNR"

// link keeps a link of a token of its own and returns its address.
func (s *testShop) link(token string) (path string, id core.PersonID) {
	s.t.Helper()
	raw := sha256.Sum256([]byte(token))
	text := base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(raw[:])
	id, err := s.store.NewSiteLink(s.t.Context(), sha256.Sum256([]byte(text)), app.SiteLink{
		Consignment: aTruck, Note: "fitters’ team B", MadeBy: "P25", Made: s.clock(), EndsAt: s.clock().AddDate(0, 0, 30),
	})
	must(s.t, err)
	return "/L/" + text, id
}

// bearer is a browser that has claimed a link.
func (s *testShop) bearer() *browser {
	s.t.Helper()
	path, _ := s.link("the tests' own")
	b := s.browser()
	b.claims(path)
	return b
}

func (b *browser) claims(path string) {
	b.t.Helper()
	if got := b.form(path, nil); got.StatusCode != http.StatusSeeOther || got.Header.Get("Location") != "/site/mine" {
		b.t.Fatalf("claim: %d %s", got.StatusCode, got.body)
	}
}

// says asks for a page that must be refused with a sentence.
func (b *browser) says(path string, status int, sentence string) {
	b.t.Helper()
	got := b.get(path)
	if got.StatusCode != status || !strings.Contains(got.body, sentence) {
		b.t.Errorf("%s: %d, and not %q", path, got.StatusCode, sentence)
	}
}

// A link is claimed by the first who says so and by nobody's preview of it; it
// opens on that browser only, until it ends or is revoked.
func TestALinkIsClaimedOnce(t *testing.T) {
	s := newShop(t)
	path, id := s.link("first")
	if id != "L-C5RPZHNR-1" {
		t.Errorf("id %s", id)
	}
	for range 3 { // previews
		got := s.browser().get(path)
		if got.StatusCode != http.StatusOK || !strings.Contains(got.body, "This is me, at the site") || !strings.Contains(got.body, "C5RP ZHNR") {
			t.Fatalf("opened: %d", got.StatusCode)
		}
		if got.Header.Get("Set-Cookie") != "" || got.Header.Get("Referrer-Policy") != "strict-origin" || got.Header.Get("Cache-Control") != "no-store" {
			t.Errorf("opened: %v", got.Header)
		}
	}
	phone, other := s.browser(), s.browser()
	phone.claims(path[:3] + strings.ToLower(path[3:])) // as it is typed
	cookie := phone.http.Jar.Cookies(mustURL(t, s.url))
	if len(cookie) != 1 || strings.Contains(path, cookie[0].Value) {
		t.Errorf("the cookie %v", cookie)
	}
	if got := phone.get(path); got.Header.Get("Location") != "/site/mine" {
		t.Errorf("opened again on the same phone: %d", got.StatusCode)
	}
	const taken = "This link is in use on another phone; ask the dispatcher for a new one."
	other.says(path, http.StatusConflict, taken)
	if got := other.form(path, nil); got.StatusCode != http.StatusConflict || !strings.Contains(got.body, taken) {
		t.Errorf("claimed twice: %d", got.StatusCode)
	}
	other.says("/site/mine", http.StatusForbidden, "This page is opened with the link of a consignment.")
	s.signedIn("P27").says(path, http.StatusConflict, taken)

	free, _ := s.link("second")
	desk := s.signedIn("P25")
	desk.says(free, http.StatusConflict, "This browser is signed in or enrolled already")
	for _, wrong := range []string{"/L/NOBODY", "/L/" + strings.Repeat("A", 52)} {
		other.says(wrong, http.StatusNotFound, "There is no such link.")
	}

	got := desk.form("/dock/C5RPZHNR/links/"+string(id)+"/revoke", nil)
	if got.StatusCode != http.StatusSeeOther {
		t.Fatalf("revoke: %d %s", got.StatusCode, got.body)
	}
	phone.says("/site/mine", http.StatusGone, "This link was revoked by the shop.")
	phone.says(path, http.StatusGone, "This link was revoked by the shop.")
	phone.refused("work-at-site", s.request(core.WorkAtSite{Stage: "unpack"}), http.StatusGone, "link-revoked")

	later := s.browser()
	later.claims(free)
	s.pass(30*24*time.Hour + time.Minute)
	later.says("/site/mine", http.StatusGone, "This link has ended.")
	later.refused("receive-at-site", s.request(core.ReceiveAtSite{Consignment: aTruck}), http.StatusGone, "link-ended")
	for _, token := range []string{path[3:], free[3:]} {
		if strings.Contains(s.log.String(), token) {
			t.Error("a token stands in the log")
		}
	}
	if !strings.Contains(s.log.String(), `endpoint="POST /L/{token}"`) {
		t.Error("the log does not tell of a claim at all")
	}
}

// Whoever tries links that do not exist is made to wait, in a sentence; others
// are not, nor is a phone that has claimed its link, and it ends by itself.
func TestLinksAreNotGuessed(t *testing.T) {
	s := newShop(t)
	path, _ := s.link("the right one")
	phone, guesser := s.browser(), s.browser()
	phone.claims(path)
	free, _ := s.link("another")
	for i := range 10 {
		guess := "/L/" + strings.Repeat("A", 42) + strings.Repeat("B", 10-i) + strings.Repeat("C", i)
		if got := guesser.get(guess); got.StatusCode != http.StatusNotFound {
			t.Fatalf("guess %d: %d", i, got.StatusCode)
		}
	}
	for _, got := range []answer{guesser.get("/L/" + strings.Repeat("D", 52)), guesser.get(free), guesser.form(free, nil)} {
		if got.StatusCode != http.StatusTooManyRequests || !strings.Contains(got.body, "Too many links that do not exist were tried.") || !strings.Contains(got.body, "Wait 10 minutes") {
			t.Errorf("after ten guesses: %d", got.StatusCode)
		}
		if after, err := strconv.Atoi(got.Header.Get("Retry-After")); err != nil || after < 590 || after > 600 {
			t.Errorf("Retry-After %q", got.Header.Get("Retry-After"))
		}
		if got.Header.Get("Cache-Control") != "no-store" || got.Header.Get("Referrer-Policy") != "strict-origin" {
			t.Errorf("its headers: %v", got.Header)
		}
	}
	for _, own := range []string{path, "/site/mine"} { // the phone goes on
		if got := phone.get(own); got.StatusCode == http.StatusTooManyRequests {
			t.Errorf("%s: %d", own, got.StatusCode)
		}
	}
	s.pass(10 * time.Minute)
	guesser.claims(free)
}

// The bearer's pages are kept by no cache, and told to no other site.
func TestABearersPagesAreNotKept(t *testing.T) {
	s := newShop(t)
	phone := s.bearer()
	for _, path := range []string{"/site/mine", "/site/mine/snags"} {
		got := phone.get(path)
		if got.Header.Get("Cache-Control") != "no-store" || !strings.Contains("no-referrer same-origin strict-origin", got.Header.Get("Referrer-Policy")) || got.Header.Get("Referrer-Policy") == "" {
			t.Errorf("%s: %v", path, got.Header)
		}
	}
}

// Of many who press at once one has the link.
func TestOneOfManyClaimsALink(t *testing.T) {
	s := newShop(t)
	path, _ := s.link("crowd")
	const many = 8
	codes := make(chan int, many)
	for range many {
		b := s.browser()
		go func() {
			resp, err := b.http.Post(s.url+path, "application/x-www-form-urlencoded", nil)
			if err != nil {
				codes <- 0
				return
			}
			resp.Body.Close()
			codes <- resp.StatusCode
		}()
	}
	in := 0
	for range many {
		switch <-codes {
		case http.StatusSeeOther:
			in++
		case http.StatusConflict:
		default:
			t.Error("neither let in nor told that it is taken")
		}
	}
	if in != 1 {
		t.Errorf("%d were let in", in)
	}
}

// A bearer sends nothing that isn't theirs, whatever it names, and sees no
// photo of anybody else's.
func TestABearerSeesTheirsOnly(t *testing.T) {
	s := newShop(t)
	bench, phone := s.tablet("STORE-1"), s.bearer()
	others := bench.keeps(picture(t, "orientation-6.jpg"))
	if got := phone.get("/photos/" + others); got.StatusCode != http.StatusNotFound {
		t.Errorf("another's photo: %d", got.StatusCode)
	}
	own := phone.keeps(picture(t, "orientation-3.jpg"))
	if got := phone.get("/photos/" + own + "/thumb"); got.StatusCode != http.StatusOK {
		t.Errorf("their own photo: %d", got.StatusCode)
	}
	truck, err := code.New(code.Consignment, rand.Reader)
	must(t, err)
	phone.refused("receive-at-site", s.request(core.ReceiveAtSite{Consignment: core.ConsignmentCode(truck)}), http.StatusForbidden, "link-other-consignment")
	for path, want := range map[string]string{ // as the phone's own camera reads them
		"/P/PZPFPBFU": "/site/mine?box=PZPFPBFU", "/P/PZPFPBFU/2": "/site/mine?box=PZPFPBFU", "/C/" + string(aTruck): "/site/mine",
	} {
		if got := phone.get(path); got.Header.Get("Location") != want {
			t.Errorf("%s leads to %d %s", path, got.StatusCode, got.Header.Get("Location"))
		}
	}
	phone.says("/C/"+string(truck), http.StatusForbidden, "This link is for consignment C5RP ZHNR and no other.")
	phone.refused("work-at-site", s.request(core.WorkAtSite{Stage: "unpack", Picks: []core.Pick{{Lot: "L1", Qty: 1}}}), http.StatusForbidden, "link-other-lot")
	phone.refused("report-problem", s.request(core.ReportProblem{Lot: "L1", Qty: 1, What: "dent"}), http.StatusForbidden, "link-other-lot")
	phone.refused("report-problem", s.request(core.ReportProblem{Pallet: "PZPFPBFU", Lot: "L1", Qty: 1, What: "dent"}), http.StatusForbidden, "bearer-may-not")
	phone.refused("work-at-site", s.request(core.WorkAtSite{Stage: "unpack"}).signed(s.badge("P27")), http.StatusForbidden, "bearer-may-not")
	phone.refused("work-at-site", s.request(core.WorkAtSite{Stage: "unpack"}).with("waive", []core.Waiver{{Code: "x", Reason: "y"}}), http.StatusForbidden, "bearer-may-not")
	phone.refused("dispose", s.request(core.Dispose{Problem: "Q1"}), http.StatusForbidden, "bearer-may-not")
	if !strings.Contains(s.refusalCodes(), "link-other-lot/work-at-site//L-C5RPZHNR-1") {
		t.Errorf("on record: %s", s.refusalCodes())
	}
}

func mustURL(t *testing.T, text string) *url.URL {
	t.Helper()
	u, err := url.Parse(text)
	must(t, err)
	return u
}
