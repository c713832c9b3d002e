package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// loadSQL reads, in one statement and so in one snapshot, every row the names
// bring. Each row comes as its kind and its body. "seen" lots are only looked
// at: what of an order left on other trucks. "taken" is a code in use.
const loadSQL = `
	WITH near AS (
		SELECT code FROM pallet WHERE $10 <> '' AND live AND (station = $10 OR bound = $10 AND bound <> '')
	), lots AS MATERIALIZED (
		SELECT id, owner_order, body FROM lot WHERE place_kind = 'pallet' AND place_ref = ANY($1) AND qty > 0
		UNION ALL
		SELECT id, owner_order, body FROM lot WHERE place_kind = 'pallet' AND place_ref IN (SELECT code FROM near) AND qty > 0
		UNION ALL
		SELECT id, owner_order, body FROM lot WHERE place_kind = 'build' AND place_ref = ANY($2) AND qty > 0
		UNION ALL
		SELECT id, owner_order, body FROM lot WHERE place_kind = 'consignment' AND place_ref = ANY($3) AND qty > 0
		UNION ALL
		SELECT id, owner_order, body FROM lot WHERE id = ANY($4)
		UNION ALL
		SELECT id, owner_order, body FROM lot WHERE id IN (SELECT lot FROM problem WHERE id = ANY($5))
		UNION ALL
		SELECT id, owner_order, body FROM lot WHERE id IN (
			SELECT ref FROM hold WHERE released IS NULL AND scope = 'lot' AND body ->> 'problem' = ANY($5))
	), nests AS MATERIALIZED (
		SELECT body FROM nest WHERE id = ANY($9)
		UNION ALL
		SELECT body FROM nest WHERE sheet <> '' AND sheet = ANY($1)
	)
	SELECT 'lot', body FROM lots
	UNION ALL
	SELECT 'seen', body FROM lot
	WHERE cardinality($3::text[]) > 0 AND shipped AND owner_order <> '' AND owner_order IN (SELECT owner_order FROM lots)
	UNION ALL
	SELECT 'pallet', body FROM pallet WHERE code = ANY($1)
	UNION ALL
	SELECT 'pallet', body FROM pallet WHERE code IN (SELECT code FROM near)
	UNION ALL
	SELECT 'build', body FROM build WHERE code = ANY($2)
	UNION ALL
	SELECT 'build', body FROM build WHERE owner_order <> '' AND owner_order = ANY($8)
	UNION ALL
	SELECT 'consignment', body FROM consignment WHERE code = ANY($3)
	UNION ALL
	SELECT 'hold', body FROM hold WHERE released IS NULL
	UNION ALL
	SELECT 'hold', body FROM hold WHERE id = ANY($6)
	UNION ALL
	SELECT 'problem', body FROM problem WHERE closed IS NULL AND lot IN (SELECT id FROM lots)
	UNION ALL
	SELECT 'problem', body FROM problem WHERE id = ANY($5)
	UNION ALL
	SELECT 'abrasive', body FROM abrasive WHERE id = ANY($7)
	UNION ALL
	SELECT 'order', body FROM orders WHERE no = ANY($8)
	UNION ALL
	SELECT 'order', body FROM orders WHERE no IN (
		SELECT owner_order FROM lots
		UNION ALL SELECT owner_order FROM build WHERE code = ANY($2)
		UNION ALL SELECT part -> 'owner' ->> 'order' FROM nests, jsonb_array_elements(body -> 'parts') AS part)
	UNION ALL
	SELECT 'nest', body FROM nests
	UNION ALL
	SELECT 'taken', to_jsonb(code) FROM (
		SELECT code FROM pallet WHERE code = ANY($11)
		UNION ALL SELECT code FROM build WHERE code = ANY($11)
		UNION ALL SELECT code FROM consignment WHERE code = ANY($11)) AS used`

// pastSQL reads the events named and every later one of their lots.
const pastSQL = `
	WITH named AS (
		SELECT seq FROM event WHERE id = ANY($1)
	)
	SELECT kind, v, payload FROM event
	WHERE seq IN (
		SELECT seq FROM named
		UNION
		SELECT later.seq FROM named JOIN event e USING (seq), unnest(e.lots) AS lot
		JOIN event_lot later ON later.lot = lot AND later.seq >= e.seq)
	ORDER BY seq`

// rows are what was read for a scope.
type rows struct {
	state *core.State
	seen  map[core.LotID]core.Lot // to be looked at, not locked and not led anywhere
	taken map[string]bool
	past  []core.Event
}

func newRows() *rows {
	return &rows{state: core.NewState(), seen: map[core.LotID]core.Lot{}, taken: map[string]bool{}}
}

// queueLoad reads the scope's rows into r when the batch is sent.
func (sc *scope) queueLoad(b *pgx.Batch, codes []string, r *rows) {
	near := ""
	if sc.near {
		near = string(sc.station)
	}
	b.Queue(loadSQL, sc.of(aPallet), sc.of(aBuild), sc.of(aConsignment), sc.of(aLot), sc.of(aProblem), sc.of(aHold),
		sc.of(anAbrasive), sc.of(anOrder), sc.of(aNest), near, codes).Query(r.read)
	if len(sc.names[anEvent]) > 0 {
		b.Queue(pastSQL, sc.of(anEvent)).Query(func(found pgx.Rows) (err error) {
			r.past, err = pgx.CollectRows(found, scanEvent)
			return err
		})
	}
}

func (r *rows) read(found pgx.Rows) error {
	defer found.Close()
	for found.Next() {
		var kind string
		var body []byte
		if err := found.Scan(&kind, &body); err != nil {
			return err
		}
		if err := r.take(kind, body); err != nil {
			return fmt.Errorf("read a stored %s: %w", kind, err)
		}
	}
	return found.Err()
}

func (r *rows) take(kind string, body []byte) error {
	s := r.state
	switch kind {
	case "lot":
		return take(body, s.Lots, func(l core.Lot) core.LotID { return l.ID })
	case "seen":
		return take(body, r.seen, func(l core.Lot) core.LotID { return l.ID })
	case "pallet":
		return take(body, s.Pallets, func(p core.PalletRow) core.PalletCode { return p.Code })
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
	case "nest":
		return take(body, s.Nests, func(n core.Nest) string { return n.ID })
	case "taken":
		var code string
		err := json.Unmarshal(body, &code)
		r.taken[code] = true
		return err
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

// whole adds the lots only looked at, once nothing more is followed.
func (r *rows) whole() *core.State {
	for id, l := range r.seen {
		if _, loaded := r.state.Lots[id]; !loaded {
			r.state.Lots[id] = l
		}
	}
	return r.state
}

// unused leaves out the codes that are in use already.
func unused[T ~string](codes []T, taken map[string]bool) []T {
	out := codes[:0]
	for _, c := range codes {
		if !taken[string(c)] {
			out = append(out, c)
		}
	}
	return out
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
		b, r := &pgx.Batch{}, newRows()
		if !tx.open {
			tx.begin(b, snapshotMode)
		}
		sc.queueLoad(b, []string{}, r)
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

// LoadOrder reads an order with every lot that is or was its own and all that
// hangs on them. A lot never changes its owner: lending makes a new lot.
func (s *Store) LoadOrder(ctx context.Context, order string) (core.World, error) {
	book, err := s.Book(ctx)
	if err != nil {
		return core.World{}, err
	}
	found, err := s.pool.Query(ctx, `
		WITH RECURSIVE own(id) AS (
			SELECT id FROM lot WHERE owner_order = $1 AND owner_order <> ''
			UNION
			SELECT l.id FROM own JOIN lot l ON l.place_kind = 'inside' AND l.place_ref = own.id AND l.qty > 0
		) SELECT id FROM own`, order)
	if err != nil {
		return core.World{}, fmt.Errorf("load order %s: %w", order, err)
	}
	lots, err := pgx.CollectRows(found, pgx.RowTo[core.LotID])
	if err != nil {
		return core.World{}, fmt.Errorf("load order %s: %w", order, err)
	}
	w, err := s.loadScope(ctx, newScope(core.Names{Orders: []string{order}, Lots: lots}, "", book), book)
	if err != nil {
		return w, err
	}
	if _, there := w.State.Orders[order]; !there {
		return w, app.ErrNotFound
	}
	return w, nil
}
