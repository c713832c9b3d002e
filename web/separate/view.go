package separate

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type listView struct {
	head   ui.StationHead
	here   []sheetRow
	others []sheetRow
}

// sheetRow is one sheet or bar to break out, with the nests it may be.
type sheetRow struct {
	app.SheetCard
	Nests []core.Nest
	Name  string
}

// rows of a list without scrolling.
const (
	hereRows  = 6
	otherRows = 6
)

func newListView(r *http.Request, st app.StationPage, cards []app.SheetCard) listView {
	v := listView{head: headOf(r, st, "Sheets to break out")}
	var all []sheetRow
	for _, c := range cards {
		i := slices.IndexFunc(all, func(x sheetRow) bool { return x.Code == c.Code })
		if i < 0 {
			all = append(all, sheetRow{SheetCard: c, Name: materialName(st.Book, c.Material)})
			i = len(all) - 1
		}
		if c.Nest.ID != "" {
			all[i].Nests = append(all[i].Nests, c.Nest)
		}
	}
	for _, x := range all {
		switch here := slices.ContainsFunc(st.Here, func(c app.PalletCard) bool { return c.Code == x.Code }); {
		case here:
			v.here = append(v.here, x)
		case x.Cut:
			v.others = append(v.others, x)
		}
	}
	return v
}

// materialName is a material's name, with its thickness where the name doesn't say it.
func materialName(b *core.Book, r core.ItemRev) string {
	item := b.Items[r]
	if item.Name == "" {
		return string(r.Item)
	}
	if thick := ui.Number(item.Thickness) + " mm"; item.Thickness > 0 && !strings.Contains(item.Name, " "+thick) {
		return item.Name + ", " + thick
	}
	return item.Name
}

func (r sheetRow) title() string {
	if r.Label != "" {
		return r.Label
	}
	return ui.Spaced(string(r.Code))
}

// firstSheet says what comes before a sheet at the bench.
func firstSheet(v listView) string {
	if len(v.others) > 0 {
		return "Scan the label on a cut one to take it in."
	}
	return "A sheet is received, then cut, then its label is scanned here. None waits: the office receives the next one."
}

func sheetLinks(v listView) []ui.Link {
	if len(v.others) > 0 {
		return nil
	}
	return []ui.Link{{Text: "Receive a sheet", Href: "/setup/sheet"}}
}

// parts says what its nest holds.
func (r sheetRow) parts() string {
	switch len(r.Nests) {
	case 0:
		return "no nest known"
	case 1:
		n := 0
		for _, p := range r.Nests[0].Parts {
			n += p.Qty
		}
		return "nest " + r.Nests[0].ID + ", " + ui.Count(n, "part")
	}
	return "one of " + ui.Count(len(r.Nests), "nest")
}

type sheetView struct {
	head ui.StationHead
	page app.SheetPage
	book *core.Book
	now  time.Time
}

func newSheetView(r *http.Request, st app.StationPage, p app.SheetPage) sheetView {
	return sheetView{head: headOf(r, st, "Break out "+p.Pallet.Label, "separate.js"), page: p, book: st.Book, now: endpoint.PageOf(r).Now}
}

// linesOnPage is how many nest lines fit.
const linesOnPage = 6

func (v sheetView) faces() [][]app.NestLine {
	return slices.Collect(slices.Chunk(v.page.Lines, linesOnPage))
}

func (v sheetView) title() string {
	if v.page.Pallet.Label != "" {
		return v.page.Pallet.Label
	}
	return ui.Spaced(string(v.page.Pallet.Code))
}

func (v sheetView) heat() string {
	if len(v.page.Lot.Heats) == 0 {
		return "heat not known"
	}
	return "heat " + ui.List(v.page.Lot.Heats...)
}

// about follows the material's name: heat, nest, mass.
func (v sheetView) about() string {
	out := ", " + v.heat()
	if v.page.Nest.ID != "" {
		out += ", nest " + v.page.Nest.ID
	}
	if v.page.Mass > 0 {
		out += ", " + ui.Kilograms(v.page.Mass) + " of parts"
	}
	return out
}

func (v sheetView) code() string { return string(v.page.Pallet.Code) }

// tick names a field of the nth tick.
func tick(n int, name string) string { return "ticks." + strconv.Itoa(n) + "." + name }

type printedView struct {
	head    ui.StationHead
	pallets []app.PalletPage
	now     time.Time
	self    string
}

// due is how many still want a print; first is the first of them.
func (v printedView) due() (n int, first app.PalletPage) {
	for _, p := range v.pallets {
		if p.Print.Due {
			if n == 0 {
				first = p
			}
			n++
		}
	}
	return n, first
}

// whatOn says what a pallet carries, in a line.
func whatOn(p app.PalletPage) string {
	var out []string
	for _, l := range p.Lots[:min(3, len(p.Lots))] {
		out = append(out, strconv.Itoa(l.Lot.Qty)+" × "+l.Name)
	}
	if n := len(p.Lots) - 3; n > 0 {
		out = append(out, ui.Count(n, "more lot"))
	}
	return ui.List(out...)
}
