package postgres

import (
	"context"
	"fmt"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// readOrderSQL reads what is the order's own: its lots, the pallets they are on,
// the trucks those or they are on with all their pallets, its builds, and what
// holds its lots. Everything hangs on the lots, which are found once.
const readOrderSQL = `
	WITH own AS MATERIALIZED (
		SELECT id, place_kind, place_ref, body FROM lot WHERE owner_order = $1 AND owner_order <> ''
	), rests AS MATERIALIZED (
		SELECT code, consignment, body FROM pallet WHERE code = ANY(ARRAY(SELECT place_ref FROM own WHERE place_kind = 'pallet'))
	), trucks AS MATERIALIZED (
		SELECT body FROM consignment WHERE code = ANY(ARRAY(
			SELECT place_ref FROM own WHERE place_kind = 'consignment' UNION SELECT consignment FROM rests WHERE consignment <> ''))
	)
	SELECT 'lot', body::text FROM own
	UNION ALL SELECT 'pallet', body::text FROM rests
	UNION ALL SELECT 'consignment', body::text FROM trucks
	UNION ALL SELECT 'pallet', body::text FROM pallet WHERE code = ANY(ARRAY(SELECT jsonb_array_elements_text(body -> 'pallets') FROM trucks))
	UNION ALL SELECT 'build', body::text FROM build WHERE owner_order = $1 AND owner_order <> ''
	UNION ALL SELECT 'order', body::text FROM orders WHERE no = $1
	UNION ALL SELECT 'hold', body::text FROM hold WHERE released IS NULL
	UNION ALL SELECT 'problem', body::text FROM problem WHERE closed IS NULL AND lot IN (SELECT id FROM own)
	UNION ALL SELECT 'nest', body::text FROM nest WHERE NOT separated
		AND body -> 'parts' @> jsonb_build_array(jsonb_build_object('owner', jsonb_build_object('order', $1::text)))`

// readCarriersSQL reads the pallets that carry parts of an order, with all that
// is on them.
const readCarriersSQL = `
	WITH named AS MATERIALIZED (
		SELECT ARRAY(SELECT place_ref FROM lot WHERE owner_order = $1 AND owner_order <> '' AND place_kind = 'pallet' AND qty > 0) AS codes
	), carriers AS MATERIALIZED (
		SELECT consignment, body FROM pallet WHERE code = ANY(ARRAY(SELECT unnest(codes) FROM named))
	)
	SELECT 'pallet', body::text FROM carriers
	UNION ALL SELECT 'lot', body::text FROM lot WHERE place_kind = 'pallet' AND place_ref = ANY(ARRAY(SELECT unnest(codes) FROM named)) AND qty > 0
	UNION ALL SELECT 'consignment', body::text FROM consignment WHERE code = ANY(ARRAY(SELECT consignment FROM carriers WHERE consignment <> ''))
	UNION ALL SELECT 'order', body::text FROM orders WHERE no = $1`

// ReadOrder is LoadOrder less what isn't the order's own, in one statement.
func (s *Store) ReadOrder(ctx context.Context, order string) (core.World, error) {
	return s.readOrder(ctx, readOrderSQL, order)
}

// ReadCarriers reads an order with the pallets that carry parts of it, in one
// statement.
func (s *Store) ReadCarriers(ctx context.Context, order string) (core.World, error) {
	return s.readOrder(ctx, readCarriersSQL, order)
}

func (s *Store) readOrder(ctx context.Context, sql, order string) (core.World, error) {
	w := core.World{Now: s.now()}
	var err error
	if w.Book, err = s.Book(ctx); err != nil {
		return w, err
	}
	r := newRows(&s.known)
	found, err := s.pool.Query(ctx, sql, order)
	if err == nil {
		err = r.read(found)
	}
	if err != nil {
		return w, fmt.Errorf("read order %s: %w", order, err)
	}
	if _, there := r.state.Orders[order]; !there {
		return w, app.ErrNotFound
	}
	w.State = r.state
	return w, nil
}
