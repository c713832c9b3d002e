package postgres

import (
	"context"
	"fmt"
	"math"
	"strconv"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
)

// sinceSQL reads what every reader can see: transactions below the oldest one
// running. Reading by number alone would lose an event whose transaction took
// its number early and committed late.
const sinceSQL = `
	SELECT e.xid::text, e.seq, e.kind, e.pallets, e.station FROM event e
	WHERE (e.xid, e.seq) > ($1::text::xid8, $2::bigint) AND e.xid < pg_snapshot_xmin(pg_current_snapshot())
	ORDER BY e.xid, e.seq LIMIT $3`

// Since lists the changes after the cursor, and the cursor after them.
func (s *Store) Since(ctx context.Context, c app.Cursor, limit int) ([]app.Change, app.Cursor, error) {
	found, err := s.pool.Query(ctx, sinceSQL, strconv.FormatUint(c.Xid, 10), c.Seq, limit)
	if err != nil {
		return nil, c, fmt.Errorf("follow the log: %w", err)
	}
	next := c
	changes, err := pgx.CollectRows(found, func(row pgx.CollectableRow) (app.Change, error) {
		var ch app.Change
		var xid string
		if err := row.Scan(&xid, &ch.Seq, &ch.Kind, &ch.Pallets, &ch.Station); err != nil {
			return ch, err
		}
		var err error
		next.Seq = ch.Seq
		next.Xid, err = strconv.ParseUint(xid, 10, 64)
		return ch, err
	})
	if err != nil {
		return nil, c, fmt.Errorf("follow the log: %w", err)
	}
	return changes, next, nil
}

// Tip is the cursor of a reader that has seen all that every reader can see
// now. It rests on the database's own count of transactions, not on the log, so
// it also holds after a restore, where that count begins anew.
func (s *Store) Tip(ctx context.Context) (app.Cursor, error) {
	var text string
	if err := s.pool.QueryRow(ctx, "SELECT pg_snapshot_xmin(pg_current_snapshot())::text").Scan(&text); err != nil {
		return app.Cursor{}, fmt.Errorf("find the end of the log: %w", err)
	}
	oldest, err := strconv.ParseUint(text, 10, 64)
	if err != nil || oldest == 0 {
		return app.Cursor{}, fmt.Errorf("find the end of the log: transaction %q: %w", text, err)
	}
	return app.Cursor{Xid: oldest - 1, Seq: math.MaxInt64}, nil
}
