package station

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type goodsView struct {
	head  ui.StationHead
	page  app.StationPage
	items []core.Revision
	asked []goodsChecks
	now   time.Time
}

// goodsChecks is what the goods-in step of a route asks of what is taken in.
type goodsChecks struct {
	route  core.RouteRef
	checks []core.Characteristic
}

func (p pages) goods(w http.ResponseWriter, r *http.Request) error {
	st, err := p.s.StationPage(r.Context(), endpoint.CallerOf(r), beside(""))
	if err != nil {
		return err
	}
	v := goodsView{head: headOf(r, st.Station, "Goods in", "faces.js", "goods.js"), page: st, now: endpoint.PageOf(r).Now}
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
	for _, item := range v.items {
		known := slices.ContainsFunc(v.asked, func(a goodsChecks) bool { return a.route == item.Route })
		if checks := core.BirthChecks(st.Book, item.ItemRev, "goods-in"); len(checks) > 0 && !known {
			v.asked = append(v.asked, goodsChecks{item.Route, checks})
		}
	}
	return endpoint.Render(w, r, goodsPage(v))
}

// goodsKind is which of the two papers come with goods: metal has a certificate,
// bought goods a delivery note.
func goodsKind(r core.Revision) string {
	if r.Kind == core.BoughtItem {
		return "bought"
	}
	return "metal"
}

// checkFace is a page of characteristics with the place of its first in the command.
type checkFace struct {
	first  int
	checks []core.Characteristic
}

func checkFaces(cs []core.Characteristic) []checkFace {
	var out []checkFace
	n := 0
	for _, page := range app.CheckPages(cs) {
		out = append(out, checkFace{n, page})
		n += len(page)
	}
	return out
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
