package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
)

const insertRefusalSQL = `
	INSERT INTO refusal (command_id, at, kind, station, person, code, body) VALUES ($1, $2, $3, $4, $5, $6, $7)`

// NoteRefusal records a refusal made before a command reached the core. The
// command's id stays free.
func (s *Store) NoteRefusal(ctx context.Context, r app.RefusalRow) error {
	body, err := json.Marshal(r.Refusal)
	if err != nil {
		return fmt.Errorf("note a refusal: %w", err)
	}
	at := r.At
	if at.IsZero() {
		at = s.now()
	}
	if _, err := s.pool.Exec(ctx, insertRefusalSQL, string(r.Command), at, r.Kind, string(r.Station), string(r.Person), r.Refusal.Code, body); err != nil {
		return fmt.Errorf("note a refusal: %w", err)
	}
	return nil
}

// Refusals lists the latest recorded refusals, newest first.
func (s *Store) Refusals(ctx context.Context, limit int) ([]app.RefusalRow, error) {
	found, err := s.pool.Query(ctx, "SELECT at, command_id, kind, station, person, body FROM refusal ORDER BY at DESC, n DESC LIMIT $1", limit)
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
