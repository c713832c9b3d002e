package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
)

// insertRefusalSQL records a refusal and files it under what it is about: the
// pallets $8, the lots $9 and the orders $10 it names, whose those lots are, and
// the pallets they are on at this moment.
const insertRefusalSQL = `
	WITH refused AS (
		INSERT INTO refusal (command_id, at, kind, station, person, code, body) VALUES ($1, $2, $3, $4, $5, $6, $7) RETURNING n
	), about(kind, name) AS (
		SELECT 'pallet', unnest($8::text[])
		UNION SELECT 'lot', unnest($9::text[])
		UNION SELECT 'order', unnest($10::text[])
		UNION SELECT 'pallet', place_ref FROM lot WHERE id = ANY($9) AND place_kind = 'pallet'
		UNION SELECT 'order', owner_order FROM lot WHERE id = ANY($9) AND owner_order <> ''
	)
	INSERT INTO refusal_about (kind, name, n) SELECT about.kind, about.name, refused.n FROM refused, about`

// refusalValues are what insertRefusalSQL stores of a refusal.
func refusalValues(r app.RefusalRow) ([]any, error) {
	body, err := json.Marshal(r.Refusal)
	filed := r.Filed()
	return []any{string(r.Command), r.At, r.Kind, string(r.Station), string(r.Person), r.Refusal.Code, body,
		texts(filed.Pallets), texts(filed.Lots), texts(filed.Orders)}, err
}

// NoteRefusal records a refusal made before a command reached the core. The
// command's id stays free.
func (s *Store) NoteRefusal(ctx context.Context, r app.RefusalRow) error {
	if r.At.IsZero() {
		r.At = s.now()
	}
	values, err := refusalValues(r)
	if err != nil {
		return fmt.Errorf("note a refusal: %w", err)
	}
	if _, err := s.pool.Exec(ctx, insertRefusalSQL, values...); err != nil {
		return fmt.Errorf("note a refusal: %w", err)
	}
	return nil
}

const refusalColumns = "r.at, r.command_id, r.kind, r.station, r.person, r.body"

// latestRefusalsSQL finds the shop's latest refusals, $1 at most.
const latestRefusalsSQL = "SELECT " + refusalColumns + " FROM refusal r ORDER BY r.at DESC, r.n DESC LIMIT $1"

// refusalsAboutSQL finds the latest refusals filed under the name $2 of the kind
// $3, $1 at most.
const refusalsAboutSQL = `
	SELECT ` + refusalColumns + ` FROM (
		SELECT n FROM refusal_about WHERE kind = $3 AND name = $2 ORDER BY n DESC LIMIT $1
	) AS latest JOIN refusal r USING (n) ORDER BY n DESC`

// refusalsOfLotSQL finds the latest refusals about the lot $2 and what it came
// from, $1 at most: what a parent was refused counts until the lot was born of
// it, as the parent's events do in its history.
const refusalsOfLotSQL = `
	WITH RECURSIVE line(lot, upto) AS (
		SELECT id, 9223372036854775807 FROM lot WHERE id = $2
		UNION
		SELECT n.lot, least(line.upto, n.upto) FROM line, LATERAL ` + fromSQL + ` n
	), latest AS (
		SELECT DISTINCT its.n
		FROM (SELECT lot, max(upto) AS upto FROM line GROUP BY lot) line, LATERAL (
			SELECT a.n FROM refusal_about a
			WHERE a.kind = 'lot' AND a.name = line.lot
				AND coalesce((SELECT r.at FROM refusal r WHERE r.n = a.n) <= (SELECT recorded_at FROM event WHERE seq = line.upto), true)
			ORDER BY a.n DESC LIMIT $1
		) its ORDER BY n DESC LIMIT $1
	)
	SELECT ` + refusalColumns + ` FROM latest JOIN refusal r USING (n) ORDER BY n DESC`

// Refusals lists the latest recorded refusals about something, newest first.
func (s *Store) Refusals(ctx context.Context, q app.RefusalQuery) ([]app.RefusalRow, error) {
	sql, about := latestRefusalsSQL, []any(nil)
	switch {
	case q.Pallet != "":
		sql, about = refusalsAboutSQL, []any{string(q.Pallet), "pallet"}
	case q.Lot != "":
		sql, about = refusalsOfLotSQL, []any{string(q.Lot)}
	case q.Order != "":
		sql, about = refusalsAboutSQL, []any{q.Order, "order"}
	}
	found, err := s.pool.Query(ctx, sql, append([]any{q.Limit}, about...)...)
	if err != nil {
		return nil, fmt.Errorf("list refusals: %w", err)
	}
	return pgx.CollectRows(found, func(row pgx.CollectableRow) (app.RefusalRow, error) {
		var r app.RefusalRow
		var body []byte
		if err := row.Scan(&r.At, &r.Command, &r.Kind, &r.Station, &r.Person, &body); err != nil {
			return r, err
		}
		r.At = r.At.UTC()
		return r, json.Unmarshal(body, &r.Refusal)
	})
}
