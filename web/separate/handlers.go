package separate

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type pages struct{ s *app.Service }

// Endpoints are the bench's pages over a service.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	p := pages{s}
	return []endpoint.Endpoint{
		{Method: "GET", Path: "/separate", Access: endpoint.Tablet, Handler: p.list, Doc: "Sheets and bars to break out at the tablet's bench."},
		{Method: "GET", Path: "/separate/{sheet}", Access: endpoint.Tablet, Handler: p.sheet, Doc: "One sheet or bar: its nest to tick off, pallets to put the parts on."},
		{Method: "GET", Path: "/separate/printed", Access: endpoint.Tablet, Handler: p.printed, Doc: "The pallets a separation filled, with their travellers to print."},
	}
}

func (p pages) list(w http.ResponseWriter, r *http.Request) error {
	st, err := p.s.StationPage(r.Context(), endpoint.CallerOf(r), app.Part{})
	if err != nil {
		return err
	}
	cards, err := p.s.Store.OpenSheets(r.Context())
	if err != nil {
		return err
	}
	return endpoint.Render(w, r, listPage(newListView(r, st, cards)))
}

func (p pages) sheet(w http.ResponseWriter, r *http.Request) error {
	scan, err := code.ParseScan(chi.URLParam(r, "sheet"))
	if err == nil {
		err = scan.Code.Require(code.Sheet)
	}
	if err != nil {
		return p.refuse(w, r, http.StatusUnprocessableEntity, words.Text{Title: "That is not the code of a sheet or bar.", Remedy: err.Error()})
	}
	caller := endpoint.CallerOf(r)
	st, err := p.s.StationPage(r.Context(), caller, app.Part{Most: 1})
	if err != nil {
		return err
	}
	page, err := p.s.SheetPage(r.Context(), caller, core.PalletCode(scan.Code), r.URL.Query().Get("nest"))
	if errors.Is(err, app.ErrNotFound) {
		return p.refuse(w, r, http.StatusNotFound, words.Text{
			Title:  "There is nothing to break out of " + scan.Code.Spaced() + ".",
			Why:    "It is not a sheet or bar of ours, or its parts are on pallets already.",
			Remedy: "Scan the label on the sheet again.",
		})
	}
	if err != nil {
		return err
	}
	if !page.Here {
		return endpoint.SeeOther(w, r, "/station/pallets/"+string(scan.Code))
	}
	return endpoint.Render(w, r, sheetPage(newSheetView(r, st, page)))
}

func (p pages) printed(w http.ResponseWriter, r *http.Request) error {
	caller := endpoint.CallerOf(r)
	st, err := p.s.StationPage(r.Context(), caller, app.Part{Most: 1})
	if err != nil {
		return err
	}
	v := printedView{head: headOf(r, st, "Print"), now: endpoint.PageOf(r).Now, self: r.URL.RequestURI()}
	for _, c := range strings.Split(r.URL.Query().Get("pallets"), ",") {
		if len(v.pallets) == mostPrinted {
			break
		}
		scan, err := code.ParseScan(c)
		if err != nil || slices.ContainsFunc(v.pallets, func(x app.PalletPage) bool { return string(x.Pallet.Code) == string(scan.Code) }) {
			continue
		}
		pallet, err := p.s.PalletPage(r.Context(), caller, core.PalletCode(scan.Code), 0, "")
		if errors.Is(err, app.ErrNotFound) || err == nil && pallet.Empty() {
			continue
		}
		if err != nil {
			return err
		}
		v.pallets = append(v.pallets, pallet)
	}
	return endpoint.Render(w, r, printedPage(v))
}

// mostPrinted is more pallets than one sheet fills.
const mostPrinted = 12

func (p pages) refuse(w http.ResponseWriter, r *http.Request, status int, t words.Text) error {
	st, err := p.s.StationPage(r.Context(), endpoint.CallerOf(r), app.Part{Most: 1})
	if err != nil {
		return err
	}
	return endpoint.RenderStatus(w, r, status, refusedPage(headOf(r, st, "Refused"), ui.Refusal{
		Title: t.Title, Why: t.Why, Remedy: t.Remedy, Back: ui.Link{Text: "Back to the sheets", Href: "/separate"},
	}))
}

func headOf(r *http.Request, st app.StationPage, title string, scripts ...string) ui.StationHead {
	page := endpoint.PageOf(r)
	return ui.StationHead{
		Title: title, Station: ui.Capital(st.Station.Name), Now: page.Now, Demo: page.Demo, Keeper: string(page.Caller.Tablet),
		Scripts: append([]string{"panels.js", "pad.js", "scan.js"}, scripts...),
	}
}

func sheetLink(c core.PalletCode, nest string) string {
	link := "/separate/" + string(c)
	if nest != "" {
		link += "?nest=" + url.QueryEscape(nest)
	}
	return link
}
