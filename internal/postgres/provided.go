package postgres

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// providedSQL counts what orders have by order line, item and kind of place;
// parts of nests not broken out yet are at none.
const providedSQL = `
	SELECT order_no, line, item, rev, kind, sum(qty)::int
	FROM (
		SELECT owner_order AS order_no, owner_line AS line, item, rev, place_kind AS kind, qty
		FROM lot WHERE owner_order <> '' AND owner_order = ANY($1)
		UNION ALL
		SELECT part #>> '{owner,order}', coalesce((part #>> '{owner,line}')::int, 0),
			part #>> '{item,item}', part #>> '{item,rev}', '', (part ->> 'qty')::int
		FROM nest, jsonb_array_elements(body -> 'parts') AS part
		WHERE NOT separated AND part #>> '{owner,order}' = ANY($1)
	) has
	GROUP BY order_no, line, item, rev, kind`

// Provided counts what the orders named have of each item.
func (s *Store) Provided(ctx context.Context, orders []string) (map[app.Provision]int, error) {
	out := map[app.Provision]int{}
	var p app.Provision
	var kind core.PlaceKind
	var qty int
	found, err := s.pool.Query(ctx, providedSQL, append([]string{}, orders...))
	if err == nil {
		_, err = pgx.ForEachRow(found, []any{&p.Owner.Order, &p.Owner.Line, &p.Item.Item, &p.Item.Rev, &kind, &qty}, func() error {
			if kind == "" || kind.Holds() {
				out[p] += qty
			}
			return nil
		})
	}
	if err != nil {
		return nil, fmt.Errorf("count what %d orders have: %w", len(orders), err)
	}
	return out, nil
}
