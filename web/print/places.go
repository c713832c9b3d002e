package print

import (
	"io"
	"net/http"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// containers draws the labels of a consignment's pallets and boxes.
func containers(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		truck, err := app.ReadCode(chi.URLParam(r, "code"), code.Consignment)
		if err != nil {
			return err
		}
		only := code.Code("")
		if text := r.URL.Query().Get("pallet"); text != "" {
			if only, err = app.ReadCode(text, code.Pallet); err != nil {
				return err
			}
		}
		labels, err := paperwork.ContainerLabels(r.Context(), s, core.ConsignmentCode(truck), core.PalletCode(only))
		if err != nil {
			return err
		}
		return write(w, "labels-"+string(truck)+".pdf", func(out io.Writer) error {
			return paper.WriteContainerLabels(out, labels, endpoint.PageOf(r).Now)
		})
	}
}

// orderContainers draws the labels of an order's packed pallets and boxes.
func orderContainers(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		no := chi.URLParam(r, "no")
		labels, err := paperwork.OrderLabels(r.Context(), s, no)
		if err != nil {
			return err
		}
		return write(w, "labels-"+fileSafe(no)+".pdf", func(out io.Writer) error {
			return paper.WriteContainerLabels(out, labels, endpoint.PageOf(r).Now)
		})
	}
}

func oneContainer(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		pallet, err := palletOf(r)
		if err != nil {
			return err
		}
		label, err := paperwork.ContainerLabel(r.Context(), s, pallet)
		if err != nil {
			return err
		}
		return write(w, "label-"+string(pallet)+".pdf", func(out io.Writer) error {
			return paper.WriteContainerLabels(out, []paper.ContainerLabel{label}, endpoint.PageOf(r).Now)
		})
	}
}

func signsPage(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		b, err := s.Book(r.Context())
		if err != nil {
			return err
		}
		p := endpoint.PageOf(r)
		head := ui.OfficeHead{Title: "Signs", Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo, Nav: ui.OfficeNav("")}
		return endpoint.Render(w, r, signs(head, paperwork.Stores(b), len(b.Stations) > 0))
	}
}

func slotSigns(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		slots, err := paperwork.Slots(r.FormValue("slots"))
		if err != nil {
			return err
		}
		shop, err := s.Shop(r.Context())
		if err != nil {
			return err
		}
		b, err := s.Book(r.Context())
		if err != nil {
			return err
		}
		store, err := paperwork.StoreOf(b, core.StationID(r.FormValue("station")))
		if err != nil {
			return err
		}
		signs := paperwork.SlotSigns(shop, store, slots)
		return write(w, "slots.pdf", func(out io.Writer) error { return paper.WritePlaceSigns(out, signs, endpoint.PageOf(r).Now) })
	}
}

func stationSigns(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		shop, err := s.Shop(r.Context())
		if err != nil {
			return err
		}
		b, err := s.Book(r.Context())
		if err != nil {
			return err
		}
		signs := paperwork.StationSigns(shop, b)
		return write(w, "stations.pdf", func(out io.Writer) error { return paper.WriteStationSigns(out, signs, endpoint.PageOf(r).Now) })
	}
}
