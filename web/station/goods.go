package station

import (
	"net/http"
	"slices"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type goodsView struct {
	head  ui.StationHead
	page  app.StationPage
	items []core.Revision
}

func (p pages) goods(w http.ResponseWriter, r *http.Request) error {
	st, err := p.s.StationPage(r.Context(), endpoint.CallerOf(r))
	if err != nil {
		return err
	}
	v := goodsView{head: headOf(r, st.Station, "Goods in", "station.js"), page: st}
	for _, item := range st.Book.Items {
		switch item.Kind {
		case core.SheetItem, core.BarItem, core.BoughtItem:
			v.items = append(v.items, item)
		}
	}
	slices.SortFunc(v.items, func(a, b core.Revision) int {
		if a.Kind != b.Kind {
			return strings.Compare(string(b.Kind), string(a.Kind))
		}
		return strings.Compare(a.Key(), b.Key())
	})
	return endpoint.Render(w, r, goodsPage(v))
}

func goodsText(r core.Revision) string {
	out := r.Name + ", " + string(r.Item)
	if r.Thickness > 0 {
		out += ", " + ui.Number(r.Thickness) + " mm"
	}
	if r.Grade != "" {
		out += " " + r.Grade
	}
	return out
}
