package postgres_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/crowd"
	"tagalong/internal/sign"
)

// hall is the crowd's shop on a real database, worked as tablets work it: by
// app.Service, with enrolled tablets, signed-in people, badges and PINs.
type hall struct {
	*floor
	svc     *app.Service
	look    *pgxpool.Pool // the test's own, to look at everything at once
	history *history      // nil: none is kept

	mu      sync.Mutex
	tablets map[core.StationID]string
	desks   map[core.PersonID]string
	badges  map[core.PersonID]string
	latest  []core.EventID
}

const hallPIN = "482915"

// signing are the people who do anything in the hall.
var signing = []core.PersonID{"P02", "P03", "P06", "P13", "P18", "P20", "P21", "P25", "P26", "P27"}

func newHall(t testing.TB) *hall {
	t.Helper()
	f := newFixture(t)
	f.clock.tick = time.Millisecond
	routes, items := crowd.Catalogue()
	s, _ := furnished(t, f, routes, items)
	key := must(sign.NewKey(bytes.Repeat([]byte{9}, sign.KeyBytes)))(t)
	svc := must(app.New(f.Store, sign.NewKeyring(key)))(t)
	svc.Clock = f.clock.Now
	// The least cost that is taken: the hash has tests of its own.
	svc.PINs = must(sign.NewVerifier(sign.NewKeyring(key), sign.Cost{MemoryKiB: 8 * 1024, Passes: 1, Lanes: 1}))(t)
	h := &hall{floor: s, svc: svc, look: must(pgxpool.New(t.Context(), f.db.AppURL))(t),
		tablets: map[core.StationID]string{}, desks: map[core.PersonID]string{}, badges: map[core.PersonID]string{}}
	t.Cleanup(h.look.Close)
	for _, p := range signing {
		badge, _, err := svc.IssueBadge(t.Context(), app.Machine(), p)
		h.badges[p] = must(badge, err)(t).Text()
		hash := must(svc.PINs.Hash(t.Context(), must(sign.ParsePIN(hallPIN))(t)))(t)
		if err := f.SetPIN(t.Context(), p, hash, p); err != nil {
			t.Fatal(err)
		}
		token, _, err := svc.SignIn(t.Context(), app.Caller{}, app.Sign{Badge: h.badges[p], PIN: hallPIN})
		h.desks[p] = must(token, err)(t)
	}
	return h
}

// caller is a tablet of a station, enrolled when it is first used, or the desk
// of a person where there is no station.
func (h *hall) caller(at core.StationID, signers []core.PersonID) (app.Caller, error) {
	if at == "" {
		return h.svc.CallerOf(h.t.Context(), app.Secrets{Session: h.desks[signers[0]]})
	}
	h.mu.Lock()
	secret, enrolled := h.tablets[at]
	h.mu.Unlock()
	if !enrolled {
		one, err := h.svc.EnrolmentCode(h.t.Context(), app.Machine(), at)
		if err != nil {
			return app.Caller{}, err
		}
		fresh, _, err := h.svc.Enrol(h.t.Context(), one.Text())
		if err != nil {
			return app.Caller{}, err
		}
		secret = fresh.Text()
		h.mu.Lock()
		h.tablets[at] = secret
		h.mu.Unlock()
	}
	return h.svc.CallerOf(h.t.Context(), app.Secrets{Tablet: secret})
}

// request is a command as a device sends it; who signs is signed in or not.
func (h *hall) request(id core.CommandID, c core.Command, signers []core.PersonID) (app.Request, error) {
	body, err := json.Marshal(c.Body)
	now := h.clock.Now()
	req := app.Request{ID: id, Happened: now, LastContact: now, Confirm: c.Confirm, Body: body}
	for _, p := range signers {
		req.Sign = append(req.Sign, app.Sign{Badge: h.badges[p], PIN: hallPIN})
	}
	return req, err
}

// ask sends a command as its tablet does. What is refused, wherever, is an
// answer; an error is not. Sent several times it is sent at once, as by a device
// that got no answer in time.
func (h *hall) ask(id core.CommandID, times int, c core.Command, signers ...core.PersonID) (app.Answer, error) {
	caller, err := h.caller(c.Station, signers)
	if err != nil {
		return app.Answer{}, err
	}
	req, err := h.request(id, c, signers)
	if err != nil {
		return app.Answer{}, err
	}
	var again sync.WaitGroup
	for range times - 1 {
		again.Go(func() {
			if _, err := h.send(caller, c.Body.Kind(), req); err != nil {
				h.t.Errorf("%s sent again: %v", c.Body.Kind(), err)
			}
		})
	}
	defer again.Wait()
	return h.send(caller, c.Body.Kind(), req)
}

// send sends a request; while a history is kept, it is kept.
func (h *hall) send(caller app.Caller, kind string, req app.Request) (app.Answer, error) {
	call := h.history.instant()
	a, err := h.svc.Do(h.t.Context(), caller, kind, req)
	if refused, ok := errors.AsType[*app.Refused](err); ok {
		a.Command, a.Refusal, err = req.ID, &refused.Refusal, nil
	}
	if err == nil {
		h.history.told(a, call)
	}
	return a, err
}

// newID is a command's id as a device makes it.
func newID(r *rand.Rand) core.CommandID {
	a, b := r.Uint64(), r.Uint64()
	return core.CommandID(fmt.Sprintf("%08x-%04x-4%03x-8%03x-%012x", a>>32, a>>16&0xffff, a&0xfff, b>>52, b&0xffffffffffff))
}

// everything that is not over: what a person could walk up to, and look into.
const everythingSQL = `
	SELECT 'lot', body::text FROM lot WHERE qty > 0 OR lost OR body ->> 'unit' IS NOT NULL
	UNION ALL SELECT 'pallet', body::text FROM pallet WHERE live OR consignment <> ''
	UNION ALL SELECT 'build', body::text FROM build
	UNION ALL SELECT 'consignment', body::text FROM consignment
	UNION ALL SELECT 'hold', body::text FROM hold WHERE released IS NULL
	UNION ALL SELECT 'problem', body::text FROM problem WHERE closed IS NULL
	UNION ALL SELECT 'orders', body::text FROM orders
	UNION ALL SELECT 'nest', body::text FROM nest WHERE NOT separated`

// state reads the shop in one snapshot.
func (h *hall) state() (*core.State, error) {
	found, err := h.look.Query(h.t.Context(), everythingSQL)
	if err != nil {
		return nil, err
	}
	s := core.NewState()
	var kind string
	var body []byte
	_, err = pgx.ForEachRow(found, []any{&kind, &body}, func() error { return put(s, kind, body) })
	return s, err
}

func put(s *core.State, table string, body []byte) error {
	switch table {
	case "lot":
		return putRow(body, s.Lots, func(l core.Lot) core.LotID { return l.ID })
	case "pallet":
		return putRow(body, s.Pallets, func(p core.PalletRow) core.PalletCode { return p.Code })
	case "build":
		return putRow(body, s.Builds, func(b core.Build) core.BuildCode { return b.Code })
	case "consignment":
		return putRow(body, s.Consignments, func(c core.Consignment) core.ConsignmentCode { return c.Code })
	case "hold":
		return putRow(body, s.Holds, func(h core.Hold) core.HoldID { return h.ID })
	case "problem":
		return putRow(body, s.Problems, func(p core.Problem) core.ProblemID { return p.ID })
	case "orders":
		return putRow(body, s.Orders, func(o core.Order) string { return o.No })
	case "nest":
		return putRow(body, s.Nests, func(n core.Nest) string { return n.ID })
	}
	return fmt.Errorf("no rows of %s are asked for", table)
}

// readRows keeps what rows were read as, by their text: most are read again and
// again, and nobody changes a value that was read.
var readRows sync.Map

func putRow[K comparable, V any](body []byte, into map[K]V, key func(V) K) error {
	if known, ok := readRows.Load(string(body)); ok {
		if v, ok := known.(V); ok {
			into[key(v)] = v
			return nil
		}
	}
	var v V
	if err := json.Unmarshal(body, &v); err != nil {
		return err
	}
	readRows.Store(string(body), v)
	into[key(v)] = v
	return nil
}

// log reads every event, in the order of the record.
func (h *hall) log() []core.Event {
	h.t.Helper()
	found, err := h.look.Query(h.t.Context(), "SELECT payload FROM event ORDER BY seq")
	if err != nil {
		h.t.Fatal(err)
	}
	var out []core.Event
	var body []byte
	if _, err := pgx.ForEachRow(found, []any{&body}, func() error {
		var e core.Event
		out = append(out, e)
		return json.Unmarshal(body, &out[len(out)-1])
	}); err != nil {
		h.t.Fatal(err)
	}
	return out
}
