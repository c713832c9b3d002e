package dock

import (
	"net/http"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

// atSite is the fitters' page.
func atSite(d Docker) endpoint.Handler {
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
		return endpoint.Render(w, r, sitePage(newSiteView(p, b, page, r.FormValue("do"))))
	}
}

func siteQuery(r *http.Request) (app.SiteQuery, error) {
	q := app.SiteQuery{Order: r.FormValue("order"), At: core.StationID(r.FormValue("at"))}
	var err error
	if q.Truck, err = truckOf(r.FormValue("truck")); err != nil {
		return q, err
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
