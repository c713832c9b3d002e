package apptest

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/photo"
	"tagalong/internal/sign"
)

// PIN is everybody's in a [Live] shop.
const PIN = "730418"

// Live is a shop in memory that commands change: the core decides, its events
// are applied, and people sign with badges and PINs. It is for the tests of
// screens that send commands; its history begins when it opens, and it survives nothing.
type Live struct {
	Store
	mu      sync.Mutex
	answers map[core.CommandID]answered
	people  map[[32]byte]core.PersonID
	tablets map[[32]byte]app.Tablet
	tries   map[string]app.Tries
	photos  map[photo.Hash]app.Photo
	hash    string
	keys    sign.Keyring
	pins    *sign.Verifier
	// Lose is how many answers get lost on their way: the command is taken, and
	// the store fails.
	Lose int
}

type answered struct {
	sha    [32]byte
	answer app.Answer
}

// Live opens the floor to commands.
func (s *Floor) Live(t testing.TB) *Live {
	t.Helper()
	secret := make([]byte, sign.KeyBytes)
	_, _ = rand.Read(secret) // never fails (Go 1.24)
	key, err := sign.NewKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	l := &Live{
		Store: Store{Floor: s}, answers: map[core.CommandID]answered{}, people: map[[32]byte]core.PersonID{},
		tablets: map[[32]byte]app.Tablet{}, tries: map[string]app.Tries{}, photos: map[photo.Hash]app.Photo{}, keys: sign.NewKeyring(key),
	}
	if l.pins, err = sign.NewVerifier(l.keys, sign.DefaultCost); err != nil {
		t.Fatal(err)
	}
	pin, err := sign.ParsePIN(PIN)
	if err != nil {
		t.Fatal(err)
	}
	if l.hash, err = l.pins.Hash(context.Background(), pin); err != nil {
		t.Fatal(err)
	}
	return l
}

// Service is a service over the shop whose clock stands at Now.
func (l *Live) Service() *app.Service {
	return &app.Service{
		Store: l, Keys: l.keys, PINs: l.pins, Clock: func() time.Time { return Now }, Random: rand.Reader, Decide: core.Decide,
	}
}

// Badge issues a badge and returns its text.
func (l *Live) Badge(t testing.TB, p core.PersonID) string {
	t.Helper()
	if _, ok := l.World.Book.People[p]; !ok {
		t.Fatalf("apptest: nobody is %s", p)
	}
	b, err := sign.NewBadge(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.people[b.Hash()] = p
	return b.Text()
}

// Tablet enrols a tablet to a station and returns the secret in its cookie.
func (l *Live) Tablet(t testing.TB, at core.StationID) string {
	t.Helper()
	if _, ok := l.World.Book.Stations[at]; !ok {
		t.Fatalf("apptest: there is no station %s", at)
	}
	s, err := sign.NewTabletSecret(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.tablets[s.Hash()] = app.Tablet{ID: core.TabletID(fmt.Sprintf("T%d", len(l.tablets)+1)), Station: at, Enrolled: Now}
	return s.Text()
}

// Execute decides and applies.
func (l *Live) Execute(_ context.Context, c core.Command, sha [32]byte, decide func(core.World) core.Outcome) (app.Answer, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if before, ok := l.answers[c.ID]; ok {
		if before.sha != sha {
			return app.Answer{}, app.ErrOtherBody
		}
		before.answer.Again = true
		return l.lost(before.answer)
	}
	w := l.World
	for range 12 {
		w.Fresh = append(w.Fresh, core.PalletCode(fresh(code.Pallet)))
		w.Codes.Sheets = append(w.Codes.Sheets, core.PalletCode(fresh(code.Sheet)))
		w.Codes.Builds = append(w.Codes.Builds, core.BuildCode(fresh(code.Unit)))
	}
	for _, e := range l.Events { // a correction looks at what it takes back, and at what came after
		w.Past = append(w.Past, e.Event)
	}
	out := decide(w)
	a := app.Answer{Command: c.ID, Refusal: out.Refusal, Notices: out.Notices}
	for i, e := range out.Events {
		if err := core.Apply(l.World.State, e); err != nil {
			return app.Answer{}, err
		}
		a.Events = append(a.Events, app.Recorded{Seq: int64(len(l.Events) + i + 1), Recorded: Now, Command: c.ID, Device: c.Device, Event: e})
	}
	l.Events = append(l.Events, a.Events...)
	l.answers[c.ID] = answered{sha, a}
	return l.lost(a)
}

// History is what happened to a pallet since the shop opened; of anything else,
// all that happened.
func (l *Live) History(_ context.Context, q app.HistoryQuery) ([]app.Recorded, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []app.Recorded
	for _, e := range l.Events {
		if q.Pallet == "" || slices.Contains(e.Pallets, q.Pallet) {
			out = append(out, e)
		}
	}
	return out, l.Fault
}

func (l *Live) lost(a app.Answer) (app.Answer, error) {
	if l.Lose > 0 {
		l.Lose--
		return app.Answer{}, errors.New("apptest: the answer is lost")
	}
	return a, nil
}

// Change alters the floor while the shop runs.
func (l *Live) Change(f func(*Floor)) {
	l.mu.Lock()
	defer l.mu.Unlock()
	f(l.Floor)
}

func fresh(k code.Kind) string {
	c, err := code.New(k, rand.Reader)
	if err != nil {
		panic(err)
	}
	return string(c)
}

// NoteRefusal adds to Said.
func (l *Live) NoteRefusal(_ context.Context, r app.RefusalRow) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.Said = append(l.Said, r)
	return nil
}

// BadgeHolder finds the person of a badge.
func (l *Live) BadgeHolder(_ context.Context, sha [32]byte) (app.Holder, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	p, ok := l.people[sha]
	if !ok {
		return app.Holder{}, app.ErrNotFound
	}
	return app.Holder{Person: p, PINHash: l.hash, Badge: Now}, nil
}

// Try counts in memory.
func (l *Live) Try(_ context.Context, p core.PersonID, t core.TabletID, f func(p, t app.Tries) (app.Tries, app.Tries, error)) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	a, b, err := f(l.tries["p"+string(p)], l.tries["t"+string(t)])
	if err != nil {
		return err
	}
	l.tries["p"+string(p)], l.tries["t"+string(t)] = a, b
	return nil
}

// TabletBySecret finds an enrolled tablet.
func (l *Live) TabletBySecret(_ context.Context, sha [32]byte) (app.Tablet, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if t, ok := l.tablets[sha]; ok {
		return t, nil
	}
	return app.Tablet{}, app.ErrNotFound
}

// Session knows nobody.
func (l *Live) Session(context.Context, [32]byte, time.Time) (core.PersonID, error) {
	return "", app.ErrNotFound
}
