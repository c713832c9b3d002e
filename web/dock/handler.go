// Package dock is the dispatcher's screen: orders by the day their truck
// leaves, what of each is ready, what is missing and where that is; loading,
// packing lists and sending off.
package dock

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// Docker reads what the dock is shown.
type Docker interface {
	Dock(ctx context.Context, q app.DockQuery) (app.DockPage, error)
	DockTruck(ctx context.Context, c core.ConsignmentCode) (*app.DockTruck, error)
	Book(ctx context.Context) (*core.Book, error)
	Shop(ctx context.Context) (app.Shop, error)
	Photo(ctx context.Context, by app.Caller, hash string, thumb bool) ([]byte, error)
	PackedOn(ctx context.Context, t app.DockTruck) (map[core.LotID]app.PackedEntry, error)
	PrintLink(ctx context.Context, by app.Caller, c core.ConsignmentCode) (token string, l app.SiteLink, err error)
}

// Endpoints are this screen's.
func Endpoints(d Docker) []endpoint.Endpoint {
	office := endpoint.TabletOr(core.Dispatcher, core.Manager, core.Admin)
	return []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/dock", Access: office, Handler: show(d),
			Doc: "orders by truck day, what is ready, missing and where; order=NO or truck=CODE shows one in full"},
		{Method: http.MethodGet, Path: "/dock/{code}/packing-list.pdf", Access: office, Handler: packing(d),
			Doc: "packing list of a consignment, PDF on A4"},
		{Method: http.MethodPost, Path: "/dock/{code}/packing-list.pdf", Access: endpoint.Office(app.LinkMakers...), Handler: packingWithLink(d),
			Doc: "packing list with a new link for the site on it; links on lists printed before end, unless they are claimed"},
		{Method: http.MethodGet, Path: "/C/{code}", Access: endpoint.TabletOr(core.Fitter, core.Dispatcher, core.Manager, core.Admin).OrBearer(), Handler: printed(d),
			Doc: "the address in a consignment's QR symbol: to be received at a site, to be loaded elsewhere"},
	}
}

// printed leads from a scanned packing list to the page its reader works with.
func printed(d Docker) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		p := endpoint.PageOf(r)
		truck, err := truckOf(chi.URLParam(r, "code"))
		if err != nil || truck == "" {
			return app.ErrNotFound
		}
		if p.Caller.Bears() {
			if truck != p.Caller.Bearer.Consignment {
				return app.Refuse("link-other-consignment", "consignment", ui.Spaced(string(p.Caller.Bearer.Consignment)))
			}
			return endpoint.SeeOther(w, r, "/site/mine")
		}
		b, err := d.Book(r.Context())
		if err != nil {
			return err
		}
		page := "/dock"
		if at := b.Stations[p.Caller.Station]; at.Site || slices.Contains(p.Caller.Roles, core.Fitter) {
			page = "/site"
		}
		http.Redirect(w, r, page+"?truck="+string(truck), http.StatusSeeOther)
		return nil
	}
}

// truckOf reads a consignment's code as typed or scanned; empty: none asked for.
func truckOf(text string) (core.ConsignmentCode, error) {
	if strings.TrimSpace(text) == "" {
		return "", nil
	}
	scan, err := code.ParseScan(text)
	if err != nil || scan.Code.Kind() != code.Consignment {
		return "", app.ErrNotFound
	}
	return core.ConsignmentCode(scan.Code), nil
}

func show(d Docker) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		p := endpoint.PageOf(r)
		truck, err := truckOf(r.FormValue("truck"))
		if err != nil {
			return err
		}
		page, err := d.Dock(r.Context(), app.DockQuery{Order: r.FormValue("order"), Truck: truck, At: p.Caller.Station})
		if err != nil {
			return err
		}
		return endpoint.Render(w, r, dockPage(newView(p, page)))
	}
}

func packing(d Docker) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		truck, list, err := readPackingList(d, r)
		if err != nil {
			return err
		}
		return writePackingList(w, truck, list)
	}
}

// packingWithLink prints the list with a link on it that is made for this print
// and kept nowhere else.
func packingWithLink(d Docker) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		truck, list, err := readPackingList(d, r)
		if err != nil {
			return err
		}
		shop, err := d.Shop(r.Context())
		if err != nil {
			return err
		}
		token, link, err := d.PrintLink(r.Context(), endpoint.CallerOf(r), truck)
		if err != nil {
			return err
		}
		list.Link = paper.SiteLink{Address: endpoint.LinkAddress(r, shop.Address, token), Until: link.Ends().In(endpoint.PageOf(r).Now.Location())}
		return writePackingList(w, truck, list)
	}
}

// readPackingList is what the packing list of the consignment named says.
func readPackingList(d Docker, r *http.Request) (core.ConsignmentCode, paper.PackingList, error) {
	var none paper.PackingList
	truck, err := truckOf(chi.URLParam(r, "code"))
	if err != nil || truck == "" {
		return "", none, app.ErrNotFound
	}
	load, err := d.DockTruck(r.Context(), truck)
	if err != nil {
		return "", none, err
	}
	b, errBook := d.Book(r.Context())
	shop, errShop := d.Shop(r.Context())
	packed, errPacked := d.PackedOn(r.Context(), *load)
	if err := errors.Join(errBook, errShop, errPacked); err != nil {
		return "", none, err
	}
	list := packingList(b, shop, endpoint.PageOf(r), *load, packed)
	if load.Signature != "" {
		if list.Signature, err = d.Photo(r.Context(), endpoint.CallerOf(r), load.Signature, false); err != nil {
			return "", none, err
		}
	}
	return truck, list, nil
}

func writePackingList(w http.ResponseWriter, truck core.ConsignmentCode, list paper.PackingList) error {
	var buf bytes.Buffer
	if err := paper.WritePackingList(&buf, list); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", `inline; filename="packing-list-`+string(truck)+`.pdf"`)
	w.Header().Set("Cache-Control", "no-store")
	_, _ = buf.WriteTo(w) // the browser has gone: nobody left to tell
	return nil
}
