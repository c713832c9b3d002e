package app

import (
	"context"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"tagalong/internal/core"
)

// packedLooked is how many of a pallet's latest entries are looked at for who
// packed it.
const packedLooked = 300

// PackedEntry is when something was packed, and the initials of who signed that.
type PackedEntry struct {
	At time.Time // in the shop's zone
	By string
}

// PackedOn reads when and by whom the lots of a consignment were packed. A lot
// whose packing stands in no entry of the pallet it is on now has none.
func (s *Service) PackedOn(ctx context.Context, t DockTruck) (map[core.LotID]PackedEntry, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return nil, err
	}
	out := map[core.LotID]PackedEntry{}
	for _, p := range t.Pallets {
		entries, err := s.Store.History(ctx, HistoryQuery{Pallet: p.Code, Limit: packedLooked})
		if err != nil {
			return nil, fmt.Errorf("who packed %s: %w", p.Code, err)
		}
		by := map[core.EventID]PackedEntry{}
		for _, e := range entries {
			entry := PackedEntry{At: inZone(e.Happened, b)}
			if len(e.Signed) > 0 {
				entry.By = Initials(PersonName(b, e.Signed[0].Person))
			}
			by[e.ID] = entry
		}
		for _, l := range p.Lots {
			if entry, ok := by[l.Facts[core.Fact{Name: core.IsPacked}].By]; ok {
				out[l.ID] = entry
			}
		}
	}
	return out, nil
}

// Initials are the first letters of a name's words: enough for whoever works
// there to know who it was, and not a name.
func Initials(name string) string {
	var out strings.Builder
	for _, word := range strings.FieldsFunc(name, func(r rune) bool { return r == ' ' || r == '-' }) {
		r, _ := utf8.DecodeRuneInString(word)
		out.WriteString(strings.ToUpper(string(r)))
	}
	return out.String()
}
