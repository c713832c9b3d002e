package postgres

import (
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
)

type orderLineRow struct {
	OrderNo string      `json:"order_no"`
	Line    int         `json:"line"`
	Item    core.ItemID `json:"item"`
	Rev     string      `json:"rev"`
	Qty     int         `json:"qty"`
}

var insertOrderLines = newInsert[orderLineRow]("order_line")

const (
	deleteOrderLinesSQL = `DELETE FROM order_line WHERE order_no = ANY($1)`
	// Two trucks may carry away the last of one order at once: the second
	// waits here, and its next statement sees what the first took.
	lockOrdersSQL  = `SELECT no FROM orders WHERE no = ANY($1) ORDER BY no FOR UPDATE`
	closeOrdersSQL = `
		UPDATE orders o SET open = ` + orderOpen + `
		WHERE o.no = ANY($1) AND o.open <> ` + orderOpen
	// orderOpen: something that order o is to be delivered is not shipped.
	orderOpen = `EXISTS (
		SELECT FROM order_due(ARRAY[o.no]) ol WHERE ol.qty > coalesce((
			SELECT sum(l.qty) FROM lot l
			WHERE l.owner_order = o.no AND l.owner_line = ol.line AND l.item = ol.item AND l.shipped), 0))`
)

func orderLineRows(o core.Order) []orderLineRow {
	var out []orderLineRow
	for _, l := range o.Lines {
		out = append(out, orderLineRow{o.No, l.Line, l.Item.Item, l.Item.Rev, l.Qty})
	}
	return out
}

// queueOrders writes the lines of the orders touched, and judges anew whether
// they are open, and those with parts that left or came back.
func (p *projection) queueOrders(b *pgx.Batch) error {
	judge := maps.Clone(p.orders)
	for id := range p.lots {
		was, is := lotShipped(p.before.Lots[id]), lotShipped(p.after.Lots[id])
		if no := p.after.Lots[id].Owner.Order; no != "" && was != is {
			(*touched[string])(&judge).add(no)
		}
	}
	if len(judge) == 0 {
		return nil
	}
	nos := slices.Sorted(maps.Keys(judge))
	if len(p.orders) > 0 {
		var lines []orderLineRow
		for _, no := range slices.Sorted(maps.Keys(p.orders)) {
			lines = append(lines, orderLineRows(p.after.Orders[no])...)
		}
		b.Queue(deleteOrderLinesSQL, slices.Sorted(maps.Keys(p.orders)))
		if err := insertOrderLines.queue(b, lines); err != nil {
			return err
		}
	}
	b.Queue(lockOrdersSQL, nos)
	b.Queue(closeOrdersSQL, nos)
	return nil
}

// lotShipped is how many of a lot's parts are on a truck or at a site.
func lotShipped(l core.Lot) int {
	if l.Place.Kind == core.InConsignment || l.Place.Kind == core.AtSite {
		return l.Qty
	}
	return 0
}
