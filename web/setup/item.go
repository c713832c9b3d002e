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
	"tagalong/web/ui"
)

// itemForm is a typed item, shown again as it was typed.
type itemForm struct {
	frame
	app.TypedItem
	fold, weld, own bool
	more            string          // which lines are asked to be more
	items           []core.Revision // that an assembly may be made of
	walk            app.ItemWalk
}

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
	v.Finish.Cover = true
	v.own = true
	v.Steps = app.ProposeRoute(v.Chosen(false, false, true))
	return p.renderItem(w, r, v)
}

// renderItem shows the form with its route drawn and walked.
func (p pages) renderItem(w http.ResponseWriter, r *http.Request, v itemForm) (err error) {
	if v.walk, err = p.s.WalkItem(r.Context(), v.page.Caller, v.TypedItem); err != nil {
		return err
	}
	return endpoint.RenderStatus(w, r, statusOf(v.slips), itemPage(v))
}

func (p pages) addItem(w http.ResponseWriter, r *http.Request) error {
	v, err := p.typedItem(r)
	if err != nil {
		return err
	}
	switch value(r, "do") {
	case "propose": // a browser without scripts asks for the steps anew
		v.Steps = app.ProposeRoute(v.Chosen(v.fold, v.weld, v.own))
		return p.renderItem(w, r, v)
	case "walk":
		return p.renderItem(w, r, v)
	case "more-bill", "more-places", "more-checks", "more-samples":
		v.more = strings.TrimPrefix(value(r, "do"), "more-")
		return p.renderItem(w, r, v)
	}
	if v.slips, err = p.s.AddItem(r.Context(), v.page.Caller, v.TypedItem); err != nil {
		return err
	}
	if len(v.slips) > 0 {
		return p.renderItem(w, r, v)
	}
	return p.on(w, r, "item")
}

// walkItem answers with the drawn route alone, for the script that shows it
// while things are chosen.
func (p pages) walkItem(w http.ResponseWriter, r *http.Request) error {
	v, err := p.typedItem(r)
	if err != nil {
		return err
	}
	if v.walk, err = p.s.WalkItem(r.Context(), v.page.Caller, v.TypedItem); err != nil {
		return err
	}
	return endpoint.Render(w, r, walked(v))
}

// typedItem reads the form; lines with nothing in them are left out.
func (p pages) typedItem(r *http.Request) (itemForm, error) {
	v, err := p.itemForm(r)
	if err != nil {
		return v, err
	}
	if err := endpoint.Form(r); err != nil {
		return v, err
	}
	v.TypedItem = app.TypedItem{
		Item: value(r, "item"), Rev: value(r, "rev"), Name: value(r, "name"), Assembly: value(r, "kind") == "assembly",
		Metal: value(r, "metal"), Grade: value(r, "grade"), Thickness: value(r, "thickness_mm"),
		Length: value(r, "length_mm"), Width: value(r, "width_mm"), Hand: value(r, "hand"), Mass: value(r, "mass_kg"),
		Bakes: value(r, "max_bakes"), Edges: app.EdgeWork(value(r, "edges")), Finish: typedFinish(r),
	}
	v.fold, v.weld, v.own = value(r, "fold") == "yes", value(r, "weld") == "yes", value(r, "own") == "yes"
	for i := range mostRows {
		at := "." + strconv.Itoa(i)
		if c := (app.TypedComponent{Item: value(r, "component"+at), Qty: value(r, "count"+at)}); c.Item != "" {
			v.Bill = append(v.Bill, c)
		}
		if place := value(r, "place"+at); place != "" {
			v.Finish.Places = append(v.Finish.Places, place)
		}
		c := app.TypedCheck{Text: value(r, "check"+at), Nominal: value(r, "nominal"+at), Tolerance: value(r, "tolerance"+at),
			Lower: value(r, "lower"+at), Upper: value(r, "upper"+at), Unit: value(r, "unit"+at), Instrument: value(r, "gauge"+at),
			Source: value(r, "source"+at)}
		if c != (app.TypedCheck{}) {
			c.Stage = core.StageName(value(r, "check-step"+at))
			v.Checks = append(v.Checks, c)
		}
		x := app.TypedSample{UpTo: value(r, "up-to"+at), Size: value(r, "size"+at), Accept: value(r, "accept"+at)}
		if x != (app.TypedSample{}) {
			x.Stage = core.StageName(value(r, "sample-step"+at))
			v.Samples = append(v.Samples, x)
		}
	}
	for _, s := range r.PostForm["step"] {
		v.Steps = append(v.Steps, core.StageName(s))
	}
	return v, nil
}

func typedFinish(r *http.Request) app.TypedFinish {
	f := app.TypedFinish{Cover: value(r, "cover") == "yes", Outside: value(r, "outside"), Inside: value(r, "inside"), Colour: value(r, "colour")}
	switch value(r, "finish") {
	case "coat":
		f.Asked = true
	case "faces":
		f.Asked, f.EachFace = true, true
	}
	return f
}

// Rows of a list that may grow: how many are shown to begin with, how many more
// on asking, how many there may be.
const (
	billRows, placeRows, checkRows, sampleRows = 6, 3, 3, 1

	mostRows = 40
)

// rowsOf is how many rows a list shows with so many filled.
func (v itemForm) rowsOf(list string, first, filled int) int {
	n := max(first, filled)
	if v.more == list {
		n = max(first, filled) + first
	}
	return min(n, mostRows)
}

// nth is a list's row i, the zero row where there is none.
func nth[T any](all []T, i int) T {
	if i < len(all) {
		return all[i]
	}
	var none T
	return none
}

// drawn reports that the part of the form for a drawing's rarer wishes is in use.
func (v itemForm) drawn() bool {
	return v.Edges != "" || v.Hand+v.Mass+v.Bakes != "" || len(v.Finish.Places) > 0 || v.more == "places"
}

func (v itemForm) checked() bool {
	return len(v.Checks)+len(v.Samples) > 0 || v.more == "checks" || v.more == "samples"
}

// strip is the typed item's route as it is drawn.
func (v itemForm) strip() []ui.StripStep {
	var out []ui.StripStep
	for _, s := range v.walk.Route.Steps {
		st, _ := v.setup.Book.Table.Stage(s.Stage)
		x := ui.StripStep{Name: or(st.Title, string(s.Stage)), Mark: st.Mark, Hold: st.Hold}
		if of := or(s.Place, string(s.Face)); of != "" {
			x.Name += ": " + of
		}
		if n := len(s.Checks); n > 0 {
			x.Name += ", " + ui.Count(n, "check")
		}
		out = append(out, x)
	}
	return out
}

// inspects lists the steps that may look at a sample, and stepOptions every step.
func (v itemForm) stepOptions(inspections bool) []option {
	var out []option
	for _, s := range app.RouteSteps {
		if st, ok := v.setup.Book.Table.Stage(s.Stage); ok && (!inspections || st.Mark == core.Inspection) {
			out = append(out, option{string(s.Stage), st.Title})
		}
	}
	return out
}

// gaugeKinds are the kinds of gauge the shop has.
func (v itemForm) gaugeKinds() []string {
	var out []string
	for _, g := range v.setup.Book.Instruments {
		out = append(out, g.Kind)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// lastStage is what a new row of checks or samples stands at.
func lastStage[T any](all []T, stage func(T) core.StageName, usual core.StageName) string {
	if len(all) == 0 {
		return string(usual)
	}
	return string(stage(all[len(all)-1]))
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

// choices are a step's conditions, for the script that ticks it as choices change.
func choices(all []app.Choice) string {
	out := make([]string, len(all))
	for i, c := range all {
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
