package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

const registerSQL = `
	SELECT p.body, l.body, coalesce(n.separated, false)
	FROM problem p
	JOIN lot l ON l.id = p.lot
	LEFT JOIN nest n ON n.id = 'remake ' || p.id
	WHERE p.at >= $1 AND p.at < $2 AND ($3 = '' OR coalesce(nullif(p.body ->> 'arose', ''), p.body ->> 'stage') = $3)
		AND (NOT $4 OR p.closed IS NULL)
	ORDER BY p.at DESC, p.id LIMIT $5`

// Register lists nonconformities, open or not, newest first.
func (s *Store) Register(ctx context.Context, q app.RegisterQuery, limit int) ([]app.RegisterEntry, error) {
	found, err := s.pool.Query(ctx, registerSQL, q.From, q.To, string(q.Arose), q.Open, limit)
	if err != nil {
		return nil, fmt.Errorf("list the register: %w", err)
	}
	return pgx.CollectRows(found, func(row pgx.CollectableRow) (app.RegisterEntry, error) {
		var e app.RegisterEntry
		var problem, lot []byte
		if err := row.Scan(&problem, &lot, &e.Cut); err != nil {
			return e, err
		}
		return e, firstError(json.Unmarshal(problem, &e.Problem), json.Unmarshal(lot, &e.Lot))
	})
}

// missingSQL finds, for every lot with parts nobody can find, the moves that
// lost them and who said so.
const missingSQL = `
	SELECT l.body, m.to_ref, m.qty, e.recorded_at, e.station, coalesce((SELECT g.person FROM signature g WHERE g.seq = e.seq ORDER BY g.n LIMIT 1), '')
	FROM lot l
	JOIN LATERAL (
		SELECT m.* FROM event_lot x JOIN move m ON m.seq = x.seq AND m.lot = x.lot
		WHERE x.lot = l.id AND m.to_kind = 'unexplained' ORDER BY m.seq DESC, m.n DESC LIMIT 1
	) m ON true
	JOIN event e ON e.seq = m.seq
	WHERE l.lost
	ORDER BY e.recorded_at DESC, l.id LIMIT $1`

// Missing lists lots with parts that nobody can find, the latest first.
func (s *Store) Missing(ctx context.Context, limit int) ([]app.MissingEntry, error) {
	found, err := s.pool.Query(ctx, missingSQL, limit)
	if err != nil {
		return nil, fmt.Errorf("list what is missing: %w", err)
	}
	return pgx.CollectRows(found, func(row pgx.CollectableRow) (app.MissingEntry, error) {
		var e app.MissingEntry
		var lot []byte
		var station, person string
		if err := row.Scan(&lot, &e.From, &e.Qty, &e.At, &station, &person); err != nil {
			return e, err
		}
		e.Station, e.Person, e.At = core.StationID(station), core.PersonID(person), e.At.UTC()
		return e, json.Unmarshal(lot, &e.Lot)
	})
}
