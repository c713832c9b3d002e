package app

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// TypedOrder is an order as it was typed.
type TypedOrder struct {
	No, Customer, Reference, Promised string
	Lines                             []TypedLine
}

// TypedLine is a line of it, its item as an [ItemKey].
type TypedLine struct{ Item, Qty string }

// FreeOrder is an order number the shop has not got.
func (s *Service) FreeOrder(ctx context.Context) (string, error) {
	return s.freeRow(ctx, "O", func(no string) core.Names { return core.Names{Orders: []string{no}} },
		func(st *core.State, no string) bool { _, taken := st.Orders[no]; return taken })
}

// FreeNest is a nest number the shop has not got.
func (s *Service) FreeNest(ctx context.Context) (string, error) {
	return s.freeRow(ctx, "N", func(id string) core.Names { return core.Names{Nests: []string{id}} },
		func(st *core.State, id string) bool { _, taken := st.Nests[id]; return taken })
}

// freeRow finds a free number by halving: a shop that types them counts up.
func (s *Service) freeRow(ctx context.Context, prefix string, names func(string) core.Names, has func(*core.State, string) bool) (string, error) {
	taken := func(n int) (bool, error) {
		name := prefix + "-" + strconv.Itoa(n)
		w, err := s.Store.Load(ctx, names(name), "")
		if err != nil {
			return false, fmt.Errorf("look for a free number: %w", err)
		}
		return has(w.State, name), nil
	}
	last, next := 0, 1 // last is taken or nought
	for {
		yes, err := taken(next)
		if err != nil {
			return "", err
		}
		if !yes {
			break
		}
		last, next = next, 2*next
	}
	for next-last > 1 {
		middle := (last + next) / 2
		yes, err := taken(middle)
		if err != nil {
			return "", err
		}
		if yes {
			last = middle
		} else {
			next = middle
		}
	}
	return prefix + "-" + strconv.Itoa(next), nil
}

// AddOrder stores a typed order.
func (s *Service) AddOrder(ctx context.Context, by Caller, t TypedOrder) (Slips, error) {
	if err := officeOnly(by); err != nil {
		return nil, err
	}
	no := strings.TrimSpace(t.No)
	w, err := s.Store.Load(ctx, core.Names{Orders: []string{no}}, "")
	if err != nil {
		return nil, fmt.Errorf("look for order %s: %w", no, err)
	}
	if _, there := w.State.Orders[no]; there {
		return Slips{typedSlip("orders.csv", 0, "order", "order "+no+", which the shop has", "a number of its own")}, nil
	}
	if len(t.Lines) == 0 {
		return Slips{typedSlip("lines.csv", 0, "item", "an order for nothing", "at least one item, and how many")}, nil
	}
	rows := intake.Typed{"orders.csv": {{"order": t.No, "customer": t.Customer, "reference": t.Reference, "promised": t.Promised}}}
	for i, l := range t.Lines {
		of := itemOfKey(l.Item)
		rows["lines.csv"] = append(rows["lines.csv"], map[string]string{
			"order": t.No, "line": strconv.Itoa(i + 1), "item": string(of.Item), "rev": of.Rev, "qty": l.Qty})
	}
	return s.storeTyped(ctx, by, "orders page", rows)
}
