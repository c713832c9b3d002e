package setup

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

// itemForm is a typed item, shown again as it was typed.
type itemForm struct {
	frame
	app.TypedItem
	fold, weld, own bool
	items           []core.Revision // that an assembly may be made of
}

const billRows = 6

func (p pages) itemForm(r *http.Request) (itemForm, error) {
	f, err := p.frame(r, app.SetupItem)
	if err != nil {
		return itemForm{}, err
	}
	return itemForm{frame: f, items: app.PartsOf(f.setup.Book, core.PartItem, core.AssemblyItem, core.BoughtItem, core.KitItem)}, nil
}

func (p pages) showItem(w http.ResponseWriter, r *http.Request) error {
	v, err := p.itemForm(r)
	if err != nil {
		return err
	}
	v.TypedItem = app.TypedItem{Item: app.FreeItem(v.setup.Book), Rev: "A", Metal: string(core.Aluminium)}
	v.own = true
	v.Steps = app.ProposeRoute(v.Chosen(false, false, true))
	return endpoint.Render(w, r, itemPage(v))
}

func (p pages) addItem(w http.ResponseWriter, r *http.Request) error {
	v, err := p.itemForm(r)
	if err != nil {
		return err
	}
	if err := endpoint.Form(r); err != nil {
		return err
	}
	v.TypedItem = app.TypedItem{
		Item: value(r, "item"), Rev: value(r, "rev"), Name: value(r, "name"), Assembly: value(r, "kind") == "assembly",
		Metal: value(r, "metal"), Grade: value(r, "grade"), Thickness: value(r, "thickness_mm"),
		Length: value(r, "length_mm"), Width: value(r, "width_mm"),
	}
	if value(r, "finish") == "coat" {
		// A coat without a colour is a slip and not a bare part.
		v.Colour = or(value(r, "colour"), " ")
	}
	v.fold, v.weld, v.own = value(r, "fold") == "yes", value(r, "weld") == "yes", value(r, "own") == "yes"
	for i := range billRows {
		c := app.TypedComponent{Item: value(r, "component."+strconv.Itoa(i)), Qty: value(r, "count."+strconv.Itoa(i))}
		if c.Item != "" {
			v.Bill = append(v.Bill, c)
		}
	}
	if value(r, "do") == "propose" { // a browser without scripts asks for the steps anew
		v.Steps = app.ProposeRoute(v.Chosen(v.fold, v.weld, v.own))
		return endpoint.Render(w, r, itemPage(v))
	}
	for _, s := range r.PostForm["step"] {
		v.Steps = append(v.Steps, core.StageName(s))
	}
	if v.slips, err = p.s.AddItem(r.Context(), v.page.Caller, v.TypedItem); err != nil {
		return err
	}
	if len(v.slips) > 0 {
		return endpoint.RenderStatus(w, r, statusOf(v.slips), itemPage(v))
	}
	return p.on(w, r, "item")
}

// component is the bill's line i as typed, empty where there is none.
func (v itemForm) component(i int) app.TypedComponent {
	if i < len(v.Bill) {
		return v.Bill[i]
	}
	return app.TypedComponent{}
}

// title is a stage in words.
func (v itemForm) title(s app.RouteStep) string {
	if st, ok := v.setup.Book.Table.Stage(s.Stage); ok {
		return st.Title
	}
	return string(s.Stage)
}

// nowhere says that no station does a stage yet; empty where one does.
func (v itemForm) nowhere(s app.RouteStep) string {
	for _, st := range v.setup.Book.Stations {
		if st.Does(s.Stage) {
			return ""
		}
	}
	return "no station does this yet"
}

// conditions are a step's, for the script that ticks it as choices change.
func conditions(s app.RouteStep) string {
	out := make([]string, len(s.When))
	for i, c := range s.When {
		out[i] = string(c)
	}
	return strings.Join(out, " ")
}

// orderForm is a typed order.
type orderForm struct {
	frame
	app.TypedOrder
	rows  []app.TypedLine // as shown, empty ones too
	items []core.Revision
}

// Lines of a form: some to begin with, more on asking.
const (
	firstLines = 3
	moreLines  = 5
	mostLines  = 60
)

func (p pages) orderForm(r *http.Request) (orderForm, error) {
	f, err := p.frame(r, app.SetupOrder)
	if err != nil {
		return orderForm{}, err
	}
	items := app.PartsOf(f.setup.Book, core.PartItem, core.AssemblyItem, core.ProductItem, core.KitItem, core.BoughtItem)
	slices.SortStableFunc(items, func(a, b core.Revision) int { return cmp.Compare(rank(a.Kind), rank(b.Kind)) })
	return orderForm{frame: f, items: items}, nil
}

// rank puts first what is asked for most.
func rank(k core.ItemKind) int {
	return slices.Index([]core.ItemKind{core.ProductItem, core.AssemblyItem, core.PartItem, core.KitItem, core.BoughtItem}, k)
}

func (p pages) showOrder(w http.ResponseWriter, r *http.Request) error {
	v, err := p.orderForm(r)
	if err != nil {
		return err
	}
	if v.No, err = p.s.FreeOrder(r.Context()); err != nil {
		return err
	}
	v.Promised = string(core.DateOf(v.page.Now.AddDate(0, 0, 14)))
	v.rows = make([]app.TypedLine, firstLines)
	if len(v.items) == 1 {
		v.rows[0].Item = app.ItemKey(v.items[0].ItemRev)
	}
	return endpoint.Render(w, r, orderPage(v))
}

func (p pages) addOrder(w http.ResponseWriter, r *http.Request) error {
	v, err := p.orderForm(r)
	if err != nil {
		return err
	}
	if err := endpoint.Form(r); err != nil {
		return err
	}
	v.TypedOrder = app.TypedOrder{No: value(r, "order"), Customer: value(r, "customer"), Reference: value(r, "reference"), Promised: value(r, "promised")}
	for i := range mostLines {
		at := strconv.Itoa(i)
		if _, sent := r.PostForm["item."+at]; !sent {
			break
		}
		l := app.TypedLine{Item: value(r, "item."+at), Qty: value(r, "qty."+at)}
		v.rows = append(v.rows, l)
		if l.Item != "" || l.Qty != "" {
			v.Lines = append(v.Lines, l)
		}
	}
	if value(r, "do") == "more" {
		v.rows = append(v.rows, make([]app.TypedLine, max(0, min(moreLines, mostLines-len(v.rows))))...)
		return endpoint.Render(w, r, orderPage(v))
	}
	if v.slips, err = p.s.AddOrder(r.Context(), v.page.Caller, v.TypedOrder); err != nil {
		return err
	}
	if len(v.slips) > 0 {
		return endpoint.RenderStatus(w, r, statusOf(v.slips), orderPage(v))
	}
	return p.on(w, r, "order")
}

// lineSlip is what is wrong with a field of the row shown at i, which the order
// counts without the empty rows before it.
func (v orderForm) lineSlip(i int, fields ...string) string {
	if i < len(v.rows) && v.rows[i] == (app.TypedLine{}) {
		if i == 0 && len(v.Lines) == 0 {
			return v.slips.At("lines.csv", 0, "item")
		}
		return ""
	}
	at := 0
	for _, l := range v.rows[:i] {
		if l != (app.TypedLine{}) {
			at++
		}
	}
	var out []string
	for _, f := range fields {
		if s := v.slips.At("lines.csv", at, f); s != "" {
			out = append(out, s)
		}
	}
	return strings.Join(out, " ")
}
