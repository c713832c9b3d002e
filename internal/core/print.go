package core

import (
	"slices"
	"strconv"
	"strings"
)

// stale asks when the print a person holds no longer says what is on the
// pallet. A print number of nought means a typed code: nothing was held.
func (d *deciding) stale(p PalletRow, seen int) *Refusal {
	if seen == 0 {
		return nil
	}
	changes, known := StalePrint(d.s, d.w.Book, p, seen)
	if !known {
		return refuse("print-unknown", "pallet", string(p.Code), "print", strconv.Itoa(seen)).ask()
	}
	if len(changes) == 0 {
		return nil
	}
	return refuse("print-stale", "pallet", string(p.Code), "print", strconv.Itoa(seen), "changes", strings.Join(changes, "; ")).ask()
}

// StalePrint compares a numbered print with the pallet now: what changed, in a
// few words each; none where the print still holds. known is false for a number
// never printed.
func StalePrint(s *State, b *Book, p PalletRow, no int) (changes []string, known bool) {
	i := slices.IndexFunc(p.Prints, func(x Print) bool { return x.No == no })
	if i < 0 {
		return nil, false
	}
	return staleLines(b, p.Prints[i].Lines, s.PrintState(p.Code)), true
}

// StalePrints is StalePrint of the newest print of each pallet that was ever
// printed and whose print no longer holds.
func StalePrints(s *State, b *Book) map[PalletCode][]string {
	is := map[PalletCode][]PrintLine{}
	for _, l := range s.Lots {
		if l.Place.Kind == OnPallet && l.Qty > 0 {
			code := PalletCode(l.Place.Ref)
			is[code] = append(is[code], printLine(l))
		}
	}
	out := map[PalletCode][]string{}
	for code, p := range s.Pallets {
		if len(p.Prints) == 0 {
			continue
		}
		slices.SortFunc(is[code], func(a, b PrintLine) int { return compareText(string(a.Lot), string(b.Lot)) })
		if changes := staleLines(b, p.Prints[len(p.Prints)-1].Lines, is[code]); len(changes) > 0 {
			out[code] = changes
		}
	}
	return out
}

// staleLines says how what a print says differs from what is so.
func staleLines(b *Book, was, is []PrintLine) (changes []string) {
	name := func(x PrintLine) string { return b.Items[x.Item].Name }
	for _, w := range was {
		j := slices.IndexFunc(is, func(x PrintLine) bool { return x.Lot == w.Lot })
		switch {
		case j < 0:
			changes = append(changes, strconv.Itoa(w.Qty)+" × "+name(w)+" left")
		case is[j].Qty != w.Qty:
			changes = append(changes, name(w)+": "+strconv.Itoa(w.Qty)+" became "+strconv.Itoa(is[j].Qty))
		case is[j].Item != w.Item:
			changes = append(changes, name(w)+": "+w.Item.Rev+" became "+is[j].Item.Rev)
		case is[j].Route != w.Route:
			changes = append(changes, name(w)+": its route changed")
		}
	}
	for _, x := range is {
		if !slices.ContainsFunc(was, func(w PrintLine) bool { return w.Lot == x.Lot }) {
			changes = append(changes, strconv.Itoa(x.Qty)+" × "+name(x)+" came")
		}
	}
	return changes
}

// printDue reports whether the newest print no longer says what is on the pallet.
func printDue(s *State, b *Book, p PalletRow) bool {
	if len(p.Prints) == 0 {
		return true
	}
	changes, _ := StalePrint(s, b, p, p.Prints[len(p.Prints)-1].No)
	return len(changes) > 0
}

// printTraveller numbers a print and remembers what it says.
func (d *deciding) printTraveller(b PrintTraveller) *Refusal {
	p, r := d.pallet(b.Pallet)
	if r != nil {
		return r
	}
	lines := d.s.PrintState(b.Pallet)
	if len(lines) == 0 {
		return refuse("pallet-empty", "pallet", string(b.Pallet), "gone", joinCodes(p.GoneTo))
	}
	no := 1
	if n := len(p.Prints); n > 0 {
		no = p.Prints[n-1].No + 1
	}
	p.Prints = append(slices.Clone(p.Prints), Print{No: no, At: d.w.Now, By: d.signer(), Lines: lines})
	d.ev.Kind, d.ev.Note = EvPrinted, strconv.Itoa(no)
	d.put(p)
	return nil
}

func joinCodes(cs []PalletCode) string {
	var out []string
	for _, c := range cs {
		out = append(out, string(c))
	}
	return strings.Join(out, ", ")
}

// sortedStations lists the shop's stations in their own order.
func sortedStations(b *Book) []StationID {
	var ids []StationID
	for id := range b.Stations {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, func(x, y StationID) int {
		if a, c := b.Stations[x].Order, b.Stations[y].Order; a != c {
			return a - c
		}
		return strings.Compare(string(x), string(y))
	})
	return ids
}
