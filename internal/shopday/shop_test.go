package shopday

import (
	"bytes"
	"context"
	"log/slog"
	"net/http/httptest"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/internal/postgres"
	"tagalong/internal/postgres/pgtest"
	"tagalong/internal/sign"
	"tagalong/web/screens"
	"tagalong/web/server"
)

func TestMain(m *testing.M) { pgtest.Main(browsertest.Sharing(m)) }

// pin is everybody's in these tests.
const pin = "482915"

// opening is when the day begins, a Wednesday.
var opening = time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)

// shop is the sample shop over a real database, served over HTTP. Its clock
// stands still between steps, so that a day is the same whenever it is played.
type shop struct {
	t     testing.TB
	app   *app.Service
	store *postgres.Store
	sql   *pgx.Conn
	url   string

	mu      sync.Mutex
	now     time.Time
	badges  map[core.PersonID]string
	tablets map[core.StationID]*tablet
}

func (s *shop) clock() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

// pass lets time go by.
func (s *shop) pass(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now = s.now.Add(d)
}

// open opens the shop with the samples and the day's own orders imported.
func open(t testing.TB) *shop {
	t.Helper()
	s := openEmpty(t)
	must(t, s.app.SetShop(t.Context(), app.Machine(), app.Shop{
		Name: "Corrie Sheetworks", Zone: "Europe/London", Demo: true, Address: "HTTPS://SHOP.EXAMPLE",
	}))
	for _, dir := range []string{"../../testdata/samples", "../../testdata/shopday"} {
		_, faults, err := s.app.Import(t.Context(), "", dir, os.DirFS(dir))
		must(t, err)
		for _, f := range faults {
			t.Errorf("%s: %v", dir, f)
		}
	}
	return s
}

// openEmpty serves a database that has nothing in it but its tables.
func openEmpty(t testing.TB) *shop {
	t.Helper()
	s := &shop{t: t, now: opening, badges: map[core.PersonID]string{}, tablets: map[core.StationID]*tablet{}}
	log := slog.New(slog.NewTextHandler(testLog{t}, nil))
	db := pgtest.New(t)
	var err error
	s.store, err = postgres.Open(t.Context(), db.AppURL, postgres.Options{Clock: s.clock, Log: log})
	must(t, err)
	t.Cleanup(s.store.Close)
	s.sql, err = pgx.Connect(t.Context(), db.AppURL)
	must(t, err)
	t.Cleanup(func() { _ = s.sql.Close(context.Background()) })

	key, err := sign.NewKey(bytes.Repeat([]byte{9}, sign.KeyBytes))
	must(t, err)
	s.app, err = app.New(s.store, sign.NewKeyring(key))
	must(t, err)
	s.app.Clock = s.clock
	// The least cost that is taken: the hash has tests of its own.
	s.app.PINs, err = sign.NewVerifier(sign.NewKeyring(key), sign.Cost{MemoryKiB: 8 * 1024, Passes: 1, Lanes: 1})
	must(t, err)

	site, err := server.New(server.Options{App: s.app, Endpoints: screens.Endpoints(s.app), Log: log})
	must(t, err)
	web := httptest.NewServer(site.Handler())
	t.Cleanup(web.Close)
	s.url = web.URL
	return s
}

// badge is a person's badge, issued at first use with the usual PIN.
func (s *shop) badge(p core.PersonID) string {
	s.t.Helper()
	if text, ok := s.badges[p]; ok {
		return text
	}
	s.badges[p] = s.issue(p)
	return s.badges[p]
}

// issue gives a person a new badge, which ends the one before.
func (s *shop) issue(p core.PersonID) string {
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

// book is the catalogue.
func (s *shop) book() *core.Book {
	s.t.Helper()
	b, err := s.app.Book(s.t.Context())
	must(s.t, err)
	return b
}

// on lists the lots on a pallet, in order of their ids.
func (s *shop) on(p core.PalletCode) []core.Lot {
	s.t.Helper()
	w, err := s.app.World(s.t.Context(), core.Names{Pallets: []core.PalletCode{p}}, "")
	must(s.t, err)
	return w.State.LotsAt(core.On(p))
}

// lot reads a lot, wherever it is.
func (s *shop) lot(id core.LotID) core.Lot {
	s.t.Helper()
	lots, err := s.store.Lots(s.t.Context(), []core.LotID{id})
	must(s.t, err)
	if len(lots) != 1 {
		s.t.Fatalf("no lot %s", id)
	}
	return lots[0]
}

// pallet is a pallet's row.
func (s *shop) pallet(p core.PalletCode) core.PalletRow {
	s.t.Helper()
	w, err := s.app.World(s.t.Context(), core.Names{Pallets: []core.PalletCode{p}}, "")
	must(s.t, err)
	row, ok := w.State.Pallets[p]
	if !ok {
		s.t.Fatalf("no pallet %s", p)
	}
	return row
}

// events counts what is on record.
func (s *shop) events() int {
	s.t.Helper()
	var n int
	must(s.t, s.sql.QueryRow(s.t.Context(), "SELECT count(*) FROM event").Scan(&n))
	return n
}

// verified checks the record against itself and the state.
func (s *shop) verified() {
	s.t.Helper()
	report, faults, err := s.store.Verify(s.t.Context())
	must(s.t, err)
	for _, f := range faults {
		s.t.Errorf("verify: %v", f)
	}
	if report.Events == 0 || report.Moves == 0 || report.Lots == 0 {
		s.t.Errorf("verify looked at nothing: %+v", report)
	}
}

// testLog sends a server's log to the test's.
type testLog struct{ t testing.TB }

func (l testLog) Write(p []byte) (int, error) {
	l.t.Logf("server: %s", bytes.TrimSpace(p))
	return len(p), nil
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
