package postgres

import (
	"context"
	"strconv"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
)

// dayTally remembers what the day has done so far, so that a wall drawn at every
// change doesn't count the whole day each time. What settled transactions have
// recorded is added once; only what is younger is counted at each look.
type dayTally struct {
	mu      sync.Mutex
	day     time.Time
	settled uint64 // transactions below this one are in sum
	sum     app.WallDay
}

// tally is a day's settled sum, with where it ends.
type tally struct {
	day     time.Time
	settled uint64
	sum     app.WallDay
}

const tallyColumns = `
	count(*) FILTER (WHERE kind IN ('signed', 'assembled')),
	coalesce(sum(parts) FILTER (WHERE kind IN ('signed', 'assembled')), 0),
	coalesce(sum(parts) FILTER (WHERE kind = 'signed' AND stage = 'pack'), 0),
	coalesce(sum(parts) FILTER (WHERE kind = 'shipped'), 0)`

const (
	settledSQL    = `SELECT pg_snapshot_xmin(pg_current_snapshot())::text`
	tallyFirstSQL = `SELECT ` + tallyColumns + ` FROM event WHERE seq >= $1 AND xid < $2::text::xid8 AND recorded_at >= $3`
	tallyNextSQL  = `SELECT ` + tallyColumns + ` FROM event WHERE xid >= $1::text::xid8 AND xid < $2::text::xid8 AND recorded_at >= $3`
	// The upper end holds for all: with it a planner that does not know $1 expects a few of them, and not a third.
	tallyRestSQL = `SELECT ` + tallyColumns + ` FROM event WHERE xid >= $1::text::xid8 AND xid <= '18446744073709551615'::xid8 AND recorded_at >= $2`
	refusedSQL   = `SELECT count(*) FROM refusal WHERE at >= $1`
)

func scanTally(row pgx.Row, d *app.WallDay) error {
	return row.Scan(&d.Signed, &d.Parts, &d.Packed, &d.Shipped)
}

// tally brings the settled sum of the day up to date and returns it.
func (s *Store) tally(ctx context.Context, day time.Time) (tally, error) {
	t := &s.day
	t.mu.Lock()
	defer t.mu.Unlock()
	var text string
	if err := s.pool.QueryRow(ctx, settledSQL).Scan(&text); err != nil {
		return tally{}, err
	}
	settled, err := strconv.ParseUint(text, 10, 64)
	if err != nil {
		return tally{}, err
	}
	var more app.WallDay
	switch {
	case !t.day.Equal(day):
		var first int64
		if first, err = s.firstOf(ctx, day); err != nil {
			return tally{}, err
		}
		err = scanTally(s.pool.QueryRow(ctx, tallyFirstSQL, first, text, day), &more)
		t.sum = app.WallDay{}
	case settled > t.settled:
		err = scanTally(s.pool.QueryRow(ctx, tallyNextSQL, strconv.FormatUint(t.settled, 10), text, day), &more)
	}
	if err != nil {
		t.day = time.Time{} // count from the start next time
		return tally{}, err
	}
	t.day, t.settled = day, max(settled, t.settled)
	t.sum.Signed += more.Signed
	t.sum.Parts += more.Parts
	t.sum.Packed += more.Packed
	t.sum.Shipped += more.Shipped
	return tally{t.day, t.settled, t.sum}, nil
}

// queue adds, to the day's settled sum, what is younger in the same snapshot.
func (t tally) queue(b *pgx.Batch, into *app.WallDay) {
	b.Queue(tallyRestSQL, strconv.FormatUint(t.settled, 10), t.day).QueryRow(func(row pgx.Row) error {
		err := scanTally(row, into)
		into.Signed += t.sum.Signed
		into.Parts += t.sum.Parts
		into.Packed += t.sum.Packed
		into.Shipped += t.sum.Shipped
		return err
	})
	b.Queue(refusedSQL, t.day).QueryRow(func(row pgx.Row) error { return row.Scan(&into.Refused) })
}

// firstMargin allows for commands that were recorded in another order than
// their events were numbered in.
const firstMargin = 10_000

// firstOf finds a number at or before the first event recorded since a time, by
// halving: numbers and times go up together, so no index on times is needed.
func (s *Store) firstOf(ctx context.Context, at time.Time) (int64, error) {
	var low, high int64
	if err := s.pool.QueryRow(ctx, "SELECT coalesce(min(seq), 0), coalesce(max(seq), 0) FROM event").Scan(&low, &high); err != nil {
		return 0, err
	}
	for low < high {
		middle := low + (high-low)/2
		var recorded time.Time
		var seq int64
		err := s.pool.QueryRow(ctx, "SELECT seq, recorded_at FROM event WHERE seq >= $1 ORDER BY seq LIMIT 1", middle).Scan(&seq, &recorded)
		if err != nil {
			return 0, err
		}
		if recorded.Before(at) {
			low = min(seq+1, high)
		} else {
			high = middle
		}
	}
	return low - firstMargin, nil
}
