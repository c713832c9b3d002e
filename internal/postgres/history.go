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

// lineSQL finds the events of lots and of what they came from. %s chooses the
// lots to begin with, $1 names them, $2 is the limit; the second %s adds events of
// no lot, the third what else is asked of an event.
const lineSQL = `
	WITH RECURSIVE line(lot, upto) AS (
		SELECT id, 9223372036854775807 FROM lot WHERE %s
		UNION
		SELECT n.lot, least(line.upto, n.upto) FROM line, LATERAL ` + fromSQL + ` n
	), seqs AS (
		SELECT el.seq FROM (
			SELECT DISTINCT el.seq FROM (SELECT lot, max(upto) AS upto FROM line GROUP BY lot) line
			JOIN event_lot el ON el.lot = line.lot AND el.seq <= line.upto
			%s
		) AS el %s ORDER BY el.seq DESC LIMIT $2
	)
	SELECT ` + recordedColumns + ` FROM seqs JOIN event e USING (seq) ORDER BY e.seq`

// ofSnags adds the events of the snags of the order $1.
const ofSnags = `UNION SELECT e.seq FROM snag g JOIN event e ON e.id = ANY (ARRAY[g.body ->> 'reported', g.body ->> 'closedBy']) WHERE g.order_no = $1`

// ofKind keeps the events of the kind $3.
const ofKind = "WHERE EXISTS (SELECT FROM event k WHERE k.seq = el.seq AND k.kind = $3)"

// linesSQL is lineSQL for each of the lots $1 names by itself: an event comes
// once, with those of them it is of.
const linesSQL = `
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
	var more []any
	switch {
	case q.Pallet != "":
		sql, about, more = palletHistorySQL, string(q.Pallet), []any{string(q.Kind)}
	case q.Lot != "":
		sql, about = fmt.Sprintf(lineSQL, "id = $1", "", ""), string(q.Lot)
	case q.Order != "":
		kind := ""
		if q.Kind != "" {
			kind, more = ofKind, []any{string(q.Kind)}
		}
		sql, about = fmt.Sprintf(lineSQL, "owner_order = $1 AND owner_order <> ''", ofSnags, kind), q.Order
	default:
		return nil, errors.New("a history is of a pallet, a lot or an order, and none is named")
	}
	limit := q.Limit
	if limit <= 0 {
		limit = defaultHistory
	}
	found, err := s.pool.Query(ctx, sql, append([]any{about, limit}, more...)...)
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
	found, err := s.pool.Query(ctx, linesSQL, texts(lots), limit)
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
