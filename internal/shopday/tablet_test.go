package shopday

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/server"
)

// tablet is a device with its own cookies that speaks HTTP.
type tablet struct {
	shop    *shop
	station core.StationID
	http    *http.Client
}

// device is a tablet nobody has enrolled.
func (s *shop) device() *tablet {
	s.t.Helper()
	jar, err := cookiejar.New(nil)
	must(s.t, err)
	return &tablet{shop: s, http: &http.Client{
		Jar:           jar,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// at is the tablet of a station, enrolled at first use by a one-time code.
func (s *shop) at(station core.StationID) *tablet {
	s.t.Helper()
	if b, ok := s.tablets[station]; ok {
		return b
	}
	s.tablets[station] = s.enrolled(station)
	return s.tablets[station]
}

func (s *shop) enrolled(station core.StationID) *tablet {
	s.t.Helper()
	one, err := s.app.EnrolmentCode(s.t.Context(), app.Machine(), station)
	must(s.t, err)
	b := s.device()
	b.station = station
	got := b.send(http.MethodPost, "/enrol", "application/x-www-form-urlencoded", url.Values{"code": {one.Text()}}.Encode())
	if got.StatusCode != http.StatusSeeOther {
		s.t.Fatalf("enrol to %s: %d %s", station, got.StatusCode, got.body)
	}
	return b
}

// answer is a response with its body read.
type answer struct {
	*http.Response
	body string
}

func (b *tablet) send(method, path, kind, body string) answer {
	t := b.shop.t
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, b.shop.url+path, strings.NewReader(body))
	must(t, err)
	if kind != "" {
		req.Header.Set("Content-Type", kind)
	}
	resp, err := b.http.Do(req)
	must(t, err)
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	must(t, err)
	return answer{resp, string(text)}
}

// request is a command as a device sends it.
type request struct {
	ID        string        `json:"id"`
	Happened  time.Time     `json:"happened"`
	PrintSeen int           `json:"printSeen,omitempty"`
	Confirm   []string      `json:"confirm,omitempty"`
	Waive     []core.Waiver `json:"waive,omitempty"`
	Body      core.Body     `json:"body"`
	Sign      []app.Sign    `json:"sign,omitempty"`
}

// asks makes a request under a fresh id, signed by these people.
func (s *shop) asks(body core.Body, people ...core.PersonID) request {
	s.t.Helper()
	r := request{ID: uuid.NewString(), Happened: s.clock(), Body: body}
	for _, p := range people {
		r.Sign = append(r.Sign, app.Sign{Badge: s.badge(p), PIN: pin})
	}
	return r
}

func (b *tablet) post(r request) answer {
	b.shop.t.Helper()
	text, err := json.Marshal(r)
	must(b.shop.t, err)
	return b.send(http.MethodPost, "/api/commands/"+r.Body.Kind(), "application/json", string(text))
}

// does sends a command that must be recorded, and returns its event.
func (b *tablet) does(body core.Body, people ...core.PersonID) core.Event {
	b.shop.t.Helper()
	b.shop.pass(time.Minute)
	return b.recorded(b.post(b.shop.asks(body, people...)))
}

// puts is does for what puts parts on a pallet that was carried here without a
// scan: the question whether it is here is answered yes.
func (b *tablet) puts(body core.Body, people ...core.PersonID) core.Event {
	b.shop.t.Helper()
	b.shop.pass(time.Minute)
	ask := b.shop.asks(body, people...)
	ask.Confirm = []string{"pallet-elsewhere"}
	return b.recorded(b.post(ask))
}

// recorded is the event of an answer that must be a first one.
func (b *tablet) recorded(got answer) core.Event {
	t := b.shop.t
	t.Helper()
	if got.StatusCode != http.StatusOK {
		t.Fatalf("%s: %d %s", got.Request.URL.Path, got.StatusCode, got.body)
	}
	a := decoded[server.Answer](t, got.body)
	if a.Again || len(a.Events) != 1 {
		t.Fatalf("%s: not one new event: %s", got.Request.URL.Path, got.body)
	}
	return a.Events[0].Event
}

func decoded[T any](t testing.TB, text string) T {
	t.Helper()
	var v T
	if err := json.NewDecoder(bytes.NewReader([]byte(text))).Decode(&v); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	return v
}
