package app

import (
	"strings"
	"time"

	"tagalong/internal/core"
)

// PalletSentence says what a pallet carries, for whom, where it is and what it
// waits for.
func PalletSentence(v PalletView, now time.Time) string {
	head := carrierName(v.Kind) + " " + spaced(string(v.Code))
	if len(v.Lots) == 0 {
		if len(v.GoneTo) > 0 {
			var to []string
			for _, c := range v.GoneTo {
				to = append(to, spaced(string(c)))
			}
			return head + " is empty; its parts went on to " + list(to) + "."
		}
		return head + " carries nothing."
	}
	var lots []lotName
	for _, l := range v.Lots {
		lots = append(lots, lotName{l.Name, l.Qty})
	}
	what, _ := some(lots)
	if v.Left {
		return head + " took " + what + whose(v) + " away on consignment " + spaced(string(v.Consignment)) + ", which " +
			strings.TrimPrefix(placeVerb(v.Place), "is ") + "."
	}
	text := head + " carries " + what + whose(v) + "; it "
	if !v.Since.IsZero() && v.Station != "" && v.Bound == "" && v.Consignment == "" {
		text += "has been " + v.Place + " since " + clockOn(v.Since.In(now.Location()), now)
	} else {
		text += placeVerb(v.Place)
	}
	for _, c := range palletWaits(v.Lots) {
		text += "; " + c
	}
	text += "."
	if len(v.Orders) > 0 {
		text += " " + promise(v.Orders[0].Promised, core.DateOf(now)) + "."
	}
	return text
}

// placeVerb turns a place into what the pallet does: "is at the dock", "left
// on Monday 23 November", "was received at the site …".
func placeVerb(place string) string {
	switch {
	case strings.HasPrefix(place, "left "):
		return place
	case strings.HasPrefix(place, "received "):
		return "was " + place
	case strings.HasPrefix(place, "not "):
		return "has " + strings.Replace(place, "not taken in anywhere yet", "not been taken in anywhere yet", 1)
	}
	return "is " + place
}

func carrierName(k core.CarrierKind) string {
	switch k {
	case core.SheetCarrier:
		return "Sheet"
	case core.BoxCarrier:
		return "Box"
	case core.Quarantine:
		return "Quarantine pallet"
	}
	return "Pallet"
}

func whose(v PalletView) string {
	switch len(v.Orders) {
	case 0:
		return " for stock"
	case 1:
		text := " of order " + v.Orders[0].No
		if v.Orders[0].Customer != "" {
			text += " for " + v.Orders[0].Customer
		}
		return text
	}
	var nos []string
	for _, o := range v.Orders {
		nos = append(nos, o.No)
	}
	return " of orders " + list(nos)
}

// palletWaits says what holds the lots and what they wait for.
func palletWaits(lots []OrderLot) []string {
	v := OrderView{Pallets: []OrderPallet{{Lots: lots}}}
	one := len(lots) == 1
	var out []string
	for _, c := range append(heldClauses(v), waitClauses(v, Packed)...) {
		if one { // "the wall panels wait for" of a pallet of wall panels: "they wait for"
			c = pronoun(c, lots[0])
		}
		out = append(out, c)
	}
	if len(out) == 0 && lots[0].Reach == Packed {
		out = append(out, verb(len(lots), "it is", "all is")+" packed")
	}
	return out
}

func pronoun(clause string, l OrderLot) string {
	who, n := theItems([]lotName{{l.Name, l.Qty}})
	it, them := verb(n, "the part", "they"), verb(n, "the part", "them")
	if rest, ok := strings.CutPrefix(clause, who); ok {
		return it + rest
	}
	return strings.Replace(clause, who, them, 1)
}

// ConsignmentSentence says what a consignment carries, where to, and whether it
// has left.
func ConsignmentSentence(v ConsignmentView, now time.Time) string {
	head := "Consignment " + spaced(string(v.Code))
	switch v.SiteName {
	case "":
	case v.Site: // no station of ours
		head += " for " + v.Site
	default:
		head += " for " + placeName(v.SiteName)
	}
	n := len(v.Consignment.Pallets)
	switch {
	case !v.Received.IsZero():
		return head + comma(v.SiteName) + " with " + counted(n, "pallet") + " was received at the site " + onDay(v.Received.In(now.Location()), now) + "."
	case !v.Gone.IsZero():
		text := head + " left " + onDay(v.Gone.In(now.Location()), now) + " with " + counted(n, "pallet")
		if v.Vehicle != "" {
			text += " on vehicle " + v.Vehicle
		}
		return text + "; its receipt at the site is not recorded yet."
	case v.Day != "":
		return head + " is to leave on " + dayName(v.Day, core.DateOf(now)) + "; " + counted(n, "pallet") + " " + verb(n, "is", "are") + " loaded."
	}
	return head + " has no day yet; " + counted(n, "pallet") + " " + verb(n, "is", "are") + " loaded."
}
