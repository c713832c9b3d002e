package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// NewEnrolment stores a one-time code for a station.
func (s *Store) NewEnrolment(ctx context.Context, codeSHA [32]byte, station core.StationID, until time.Time, by core.PersonID) error {
	return s.vaultTx(ctx, by, "make enrolment code for", string(station), func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, "INSERT INTO enrolment (code_sha, station, good_until) VALUES ($1, $2, $3)", codeSHA[:], string(station), until)
		return err
	})
}

// Enrol uses a code up and makes a tablet; app.ErrNotFound where the code is
// unknown, used or too old.
func (s *Store) Enrol(ctx context.Context, codeSHA, secretSHA [32]byte, id core.TabletID, now time.Time) (core.StationID, error) {
	var station core.StationID
	err := s.vaultTx(ctx, "", "enrol tablet", string(id), func(tx pgx.Tx) error {
		err := tx.QueryRow(ctx, `
			UPDATE enrolment SET used_at = $2 WHERE code_sha = $1 AND used_at IS NULL AND good_until >= $2
			RETURNING station`, codeSHA[:], now).Scan(&station)
		if err != nil {
			return notFound(err)
		}
		_, err = tx.Exec(ctx, "INSERT INTO tablet (id, secret_sha, station, enrolled) VALUES ($1, $2, $3, $4)",
			string(id), secretSHA[:], string(station), now)
		return err
	})
	return station, err
}

const tabletColumns = "id, station, enrolled, revoked, last_seen"

func scanTablet(row pgx.CollectableRow) (app.Tablet, error) {
	var t app.Tablet
	var revoked, seen *time.Time
	err := row.Scan(&t.ID, &t.Station, &t.Enrolled, &revoked, &seen)
	t.Enrolled, t.Revoked, t.LastSeen = t.Enrolled.UTC(), timeOrZero(revoked), timeOrZero(seen)
	return t, err
}

// seenEvery is how exactly LastSeen is kept; every request would be too much.
const seenEvery = time.Minute

// TabletBySecret finds an enrolled tablet, revoked or not, or app.ErrNotFound,
// and notes that it was seen.
func (s *Store) TabletBySecret(ctx context.Context, secretSHA [32]byte) (app.Tablet, error) {
	found, err := s.pool.Query(ctx, "SELECT "+tabletColumns+" FROM tablet WHERE secret_sha = $1", secretSHA[:])
	if err != nil {
		return app.Tablet{}, fmt.Errorf("find the tablet: %w", err)
	}
	t, err := pgx.CollectExactlyOneRow(found, scanTablet)
	if err != nil {
		return t, notFound(err)
	}
	if now := s.now(); t.Revoked.IsZero() && now.Sub(t.LastSeen) > seenEvery {
		if _, err := s.pool.Exec(ctx, "UPDATE tablet SET last_seen = $2 WHERE id = $1", string(t.ID), now); err != nil {
			return t, fmt.Errorf("note the tablet was seen: %w", err)
		}
		t.LastSeen = now
	}
	return t, nil
}

// Tablets lists every tablet ever enrolled, newest first.
func (s *Store) Tablets(ctx context.Context) ([]app.Tablet, error) {
	found, err := s.pool.Query(ctx, "SELECT "+tabletColumns+" FROM tablet ORDER BY enrolled DESC, id LIMIT 1000")
	if err != nil {
		return nil, fmt.Errorf("list tablets: %w", err)
	}
	return pgx.CollectRows(found, scanTablet)
}

// RevokeTablet ends an enrolment; app.ErrNotFound where there is none.
func (s *Store) RevokeTablet(ctx context.Context, id core.TabletID, by core.PersonID) error {
	return s.vaultTx(ctx, by, "revoke tablet", string(id), func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, "UPDATE tablet SET revoked = $2 WHERE id = $1 AND revoked IS NULL", string(id), s.now())
		if err == nil && tag.RowsAffected() == 0 {
			return app.ErrNotFound
		}
		return err
	})
}
