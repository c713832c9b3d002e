package postgres

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// fromSQL is what the lots of line came from: a parent, whose events count until
// the lot was split from it, and the components inside.
const fromSQL = `(
			SELECT p.parent AS lot, (SELECT min(seq) FROM event_lot WHERE lot = p.lot) AS upto
			FROM lot_parent p WHERE p.lot = line.lot
			UNION ALL
			SELECT l.id, 9223372036854775807 FROM lot l WHERE l.place_kind = 'inside' AND l.place_ref = line.lot AND l.qty > 0
		)`

// lotHistorySQL finds the latest events of the lot $1 and of what it came from,
// $2 at most.
const lotHistorySQL = `
	WITH RECURSIVE line(lot, upto) AS (
		SELECT id, 9223372036854775807 FROM lot WHERE id = $1
		UNION
		SELECT n.lot, least(line.upto, n.upto) FROM line, LATERAL ` + fromSQL + ` n
	), seqs AS (
		SELECT DISTINCT el.seq FROM (SELECT lot, max(upto) AS upto FROM line GROUP BY lot) line
		JOIN event_lot el ON el.lot = line.lot AND el.seq <= line.upto
		ORDER BY el.seq DESC LIMIT $2
	)
	SELECT ` + recordedColumns + ` FROM seqs JOIN event e USING (seq) ORDER BY e.seq`

// orderHistorySQL finds the latest events of the order $1, $2 at most, of the
// kind $3 where one is named: those of its lots, of what they came from, and of
// its snags. The latest of its own lots are read in the order they are filed in.
// What a lot came from while that was another's counts until the lot was born, so
// only the lots born among those events are asked for it: what happened before
// the others were born is older than all of them. So an order of many pallets
// takes no longer than one of few, unless a kind is named.
const orderHistorySQL = `
	WITH RECURSIVE own AS MATERIALIZED (
		SELECT seq FROM event_order WHERE order_no = $1 ORDER BY seq DESC LIMIT CASE WHEN $3 = '' THEN $2::bigint END
	), since AS MATERIALIZED (
		SELECT CASE WHEN $3 = '' AND count(*) = $2 THEN min(seq) ELSE -9223372036854775808 END AS seq FROM own
	), line(lot, upto) AS (
		SELECT * FROM (
			SELECT p.parent, (SELECT min(seq) FROM event_lot WHERE lot = p.lot) AS upto
			FROM lot_parent p
			WHERE p.lot = ANY(ARRAY(SELECT DISTINCT unnest(e.lots) FROM own JOIN event e USING (seq)))
				AND (SELECT owner_order FROM lot WHERE id = p.lot) = $1
				AND (SELECT owner_order FROM lot WHERE id = p.parent) <> $1
		) AS others WHERE upto >= (SELECT seq FROM since)
		UNION
		SELECT n.lot, least(line.upto, n.upto) FROM line, LATERAL ` + fromSQL + ` n
	), seqs AS (
		SELECT seq FROM (
			SELECT seq FROM own
			UNION
			SELECT el.seq FROM (SELECT lot, max(upto) AS upto FROM line GROUP BY lot) line, LATERAL (
				SELECT seq FROM event_lot WHERE lot = line.lot AND seq <= line.upto AND seq >= (SELECT seq FROM since)
				ORDER BY seq DESC LIMIT CASE WHEN $3 = '' THEN $2::bigint END
			) el
			UNION
			SELECT e.seq FROM snag g JOIN event e ON e.id = ANY (ARRAY[g.body ->> 'reported', g.body -> 'putRight' ->> 'said', g.body ->> 'closedBy']) WHERE g.order_no = $1
		) AS found
		WHERE $3 = '' OR $3 = (SELECT kind FROM event e WHERE e.seq = found.seq)
		ORDER BY seq DESC LIMIT $2
	)
	SELECT ` + recordedColumns + ` FROM seqs JOIN event e USING (seq) ORDER BY e.seq`

// lotHistoriesSQL is lotHistorySQL for each of the lots $1 names by itself: an event comes
// once, with those of them it is of.
const lotHistoriesSQL = `
	WITH RECURSIVE line(root, lot, upto) AS (
		SELECT id, id, 9223372036854775807 FROM lot WHERE id = ANY($1)
		UNION
		SELECT line.root, n.lot, least(line.upto, n.upto) FROM line, LATERAL ` + fromSQL + ` n
	), latest AS (
		SELECT line.root, el.seq, row_number() OVER (PARTITION BY line.root ORDER BY el.seq DESC) AS nth
		FROM (SELECT root, lot, max(upto) AS upto FROM line GROUP BY root, lot) line
		JOIN event_lot el ON el.lot = line.lot AND el.seq <= line.upto
		GROUP BY line.root, el.seq
	), seqs AS (
		SELECT seq, array_agg(root) AS roots FROM latest WHERE nth <= $2 GROUP BY seq
	)
	SELECT seqs.roots, ` + recordedColumns + ` FROM seqs JOIN event e USING (seq) ORDER BY e.seq`

const palletHistorySQL = `
	WITH seqs AS (
		SELECT seq FROM event_pallet p WHERE pallet = $1
			AND ($3 = '' OR $3 = (SELECT kind FROM event e WHERE e.seq = p.seq))
		ORDER BY seq DESC LIMIT $2
	)
	SELECT ` + recordedColumns + ` FROM seqs JOIN event e USING (seq) ORDER BY e.seq`

// defaultHistory is how many events a history holds where no limit is named.
const defaultHistory = 2000

// History lists the events of a pallet, of a lot and what it came from, or of
// every lot an order ever owned, oldest first; where there are more than the
// limit, the latest.
func (s *Store) History(ctx context.Context, q app.HistoryQuery) ([]app.Recorded, error) {
	var sql, about string
	var kind []any
	switch {
	case q.Pallet != "":
		sql, about, kind = palletHistorySQL, string(q.Pallet), []any{string(q.Kind)}
	case q.Lot != "":
		sql, about = lotHistorySQL, string(q.Lot)
	case q.Order != "":
		sql, about, kind = orderHistorySQL, q.Order, []any{string(q.Kind)}
	default:
		return nil, errors.New("a history is of a pallet, a lot or an order, and none is named")
	}
	limit := q.Limit
	if limit <= 0 {
		limit = defaultHistory
	}
	found, err := s.pool.Query(ctx, sql, append([]any{about, limit}, kind...)...)
	if err != nil {
		return nil, fmt.Errorf("history of %s: %w", about, err)
	}
	out, err := pgx.CollectRows(found, recorded)
	if err != nil {
		return nil, fmt.Errorf("history of %s: %w", about, err)
	}
	return out, nil
}

// LotHistories is the History of each of several lots, at most limit events of
// each.
func (s *Store) LotHistories(ctx context.Context, lots []core.LotID, limit int) (map[core.LotID][]app.Recorded, error) {
	out := map[core.LotID][]app.Recorded{}
	found, err := s.pool.Query(ctx, lotHistoriesSQL, texts(lots), limit)
	if err != nil {
		return nil, fmt.Errorf("history of %d lots: %w", len(lots), err)
	}
	defer found.Close()
	for found.Next() {
		var roots []core.LotID
		e, err := scanRecorded(found, &roots)
		if err != nil {
			return nil, fmt.Errorf("history of %d lots: %w", len(lots), err)
		}
		for _, lot := range roots {
			out[lot] = append(out[lot], e)
		}
	}
	if err := found.Err(); err != nil {
		return nil, fmt.Errorf("history of %d lots: %w", len(lots), err)
	}
	return out, nil
}
