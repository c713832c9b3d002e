package print

import (
	"io"
	"net/http"
	"net/url"
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

// orderView is an order's pallets and what their newest prints say.
type orderView struct {
	head    ui.OfficeHead
	order   core.Order
	pallets []orderPallet
	size    paper.Size
	id      string
}

type orderPallet struct {
	app.OrderPallet
	newest int // number of the newest print; 0: never printed
	says   string
	due    bool // needs another print
}

// path of the order's travellers, without ending.
func (v orderView) path() string { return "/orders/" + url.PathEscape(v.order.No) + "/travellers" }

func (v orderView) due() int {
	n := 0
	for _, p := range v.pallets {
		if p.due {
			n++
		}
	}
	return n
}

// printedAny reports whether there is a print to show.
func (v orderView) printedAny() bool {
	for _, p := range v.pallets {
		if p.newest > 0 {
			return true
		}
	}
	return false
}

func (v orderView) summary() string {
	text := v.order.Customer + ". " + ui.Count(len(v.pallets), "pallet") + " with its parts still here"
	if n := v.due(); n > 0 {
		return text + "; " + strconv.Itoa(n) + " without a traveller that still holds."
	}
	return text + "; every traveller still holds."
}

// readOrder finds an order and its pallets still in the shop.
func readOrder(s *app.Service, r *http.Request) (orderView, error) {
	no := chi.URLParam(r, "no")
	order, err := s.OrderStands(r.Context(), no)
	if err != nil {
		return orderView{}, err
	}
	codes := paperwork.Here(order)
	w, err := s.World(r.Context(), core.Names{Pallets: codes}, "")
	if err != nil {
		return orderView{}, err
	}
	v := orderView{order: order.Order, id: uuid.NewString()}
	for _, c := range codes {
		for _, p := range order.Pallets {
			if p.Code == c {
				v.pallets = append(v.pallets, palletOfOrder(w, p))
			}
		}
	}
	return v, nil
}

func palletOfOrder(w core.World, p app.OrderPallet) orderPallet {
	out := orderPallet{OrderPallet: p, says: "no traveller yet", due: true}
	row := w.State.Pallets[p.Code]
	if n := len(row.Prints); n > 0 {
		out.newest = row.Prints[n-1].No
		changes, _ := core.StalePrint(w.State, w.Book, row, out.newest)
		if out.due = len(changes) > 0; out.due {
			out.says = "out of date: " + strings.Join(changes, "; ")
		} else {
			out.says = "holds"
		}
	}
	return out
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
		v.head = ui.OfficeHead{Title: "Travellers of " + v.order.No, Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo, Nav: ui.OfficeNav("")}
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
		for _, p := range v.pallets {
			if p.due || r.PostForm.Get("which") != "due" {
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
		for _, p := range v.pallets {
			if p.newest > 0 {
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
		return write(w, "travellers-"+fileSafe(v.order.No)+".pdf", func(out io.Writer) error {
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
