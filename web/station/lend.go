package station

import (
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
	var lend app.LendPage
	st, found, err := p.carrierPage(w, r, func(c app.Caller, pallet core.PalletCode, _ int) (err error) {
		lend, err = p.s.LendPage(r.Context(), c, pallet, core.LotID(r.URL.Query().Get("lot")))
		return err
	}, func(pallet string) words.Text {
		return words.Text{
			Title:  "Nothing on " + pallet + " can be lent here.",
			Why:    "The pallet carries nothing any more, or is not taken in here.",
			Remedy: "Scan the pallet: its page says where it is.",
		}
	}, code.Pallet, code.Sheet)
	if !found {
		return err
	}
	return endpoint.Render(w, r, lendPage(lendView{newPalletView(r, st, lend.PalletPage), lend}))
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
