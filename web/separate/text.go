package separate

import (
	"net/url"
	"strconv"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/ui"
)

// ownerText is whose the parts are, and which: "O-4101, DS-L rev C, a customer".
func ownerText(l app.NestLine) string {
	whose := "stock"
	if l.For != "" {
		whose = "for unit " + ui.Spaced(string(l.For))
	}
	if !l.Owner.Stock() {
		whose = l.Owner.Order
	}
	out := whose + ", " + l.Item.String()
	if l.Customer != "" {
		out += ", " + l.Customer
	}
	return out
}

// outlineOf is what is drawn of a part: its outline, else its blank.
func outlineOf(r core.Revision) [][]float64 {
	if len(r.Outline) == 0 && r.Length > 0 && r.Width > 0 {
		return [][]float64{{0, 0, r.Length, 0, r.Length, r.Width, 0, r.Width}}
	}
	return r.Outline
}

// printLink is a pallet's traveller, to print, and the way back.
func printLink(p app.PalletPage, back string) string {
	return "/pallets/" + string(p.Pallet.Code) + "/traveller.html?back=" + url.QueryEscape(back)
}

// printText is the print button's: the pallet, and how many are to be printed.
func printText(p app.PalletPage, due int) string {
	out := "Print " + ui.Spaced(string(p.Pallet.Code))
	if due > 1 {
		out += ", " + strconv.Itoa(due) + " to go"
	}
	return out
}
