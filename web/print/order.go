package print

import (
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// listed is how many pallets are listed unless all are asked for: first those
// that need another print.
const listed = 24

// orderView is an order's pallets and what their newest prints say.
type orderView struct {
	app.OrderPrints
	head    ui.OfficeHead
	listed  []app.PalletPrint
	further int // pallets that are not listed
	size    paper.Size
	id      string
}

// path of the order's travellers, without ending.
func (v orderView) path() string { return "/orders/" + url.PathEscape(v.Order.No) + "/travellers" }

// inFull is the address of the same page with every pallet.
func (v orderView) inFull() string { return v.path() + "?all=1" }

// printedAny reports whether there is a print to show.
func (v orderView) printedAny() bool {
	return slices.ContainsFunc(v.Pallets, func(p app.PalletPrint) bool { return p.Newest > 0 })
}

func (v orderView) summary() string {
	text := v.Order.Customer + ". " + ui.Count(len(v.Pallets), "pallet") + " with its parts still here"
	if n := v.Due(); n > 0 {
		return text + "; " + strconv.Itoa(n) + " without a traveller that still holds."
	}
	return text + "; every traveller still holds."
}

// worth says what a pallet's newest traveller is worth.
func worth(p app.PalletPrint) string {
	switch {
	case p.Newest == 0:
		return "no traveller yet"
	case p.Due():
		return "out of date: " + strings.Join(p.Changes, "; ")
	}
	return "holds"
}

// list chooses what is listed: of many, so many, those due first.
func (v *orderView) list(all bool) {
	v.listed = v.Pallets
	if all || len(v.Pallets) <= listed {
		return
	}
	v.listed = make([]app.PalletPrint, 0, len(v.Pallets))
	for _, due := range []bool{true, false} {
		for _, p := range v.Pallets {
			if p.Due() == due {
				v.listed = append(v.listed, p)
			}
		}
	}
	v.listed, v.further = v.listed[:listed], len(v.listed)-listed
}

// readOrder finds an order and its pallets still in the shop.
func readOrder(s *app.Service, r *http.Request) (orderView, error) {
	prints, err := s.OrderPrints(r.Context(), chi.URLParam(r, "no"))
	return orderView{OrderPrints: prints, id: uuid.NewString()}, err
}

func orderPage(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		size, err := chooseSize(w, r)
		if err != nil {
			return err
		}
		v, err := readOrder(s, r)
		if err != nil {
			return err
		}
		p := endpoint.PageOf(r)
		v.size = size
		v.list(r.FormValue("all") != "")
		v.head = ui.OfficeHead{Title: "Travellers of " + v.Order.No, Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo, Nav: ui.OfficeNav("")}
		w.Header().Set("Cache-Control", "no-store")
		return endpoint.Render(w, r, orderTravellers(v))
	}
}

// orderAgain numbers a print of every pallet of the order, by the command that
// one pallet's print takes, and goes to the PDF.
func orderAgain(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		size, err := chooseSize(w, r)
		if err != nil {
			return err
		}
		id, err := commandID(r)
		if err != nil {
			return err
		}
		v, err := readOrder(s, r)
		if err != nil {
			return err
		}
		var codes []core.PalletCode
		for _, p := range v.Pallets {
			if p.Due() || r.PostForm.Get("which") != "due" {
				codes = append(codes, p.Code)
			}
		}
		if err := paperwork.NumberAll(r.Context(), s, endpoint.CallerOf(r), id, codes); err != nil {
			return err
		}
		return endpoint.SeeOther(w, r, v.path()+".pdf?size="+size.String())
	}
}

func orderPDF(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		size, err := chooseSize(w, r)
		if err != nil {
			return err
		}
		v, err := readOrder(s, r)
		if err != nil {
			return err
		}
		var codes []core.PalletCode
		for _, p := range v.Pallets {
			if p.Newest > 0 {
				codes = append(codes, p.Code)
			}
		}
		sheets, err := paperwork.Newest(r.Context(), s, codes)
		if err != nil {
			return err
		}
		var ts []paper.Traveller
		for _, x := range sheets {
			ts = append(ts, x.Traveller)
		}
		return write(w, "travellers-"+fileSafe(v.Order.No)+".pdf", func(out io.Writer) error {
			return paper.WriteTravellers(out, size, ts...)
		})
	}
}

// fileSafe keeps of a name what every file system takes.
func fileSafe(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '_'
	}, name)
}
