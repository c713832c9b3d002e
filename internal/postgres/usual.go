package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

const (
	usualEvents = 5000             // looked at, the latest
	usualLeast  = 5                // passages of a stage that say something
	usualLasts  = 10 * time.Minute // as long is what was found good enough
)

// usualSQL measures the latest passages: from a lot's step before to its step.
const usualSQL = `
	WITH done AS (
		SELECT seq, stage, recorded_at, lots[1] AS lot
		FROM (SELECT seq, kind, stage, recorded_at, lots FROM event ORDER BY seq DESC LIMIT $2) e
		WHERE kind = ANY($1) AND stage <> '' AND lots <> '{}'
	)
	SELECT d.stage, percentile_cont(0.5) WITHIN GROUP (ORDER BY extract(epoch FROM d.recorded_at - b.recorded_at)::float8)
	FROM done d
	JOIN LATERAL (
		SELECT p.recorded_at FROM event_lot x JOIN event p USING (seq)
		WHERE x.lot = d.lot AND x.seq < d.seq AND p.kind = ANY($1)
		ORDER BY x.seq DESC LIMIT 1
	) b ON true
	GROUP BY d.stage HAVING count(*) >= $3`

// usualTimes is what was found, and when.
type usualTimes struct {
	at    time.Time
	usual app.Usual
}

// Usual measures how long stages took lately, no more than once in ten minutes.
func (s *Store) Usual(ctx context.Context) (app.Usual, error) {
	if known := s.usual.Load(); known != nil && s.now().Sub(known.at) < usualLasts {
		return known.usual, nil
	}
	kinds := []string{string(core.EvSeparated), string(core.EvSigned), string(core.EvAssembled), string(core.EvJoinedLate)}
	found, err := s.pool.Query(ctx, usualSQL, kinds, usualEvents, usualLeast)
	if err != nil {
		return nil, fmt.Errorf("measure the usual times: %w", err)
	}
	out := app.Usual{}
	var stage core.StageName
	var seconds float64
	_, err = pgx.ForEachRow(found, []any{&stage, &seconds}, func() error {
		out[stage] = time.Duration(seconds * float64(time.Second)).Round(time.Second)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("measure the usual times: %w", err)
	}
	s.usual.Store(&usualTimes{s.now(), out})
	return out, nil
}
