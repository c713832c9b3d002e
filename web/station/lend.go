package station

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
)

// lendView is a pallet's page about one lot whose parts change owner.
type lendView struct {
	palletView
	lend app.LendPage
}

func (p pages) lend(w http.ResponseWriter, r *http.Request) error {
	scan, _, err := carrierAsked(r, code.Pallet, code.Sheet)
	if err != nil {
		return p.refuseCode(w, r, err)
	}
	caller := endpoint.CallerOf(r)
	lend, err := p.s.LendPage(r.Context(), caller, core.PalletCode(scan.Code), core.LotID(r.URL.Query().Get("lot")))
	if errors.Is(err, app.ErrNotFound) {
		return p.refuse(w, r, http.StatusNotFound, words.Text{
			Title:  "Nothing on " + scan.Code.Spaced() + " can be lent here.",
			Why:    "The pallet carries nothing any more, or is not taken in here.",
			Remedy: "Scan the pallet: its page says where it is.",
		})
	}
	if err != nil {
		return err
	}
	st, err := p.s.StationPage(r.Context(), caller, beside(core.PalletCode(scan.Code)))
	if err != nil {
		return err
	}
	v := lendView{newPalletView(r, st, lend.PalletPage), lend}
	return endpoint.Render(w, r, lendPage(v))
}

func (v palletView) lendLink(l core.LotID) string {
	link := "/station/lend/" + v.code()
	if l != "" {
		link += "?lot=" + url.QueryEscape(string(l))
	}
	return link
}

// lotsListed is how many lots fit the page's choice.
const lotsListed = 3

// lotsBeside are the lots to choose from, the one looked at among them.
func (v lendView) lotsBeside() []app.LotView {
	all := v.pallet.Lots
	for i, l := range all {
		if l.Lot.ID == v.lend.Lot.Lot.ID {
			from := min(max(0, i-lotsListed/2), max(0, len(all)-lotsListed))
			return all[from:min(from+lotsListed, len(all))]
		}
	}
	return all[:min(lotsListed, len(all))]
}

// borrowers are the order lines offered in the room that paying back leaves.
func (v lendView) borrowers() []app.Borrower {
	room := 5 - min(3, len(v.lend.Owed))
	return v.lend.Orders[:min(room, len(v.lend.Orders))]
}

// lentText says what of the lot's owner is lent already.
func (v lendView) lentText() string {
	if len(v.lend.Lent) == 0 {
		return ""
	}
	x := v.lend.Lent[0]
	return ", has lent " + strconv.Itoa(x.Qty) + " to " + ownerShort(x.To)
}

func ownerShort(o core.Owner) string { return o.Order + ", line " + strconv.Itoa(o.Line) }
