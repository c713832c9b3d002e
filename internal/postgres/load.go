package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// pastSQL reads the events named and every later one of their lots.
const pastSQL = `
	WITH named AS (
		SELECT seq FROM event WHERE id = ANY($1)
	)
	SELECT kind, v, payload FROM event
	WHERE seq IN (
		SELECT seq FROM named
		UNION
		SELECT later.seq FROM named JOIN event e USING (seq) CROSS JOIN unnest(e.lots) AS its(lot)
		JOIN event_lot later ON later.lot = its.lot AND later.seq >= e.seq)
	ORDER BY seq`

// rows are what was read for a scope.
type rows struct {
	state *core.State
	seen  map[core.LotID]core.Lot // to be looked at, not locked and not led anywhere
	past  []core.Event
	known *knownRows
}

func newRows(known *knownRows) *rows {
	return &rows{state: core.NewState(), seen: map[core.LotID]core.Lot{}, known: known}
}

// queueLoad reads the scope's rows into r when the batch is sent.
func (sc *scope) queueLoad(b *pgx.Batch, r *rows) {
	sql, args := sc.loadSQL()
	b.Queue(sql, args...).Query(r.read)
	if len(sc.names[anEvent]) > 0 {
		b.Queue(pastSQL, sc.of(anEvent)).Query(func(found pgx.Rows) (err error) {
			r.past, err = pgx.CollectRows(found, scanEvent)
			return err
		})
	}
}

// read takes rows of a kind and a body, both texts, from the driver's own bytes:
// most bodies are known, and to copy them would cost more than to know them.
func (r *rows) read(found pgx.Rows) error {
	defer found.Close()
	for found.Next() {
		row := found.RawValues()
		if err := r.take(row[0], row[1]); err != nil {
			return fmt.Errorf("read a stored %s: %w", row[0], err)
		}
	}
	return found.Err()
}

func (r *rows) take(kind, body []byte) error {
	s := r.state
	switch string(kind) {
	case "lot":
		return r.takeLot(body, s.Lots)
	case "seen":
		return r.takeLot(body, r.seen)
	case "pallet":
		p, err := r.known.pallet(body)
		if err == nil {
			s.Pallets[p.Code] = p
		}
		return err
	case "build":
		return take(body, s.Builds, func(b core.Build) core.BuildCode { return b.Code })
	case "consignment":
		return take(body, s.Consignments, func(c core.Consignment) core.ConsignmentCode { return c.Code })
	case "hold":
		return take(body, s.Holds, func(h core.Hold) core.HoldID { return h.ID })
	case "problem":
		return take(body, s.Problems, func(p core.Problem) core.ProblemID { return p.ID })
	case "abrasive":
		return take(body, s.Abrasives, func(a core.Abrasive) string { return a.ID })
	case "order":
		return take(body, s.Orders, func(o core.Order) string { return o.No })
	case "snag":
		return take(body, s.Snags, func(x core.Snag) core.SnagID { return x.ID })
	case "nest":
		return take(body, s.Nests, func(n core.Nest) string { return n.ID })
	}
	return fmt.Errorf("nobody knows that kind of row")
}

// take reads one body into the map under its key.
func take[K comparable, V any](body []byte, into map[K]V, key func(V) K) error {
	var v V
	if err := json.Unmarshal(body, &v); err != nil {
		return err
	}
	into[key(v)] = v
	return nil
}

func (r *rows) takeLot(body []byte, into map[core.LotID]core.Lot) error {
	l, err := r.known.lot(body)
	if err != nil {
		return err
	}
	into[l.ID] = l
	return nil
}

// whole adds the lots only looked at, once nothing more is followed.
func (r *rows) whole() *core.State {
	for id, l := range r.seen {
		if _, loaded := r.state.Lots[id]; !loaded {
			r.state.Lots[id] = l
		}
	}
	return r.state
}

// maxPasses is how often the rows found may lead to more rows.
const maxPasses = 12

const snapshotMode = "ISOLATION LEVEL REPEATABLE READ READ ONLY"

// Load reads the rows named as Execute would see them now, without locks.
func (s *Store) Load(ctx context.Context, n core.Names, station core.StationID) (core.World, error) {
	book, err := s.Book(ctx)
	if err != nil {
		return core.World{}, err
	}
	return s.loadScope(ctx, newScope(n, station, book), book)
}

// loadScope reads in one snapshot until the rows found lead to no more.
func (s *Store) loadScope(ctx context.Context, sc *scope, book *core.Book) (core.World, error) {
	w := core.World{Now: s.now(), Book: book}
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return w, fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Release()
	tx := &transaction{conn: conn.Conn()}
	defer tx.end(ctx)
	for range maxPasses {
		b, r := &pgx.Batch{}, newRows(&s.known)
		if !tx.open {
			tx.begin(b, snapshotMode)
		}
		sc.queueLoad(b, r)
		if err := tx.conn.SendBatch(ctx, b).Close(); err != nil {
			return w, fmt.Errorf("load: %w", err)
		}
		if !sc.follow(r.state, r.past) {
			w.State, w.Past = r.whole(), r.past
			return w, nil
		}
	}
	return w, errMoved
}

// ownSQL finds the lots of an order and what is inside them, where they rest,
// the trucks their pallets are on, and the order's open builds. Lots at places
// that are read whole come with those. All but the lots would be found by
// following those; to begin with them saves reading twice.
const ownSQL = `
	WITH RECURSIVE own(id) AS (
		SELECT id FROM lot WHERE owner_order = $1 AND owner_order <> ''
		UNION
		SELECT l.id FROM own JOIN lot l ON l.place_kind = 'inside' AND l.place_ref = own.id AND l.qty > 0
	), rests AS (
		SELECT DISTINCT place_kind, place_ref FROM own JOIN lot USING (id)
	)
	SELECT 'lot', id FROM own JOIN lot USING (id) WHERE qty = 0 OR place_kind NOT IN ('pallet', 'build', 'consignment')
	UNION ALL SELECT place_kind, place_ref FROM rests
	UNION ALL SELECT 'consignment', p.consignment FROM rests JOIN pallet p ON place_kind = 'pallet' AND p.code = place_ref
	UNION ALL SELECT 'build', code FROM build WHERE owner_order = $1 AND owner_order <> '' AND lot = ''`

// LoadOrders reads each of several orders as LoadOrder does.
func (s *Store) LoadOrders(ctx context.Context, orders []string) ([]core.World, error) {
	out := make([]core.World, len(orders))
	for i, no := range orders {
		w, err := s.LoadOrder(ctx, no)
		if err != nil {
			return nil, err
		}
		out[i] = w
	}
	return out, nil
}

// LoadOrder reads an order with every lot that is or was its own and all that
// hangs on them. A lot never changes its owner: lending makes a new lot.
func (s *Store) LoadOrder(ctx context.Context, order string) (core.World, error) {
	book, err := s.Book(ctx)
	if err != nil {
		return core.World{}, err
	}
	found, err := s.pool.Query(ctx, ownSQL, order)
	if err != nil {
		return core.World{}, fmt.Errorf("load order %s: %w", order, err)
	}
	sc := newScope(core.Names{Orders: []string{order}}, "", book)
	var kind, ref string
	_, err = pgx.ForEachRow(found, []any{&kind, &ref}, func() error {
		if kind == string(aLot) {
			sc.add(aLot, ref)
		} else {
			sc.addPlace(core.Place{Kind: core.PlaceKind(kind), Ref: ref})
		}
		return nil
	})
	if err != nil {
		return core.World{}, fmt.Errorf("load order %s: %w", order, err)
	}
	w, err := s.loadScope(ctx, sc, book)
	if err != nil {
		return w, err
	}
	if _, there := w.State.Orders[order]; !there {
		return w, app.ErrNotFound
	}
	// Nests still to be broken out are only looked at: nothing follows from them.
	nests, err := bodies[core.Nest](ctx, s, "nests", `
		SELECT body FROM nest WHERE NOT separated
			AND body -> 'parts' @> jsonb_build_array(jsonb_build_object('owner', jsonb_build_object('order', $1::text)))`, order)
	if err != nil {
		return w, err
	}
	for _, n := range nests {
		w.State.Nests[n.ID] = n
	}
	return w, nil
}
