package find

import (
	"strconv"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type orders struct {
	head ui.OfficeHead
	app.OrdersPage
}

func newOrders(p endpoint.Page, o app.OrdersPage) orders {
	return orders{OrdersPage: o, head: ui.OfficeHead{
		Title: "Orders", Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo, Nav: ui.OfficeNav("/orders"),
	}}
}

func (o orders) summary() string {
	late := 0
	for _, c := range o.Orders {
		if c.Late {
			late++
		}
	}
	text := ui.Count(len(o.Orders), "open order")
	if o.More {
		text = "The " + strconv.Itoa(len(o.Orders)) + " open orders promised first"
	}
	if late > 0 {
		text += ", " + strconv.Itoa(late) + " of them late"
	}
	return text + ", as of " + o.AsOf.Format("15:04:05")
}

func (o orders) day(d core.Date) string { return ui.Day(d, o.AsOf) }

// bar is an order's share that is gone, packed and made, as widths out of 100.
type bar struct{ class, x, width string }

func bars(c app.OrderCard) []bar {
	if c.Asked == 0 {
		return nil
	}
	share := func(n int) int { return min(100, 100*n/c.Asked) }
	gone, packed, made := share(c.Shipped), share(c.Packed), share(c.Made)
	return []bar{
		{"gone", "0", strconv.Itoa(gone)},
		{"packed", strconv.Itoa(gone), strconv.Itoa(max(0, packed-gone))},
		{"made", strconv.Itoa(packed), strconv.Itoa(max(0, made-packed))},
	}
}

// barText says what the bar shows.
func barText(c app.OrderCard) string {
	return strconv.Itoa(c.Asked) + " asked: " + strconv.Itoa(c.Made) + " made, " + strconv.Itoa(c.Packed) + " packed, " + strconv.Itoa(c.Shipped) + " gone"
}
