package print

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
	"tagalong/web/endpoint"
)

// Endpoints of everything that is printed for pallets, orders, containers and
// places. A traveller's print is numbered by a command first; the endpoints
// that read show one that has its number.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	const get, post = http.MethodGet, http.MethodPost
	who := endpoint.TabletOr()
	dock := endpoint.TabletOr(core.Dispatcher, core.Manager, core.Admin)
	return []endpoint.Endpoint{
		{Method: get, Path: "/pallets/{code}/traveller", Access: who, Handler: page(s),
			Doc: "A pallet's traveller as a page that prints on A4; print= is the number, the newest where none is named."},
		{Method: get, Path: "/pallets/{code}/traveller.html", Access: who, Handler: page(s),
			Doc: "The same; back= is the page to go back to, size= the paper from now on: a4, a5 or label."},
		{Method: get, Path: "/pallets/{code}/traveller.pdf", Access: who, Handler: pdf(s),
			Doc: "A pallet's traveller as a PDF on the paper chosen; print= and size= as before."},
		{Method: post, Path: "/pallets/{code}/traveller", Access: who, Handler: again(s),
			Doc: "Number another print of a pallet's traveller and go to it."},
		{Method: get, Path: "/pallets/travellers.html", Access: who, Handler: severalPage(s),
			Doc: "The newest travellers of several pallets, pallets=CODE,CODE, as a page that prints on A4; back= and size= as before."},
		{Method: get, Path: "/pallets/travellers.pdf", Access: who, Handler: severalPDF(s),
			Doc: "The same as one PDF."},
		{Method: post, Path: "/pallets/travellers", Access: who, Handler: severalAgain(s),
			Doc: "Number another print of several pallets' travellers and go to them."},
		{Method: get, Path: "/orders/{no}/travellers", Access: who, Handler: orderPage(s),
			Doc: "The pallets of an order, to print all their travellers."},
		{Method: post, Path: "/orders/{no}/travellers", Access: who, Handler: orderAgain(s),
			Doc: "Number another print of every traveller of an order and go to them."},
		{Method: get, Path: "/orders/{no}/travellers.pdf", Access: who, Handler: orderPDF(s),
			Doc: "The newest print of every traveller of an order as one PDF; size= as before."},
		{Method: get, Path: "/pallets/{code}/container.pdf", Access: who, Handler: oneContainer(s),
			Doc: "The container label of a pallet or box, PDF of 100 × 150 mm."},
		{Method: get, Path: "/dock/{code}/labels.pdf", Access: dock, Handler: containers(s),
			Doc: "Labels of a consignment's pallets and boxes, PDF of 100 × 150 mm; pallet= for one alone."},
		{Method: get, Path: "/orders/{no}/labels.pdf", Access: dock, Handler: orderContainers(s),
			Doc: "Labels of an order's packed carriers that have not left, PDF of 100 × 150 mm."},
		{Method: get, Path: "/signs", Access: who, Handler: signsPage(s),
			Doc: "Signs for slots and stations, to print."},
		{Method: get, Path: "/signs/slots.pdf", Access: who, Handler: slotSigns(s),
			Doc: "Signs for slots of the pallet store, PDF on A4; slots=A1-A12, B3; station= is the store, the first where none is named."},
		{Method: get, Path: "/signs/stations.pdf", Access: who, Handler: stationSigns(s),
			Doc: "Signs for every station, PDF, one A4 page each."},
	}
}

// palletOf reads the pallet that an address names.
func palletOf(r *http.Request) (core.PalletCode, error) {
	c, err := app.ReadCode(chi.URLParam(r, "code"), code.Pallet, code.Sheet)
	return core.PalletCode(c), err
}

// asked reads the traveller that an address names.
func asked(from paperwork.Source, r *http.Request) (paperwork.Sheet, error) {
	c, err := palletOf(r)
	if err != nil {
		return paperwork.Sheet{}, err
	}
	no := 0
	if text := r.URL.Query().Get("print"); text != "" {
		if no, err = strconv.Atoi(text); err != nil || no < 1 || no > code.MaxPrint {
			return paperwork.Sheet{}, app.Refuse("bad-value", "field", "print", "problem", "it is the number of a print")
		}
	}
	return paperwork.Traveller(r.Context(), from, c, no)
}

func page(from paperwork.Source) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		size, err := chooseSize(w, r)
		if err != nil {
			return err
		}
		sheet, err := asked(from, r)
		if err != nil {
			return err
		}
		w.Header().Set("Cache-Control", "no-store")
		return endpoint.Render(w, r, withBar(sheet.Traveller, barOf(sheet, r, size)))
	}
}

func pdf(from paperwork.Source) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		size, err := chooseSize(w, r)
		if err != nil {
			return err
		}
		sheet, err := asked(from, r)
		if err != nil {
			return err
		}
		return write(w, FileName(sheet.Traveller), func(out io.Writer) error {
			return paper.WriteTravellers(out, size, sheet.Traveller)
		})
	}
}

// again numbers another print and shows it.
func again(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		pallet, err := palletOf(r)
		if err != nil {
			return err
		}
		id, err := commandID(r)
		if err != nil {
			return err
		}
		if err := paperwork.Number(r.Context(), s, endpoint.CallerOf(r), core.CommandID(id.String()), pallet); err != nil {
			return err
		}
		next := "/pallets/" + string(pallet) + "/traveller.html"
		if back := ownPath(r.PostForm.Get("back")); back != "" {
			next += "?back=" + url.QueryEscape(back)
		}
		return endpoint.SeeOther(w, r, next)
	}
}

// commandID is the id the page gave its form, so that a button pressed twice
// numbers once.
func commandID(r *http.Request) (uuid.UUID, error) {
	id, err := uuid.Parse(r.PostForm.Get("id"))
	if err != nil {
		return id, app.Refuse("bad-value", "field", "id", "problem", "it is the form's own mark; open the page again and press its button")
	}
	return id, nil
}

// write sends a PDF. It is drawn whole before the first byte leaves.
func write(w http.ResponseWriter, name string, draw func(io.Writer) error) error {
	var b bytes.Buffer
	if err := draw(&b); err != nil {
		if errors.Is(err, paper.ErrNothing) {
			return app.ErrNotFound
		}
		return fmt.Errorf("draw %s: %w", name, err)
	}
	h := w.Header()
	h.Set("Content-Type", "application/pdf")
	h.Set("Content-Disposition", `inline; filename="`+name+`"`)
	h.Set("Content-Length", strconv.Itoa(b.Len()))
	h.Set("Cache-Control", "no-store")
	_, _ = b.WriteTo(w) // the browser has gone: nobody left to tell
	return nil
}

// FileName is what a traveller's PDF is called.
func FileName(t paper.Traveller) string {
	return "traveller-" + bare(t.Code) + "-" + strconv.Itoa(t.Print) + ".pdf"
}

// bare is a code without the space people read it with.
func bare(code string) string { return strings.ReplaceAll(code, " ", "") }

// ownPath is a path of ours; empty for anything else, such as an address on
// another site.
func ownPath(text string) string {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(text, "/") || strings.HasPrefix(text, "//") || strings.Contains(text, `\`) {
		return ""
	}
	return text
}
