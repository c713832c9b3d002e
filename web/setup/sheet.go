package setup

import (
	"net/http"
	"strconv"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// sheetForm is a sheet as it is received.
type sheetForm struct {
	frame
	app.TypedSheet
	materials []core.Revision
}

func (p pages) sheetForm(r *http.Request) (sheetForm, error) {
	f, err := p.frame(r, app.SetupSheet)
	if err != nil {
		return sheetForm{}, err
	}
	return sheetForm{frame: f, materials: app.PartsOf(f.setup.Book, core.SheetItem)}, nil
}

// showSheet proposes a sheet that the first part could be cut from.
func (p pages) showSheet(w http.ResponseWriter, r *http.Request) error {
	v, err := p.sheetForm(r)
	if err != nil {
		return err
	}
	v.Metal, v.Length, v.Width = string(core.Aluminium), "3000", "1500"
	if v.No, err = p.s.FreeSheet(r.Context()); err != nil {
		return err
	}
	if parts := app.PartsOf(v.setup.Book, core.PartItem); len(parts) > 0 {
		part := parts[0]
		v.Metal, v.Grade, v.Thickness = string(part.Metal), part.Grade, ui.Number(part.Thickness)
		for _, m := range v.materials {
			if m.Grade == part.Grade && m.Thickness == part.Thickness {
				v.Material = app.ItemKey(m.ItemRev)
			}
		}
	}
	return endpoint.Render(w, r, sheetPage(v))
}

func (p pages) receiveSheet(w http.ResponseWriter, r *http.Request) error {
	v, err := p.sheetForm(r)
	if err != nil {
		return err
	}
	if err := endpoint.Form(r); err != nil {
		return err
	}
	v.TypedSheet = app.TypedSheet{
		No: value(r, "sheet"), Heat: value(r, "heat"), Certificate: value(r, "certificate"), Slot: value(r, "slot"),
		Material: value(r, "material"), Metal: value(r, "metal"), Grade: value(r, "grade"), Thickness: value(r, "thickness_mm"),
		Length: value(r, "length_mm"), Width: value(r, "width_mm"), Identified: value(r, "identified") == "yes",
	}
	if v.slips, err = p.s.ReceiveSheet(r.Context(), v.page.Caller, v.TypedSheet); err != nil {
		return err
	}
	if len(v.slips) > 0 {
		return endpoint.RenderStatus(w, r, statusOf(v.slips), sheetPage(v))
	}
	return p.on(w, r, "sheet")
}

// nestForm is a nest of one material.
type nestForm struct {
	frame
	id       string
	material core.Revision
	choices  []app.NestChoice
	counts   []string // as typed, beside choices
	sheets   []core.Revision
}

func (p pages) nestForm(r *http.Request, material string) (nestForm, error) {
	f, err := p.frame(r, app.SetupNest)
	if err != nil {
		return nestForm{}, err
	}
	v := nestForm{frame: f, sheets: app.PartsOf(f.setup.Book, core.SheetItem, core.BarItem)}
	for _, m := range v.sheets {
		if app.ItemKey(m.ItemRev) == material || material == "" && (v.material.Item == "" || m.ItemRev == f.setup.Sheet.Material) {
			v.material = m
		}
	}
	if v.material.Item != "" {
		v.choices, err = p.s.NestChoices(r.Context(), v.material)
		v.counts = make([]string, len(v.choices))
	}
	return v, err
}

func (p pages) showNest(w http.ResponseWriter, r *http.Request) error {
	v, err := p.nestForm(r, r.URL.Query().Get("material"))
	if err != nil {
		return err
	}
	if v.id, err = p.s.FreeNest(r.Context()); err != nil {
		return err
	}
	for i, c := range v.choices {
		if c.Left > 0 {
			v.counts[i] = strconv.Itoa(c.Left)
		}
	}
	return endpoint.Render(w, r, nestPage(v))
}

func (p pages) addNest(w http.ResponseWriter, r *http.Request) error {
	if err := endpoint.Form(r); err != nil {
		return err
	}
	v, err := p.nestForm(r, value(r, "material"))
	if err != nil {
		return err
	}
	v.id = value(r, "nest")
	var parts []app.TypedPart
	for i, c := range v.choices {
		v.counts[i] = value(r, "qty."+c.Key())
		if v.counts[i] != "" && v.counts[i] != "0" {
			parts = append(parts, app.TypedPart{Key: c.Key(), Qty: v.counts[i]})
		}
	}
	if v.slips, err = p.s.AddNest(r.Context(), v.page.Caller, v.id, v.material.ItemRev, parts); err != nil {
		return err
	}
	if len(v.slips) > 0 {
		return endpoint.RenderStatus(w, r, statusOf(v.slips), nestPage(v))
	}
	return p.on(w, r, "nest")
}

// partSlip is what is wrong with the count of the choice at i, which the nest
// counts without those left out.
func (v nestForm) partSlip(i int) string {
	at := 0
	for _, n := range v.counts[:i] {
		if n != "" && n != "0" {
			at++
		}
	}
	if v.counts[i] == "" || v.counts[i] == "0" {
		return ""
	}
	return v.slips.At("nests.csv", at, "qty")
}

// forWhom says whom a choice is for.
func forWhom(c app.NestChoice) string {
	if c.Owner.Stock() {
		return "stock"
	}
	return c.Owner.String() + ", " + c.Order.Customer
}

// noneChosen is what is wrong where no part was given a count.
func noneChosen(v nestForm) string {
	for _, n := range v.counts {
		if n != "" && n != "0" {
			return ""
		}
	}
	return v.slips.At("nests.csv", 0, "qty")
}
