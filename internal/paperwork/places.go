package paperwork

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
)

// MostSlots is the most signs made at once.
const MostSlots = 400

// longestSlot is the longest name of a slot, as the goods-in page takes it.
const longestSlot = 20

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
	if len(part) > 2*longestSlot+1 {
		return nil, badSlots(fmt.Sprintf("%q is longer than %d characters", part, longestSlot))
	}
	from, to, ok := strings.Cut(part, "-")
	from, to = strings.TrimSpace(from), strings.TrimSpace(to)
	stem, first, digits := numbered(from)
	stemTo, last, _ := numbered(to)
	if !ok || digits == 0 || stem != stemTo {
		if len(part) > longestSlot {
			return nil, badSlots(fmt.Sprintf("%q is longer than %d characters", part, longestSlot))
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

// SlotSigns are signs for slots, in their order.
func SlotSigns(shop app.Shop, slots []string) []paper.PlaceSign {
	var out []paper.PlaceSign
	for _, s := range slots {
		out = append(out, placeSign(shop, "pallet store, slot", s))
	}
	return out
}

// StationSigns are signs for every station of the shop, in the shop's order.
func StationSigns(shop app.Shop, b *core.Book) []paper.PlaceSign {
	all := make([]core.Station, 0, len(b.Stations))
	for _, s := range b.Stations {
		all = append(all, s)
	}
	slices.SortFunc(all, func(x, y core.Station) int {
		return cmp.Or(cmp.Compare(x.Order, y.Order), cmp.Compare(x.ID, y.ID))
	})
	var out []paper.PlaceSign
	for _, s := range all {
		out = append(out, placeSign(shop, s.Name, string(s.ID)))
	}
	return out
}

func placeSign(shop app.Shop, store, place string) paper.PlaceSign {
	out := paper.PlaceSign{Shop: shop.Name, Store: store, Place: place}
	if shop.Demo {
		out.Notice = DemoNotice
	}
	return out
}
