package app

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// Export is everything that the files of an import can say of the shop: its
// catalogue, people without their secrets, orders and nests as they were
// planned, and the sheets and deliveries that came by an import. What the floor
// made of it since is in the record, and goods taken in at a station are too.
func (s *Service) Export(ctx context.Context, by Caller) (intake.Bundle, error) {
	if _, err := importerOf(by); err != nil {
		return intake.Bundle{}, err
	}
	p, err := s.Store.Planned(ctx, nil)
	if err != nil {
		return intake.Bundle{}, fmt.Errorf("export: %w", err)
	}
	return exported(p), nil
}

// exported puts everything in an order that is always the same.
func exported(p Planned) intake.Bundle {
	k := knownOf(p)
	b := intake.Bundle{
		Stations: inOrder(p.Book.Stations, func(a, b core.Station) int {
			return cmp.Or(cmp.Compare(a.Order, b.Order), cmp.Compare(a.ID, b.ID))
		}),
		People:      inOrder(p.Book.People, func(a, b core.Person) int { return cmp.Compare(a.ID, b.ID) }),
		Instruments: inOrder(p.Book.Instruments, func(a, b core.Instrument) int { return cmp.Compare(a.ID, b.ID) }),
		Batches:     inOrder(p.Book.Batches, func(a, b core.Batch) int { return cmp.Compare(a.Batch, b.Batch) }),
		Routes: inOrder(p.Book.Routes, func(a, b core.Route) int {
			return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Version, b.Version))
		}),
		Items: inOrder(p.Book.Items, func(a, b core.Revision) int {
			return cmp.Or(cmp.Compare(a.Item, b.Item), cmp.Compare(a.Rev, b.Rev))
		}),
		Orders: inOrder(k.Orders, func(a, b core.Order) int { return cmp.Compare(a.No, b.No) }),
		Nests:  inOrder(k.Nests, func(a, b core.Nest) int { return cmp.Compare(a.ID, b.ID) }),
		Sheets: inOrder(k.Sheets, func(a, b intake.Sheet) int { return cmp.Compare(a.No, b.No) }),
		Bought: inOrder(k.Bought, func(a, b intake.Bought) int { return cmp.Compare(a.No, b.No) }),
	}
	b.Nests = slices.DeleteFunc(b.Nests, madeForRemake)
	for i := range b.Nests {
		b.Nests[i] = intake.AsPlanned(b.Nests[i])
	}
	return b
}

// madeForRemake tells the nests that a problem's remake asked for from those
// that were imported: the next import could not know what it is a remake of.
func madeForRemake(n core.Nest) bool { return core.RemakeOf(n.ID) != "" }

func inOrder[K comparable, V any](m map[K]V, by func(a, b V) int) []V {
	return slices.SortedFunc(maps.Values(m), by)
}
