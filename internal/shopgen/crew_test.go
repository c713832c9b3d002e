package shopgen

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"reflect"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres"
	"tagalong/internal/postgres/pgtest"
	"tagalong/internal/sign"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// running is a demo shop in a database of its own, made just now, as
// `tagalong demo` opens it. Time passes when the test says so.
type running struct {
	t        *testing.T
	svc      *app.Service
	store    *postgres.Store
	visitors *Visitors
	crew     *Crew
	now      atomic.Int64
}

func newRunning(t *testing.T) *running {
	t.Helper()
	// A Wednesday of its own and chances of its own: the same shop each time.
	db, began := pgtest.New(t), time.Date(2026, time.November, 25, 14, 12, 0, 0, time.UTC)
	clock, err := NewClock(began)
	check(t, err)
	key, err := sign.NewKey(slices.Repeat([]byte{7}, sign.KeyBytes))
	check(t, err)
	ring := sign.NewKeyring(key)
	serve := func(o postgres.Options) (*app.Service, *postgres.Store) {
		store, err := postgres.Open(t.Context(), db.AppURL, o)
		check(t, err)
		svc, err := app.New(store, ring)
		check(t, err)
		svc.PINs, err = sign.NewVerifier(ring, sign.Cost{MemoryKiB: 8 * 1024, Passes: 1, Lanes: 1})
		check(t, err)
		return svc, store
	}
	maker, store := serve(postgres.Options{Clock: clock.Now, Random: Random("codes"), MaxConns: 4})
	_, err = Demo(t.Context(), maker, clock)
	check(t, err)
	store.Close()

	r := &running{t: t}
	r.now.Store(began.UnixMicro())
	tell := func() time.Time { return time.UnixMicro(r.now.Load()) }
	r.svc, r.store = serve(postgres.Options{Clock: tell})
	t.Cleanup(r.store.Close)
	r.svc.Clock = tell
	r.visitors = NewVisitors(tell)
	r.svc.Store = r.visitors.Store(r.store)
	r.crew, err = NewCrew(t.Context(), r.svc, r.visitors, slog.New(slog.NewTextHandler(t.Output(), nil)))
	check(t, err)
	r.crew.rng = rand.New(rand.NewPCG(7, 7))
	return r
}

func check(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func (r *running) pass(d time.Duration) { r.now.Add(d.Microseconds()) }

// ticks lets the simulated people work at n ticks.
func (r *running) ticks(n int) {
	r.t.Helper()
	ticks := make(chan time.Time)
	ctx, stop := context.WithCancel(r.t.Context())
	gone := make(chan struct{})
	go func() { defer close(gone); r.crew.Run(ctx, ticks) }()
	for range n {
		r.pass(Pace)
		ticks <- time.UnixMicro(r.now.Load())
	}
	// The people take one tick at a time: one more is taken when the last is done.
	r.crew.Pause(true)
	ticks <- time.UnixMicro(r.now.Load())
	stop()
	<-gone
	r.crew.Pause(false)
}

// visitor is a browser that was made a tablet.
func (r *running) visitor(name string, at core.StationID) app.Caller {
	r.t.Helper()
	code, err := r.svc.EnrolmentCode(r.t.Context(), app.Machine(), at)
	check(r.t, err)
	secret, _, err := r.svc.Enrol(r.t.Context(), code.Text())
	check(r.t, err)
	c, err := r.svc.CallerOf(r.t.Context(), app.Secrets{Tablet: secret.Text()})
	check(r.t, err)
	r.visitors.Met(c.Tablet, name)
	return c
}

var ids atomic.Int64

func (r *running) do(c app.Caller, body core.Body) (app.Answer, error) {
	r.t.Helper()
	text, err := json.Marshal(body)
	check(r.t, err)
	id := core.CommandID(fmt.Sprintf("00000000-0000-4000-8000-%012x", ids.Add(1)))
	return r.svc.Do(r.t.Context(), c, body.Kind(), app.Request{ID: id, Happened: r.svc.Clock(), LastContact: r.svc.Clock(), Body: text})
}

func (r *running) verified() {
	r.t.Helper()
	report, faults, err := r.store.Verify(r.t.Context())
	check(r.t, err)
	for _, f := range faults {
		r.t.Errorf("verify: %v", f)
	}
	r.t.Logf("verified: %d events, %d lots", report.Events, report.Lots)
}

// TestWholeShop makes the demo shop in a database and looks at it as the pages
// do; then the people go on, with a visitor among them.
func TestWholeShop(t *testing.T) {
	r := newRunning(t)
	t.Run("figures", func(t *testing.T) { figures(t, r) })
	t.Run("people", func(t *testing.T) { peopleGoOn(t, r) })
	t.Run("visitors", func(t *testing.T) { twoVisitors(t, r) })
	t.Run("again", func(t *testing.T) { again(t, r) })
}

func figures(t *testing.T, r *running) {
	r.verified()
	orders, err := r.svc.Orders(t.Context())
	check(t, err)
	late := 0
	for _, o := range orders.Orders {
		if o.Late {
			late++
		}
	}
	if n := len(orders.Orders); n < 10 || n > 16 || late < 2 || late > 5 {
		t.Errorf("%d orders, %d of them late", n, late)
	}
	wall, err := r.svc.Glance(t.Context())
	check(t, err)
	if wall.Pallets < 80 || wall.Pallets > 120 || len(wall.Held) < 3 || len(wall.Late) != late {
		t.Errorf("the wall counts %d pallets, %d held, %d late", wall.Pallets, len(wall.Held), len(wall.Late))
	}
	kinds := map[core.EventKind]int{}
	var first time.Time
	for _, no := range []string{"O-4092", "O-4094", "O-4096", "O-4098", "O-4101", "O-4107"} {
		events, err := r.svc.Store.History(t.Context(), app.HistoryQuery{Order: no, Limit: 2000})
		check(t, err)
		for _, e := range events {
			kinds[e.Kind]++
			if first.IsZero() || e.Recorded.Before(first) {
				first = e.Recorded
			}
			if e.Recorded.After(r.svc.Clock()) {
				t.Fatalf("%s is to come", e.ID)
			}
		}
	}
	if age := r.svc.Clock().Sub(first); age < 19*24*time.Hour {
		t.Errorf("the history begins %v ago", age)
	}
	for _, k := range []core.EventKind{core.EvDivided, core.EvDisposed, core.EvShipped, core.EvReceived, core.EvAssembled, core.EvHeld} {
		if kinds[k] == 0 && k != core.EvHeld {
			t.Errorf("no %s in the history of the orders", k)
		}
	}
	remade, err := r.svc.Store.LoadOrder(t.Context(), "O-4094")
	check(t, err)
	if !slices.ContainsFunc(values(remade.State.Lots), func(l core.Lot) bool { return l.Remake != "" && l.Qty > 0 }) {
		t.Error("order O-4094 has no part that was made again")
	}
}

// peopleGoOn: after some ticks the wall tells another story; what a visitor
// touched, the story's orders and what is put out to be tried lie as before.
func peopleGoOn(t *testing.T, r *running) {
	before, err := r.svc.Glance(t.Context())
	check(t, err)
	tries, err := Tries(t.Context(), r.svc, nil)
	check(t, err)
	cards, err := r.svc.Store.Pallets(t.Context(), 500)
	check(t, err)
	cards = slices.DeleteFunc(cards, func(c app.PalletCard) bool {
		return c.Kind != core.PalletCarrier || c.Bound != "" || len(c.Orders) != 1 || ofStory(c.Orders[0]) ||
			slices.ContainsFunc(tries, func(x Try) bool { return x.Pallet == c.Code })
	})
	if len(cards) == 0 {
		t.Fatal("no pallet for a visitor")
	}
	// One that waits for a step, which the people would do; else one that waits for its set, which they would gather from.
	mine := cards[max(0, slices.IndexFunc(cards, func(c app.PalletCard) bool { return c.NextStage != "" }))]
	if _, err := r.do(r.visitor("ann", mine.Station), core.PrintTraveller{Pallet: mine.Code}); err != nil {
		t.Fatal(err)
	}
	was := r.lie(mine.Code)
	put := map[core.PalletCode]core.PalletRow{}
	for _, x := range tries {
		if x.Pallet != "" {
			put[x.Pallet] = r.lie(x.Pallet)
		}
	}
	r.ticks(150)
	status := r.crew.Status()
	if status.Done < 100 || status.What == "" {
		t.Errorf("after 150 ticks they had done %d things, last: %s", status.Done, status.What)
	}
	t.Logf("%d commands in 150 ticks, last: %s", status.Done, status.What)
	after, err := r.svc.Glance(t.Context())
	check(t, err)
	if after.Seq <= before.Seq || reflect.DeepEqual(before.Groups, after.Groups) || after.Today.Signed <= before.Today.Signed {
		t.Errorf("the wall did not move: %+v then %+v", before.Today, after.Today)
	}
	if now := r.lie(mine.Code); !reflect.DeepEqual(was, now) {
		t.Errorf("the visitor's pallet was %+v and is %+v", was, now)
	}
	for code, was := range put {
		if now := r.lie(code); !reflect.DeepEqual(was, now) {
			t.Errorf("pallet %s, put out to be tried, was %+v and is %+v", code, was, now)
		}
	}
	refused, err := r.svc.Store.Refusals(t.Context(), app.RefusalQuery{Limit: 500})
	check(t, err)
	lately := 0
	for _, x := range refused {
		if x.At.After(before.AsOf) {
			lately++
			t.Logf("refused: %s %s at %s %v", x.Kind, x.Refusal.Code, x.Station, x.Refusal.Params)
		}
	}
	if lately > 5 {
		t.Errorf("they were refused %d times", lately)
	}
	r.verified()

	r.crew.Pause(true)
	if did, err := r.crew.Step(t.Context()); did || err != nil || !r.crew.Status().Paused {
		t.Errorf("they work while they rest: %v %v", did, err)
	}
	r.crew.Pause(false)
}

// lie is how a pallet lies.
func (r *running) lie(code core.PalletCode) core.PalletRow {
	r.t.Helper()
	w, err := r.svc.World(r.t.Context(), core.Names{Pallets: []core.PalletCode{code}}, "")
	check(r.t, err)
	return w.State.Pallets[code]
}

// twoVisitors: one at a time works on a pallet, until they leave it or hand it on.
func twoVisitors(t *testing.T, r *running) {
	list, err := Tries(t.Context(), r.svc, nil)
	check(t, err)
	i := slices.IndexFunc(list, func(x Try) bool { return x.Key == "fold" })
	if list[i].None {
		t.Fatal("nothing waits for a press brake")
	}
	code, at := list[i].Pallet, list[i].At
	bea, cal := r.visitor("bea", at), r.visitor("cal", at)
	if _, err := r.do(bea, core.PrintTraveller{Pallet: code}); err != nil {
		t.Fatal(err)
	}
	var no *app.Refused
	if _, err := r.do(cal, core.PrintTraveller{Pallet: code}); !errors.As(err, &no) || no.Refusal.Code != "demo-other-visitor" {
		t.Fatalf("the second visitor is told %v", err)
	}
	others, err := Tries(t.Context(), r.svc, func(c core.PalletCode) bool { return r.visitors.Busy(c, "cal") })
	check(t, err)
	if slices.ContainsFunc(others, func(x Try) bool { return x.Pallet == code }) {
		t.Error("the list of the second visitor names the first one's pallet")
	}
	if _, err := r.do(r.visitor("bea", "BRAKE-2"), core.PrintTraveller{Pallet: code}); err != nil {
		t.Errorf("the same visitor at another station: %v", err)
	}
	if _, err := r.do(bea, core.HandOver{Pallet: code, To: "STORE-1"}); err != nil {
		t.Fatal(err)
	}
	if _, err := r.do(r.visitor("cal", "STORE-1"), core.TakeIn{Pallet: code}); err != nil {
		t.Errorf("what was handed on can't be taken in: %v", err)
	}
	r.pass(Undisturbed + time.Second)
	if _, err := r.do(r.visitor("bea", "STORE-1"), core.PrintTraveller{Pallet: code}); err != nil {
		t.Errorf("what nobody works on any more is kept from others: %v", err)
	}
}

// again: after a restart the people know from the record what visitors touched,
// and go on. Orders come in as others go, and the floor does not fill up.
func again(t *testing.T, r *running) {
	before, err := r.svc.Store.Docket(t.Context(), 100)
	check(t, err)
	r.visitors = NewVisitors(r.svc.Clock)
	r.svc.Store = r.visitors.Store(r.store)
	r.crew, err = NewCrew(t.Context(), r.svc, r.visitors, slog.New(slog.NewTextHandler(t.Output(), nil)))
	check(t, err)
	r.ticks(120)
	wall, err := r.svc.Glance(t.Context())
	check(t, err)
	after, err := r.svc.Store.Docket(t.Context(), 100)
	check(t, err)
	if wall.Pallets > 130 || len(after) > len(before)+3 {
		t.Errorf("%d pallets and %d orders (%d before): the shop fills up", wall.Pallets, len(after), len(before))
	}
	t.Logf("%d pallets, %d orders, %d commands, last: %s", wall.Pallets, len(after), r.crew.Status().Done, r.crew.Status().What)
	r.verified()
}
