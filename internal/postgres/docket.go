package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// docketSQL counts, for the open orders that come first, the units they are to
// be delivered, a product without a route as its components: made (nothing left to do but pack), packed, shipped; each counts the
// later ones too. Lots of an order are few, so they are counted when asked.
const docketSQL = `
	WITH chosen AS (
		SELECT no, promised, body FROM orders WHERE open ORDER BY promised, no LIMIT $1
	), held AS (
		SELECT DISTINCT lot FROM held_lot
	), due AS (
		SELECT * FROM order_due(ARRAY(SELECT no FROM chosen))
	)
	SELECT c.body, asked.units, n.made, n.packed, n.shipped, n.live, n.held
	FROM chosen c, LATERAL (
		SELECT coalesce(sum(qty), 0) AS units FROM due WHERE order_no = c.no
	) asked, LATERAL (
		SELECT coalesce(sum(l.qty) FILTER (WHERE ol.line IS NOT NULL AND (l.packed OR l.shipped OR l.next_stage IN ('', 'pack'))), 0) AS made,
			coalesce(sum(l.qty) FILTER (WHERE ol.line IS NOT NULL AND (l.packed OR l.shipped)), 0) AS packed,
			coalesce(sum(l.qty) FILTER (WHERE ol.line IS NOT NULL AND l.shipped), 0) AS shipped,
			coalesce(sum(l.qty) FILTER (WHERE l.live AND l.place_kind = 'pallet'), 0) AS live,
			coalesce(bool_or(h.lot IS NOT NULL), false) AS held
		FROM lot l
		LEFT JOIN due ol ON ol.order_no = l.owner_order AND ol.line = l.owner_line AND ol.item = l.item
		LEFT JOIN held h ON h.lot = l.id
		WHERE l.owner_order = c.no AND l.owner_order <> '' AND l.qty > 0 AND l.place_kind <> 'inside'
	) n
	ORDER BY c.promised, c.no`

// Docket lists open orders by promised date. Late is a promise before today.
func (s *Store) Docket(ctx context.Context, limit int) ([]app.OrderCard, error) {
	today, err := s.today(ctx)
	if err != nil {
		return nil, err
	}
	found, err := s.pool.Query(ctx, docketSQL, limit)
	if err != nil {
		return nil, fmt.Errorf("list orders: %w", err)
	}
	return pgx.CollectRows(found, func(row pgx.CollectableRow) (app.OrderCard, error) {
		var c app.OrderCard
		var body []byte
		if err := row.Scan(&body, &c.Asked, &c.Made, &c.Packed, &c.Shipped, &c.Live, &c.Held); err != nil {
			return c, err
		}
		err := json.Unmarshal(body, &c.Order)
		c.Late = c.Promised.Before(today)
		return c, err
	})
}

// today is the shop's calendar day.
func (s *Store) today(ctx context.Context) (core.Date, error) {
	book, err := s.Book(ctx)
	if err != nil {
		return "", err
	}
	return core.DateOf(s.now().In(book.Zone)), nil
}
