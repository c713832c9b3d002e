package postgres

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
)

// lineSQL finds the events of lots and of what they came from: a parent's until
// the lot was split from it, and everything of the components inside. %s
// chooses the lots to begin with, $1 names them, $2 is the limit.
const lineSQL = `
	WITH RECURSIVE line(lot, upto) AS (
		SELECT id, 9223372036854775807 FROM lot WHERE %s
		UNION
		SELECT n.lot, least(line.upto, n.upto) FROM line, LATERAL (
			SELECT p.parent AS lot, (SELECT min(seq) FROM event_lot WHERE lot = p.lot) AS upto
			FROM lot_parent p WHERE p.lot = line.lot
			UNION ALL
			SELECT l.id, 9223372036854775807 FROM lot l WHERE l.place_kind = 'inside' AND l.place_ref = line.lot AND l.qty > 0
		) n
	), seqs AS (
		SELECT DISTINCT el.seq FROM (SELECT lot, max(upto) AS upto FROM line GROUP BY lot) line
		JOIN event_lot el ON el.lot = line.lot AND el.seq <= line.upto
		ORDER BY el.seq DESC LIMIT $2
	)
	SELECT ` + recordedColumns + ` FROM seqs JOIN event e USING (seq) ORDER BY e.seq`

const palletHistorySQL = `
	WITH seqs AS (
		SELECT seq FROM event_pallet WHERE pallet = $1 ORDER BY seq DESC LIMIT $2
	)
	SELECT ` + recordedColumns + ` FROM seqs JOIN event e USING (seq) ORDER BY e.seq`

// defaultHistory is how many events a history holds where no limit is named.
const defaultHistory = 2000

// History lists the events of a pallet, of a lot and what it came from, or of
// every lot an order ever owned, oldest first; where there are more than the
// limit, the latest.
func (s *Store) History(ctx context.Context, q app.HistoryQuery) ([]app.Recorded, error) {
	var sql, about string
	switch {
	case q.Pallet != "":
		sql, about = palletHistorySQL, string(q.Pallet)
	case q.Lot != "":
		sql, about = fmt.Sprintf(lineSQL, "id = $1"), string(q.Lot)
	case q.Order != "":
		sql, about = fmt.Sprintf(lineSQL, "owner_order = $1 AND owner_order <> ''"), q.Order
	default:
		return nil, errors.New("a history is of a pallet, a lot or an order, and none is named")
	}
	limit := q.Limit
	if limit <= 0 {
		limit = defaultHistory
	}
	found, err := s.pool.Query(ctx, sql, about, limit)
	if err != nil {
		return nil, fmt.Errorf("history of %s: %w", about, err)
	}
	out, err := pgx.CollectRows(found, scanRecorded)
	if err != nil {
		return nil, fmt.Errorf("history of %s: %w", about, err)
	}
	return out, nil
}
