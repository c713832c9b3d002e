package paperwork

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/words"
)

// MostSlots is the most signs made at once.
const MostSlots = 400

// Slots reads a list of slots as a person writes it, "A1-A12, B3, C01-C08": a
// span counts the number at its end up, with its leading noughts. The error is
// a *app.Refused that names what can't be read.
func Slots(text string) ([]string, error) {
	var out []string
	for _, part := range strings.FieldsFunc(strings.ToUpper(text), func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
		part = strings.TrimSpace(part)
		if part == "" {
			continue
		}
		names, err := span(part)
		if err != nil {
			return nil, err
		}
		out = append(out, names...)
		if len(out) > MostSlots {
			return nil, badSlots(fmt.Sprintf("that is more than %d signs: ask for fewer at once", MostSlots))
		}
	}
	if len(out) == 0 {
		return nil, badSlots("it names no slot; write them as A1-A12, B3")
	}
	return out, nil
}

// span is one slot, or all from one to another.
func span(part string) ([]string, error) {
	for _, r := range part {
		if !strings.ContainsRune(code.Alphanumeric, r) {
			return nil, badSlots(fmt.Sprintf("%q holds %q, which a code can't hold: use letters, digits, spaces and - . / : + * %% $", part, r))
		}
	}
	if len(part) > 2*core.LongestSlot+1 {
		return nil, badSlots(fmt.Sprintf("%q is longer than %d characters", part, core.LongestSlot))
	}
	from, to, ok := strings.Cut(part, "-")
	from, to = strings.TrimSpace(from), strings.TrimSpace(to)
	stem, first, digits := numbered(from)
	stemTo, last, _ := numbered(to)
	if !ok || digits == 0 || stem != stemTo {
		if len(part) > core.LongestSlot {
			return nil, badSlots(fmt.Sprintf("%q is longer than %d characters", part, core.LongestSlot))
		}
		return []string{part}, nil // a name with a dash in it
	}
	if last < first {
		return nil, badSlots(fmt.Sprintf("%q counts down: write the smaller number first", part))
	}
	var out []string
	for n := first; n <= last && len(out) <= MostSlots; n++ {
		out = append(out, fmt.Sprintf("%s%0*d", stem, digits, n))
	}
	return out, nil
}

// numbered splits the digits off a slot's end, "A07" into "A", 7 and 2 digits.
func numbered(slot string) (stem string, n, digits int) {
	stem = strings.TrimRight(slot, "0123456789")
	digits = len(slot) - len(stem)
	n, err := strconv.Atoi(slot[len(stem):])
	if err != nil {
		return slot, 0, 0
	}
	return stem, n, digits
}

func badSlots(problem string) error {
	return app.Refuse("bad-value", "field", "slots", "problem", problem)
}

// StoreOf is the pallet store whose slots are meant: the station named, else the
// first store in the shop's order. The error is a *app.Refused where there is
// none.
func StoreOf(b *core.Book, id core.StationID) (core.Station, error) {
	for _, s := range inOrder(b) {
		if s.Store() && (id == "" || s.ID == id) {
			return s, nil
		}
	}
	if id != "" {
		return core.Station{}, app.Refuse("bad-value", "field", "station", "problem", fmt.Sprintf("%q is no pallet store of this shop", id))
	}
	return core.Station{}, app.Refuse("bad-value", "field", "station", "problem", "the shop has no pallet store yet: a station that does no stage")
}

// Stores are the stations that have slots, in the shop's order.
func Stores(b *core.Book) []core.Station {
	return slices.DeleteFunc(inOrder(b), func(s core.Station) bool { return !s.Store() })
}

// SlotSigns are signs for slots of a store, in their order.
func SlotSigns(shop app.Shop, store core.Station, slots []string) []paper.PlaceSign {
	var out []paper.PlaceSign
	for _, s := range slots {
		out = append(out, paper.PlaceSign{Shop: shop.Name, Store: store.Name + ", slot", Place: s, Notice: notice(shop),
			Address: code.PlaceAddress(shop.Address, code.Place{Station: string(store.ID), Slot: s})})
	}
	return out
}

// StationSigns are signs for every station of the shop, in the shop's order.
func StationSigns(shop app.Shop, b *core.Book) []paper.Sign {
	var out []paper.Sign
	for _, s := range inOrder(b) {
		g := paper.Sign{Shop: shop.Name, Name: s.Name, Code: string(s.ID), Notice: notice(shop),
			Address: code.PlaceAddress(shop.Address, code.Place{Station: string(s.ID)})}
		for _, n := range s.Stages {
			stage, _ := b.Table.Stage(n)
			g.Stages = append(g.Stages, cmp.Or(stage.Title, string(n)))
			if care := firstSentence(words.Caution(stage.Caution)); care != "" && !slices.Contains(g.Cautions, care) && len(g.Cautions) < mostCautions {
				g.Cautions = append(g.Cautions, care)
			}
		}
		if s.Store() {
			g.Stages, g.Cautions = []string{"pallets stand here, slot by slot"}, []string{firstSentence(words.Caution("lifting"))}
		}
		out = append(out, g)
	}
	return out
}

// mostCautions is how many a sign has room for at a size read from the aisle.
const mostCautions = 3

func firstSentence(s string) string {
	if i := strings.Index(s, ". "); i >= 0 {
		return s[:i+1]
	}
	return s
}

// inOrder lists the stations in the shop's own order.
func inOrder(b *core.Book) []core.Station {
	return slices.SortedFunc(maps.Values(b.Stations), func(x, y core.Station) int {
		return cmp.Or(cmp.Compare(x.Order, y.Order), cmp.Compare(x.ID, y.ID))
	})
}

func notice(shop app.Shop) string {
	if shop.Demo {
		return DemoNotice
	}
	return ""
}
