// Package find is customer service's pages: one box, one sentence that can be
// read out on the phone, then the detail; and the list of open orders.
package find

import (
	"context"
	"net/http"

	"tagalong/internal/app"
	"tagalong/web/endpoint"
)

// Finder answers what was asked.
type Finder interface {
	WhereIs(ctx context.Context, text string) (app.Whereabouts, error)
	Orders(ctx context.Context) (app.OrdersPage, error)
	// NothingOrdered reports whether there is no open order.
	NothingOrdered(ctx context.Context) (bool, error)
}

// Endpoints are this screen's.
func Endpoints(f Finder) []endpoint.Endpoint {
	return []endpoint.Endpoint{{
		Method: http.MethodGet, Path: "/find", Access: endpoint.TabletOr(),
		Handler: show(f), Doc: "where an order, item, pallet or consignment is, in one sentence",
	}, {
		Method: http.MethodGet, Path: "/orders", Access: endpoint.TabletOr(),
		Handler: list(f), Doc: "open orders by promised date, and how far each is",
	}}
}

func list(f Finder) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		p, err := f.Orders(r.Context())
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, ordersPage(newOrders(endpoint.PageOf(r), p)))
	}
}

func show(f Finder) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		found, err := f.WhereIs(r.Context(), r.FormValue("q"))
		if err != nil {
			return err
		}
		v := newView(endpoint.PageOf(r), found, r.FormValue("all") != "")
		if found.Sentence == "" || len(found.Try) > 0 { // nothing was found: perhaps there is nothing yet
			if v.nothingYet, err = f.NothingOrdered(r.Context()); err != nil {
				return err
			}
		}
		return endpoint.Render(w, r, page(v))
	}
}
