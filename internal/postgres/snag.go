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

// snagSQL finds what was found at a site, with what was made again for it; %s
// says on what. At a site means at one of the stages there.
const snagSQL = `
	SELECT p.body, l.body, coalesce(n.separated, false),
		coalesce((SELECT json_agg(r.body) FROM lot r WHERE r.remake <> '' AND r.remake = p.id), '[]')
	FROM problem p
	JOIN lot l ON l.id = p.lot
	LEFT JOIN nest n ON n.id = 'remake ' || p.id
	WHERE p.body ->> 'stage' IN ('receive', 'return') AND %s
	ORDER BY p.at DESC, p.id LIMIT $2`

// Lots are known by their parents as well: a damaged part is split off.
var (
	lotSnagSQL = fmt.Sprintf(snagSQL, `p.at >= $3
		AND (p.lot = ANY($1) OR EXISTS (SELECT FROM lot_parent x WHERE x.lot = p.lot AND x.parent = ANY($1)))`)
	orderSnagSQL = fmt.Sprintf(snagSQL, `(l.owner_order = $1
		OR EXISTS (SELECT FROM lot_parent x JOIN lot o ON o.id = x.parent WHERE x.lot = p.lot AND o.owner_order = $1))`)
)

// Snags lists what was found at a site on lots that were sent there.
func (s *Store) Snags(ctx context.Context, lots []core.LotID, since time.Time, limit int) ([]app.SnagEntry, error) {
	return s.snags(ctx, lotSnagSQL, texts(lots), limit, since)
}

// OrderSnags lists what was found at a site on lots of an order.
func (s *Store) OrderSnags(ctx context.Context, order string, limit int) ([]app.SnagEntry, error) {
	if order == "" {
		return nil, nil
	}
	return s.snags(ctx, orderSnagSQL, order, limit)
}

func (s *Store) snags(ctx context.Context, sql string, args ...any) ([]app.SnagEntry, error) {
	found, err := s.pool.Query(ctx, sql, args...)
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
