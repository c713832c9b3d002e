// Package history shows who did what to a pallet, a lot or an order, when, with
// what reading, gauge, sheet and batch: on the screen, on paper, as CSV and JSON.
package history

import (
	"context"
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

// Teller tells a history.
type Teller interface {
	History(ctx context.Context, q app.HistoryQuery) (app.HistoryPage, error)
}

// Endpoints are this screen's. The same history stands under three addresses:
// the page, and with .json or .csv after it.
func Endpoints(t Teller) []endpoint.Endpoint {
	who := endpoint.TabletOr()
	return []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/history/{code}", Access: who, Handler: show(t, byCode),
			Doc: "history of a pallet by its code; .json and .csv after it give the same for scripts"},
		{Method: http.MethodGet, Path: "/history/lot/{command}/{n}", Access: who, Handler: show(t, byLot),
			Doc: "history of a lot and of those it came from; .json, .csv"},
		{Method: http.MethodGet, Path: "/history/order/{no}", Access: who, Handler: show(t, byOrder),
			Doc: "history of an order; .json, .csv"},
	}
}

// pageEvents is how many events a page shows, the latest; one tap away are all.
// Files hold all at once.
const pageEvents = 100

// form is how a history is to be written.
type form string

const (
	asPage form = ""
	asJSON form = ".json"
	asCSV  form = ".csv"
)

func cutForm(s string) (string, form) {
	for _, f := range []form{asJSON, asCSV} {
		if rest, ok := strings.CutSuffix(s, string(f)); ok {
			return rest, f
		}
	}
	return s, asPage
}

// what is asked for, by the last part of the address. A code is forgiven what a
// typed one is: small letters, spaces.
func byCode(r *http.Request) (app.HistoryQuery, form, error) {
	text, f := cutForm(chi.URLParam(r, "code"))
	c, err := code.Parse(text)
	if err != nil {
		return app.HistoryQuery{}, f, app.ErrNotFound
	}
	return app.HistoryQuery{Pallet: core.PalletCode(c)}, f, nil
}

// byLot: a lot is numbered by the command that made it and its place there.
func byLot(r *http.Request) (app.HistoryQuery, form, error) {
	n, f := cutForm(chi.URLParam(r, "n"))
	return app.HistoryQuery{Lot: core.LotID(chi.URLParam(r, "command") + "/" + n)}, f, nil
}

func byOrder(r *http.Request) (app.HistoryQuery, form, error) {
	no, f := cutForm(chi.URLParam(r, "no"))
	return app.HistoryQuery{Order: no}, f, nil
}

func show(t Teller, asked func(*http.Request) (app.HistoryQuery, form, error)) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		q, f, err := asked(r)
		if err != nil {
			return err
		}
		if f == asPage && r.FormValue("all") == "" {
			q.Limit = pageEvents
		}
		h, err := t.History(r.Context(), q)
		if err != nil {
			return err
		}
		w.Header().Set("Cache-Control", "no-store")
		switch f {
		case asJSON:
			return endpoint.JSON(w, h)
		case asCSV:
			return writeCSV(w, h)
		}
		return endpoint.Render(w, r, page(newView(endpoint.PageOf(r), h)))
	}
}
