package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// SetPIN stores a PIN's hash and forgets the wrong tries before.
func (s *Store) SetPIN(ctx context.Context, p core.PersonID, hash string, by core.PersonID) error {
	return s.vaultTx(ctx, by, "set PIN of", string(p), func(tx pgx.Tx) error { return setPIN(ctx, tx, p, hash, s.now()) })
}

func setPIN(ctx context.Context, tx pgx.Tx, p core.PersonID, hash string, now time.Time) error {
	_, err := tx.Exec(ctx, `
		INSERT INTO pin (person, hash, set_at) VALUES ($1, $2, $3)
		ON CONFLICT (person) DO UPDATE SET hash = excluded.hash, set_at = excluded.set_at`, string(p), hash, now)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, dropTriesSQL, "person", string(p))
	return err
}

// NewPINCode stores a one-time code with which a person sets their own PIN; an
// unused one of theirs ends.
func (s *Store) NewPINCode(ctx context.Context, codeSHA [32]byte, p core.PersonID, until time.Time, by core.PersonID) error {
	return s.vaultTx(ctx, by, "make PIN code for", string(p), func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "UPDATE pin_code SET ended_at = $2 WHERE person = $1 AND ended_at IS NULL", string(p), s.now()); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, "INSERT INTO pin_code (code_sha, person, good_until) VALUES ($1, $2, $3)", codeSHA[:], string(p), until)
		return err
	})
}

// UsePINCode uses a code up and stores the PIN its owner chose; app.ErrNotFound
// where the code is unknown, another's, used or too old.
func (s *Store) UsePINCode(ctx context.Context, codeSHA [32]byte, p core.PersonID, hash string, now time.Time) error {
	return s.vaultTx(ctx, p, "use PIN code of", string(p), func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `
			UPDATE pin_code SET ended_at = $3
			WHERE code_sha = $1 AND person = $2 AND ended_at IS NULL AND good_until >= $3`, codeSHA[:], string(p), now)
		if err != nil {
			return err
		}
		if tag.RowsAffected() == 0 {
			return app.ErrNotFound
		}
		return setPIN(ctx, tx, p, hash, now)
	})
}

const (
	readTriesSQL = `SELECT kind, wrong, since, not_until FROM tries WHERE (kind, id) IN (('person', $1), ('tablet', $2))`
	saveTriesSQL = `
		INSERT INTO tries (kind, id, wrong, since, not_until) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (kind, id) DO UPDATE SET wrong = excluded.wrong, since = excluded.since, not_until = excluded.not_until`
	dropTriesSQL = `DELETE FROM tries WHERE kind = $1 AND id = $2`
)

// Try calls f with the counters of a person and a tablet and stores what it
// returns; when f fails, nothing is stored and its error comes back. Two tries
// at one person, or on one tablet, wait for each other, so that nobody guesses
// faster by guessing at once.
//
// The locks are advisory ones: a row lock would make every right PIN, which
// changes nothing, wait for the disk. A wrong one doesn't wait either.
func (s *Store) Try(ctx context.Context, p core.PersonID, t core.TabletID, f func(person, tablet app.Tries) (app.Tries, app.Tries, error)) error {
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Release()
	tx := &transaction{conn: conn.Conn()}
	defer tx.end(ctx)

	was := map[string]app.Tries{}
	b := &pgx.Batch{}
	tx.begin(b, "")
	b.Queue(lockNamesSQL, []string{"tries of person:" + string(p), "tries of tablet:" + string(t)})
	b.Queue(readTriesSQL, string(p), string(t)).Query(func(found pgx.Rows) error {
		var kind string
		var wrong int
		var since, until *time.Time
		_, err := pgx.ForEachRow(found, []any{&kind, &wrong, &since, &until}, func() error {
			was[kind] = app.Tries{Wrong: wrong, Since: timeOrZero(since), Until: timeOrZero(until)}
			return nil
		})
		return err
	})
	if err := tx.conn.SendBatch(ctx, b).Close(); err != nil {
		return fmt.Errorf("read wrong tries: %w", err)
	}
	person, tablet, err := f(was["person"], was["tablet"])
	if err != nil {
		return err
	}
	b = &pgx.Batch{}
	b.Queue("SET LOCAL synchronous_commit = off")
	queueTries(b, "person", string(p), was["person"], person)
	queueTries(b, "tablet", string(t), was["tablet"], tablet)
	if err := tx.commit(ctx, b); err != nil {
		return fmt.Errorf("record tries: %w", err)
	}
	return nil
}

func queueTries(b *pgx.Batch, kind, id string, was, is app.Tries) {
	switch {
	case is.Wrong == was.Wrong && is.Since.Equal(was.Since) && is.Until.Equal(was.Until):
	case is == app.Tries{}:
		b.Queue(dropTriesSQL, kind, id)
	default:
		b.Queue(saveTriesSQL, kind, id, is.Wrong, timeOrNull(is.Since), timeOrNull(is.Until))
	}
}

func timeOrZero(t *time.Time) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.UTC()
}
