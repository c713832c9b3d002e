package postgres

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/photo"
)

// KeepPhoto stores a photo under its hash; one that is there stays as it is.
func (s *Store) KeepPhoto(ctx context.Context, p app.Photo) error {
	_, err := s.pool.Exec(ctx, `
		INSERT INTO photo (hash, kind, width, height, bytes, thumb, taken_by, tablet, station, recorded_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT (hash) DO NOTHING`,
		p.Hash[:], photo.Type, p.Width, p.Height, p.JPEG, p.Thumb, string(p.TakenBy), string(p.Tablet), string(p.Station), p.At)
	if err != nil {
		return fmt.Errorf("store a photo: %w", err)
	}
	return nil
}

// insertPhotoNames keeps which event names which photo. One that was swept since
// the command was let in has no row: the database refuses its name, and with it
// the command.
const insertPhotoNames = `
	INSERT INTO photo_named (seq, hash)
	SELECT e.seq, p.hash FROM unnest($1::text[], $2::bytea[]) AS named(id, hash)
	JOIN event e ON e.id = named.id LEFT JOIN photo p ON p.hash = named.hash`

func queuePhotoNames(b *pgx.Batch, events []app.Recorded) error {
	var ids []string
	var hashes [][]byte
	for _, e := range events {
		for _, name := range e.Photos {
			text, _, err := core.ParsePhoto(name)
			if err != nil {
				return err
			}
			h, err := photo.ParseHash(text)
			if err != nil {
				return err
			}
			ids, hashes = append(ids, string(e.ID)), append(hashes, h[:])
		}
	}
	if len(ids) == 0 {
		return nil
	}
	b.Queue(insertPhotoNames, ids, hashes)
	return nil
}

// sweptAtOnce is how many photos are taken away while commands wait.
const sweptAtOnce = 100

// SweepPhotos takes away the photos that nothing named within a day, and says
// how many.
func (s *Store) SweepPhotos(ctx context.Context) (swept int, err error) {
	for n := sweptAtOnce; err == nil && n == sweptAtOnce; swept += n {
		n = 0
		err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
			if _, err := tx.Exec(ctx, lockExclusiveSQL, int32(everybodysLock)); err != nil {
				return err
			}
			return tx.QueryRow(ctx, "SELECT sweep_photos($1)", sweptAtOnce).Scan(&n)
		})
	}
	if err != nil {
		return swept, fmt.Errorf("sweep photos: %w", err)
	}
	return swept, nil
}

// PhotoBytes reads a photo or its thumbnail.
func (s *Store) PhotoBytes(ctx context.Context, h photo.Hash, thumb bool) ([]byte, error) {
	sql := "SELECT bytes FROM photo WHERE hash = $1"
	if thumb {
		sql = "SELECT thumb FROM photo WHERE hash = $1"
	}
	var out []byte
	if err := s.pool.QueryRow(ctx, sql, h[:]).Scan(&out); err != nil {
		return nil, fmt.Errorf("read photo %s: %w", h, notFound(err))
	}
	return out, nil
}

// PhotoTaker is who sent a photo first.
func (s *Store) PhotoTaker(ctx context.Context, h photo.Hash) (core.PersonID, error) {
	var out core.PersonID
	if err := s.pool.QueryRow(ctx, "SELECT taken_by FROM photo WHERE hash = $1", h[:]).Scan(&out); err != nil {
		return "", fmt.Errorf("read photo %s: %w", h, notFound(err))
	}
	return out, nil
}

// UnknownPhotos lists those that are not stored.
func (s *Store) UnknownPhotos(ctx context.Context, all []photo.Hash) ([]photo.Hash, error) {
	found, err := s.pool.Query(ctx, `
		SELECT x FROM unnest($1::bytea[]) WITH ORDINALITY AS asked(x, n)
		WHERE NOT EXISTS (SELECT FROM photo WHERE hash = x) ORDER BY n`, hashBytes(all))
	if err != nil {
		return nil, fmt.Errorf("look for photos: %w", err)
	}
	return pgx.CollectRows(found, func(row pgx.CollectableRow) (photo.Hash, error) {
		var raw []byte
		err := row.Scan(&raw)
		return photo.Hash(raw), err
	})
}

func hashBytes(all []photo.Hash) [][]byte {
	out := make([][]byte, len(all))
	for i := range all {
		out[i] = all[i][:]
	}
	return out
}
