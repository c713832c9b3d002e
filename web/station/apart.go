package station

import (
	"net/http"
	"slices"
	"strconv"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// apartView is a pallet's page about one made unit on it that is taken apart.
type apartView struct {
	palletView
	apart app.ApartPage
}

func (p pages) apart(w http.ResponseWriter, r *http.Request) error {
	var apart app.ApartPage
	st, found, err := p.carrierPage(w, r, func(c app.Caller, pallet core.PalletCode, print int) (err error) {
		apart, err = p.s.ApartPage(r.Context(), c, pallet, print, core.LotID(r.URL.Query().Get("unit")))
		return err
	}, func(pallet string) words.Text {
		return words.Text{
			Title:  "No unit on " + pallet + " can be taken apart here.",
			Why:    "It may be taken apart already, not be taken in here, or be made at another station.",
			Remedy: "Take the pallet in at the bench that makes such units, and scan it there.",
		}
	}, code.Pallet)
	if !found {
		return err
	}
	v := apartView{newPalletView(r, st, apart.PalletPage), apart}
	v.head = headOf(r, st.Station, "Pallet "+ui.Spaced(v.code()), "station.js", "moves.js", "apart.js")
	return endpoint.Render(w, r, apartPage(v))
}

// apartLink leads to the page on which a unit is taken apart.
func (v palletView) apartLink(unit core.LotID) string {
	return v.unitLink("apart", unit)
}

// unitsApart are the made units on the pallet that this station may take apart.
func (v palletView) unitsApart() []app.LotView { return v.pallet.UnitsApart(v.page.Book) }

// apartReasons are why units are taken apart, tapped instead of typed.
var apartReasons = []string{"wrong component", "component not good", "joined wrong", "order changed"}

// apartRoom is how many components fit the page.
const apartRoom = 6

func (v apartView) shown() []app.ApartPart { return v.apart.Comes[:min(apartRoom, len(v.apart.Comes))] }

// comesText says how many of what come out, and of which heat.
func comesText(p app.ApartPart) string {
	out := strconv.Itoa(p.Qty) + " × " + p.Name
	if p.Heat != "" {
		out += ", heat " + p.Heat
	}
	return out
}

// what says how the unit comes apart, and what that does to its components.
func (v apartView) what() string {
	if v.apart.CutApart() {
		return "The welds are cut. Nobody knows what that does to the edges: every part is held until quality has looked at it."
	}
	for _, p := range v.apart.Comes {
		if p.Held {
			return "Its parts keep what was signed of them. Bought goods were fitted already: those are held until quality has looked at them."
		}
	}
	return "Its parts keep what was signed of them."
}

// cautions are what may hurt while it is taken apart: how it was joined, sharp
// edges, its mass.
func (v apartView) cautions() []string {
	out := []string{"sharp-edges", "lifting"}
	if v.apart.CutApart() {
		out = append([]string{"grinding"}, out...)
	}
	return out
}

// mass is the unit's own, where it is known.
func (v apartView) mass() string {
	if v.apart.Unit.MassEach <= 0 {
		return ""
	}
	return ", " + ui.Kilograms(v.apart.Unit.MassEach)
}

// printsFirst reports whether components lie on a pallet whose ticket does not
// say so: it is to be printed before the pallet is pushed aside.
func (v palletView) printsFirst() bool {
	return v.pallet.Print.Due && slices.ContainsFunc(v.pallet.Lots, func(l app.LotView) bool { return l.Ended })
}

// manyHeld reports whether more lots are held by problems than are told one by
// one: what came out of a unit is.
func (v palletView) manyHeld() bool { return len(v.pallet.Problems) > 2 }
