package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// atSitesSQL finds what is not accepted, what else of its orders is at a site, and
// what was accepted lately.
const atSitesSQL = `
	WITH waiting AS MATERIALIZED (
		SELECT id, owner_order FROM lot WHERE place_kind = 'site' AND place_ref = ANY($1) AND NOT accepted AND qty > 0
	), theirs AS MATERIALIZED ( -- by their orders alone: nobody looks through what came to a site in years
		SELECT id, place_kind, place_ref, qty FROM lot
		WHERE owner_order <> '' AND owner_order = ANY(ARRAY(SELECT DISTINCT owner_order FROM waiting))
	), lately AS MATERIALIZED (
		SELECT id FROM lot WHERE place_kind = 'site' AND place_ref = ANY($1) AND arrived > $2 AND qty > 0
	)
	SELECT body FROM lot
	WHERE id = ANY(ARRAY(SELECT id FROM waiting UNION
		SELECT id FROM theirs WHERE place_kind = 'site' AND place_ref = ANY($1) AND qty > 0 UNION SELECT id FROM lately))
	ORDER BY accepted, promised NULLS LAST, owner_order, id LIMIT $3`

// sitesRemember is how long an order that is accepted whole is still listed at
// its site.
const sitesRemember = 30 * 24 * time.Hour

// AtSites lists lots at fitting sites, what still waits for something there
// first, then by promise. An order accepted whole a month ago is no longer
// listed.
func (s *Store) AtSites(ctx context.Context, sites []core.StationID, limit int) ([]core.Lot, error) {
	return bodies[core.Lot](ctx, s, "parts at the sites", atSitesSQL, texts(sites), s.now().Add(-sitesRemember), limit)
}

// sentSQL finds what sent consignments off, by the pallets that were on them,
// beside the events named.
const sentSQL = `
	WITH seqs AS (
		SELECT ep.seq FROM consignment c
		CROSS JOIN jsonb_array_elements_text(c.body -> 'pallets') AS its(pallet)
		JOIN event_pallet ep ON ep.pallet = its.pallet
		JOIN event e ON e.seq = ep.seq AND e.kind = $3 AND e.payload ->> 'ref' = c.code
		WHERE c.code = ANY($1) AND c.gone IS NOT NULL
		UNION
		SELECT seq FROM event WHERE id = ANY($2) AND kind = $3
	)
	SELECT ` + recordedColumns + ` FROM seqs JOIN event e USING (seq) ORDER BY e.seq`

// Sent lists the events that sent off the consignments named, and of the events
// named those that sent one off.
func (s *Store) Sent(ctx context.Context, codes []core.ConsignmentCode, events []core.EventID) ([]app.Recorded, error) {
	found, err := s.pool.Query(ctx, sentSQL, texts(codes), texts(events), string(core.EvShipped))
	if err != nil {
		return nil, fmt.Errorf("look for what was sent: %w", err)
	}
	out, err := pgx.CollectRows(found, recorded)
	if err != nil {
		return nil, fmt.Errorf("look for what was sent: %w", err)
	}
	return out, nil
}
