package site

import (
	"net/http"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

// atSite is the fitters' page.
func atSite(d *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		q, err := siteQuery(r)
		if err != nil {
			return err
		}
		b, err := d.Book(r.Context())
		if err != nil {
			return err
		}
		p := endpoint.PageOf(r)
		if b.Stations[p.Caller.Station].Site { // a site's tablet sees its own site
			q.Site = p.Caller.Station
		}
		page, err := d.Site(r.Context(), q)
		if err != nil {
			return err
		}
		v := newSiteView(p, b, page, r.FormValue("do"))
		if text := r.FormValue("box"); text != "" && v.Truck != nil {
			if v.receipt.box, v.receipt.wrong, err = boxOf(*v.Truck, text); err != nil {
				return err
			}
		}
		return endpoint.Render(w, r, sitePage(v))
	}
}

func siteQuery(r *http.Request) (app.SiteQuery, error) {
	q := app.SiteQuery{Order: r.FormValue("order"), At: core.StationID(r.FormValue("at"))}
	if text := strings.TrimSpace(r.FormValue("truck")); text != "" {
		c, err := app.ReadCode(text, code.Consignment)
		if err != nil {
			return q, app.ErrNotFound
		}
		q.Truck = core.ConsignmentCode(c)
	}
	if text := r.FormValue("back"); text != "" {
		c, err := app.ReadCode(text, code.Pallet)
		if err != nil {
			return q, err
		}
		q.Back = core.PalletCode(c)
	}
	return q, nil
}
