package print

import (
	"bytes"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
	"tagalong/web/endpoint"
)

// Endpoints of the printed traveller. A print is numbered by a command first;
// these show one that has its number.
func Endpoints(from paperwork.Source) []endpoint.Endpoint {
	who := endpoint.TabletOr()
	return []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/pallets/{code}/traveller", Access: who, Handler: page(from),
			Doc: "A pallet's traveller as a page that prints on A4; print= is the number, the newest where none is named."},
		{Method: http.MethodGet, Path: "/pallets/{code}/traveller.html", Access: who, Handler: page(from),
			Doc: "The same; back= is the page to go back to."},
		{Method: http.MethodGet, Path: "/pallets/{code}/traveller.pdf", Access: who, Handler: pdf(from),
			Doc: "A pallet's traveller as a PDF on A4; print= as before."},
	}
}

// asked reads the traveller that an address names.
func asked(from paperwork.Source, r *http.Request) (paperwork.Sheet, error) {
	c, err := app.ReadCode(chi.URLParam(r, "code"), code.Pallet, code.Sheet)
	if err != nil {
		return paperwork.Sheet{}, err
	}
	no := 0
	if text := r.URL.Query().Get("print"); text != "" {
		if no, err = strconv.Atoi(text); err != nil || no < 1 || no > code.MaxPrint {
			return paperwork.Sheet{}, app.Refuse("bad-value", "field", "print", "problem", "it is the number of a print")
		}
	}
	return paperwork.Traveller(r.Context(), from, core.PalletCode(c), no)
}

func page(from paperwork.Source) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		sheet, err := asked(from, r)
		if err != nil {
			return err
		}
		w.Header().Set("Cache-Control", "no-store")
		return endpoint.Render(w, r, withBar(sheet.Traveller, barOf(sheet, r)))
	}
}

func pdf(from paperwork.Source) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		sheet, err := asked(from, r)
		if err != nil {
			return err
		}
		var b bytes.Buffer
		if err := paper.WriteTravellers(&b, paper.A4, sheet.Traveller); err != nil {
			return err
		}
		h := w.Header()
		h.Set("Content-Type", "application/pdf")
		h.Set("Content-Disposition", `inline; filename="`+FileName(sheet.Traveller)+`"`)
		h.Set("Content-Length", strconv.Itoa(b.Len()))
		h.Set("Cache-Control", "no-store")
		_, _ = b.WriteTo(w) // the browser has gone: nobody left to tell
		return nil
	}
}

// FileName is what a traveller's PDF is called.
func FileName(t paper.Traveller) string {
	return "traveller-" + strings.ReplaceAll(t.Code, " ", "") + "-" + strconv.Itoa(t.Print) + ".pdf"
}

// bar is what the screen shows above the sheet; it is not printed.
type bar struct {
	back  string // page to go back to; empty: none
	pdf   string
	stale string // why this print must not be used; empty: it may
}

func barOf(s paperwork.Sheet, r *http.Request) bar {
	b := bar{
		back: ownPath(r.URL.Query().Get("back")),
		pdf:  "/pallets/" + strings.ReplaceAll(s.Code, " ", "") + "/traveller.pdf?print=" + strconv.Itoa(s.Print),
	}
	switch {
	case len(s.Changes) > 0:
		b.stale = "Out of date: " + strings.Join(s.Changes, "; ") + ". Print the traveller again before the pallet goes on."
	case s.Stale():
		b.stale = "This print was replaced by print " + strconv.Itoa(s.Newest) + "."
	}
	return b
}

// ownPath is a path of ours; empty for anything else, such as an address on
// another site.
func ownPath(text string) string {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(text, "/") || strings.HasPrefix(text, "//") || strings.Contains(text, `\`) {
		return ""
	}
	return text
}
