package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// snagSQL finds what was found at a site on lots, with what was made again for
// it. Lots are known by their parents as well: a damaged part is split off.
const snagSQL = `
	SELECT p.body, l.body, coalesce(n.separated, false),
		coalesce((SELECT json_agg(r.body) FROM lot r WHERE r.remake <> '' AND r.remake = p.id), '[]')
	FROM problem p
	JOIN lot l ON l.id = p.lot
	LEFT JOIN nest n ON n.id = 'remake ' || p.id
	WHERE p.at >= $2 AND p.body ->> 'stage' = ANY($3)
		AND (p.lot = ANY($1) OR EXISTS (SELECT FROM lot_parent x WHERE x.lot = p.lot AND x.parent = ANY($1)))
	ORDER BY p.at DESC, p.id LIMIT $4`

// siteStages are those at which something is found at a site.
var siteStages = []string{"receive", "return"}

// Snags lists what was found at a site on lots that were sent there.
func (s *Store) Snags(ctx context.Context, lots []core.LotID, since time.Time, limit int) ([]app.SnagEntry, error) {
	found, err := s.pool.Query(ctx, snagSQL, texts(lots), since, siteStages, limit)
	if err != nil {
		return nil, fmt.Errorf("list snags: %w", err)
	}
	return pgx.CollectRows(found, func(row pgx.CollectableRow) (app.SnagEntry, error) {
		var e app.SnagEntry
		var problem, lot, again []byte
		if err := row.Scan(&problem, &lot, &e.Cut, &again); err != nil {
			return e, err
		}
		return e, firstError(json.Unmarshal(problem, &e.Problem), json.Unmarshal(lot, &e.Lot), json.Unmarshal(again, &e.Again))
	})
}

// SnagsOf lists the snags of orders that are no nonconformities of parts, latest
// first.
func (s *Store) SnagsOf(ctx context.Context, orders []string, limit int) ([]core.Snag, error) {
	return bodies[core.Snag](ctx, s, "snags", "SELECT body FROM snag WHERE order_no = ANY($1) ORDER BY at DESC, id LIMIT $2", orders, limit)
}
