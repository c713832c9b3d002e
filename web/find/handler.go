// Package find is customer service's page: one box, one sentence that can be
// read out on the phone, then the detail.
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
}

// Endpoints are this screen's.
func Endpoints(f Finder) []endpoint.Endpoint {
	return []endpoint.Endpoint{{
		Method: http.MethodGet, Path: "/find", Access: endpoint.TabletOr(),
		Handler: show(f), Doc: "where an order, item, pallet or consignment is, in one sentence",
	}}
}

func show(f Finder) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		found, err := f.WhereIs(r.Context(), r.FormValue("q"))
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, page(newView(endpoint.PageOf(r), found)))
	}
}
