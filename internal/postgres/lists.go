package postgres

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// maxListed bounds the lists that take no limit.
const maxListed = 500

// bodies reads one column of bodies.
func bodies[T any](ctx context.Context, s *Store, what, sql string, args ...any) ([]T, error) {
	found, err := s.pool.Query(ctx, sql, args...)
	if err != nil {
		return nil, fmt.Errorf("list %s: %w", what, err)
	}
	out, err := pgx.CollectRows(found, scanBody[T])
	if err != nil {
		return nil, fmt.Errorf("list %s: %w", what, err)
	}
	return out, nil
}

// Problems lists open nonconformities, oldest first.
func (s *Store) Problems(ctx context.Context) ([]core.Problem, error) {
	return bodies[core.Problem](ctx, s, "problems", "SELECT body FROM problem WHERE closed IS NULL ORDER BY at, id LIMIT $1", maxListed)
}

// OpenHolds lists open holds, oldest first.
func (s *Store) OpenHolds(ctx context.Context) ([]core.Hold, error) {
	return bodies[core.Hold](ctx, s, "holds", "SELECT body FROM hold WHERE released IS NULL ORDER BY at, id LIMIT $1", maxListed)
}

// OpenBuilds lists units begun at a station and not made yet, oldest first.
func (s *Store) OpenBuilds(ctx context.Context, at core.StationID) ([]core.Build, error) {
	return bodies[core.Build](ctx, s, "units", `
		SELECT body FROM build WHERE lot = '' AND body ->> 'station' = $1 ORDER BY body ->> 'opened', code LIMIT $2`, string(at), maxListed)
}

// Consignments lists those not yet received by day, then the latest received.
func (s *Store) Consignments(ctx context.Context, limit int) ([]core.Consignment, error) {
	return bodies[core.Consignment](ctx, s, "consignments", `
		(SELECT body FROM consignment WHERE received IS NULL ORDER BY day NULLS LAST, code LIMIT $1)
		UNION ALL
		(SELECT body FROM consignment WHERE received IS NOT NULL ORDER BY received DESC, code LIMIT $1)
		LIMIT $1`, limit)
}

// CarriersOut lists consignments whose carriers have not all come back, those
// longest gone first.
func (s *Store) CarriersOut(ctx context.Context, limit int) ([]core.Consignment, error) {
	return bodies[core.Consignment](ctx, s, "carriers out", "SELECT body FROM consignment WHERE owed ORDER BY gone, code LIMIT $1", limit)
}

// Lots reads lots by id, in the order of their ids.
func (s *Store) Lots(ctx context.Context, ids []core.LotID) ([]core.Lot, error) {
	return bodies[core.Lot](ctx, s, "lots", "SELECT body FROM lot WHERE id = ANY($1) ORDER BY id", texts(ids))
}

// openSheetsSQL reads sheets not yet separated, those that are cut first, each
// with each nest that it may be cut for: its own where it is known, else, once
// it is cut, every open one of its material. Which it was is known for good once
// it is separated. The bound is on sheets: a cut one never loses a nest to it.
const openSheetsSQL = `
	SELECT s.pallet::text, s.lot::text, coalesce(n.body, 'null')::text
	FROM (
		SELECT p.code, p.since, p.body AS pallet, l.body AS lot, l.next_stage = 'separate' AS cut,
			jsonb_build_object('item', l.item, 'rev', l.rev) AS material
		FROM pallet p
		JOIN lot l ON l.place_kind = 'pallet' AND l.place_ref = p.code AND l.qty > 0
		WHERE p.live AND p.kind = 'sheet'
		ORDER BY l.next_stage <> 'separate', p.since NULLS LAST, p.code LIMIT $1
	) s
	LEFT JOIN nest n ON NOT n.separated AND (n.sheet = s.code OR s.cut AND n.sheet = '' AND n.body -> 'material' = s.material
		AND NOT EXISTS (SELECT FROM nest own WHERE own.sheet = s.code AND NOT own.separated))
	ORDER BY NOT s.cut, s.since NULLS LAST, s.code, n.id`

// OpenSheets lists sheets and bars cut, or to be cut, and not yet separated.
func (s *Store) OpenSheets(ctx context.Context) ([]app.SheetCard, error) {
	found, err := s.pool.Query(ctx, openSheetsSQL, maxListed)
	if err != nil {
		return nil, fmt.Errorf("list sheets: %w", err)
	}
	cards, err := pgx.CollectRows(found, func(row pgx.CollectableRow) (app.SheetCard, error) {
		text := row.RawValues()
		p, noPallet := s.known.pallet(text[0])
		l, noLot := s.known.lot(text[1])
		n, noNest := s.known.nests.read(text[2])
		if err := firstError(noPallet, noLot, noNest); err != nil {
			return app.SheetCard{}, err
		}
		c := app.SheetCard{Code: p.Code, Label: p.Label, Material: l.Item, Slot: p.Slot, Nest: *n,
			Cut: l.Facts[core.Fact{Name: core.IsCut}].Value == core.Yes}
		if len(l.Heats) > 0 {
			c.Heat = l.Heats[0]
		}
		return c, nil
	})
	if err != nil {
		return nil, fmt.Errorf("list sheets: %w", err)
	}
	return s.withRemakes(ctx, cards)
}

// withRemakes offers, for each cut sheet whose nest is not known, what is to be
// cut again and may come from it. What is awaited goes first.
func (s *Store) withRemakes(ctx context.Context, cards []app.SheetCard) ([]app.SheetCard, error) {
	remakes, err := bodies[core.Nest](ctx, s, "remakes", `
		SELECT body FROM nest WHERE NOT separated AND sheet = '' AND id LIKE 'remake %' AND body -> 'material' ->> 'item' = ''
		ORDER BY body ->> 'wanted' NULLS LAST, id LIMIT $1`, maxListed)
	if err != nil || len(remakes) == 0 {
		return cards, err
	}
	b, err := s.Book(ctx)
	if err != nil {
		return nil, err
	}
	var out []app.SheetCard
	for i, c := range cards {
		if first := i == 0 || cards[i-1].Code != c.Code; first && c.Cut && c.Nest.Sheet == "" {
			for _, n := range remakes {
				if _, fits := core.CutFrom(b, n, c.Material); fits {
					again := c
					again.Nest = n
					out = append(out, again)
				}
			}
		}
		out = append(out, c)
	}
	return out, nil
}
