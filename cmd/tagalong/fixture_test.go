package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/internal/intake"
	"tagalong/internal/postgres"
	"tagalong/internal/postgres/pgtest"
	"tagalong/internal/sign"
	"tagalong/web/screens"
	"tagalong/web/server"
)

func TestMain(m *testing.M) { pgtest.Main(browsertest.Sharing(m)) }

// pin is everybody's in these tests.
const pin = "482915"

// testShop is the sample shop over a real database, served over HTTP.
type testShop struct {
	t      *testing.T
	app    *app.Service
	store  *postgres.Store
	url    string
	dbURL  string
	bundle intake.Bundle
	log    *lockedBuffer

	mu  sync.Mutex
	now time.Time
}

// lockedBuffer is a log that handlers write and a test reads.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func (s *testShop) clock() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

func (s *testShop) pass(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now = s.now.Add(d)
}

// newShop opens a shop with the sample catalogue and nothing made yet.
func newShop(t *testing.T) *testShop {
	t.Helper()
	s := &testShop{t: t, now: time.Date(2026, 11, 25, 14, 12, 7, 0, time.UTC), log: &lockedBuffer{}, dbURL: pgtest.URL(t)}
	log := slog.New(slog.NewTextHandler(s.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	var err error
	s.store, err = postgres.Open(t.Context(), s.dbURL, postgres.Options{Clock: s.clock, Log: log})
	must(t, err)
	t.Cleanup(s.store.Close)
	key, err := sign.NewKey(bytes.Repeat([]byte{7}, sign.KeyBytes))
	must(t, err)
	s.app, err = app.New(s.store, sign.NewKeyring(key))
	must(t, err)
	s.app.Clock = s.clock
	s.app.Uploads = t.TempDir()
	// The least cost that is taken: these tests are not about the hash.
	s.app.PINs, err = sign.NewVerifier(sign.NewKeyring(key), sign.Cost{MemoryKiB: 8 * 1024, Passes: 1, Lanes: 1})
	must(t, err)
	s.fill()

	site, err := server.New(server.Options{App: s.app, Endpoints: screens.Endpoints(s.app), Log: log})
	must(t, err)
	web := httptest.NewServer(site.Handler())
	t.Cleanup(web.Close)
	s.url = web.URL
	return s
}

func (s *testShop) fill() {
	table := core.DefaultStages()
	var stages []core.Stage
	for _, name := range table.Order {
		stages = append(stages, table.Stages[name])
	}
	bundle, faults := intake.Read(os.DirFS("../../testdata/samples"), intake.Known{Book: &core.Book{Table: table}})
	if len(faults) > 0 {
		s.t.Fatalf("read the samples: %v", faults[0])
	}
	s.bundle = bundle
	_, _, err := s.store.SaveBook(s.t.Context(), "", "test", app.BookRows{
		Shop:   &app.Shop{Name: "Corrie Sheetworks", Zone: "Europe/London", Demo: true},
		Stages: stages, Routes: bundle.Routes, Items: bundle.Items, Stations: bundle.Stations,
		People: bundle.People, Instruments: bundle.Instruments, Batches: bundle.Batches,
	})
	must(s.t, err)
}

// badge gives a person a badge and the usual PIN.
func (s *testShop) badge(p core.PersonID) string {
	s.t.Helper()
	badge, _, err := s.app.IssueBadge(s.t.Context(), app.Machine(), p)
	must(s.t, err)
	parsed, err := sign.ParsePIN(pin)
	must(s.t, err)
	hash, err := s.app.PINs.Hash(s.t.Context(), parsed)
	must(s.t, err)
	must(s.t, s.store.SetPIN(s.t.Context(), p, hash, p))
	return badge.Text()
}

// browser is somebody's browser: with its own cookies, following nothing.
type browser struct {
	t    *testing.T
	shop *testShop
	http *http.Client
}

func (s *testShop) browser() *browser {
	jar, err := cookiejar.New(nil)
	must(s.t, err)
	return &browser{s.t, s, &http.Client{
		Jar:           jar,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// tablet is a browser enrolled to a station, by the pages as a person would.
func (s *testShop) tablet(station core.StationID) *browser {
	s.t.Helper()
	one, err := s.app.EnrolmentCode(s.t.Context(), app.Machine(), station)
	must(s.t, err)
	b := s.browser()
	if got := b.form("/enrol", url.Values{"code": {one.Text()}}); got.StatusCode != http.StatusSeeOther {
		s.t.Fatalf("enrol to %s: %d", station, got.StatusCode)
	}
	return b
}

// signedIn is a browser in which a person has signed in.
func (s *testShop) signedIn(p core.PersonID) *browser {
	s.t.Helper()
	b := s.browser()
	if got := b.form("/signin", url.Values{"badge": {s.badge(p)}, "pin": {pin}}); got.StatusCode != http.StatusSeeOther {
		s.t.Fatalf("sign %s in: %d %s", p, got.StatusCode, got.body)
	}
	return b
}

// answer is a response with its body read.
type answer struct {
	*http.Response
	body string
}

func (a answer) problem(t *testing.T) server.Problem {
	t.Helper()
	if got := a.Header.Get("Content-Type"); got != "application/problem+json" {
		t.Fatalf("status %d with %s, not a problem document: %s", a.StatusCode, got, a.body)
	}
	var p server.Problem
	must(t, json.Unmarshal([]byte(a.body), &p))
	return p
}

func (b *browser) send(method, path, kind string, body io.Reader) answer {
	b.t.Helper()
	req, err := http.NewRequestWithContext(b.t.Context(), method, b.shop.url+path, body)
	must(b.t, err)
	if kind != "" {
		req.Header.Set("Content-Type", kind)
	}
	resp, err := b.http.Do(req)
	must(b.t, err)
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	must(b.t, err)
	return answer{resp, string(text)}
}

func (b *browser) get(path string) answer {
	b.t.Helper()
	return b.send(http.MethodGet, path, "", nil)
}

func (b *browser) form(path string, values url.Values) answer {
	b.t.Helper()
	return b.send(http.MethodPost, path, "application/x-www-form-urlencoded", strings.NewReader(values.Encode()))
}

// request is a command's request; sign with signed.
type request map[string]any

func (s *testShop) request(body core.Body) request {
	return request{"id": uuid.NewString(), "happened": s.clock().Format(time.RFC3339Nano), "body": body}
}

func (r request) signed(badges ...string) request {
	var out []map[string]string
	for _, x := range badges {
		out = append(out, map[string]string{"badge": x, "pin": pin})
	}
	r["sign"] = out
	return r
}

func (r request) with(field string, value any) request { r[field] = value; return r }

func (b *browser) post(kind string, r request) answer {
	b.t.Helper()
	text, err := json.Marshal(r)
	must(b.t, err)
	return b.send(http.MethodPost, "/api/commands/"+kind, "application/json", bytes.NewReader(text))
}

// do sends a command that must be recorded.
func (b *browser) do(body core.Body, badges ...string) server.Answer {
	b.t.Helper()
	got := b.post(body.Kind(), b.shop.request(body).signed(badges...))
	if got.StatusCode != http.StatusOK {
		b.t.Fatalf("%s: %d %s", body.Kind(), got.StatusCode, got.body)
	}
	return decoded[server.Answer](b.t, got)
}

// refused sends a request that must be refused so.
func (b *browser) refused(kind string, r request, status int, code string) server.Problem {
	b.t.Helper()
	got := b.post(kind, r)
	p := got.problem(b.t)
	if got.StatusCode != status || p.Code != code {
		b.t.Fatalf("%s: %d %s, want %d %s: %s", kind, got.StatusCode, p.Code, status, code, got.body)
	}
	if strings.Contains(p.Title+p.Remedy+p.Why, "(not known)") {
		b.t.Errorf("%s lacks a parameter: %s %s", code, p.Title, p.Remedy)
	}
	return p
}

func decoded[T any](t *testing.T, a answer) T {
	t.Helper()
	var v T
	if err := json.Unmarshal([]byte(a.body), &v); err != nil {
		t.Fatalf("%v in %s", err, a.body)
	}
	return v
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// refusalCodes are the codes on record, latest first.
func (s *testShop) refusalCodes() string {
	rows, err := s.store.Refusals(s.t.Context(), app.RefusalQuery{Limit: 100})
	must(s.t, err)
	var out []string
	for _, r := range rows {
		out = append(out, fmt.Sprintf("%s/%s/%s/%s", r.Refusal.Code, r.Kind, r.Station, r.Person))
	}
	return strings.Join(out, " ")
}
