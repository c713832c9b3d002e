package app

import (
	"strings"

	"tagalong/internal/core"
)

// goneClauses are for an order of which nothing is left here.
func goneClauses(v OrderView) []string {
	site := siteClause(v)
	switch n := len(v.Pallets); {
	case n == 0 && site == "":
		return []string{"all of it has left"}
	case n == 0:
		return []string{site}
	case site == "":
		left, _ := shareClause(v, "its")
		return left
	default:
		left, _ := shareClause(v, "the other")
		return append([]string{site}, left...)
	}
}

// leadClauses say how far an order has come of which something is here, and the
// reach that need not be spoken of any more.
func leadClauses(v OrderView) ([]string, Reach) {
	site := siteClause(v)
	if site == "" {
		return shareClause(v, "its")
	}
	if len(v.Pallets) == 1 && v.Pallets[0].Reach < Packed { // what it waits for says it
		return []string{site}, Packed
	}
	here, reached := shareClause(v, "the other")
	return append([]string{site}, here...), reached
}

// siteClause says what of an order is at its site, and how far it has come
// there; "" where nothing is.
func siteClause(v OrderView) string {
	var there []lotName
	var counts [SiteAccepted + 1]int
	place, n := "", 0
	for _, l := range v.Loose {
		if l.Place.Kind != core.AtSite {
			continue
		}
		if at := placeName(l.Station); n == 0 || at == place {
			place = at
		} else {
			place = "its sites"
		}
		there, n = append(there, lotName{l.Name, l.Qty}), n+l.Qty
		counts[l.AtSite] += l.Qty
	}
	if n == 0 {
		return ""
	}
	who, _ := some(there)
	be := verb(n, "is", "are")
	if v.Gone() && len(v.Pallets) == 0 {
		who, be = "all of it", "is"
	}
	var stand []string
	for r := SiteAccepted; r >= SiteReceived; r-- {
		switch {
		case counts[r] == n && r == SiteReceived:
			return who + " " + be + " at " + place + ", " + siteWords[r]
		case counts[r] == n:
			return who + " " + be + " at " + place + comma(place) + " and " + siteWords[r]
		case counts[r] > 0:
			stand = append(stand, inWords(counts[r])+" "+siteWords[r])
		}
	}
	return who + " " + be + " at " + place + " (" + strings.Join(stand, ", ") + ")"
}

// lastGone is "left on Monday 23 November", of the pallet that left last.
func (v OrderView) lastGone() string {
	var last OrderPallet
	for _, p := range v.Pallets {
		if p.Gone.After(last.Gone) {
			last = p
		}
	}
	if rest, ok := strings.CutPrefix(last.Place, "received at the site"); ok {
		return "left" + rest
	}
	return last.Place
}

// leftWhen is "left on Monday 23 November" where all that left did so on one
// day, else "have left, the last on Tuesday 24 November".
func (v OrderView) leftWhen(gone int) string {
	last := v.lastGone()
	for _, p := range v.Pallets {
		if p.Reach >= Shipped && p.Place != last {
			return verb(gone, "has", "have") + " left, the last" + strings.TrimPrefix(last, "left")
		}
	}
	return last
}

// comma closes a name that has a comma of its own.
func comma(name string) string {
	if strings.Contains(name, ",") {
		return ","
	}
	return ""
}

// shareClause says what share of the pallets has come how far, and the reach
// that need not be spoken of any more. Its is "its", or "the other" where some
// are spoken of already.
func shareClause(v OrderView, its string) ([]string, Reach) {
	total := len(v.Pallets)
	if total == 0 {
		return nil, Received
	}
	at := func(r Reach) int {
		n := 0
		for _, p := range v.Pallets {
			if p.Reach >= r {
				n++
			}
		}
		return n
	}
	gone, loaded, packed, done := at(Shipped), at(Loaded), at(Packed), at(Finished)
	var out []string
	if gone > 0 {
		out = append(out, share(gone, total, its)+" "+v.leftWhen(gone))
		if loaded == gone && packed == gone && done == gone {
			return out, Shipped
		}
		out[0] += ", " + also(gone, loaded-gone, packed-loaded, done-packed, finishWord(v))
		return out, Finished
	}
	switch {
	case loaded == total:
		return []string{share(loaded, total, its) + " " + verb(loaded, "is", "are") + " loaded"}, Loaded
	case packed == total:
		text := share(packed, total, its) + " " + verb(packed, "is", "are") + " packed"
		if loaded > 0 {
			text += ", " + inWords(loaded) + " of them loaded"
		}
		return []string{text}, Packed
	case done > 0:
		return []string{share(done, total, its) + " " + verb(done, "is", "are") + " " + stages(done, packed, loaded, finishWord(v))}, Finished
	case total == 1:
		return []string{share(1, 1, its) + " is not " + finishWord(v) + " yet"}, Finished
	}
	return []string{"none of " + its + " " + counted(total, "pallet") + " is " + finishWord(v) + " yet"}, Finished
}

// also says what else beyond those gone: "one more is packed and two are coated".
func also(gone, loaded, packed, done int, word string) string {
	var parts []string
	for _, c := range []struct {
		n    int
		word string
	}{{loaded, "loaded"}, {packed, "packed"}, {done, word}} {
		if c.n > 0 {
			parts = append(parts, inWords(c.n)+" "+verb(c.n, "is", "are")+" "+c.word)
		}
	}
	return list(parts)
}

// stages says how far so many finished pallets have come: "coated, two of them
// packed", "coated and packed, one of them loaded", "coated, packed and loaded".
func stages(done, packed, loaded int, word string) string {
	all := []string{word}
	rest := ""
	for _, s := range []struct {
		n    int
		word string
	}{{packed, "packed"}, {loaded, "loaded"}} {
		switch {
		case s.n == done:
			all = append(all, s.word)
		case s.n > 0:
			rest += ", " + inWords(s.n) + " of them " + s.word
		}
	}
	return list(all) + rest
}

// share is "four of its five pallets", "all its five pallets", "its one pallet";
// or "four of the other five pallets", "the other five pallets", "the other pallet".
func share(n, total int, its string) string {
	all, both, one := "all its ", "both its pallets", "its one pallet"
	if its != "its" {
		all, both, one = its+" ", its+" two pallets", its+" pallet"
	}
	switch {
	case total == 1:
		return one
	case n == total && total == 2:
		return both
	case n == total:
		return all + counted(total, "pallet")
	}
	return inWords(n) + " of " + its + " " + counted(total, "pallet")
}

// finishWord is "coated" where every lot of the order is to be coated, else
// "finished", which is true of bare parts and kits too.
func finishWord(v OrderView) string {
	for l := range v.lots() {
		if !l.Coat {
			return "finished"
		}
	}
	return "coated"
}
