package postgres

import (
	"context"
	"fmt"
	"time"

	"tagalong/internal/core"
)

// NewSession keeps an office sign-in, and drops those that have ended.
func (s *Store) NewSession(ctx context.Context, tokenSHA [32]byte, p core.PersonID, until time.Time) error {
	if _, err := s.pool.Exec(ctx, "DELETE FROM session WHERE good_until < $1", s.now()); err != nil {
		return fmt.Errorf("drop old sessions: %w", err)
	}
	_, err := s.pool.Exec(ctx, "INSERT INTO session (token_sha, person, good_until) VALUES ($1, $2, $3)", tokenSHA[:], string(p), until)
	if err != nil {
		return fmt.Errorf("keep a session: %w", err)
	}
	return nil
}

// Session is whose it is; app.ErrNotFound where it is unknown or over.
func (s *Store) Session(ctx context.Context, tokenSHA [32]byte, now time.Time) (core.PersonID, error) {
	var p core.PersonID
	err := s.pool.QueryRow(ctx, "SELECT person FROM session WHERE token_sha = $1 AND good_until >= $2", tokenSHA[:], now).Scan(&p)
	return p, notFound(err)
}

// EndSession ends one; an unknown one has ended already.
func (s *Store) EndSession(ctx context.Context, tokenSHA [32]byte) error {
	if _, err := s.pool.Exec(ctx, "DELETE FROM session WHERE token_sha = $1", tokenSHA[:]); err != nil {
		return fmt.Errorf("end a session: %w", err)
	}
	return nil
}
