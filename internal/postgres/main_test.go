package postgres_test

import (
	"cmp"
	"context"
	"crypto/sha256"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres"
	"tagalong/internal/postgres/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// clock is a simulated application clock: it moves a second at every look, or as
// much as tick says.
type clock struct {
	mu   sync.Mutex
	now  time.Time
	tick time.Duration
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(cmp.Or(c.tick, time.Second))
	return c.now
}

func (c *clock) Advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// fixture is a store on a database of its own.
type fixture struct {
	*postgres.Store
	db    *pgtest.DB
	clock *clock
}

func newFixture(t testing.TB) *fixture {
	t.Helper()
	return newFixtureOn(t, pgtest.New(t))
}

func newFixtureOn(t testing.TB, db *pgtest.DB) *fixture {
	t.Helper()
	c := &clock{now: time.Date(2026, 11, 23, 7, 0, 0, 0, time.UTC)}
	return &fixture{openStore(t, db.AppURL, c), db, c}
}

func openStore(t testing.TB, url string, c *clock) *postgres.Store {
	t.Helper()
	s, err := postgres.Open(t.Context(), url, postgres.Options{Clock: c.Now})
	if err != nil {
		t.Fatalf("open: %v", err)
	}
	t.Cleanup(s.Close)
	return s
}

// connect opens a plain connection, closed after the test.
func connect(t testing.TB, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(context.Background()) })
	return conn
}

func must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// asked is a command body that names what a test wants.
type asked struct {
	What string
	N    core.Names
}

func (a asked) Kind() string      { return a.What }
func (a asked) Names() core.Names { return a.N }

func shaOf(s string) [32]byte { return sha256.Sum256([]byte(s)) }

// do executes a command and expects no error.
func (f *fixture) do(t testing.TB, id string, n core.Names, decide func(core.World) core.Outcome) app.Answer {
	t.Helper()
	a, err := f.Execute(t.Context(), core.Command{ID: core.CommandID(id), Body: asked{"test", n}, Station: "bench"}, shaOf(id), decide)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// happen makes an outcome of one event with effects.
func happen(id string, w core.World, kind core.EventKind, effects ...core.Effect) core.Outcome {
	return core.Outcome{Events: []core.Event{{ID: core.EventID(id + ".1"), Kind: kind, V: 1, Happened: w.Now, Effects: effects}}}
}

var bracket = core.ItemRev{Item: "BR-1", Rev: "A"}

// bear makes qty brackets on a new pallet, of the supplier.
func (f *fixture) bear(t testing.TB, id string, qty int, owner core.Owner) (core.PalletCode, core.LotID) {
	t.Helper()
	lot := core.LotID(id + "/1")
	var code core.PalletCode
	a := f.do(t, id, core.Names{}, func(w core.World) core.Outcome {
		code = w.Fresh[0]
		on := core.On(code)
		return happen(id, w, core.EvGoodsReceived,
			core.Effect{PalletPut: &core.PalletRow{Code: code, Kind: core.PalletCarrier, Station: "bench", Since: w.Now, Version: 1}},
			core.Effect{LotBorn: &core.Lot{ID: lot, Item: bracket, Owner: owner, Place: on, Heats: []string{"H1"}, Arrived: w.Now}},
			core.Effect{Moved: &core.Move{Lot: lot, Item: bracket, From: core.Place{Kind: core.FromSupplier}, To: on, Qty: qty}})
	})
	if a.Refusal != nil {
		t.Fatal(a.Refusal)
	}
	return code, lot
}

// split moves parts of a lot to another pallet, as a new lot; none left: a refusal.
func split(id string, from, to core.PalletCode, qty int) func(core.World) core.Outcome {
	return func(w core.World) core.Outcome {
		lots := w.State.LotsAt(core.On(from))
		if len(lots) == 0 || lots[0].Qty < qty {
			return core.Outcome{Refusal: &core.Refusal{Code: "too-few"}}
		}
		l := lots[0]
		born := l
		born.ID, born.Qty, born.Place, born.Parents = core.LotID(id+"/1"), 0, core.On(to), []core.LotID{l.ID}
		via := core.Place{Kind: core.Descent, Ref: id}
		out := happen(id, w, core.EvDivided,
			core.Effect{LotBorn: &born},
			core.Effect{Moved: &core.Move{Lot: l.ID, Item: l.Item, From: core.On(from), To: via, Qty: qty}},
			core.Effect{Moved: &core.Move{Lot: born.ID, Item: l.Item, From: via, To: core.On(to), Qty: qty}})
		out.Events[0].Lots = []core.LotCount{{Lot: born.ID, Item: l.Item, Owner: l.Owner, Good: qty}}
		return out
	}
}

func on(codes ...core.PalletCode) core.Names { return core.Names{Pallets: codes} }

// parts counts what the state says is on a pallet.
func (f *fixture) parts(t testing.TB, code core.PalletCode) int {
	t.Helper()
	n := 0
	for _, l := range must(f.Load(t.Context(), on(code), ""))(t).State.LotsAt(core.On(code)) {
		n += l.Qty
	}
	return n
}

func name(prefix string, n ...int) string {
	for _, x := range n {
		prefix += fmt.Sprintf("-%d", x)
	}
	return prefix
}
