package station

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// lateView is a pallet's page about one unit on it that gets a late component.
type lateView struct {
	palletView
	late app.LatePage
}

func (p pages) late(w http.ResponseWriter, r *http.Request) error {
	var late app.LatePage
	st, found, err := p.carrierPage(w, r, func(c app.Caller, pallet core.PalletCode, print int) (err error) {
		late, err = p.s.LatePage(r.Context(), c, pallet, print, core.LotID(r.URL.Query().Get("unit")))
		return err
	}, func(pallet string) words.Text {
		return words.Text{
			Title:  "No unit on " + pallet + " waits here for a late component.",
			Why:    "It may have got it already, or the pallet is not taken in here.",
			Remedy: "Scan the pallet: its page says what comes next.",
		}
	}, code.Pallet)
	if !found {
		return err
	}
	v := lateView{newPalletView(r, st, late.PalletPage), late}
	v.head = headOf(r, st.Station, "Pallet "+ui.Spaced(v.code()), "station.js", "faces.js", "late.js", "moves.js", "recount.js")
	if t, ok := late.Task("join-late"); ok {
		v.task, v.hasTask = t, true
	}
	return endpoint.Render(w, r, latePage(v))
}

// unitLink leads to a page about one unit on the pallet, and keeps what the
// pallet's page was asked with.
func (v palletView) unitLink(page string, unit core.LotID) string {
	asked := url.Values{"unit": {string(unit)}}
	if v.pallet.Print.Seen > 0 {
		asked.Set("print", strconv.Itoa(v.pallet.Print.Seen))
	}
	if v.goOn {
		asked.Set("go", "on")
	}
	return "/station/" + page + "/" + v.code() + "?" + asked.Encode()
}

// lateLink leads to the page on which a unit gets its late component.
func (v palletView) lateLink(unit core.LotID) string {
	return v.unitLink("late", unit)
}

// others are the other units on the pallet that wait for the same.
func (v lateView) others() []app.LotView {
	return slices.DeleteFunc(slices.Clone(v.task.Lots), func(l app.LotView) bool { return l.Lot.ID == v.late.Unit.Lot.ID })
}

// lateRows is how many rows of components fit a face, a row being two lines of
// text beside a count.
const lateRows = 5

// tall is how many rows the components of one side of a line take.
func tall(all []app.LatePart, text func(app.LatePart) string) int {
	n := 0
	for _, p := range all {
		n += 1 + len([]rune(text(p)))/32
	}
	return n
}

// lateRow is a line of the bill, its components counted through the whole page.
type lateRow struct {
	app.LateLine
	out, in int // place of its first component in the command's lists
}

// lateFaces puts the lines on as few faces as they fit.
func (v lateView) lateFaces() [][]lateRow {
	var faces [][]lateRow
	room, out, in := 0, 0, 0
	for _, l := range v.late.Lines {
		takes := max(1, tall(l.Inside, insideText), tall(l.Beside, besideText))
		if takes > room && (len(faces) == 0 || len(faces[len(faces)-1]) > 0) {
			faces, room = append(faces, nil), lateRows
		}
		room -= takes
		last := &faces[len(faces)-1]
		*last = append(*last, lateRow{l, out, in})
		out, in = out+len(l.Inside), in+len(l.Beside)
	}
	return faces
}

// insideText says what of an item is inside the unit.
func insideText(p app.LatePart) string {
	out := strconv.Itoa(p.Qty) + " inside"
	if p.Heat != "" {
		out += ", heat " + p.Heat
	}
	if p.Change > 0 {
		out += "; " + strconv.Itoa(p.Change) + " to come out, as decided"
	}
	return out
}

// lateCount is what a count begins with: the decision's, where it named one.
func lateCount(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// besideText says what of an item is here, and what keeps it from going in.
func besideText(p app.LatePart) string {
	out := strconv.Itoa(p.Qty) + " on " + ui.Spaced(string(p.Pallet))
	if p.Kept {
		out += ", made again for this unit"
	}
	switch {
	case p.Held:
		out += ", held"
	case p.Waits != "":
		out += ", waits for “" + p.Waits + "”"
	}
	return out
}
