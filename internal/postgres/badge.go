package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// vaultTx runs f and notes in the vault's log who did what to whom.
func (s *Store) vaultTx(ctx context.Context, by core.PersonID, act, subject string, f func(pgx.Tx) error) error {
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		if err := f(tx); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, "INSERT INTO vault_log (at, by, act, subject) VALUES ($1, $2, $3, $4)", s.now(), string(by), act, subject)
		return err
	})
	if err != nil {
		return fmt.Errorf("%s %s: %w", act, subject, err)
	}
	return nil
}

// A badge that ends takes its person's office sessions with it.
const (
	endBadgeSQL    = `UPDATE badge SET ended_at = $2 WHERE person = $1 AND ended_at IS NULL`
	endSessionsSQL = `DELETE FROM session WHERE person = $1`
)

// endBadge reports whether there was one to end.
func endBadge(ctx context.Context, tx pgx.Tx, p core.PersonID, now time.Time) (bool, error) {
	tag, err := tx.Exec(ctx, endBadgeSQL, string(p), now)
	if err != nil {
		return false, err
	}
	_, err = tx.Exec(ctx, endSessionsSQL, string(p))
	return tag.RowsAffected() > 0, err
}

// IssueBadge gives a person a badge and ends the one before with their office
// sessions. Of two issues at once the unique index on badges in force lets one
// through; the other fails and may be tried again.
func (s *Store) IssueBadge(ctx context.Context, p core.PersonID, tokenSHA [32]byte, by core.PersonID) error {
	return s.vaultTx(ctx, by, "issue badge of", string(p), func(tx pgx.Tx) error {
		now := s.now()
		if _, err := endBadge(ctx, tx, p, now); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, "INSERT INTO badge (token_sha, person, issued_at) VALUES ($1, $2, $3)", tokenSHA[:], string(p), now)
		return err
	})
}

// RevokeBadge ends a person's badge and office sessions; app.ErrNotFound where
// no badge is in force.
func (s *Store) RevokeBadge(ctx context.Context, p core.PersonID, by core.PersonID) error {
	return s.vaultTx(ctx, by, "end badge of", string(p), func(tx pgx.Tx) error {
		ended, err := endBadge(ctx, tx, p, s.now())
		if err == nil && !ended {
			return app.ErrNotFound
		}
		return err
	})
}

// BadgeHolder finds the person of a badge, or app.ErrNotFound.
func (s *Store) BadgeHolder(ctx context.Context, tokenSHA [32]byte) (app.Holder, error) {
	return s.holder(ctx, `
		SELECT b.person, coalesce(p.hash, ''), b.ended_at IS NOT NULL, now.issued_at
		FROM badge b
		LEFT JOIN pin p USING (person)
		LEFT JOIN badge now ON now.person = b.person AND now.ended_at IS NULL
		WHERE b.token_sha = $1`, tokenSHA[:])
}

// holdersSQL reads everybody who ever had a badge or a PIN; Revoked: no badge
// is in force.
const holdersSQL = `
	SELECT x.person, coalesce(p.hash, ''), b.issued_at IS NULL, b.issued_at
	FROM (SELECT person FROM badge WHERE person = $1 OR $1 = '' UNION SELECT person FROM pin WHERE person = $1 OR $1 = '') x
	LEFT JOIN pin p USING (person)
	LEFT JOIN badge b ON b.person = x.person AND b.ended_at IS NULL
	ORDER BY x.person`

// HolderOf finds a person; app.ErrNotFound where neither badge nor PIN was ever
// given.
func (s *Store) HolderOf(ctx context.Context, p core.PersonID) (app.Holder, error) {
	if p == "" {
		return app.Holder{}, app.ErrNotFound
	}
	return s.holder(ctx, holdersSQL, string(p))
}

// Holders lists everybody who ever had a badge or a PIN, by person.
func (s *Store) Holders(ctx context.Context) ([]app.Holder, error) {
	found, err := s.pool.Query(ctx, holdersSQL, "")
	if err != nil {
		return nil, fmt.Errorf("list holders: %w", err)
	}
	return pgx.CollectRows(found, scanHolder)
}

func (s *Store) holder(ctx context.Context, sql string, about any) (app.Holder, error) {
	found, err := s.pool.Query(ctx, sql, about)
	if err != nil {
		return app.Holder{}, fmt.Errorf("find the holder: %w", err)
	}
	h, err := pgx.CollectExactlyOneRow(found, scanHolder)
	return h, notFound(err)
}

func scanHolder(row pgx.CollectableRow) (app.Holder, error) {
	var h app.Holder
	var issued *time.Time
	err := row.Scan(&h.Person, &h.PINHash, &h.Revoked, &issued)
	h.Badge = timeOrZero(issued)
	return h, err
}
