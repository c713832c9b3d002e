package postgres

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
)

// rows holds every row of the state against what the events make of it.
func (v *verification) rows(ctx context.Context) error {
	live := livePallets(v.state.Lots)
	s := v.state
	for _, check := range []func() error{
		func() error {
			return checkRows(ctx, v, "lot", s.Lots, func(l core.Lot) lotRow { return lotRowOf(l, v.book) },
				func(r lotRow) { v.stored[r.ID] = r.asStored(); v.report.Lots++ })
		},
		func() error {
			return checkRows(ctx, v, "pallet", s.Pallets, func(p core.PalletRow) palletRow { return palletRowOf(p, live[p.Code]) }, nil)
		},
		func() error { return checkRows(ctx, v, "build", s.Builds, buildRowOf, nil) },
		func() error { return checkRows(ctx, v, "consignment", s.Consignments, consignmentRowOf, nil) },
		func() error { return checkRows(ctx, v, "hold", s.Holds, holdRowOf, nil) },
		func() error { return checkRows(ctx, v, "problem", s.Problems, problemRowOf, nil) },
		func() error {
			return checkRows(ctx, v, "abrasive", s.Abrasives, func(a core.Abrasive) abrasiveRow { return abrasiveRow{a.ID, a} }, nil)
		},
		func() error { return checkRows(ctx, v, "orders", s.Orders, orderRowOf, nil) },
		func() error { return checkRows(ctx, v, "nest", s.Nests, nestRowOf, nil) },
		func() error { return checkRows(ctx, v, "snag", s.Snags, snagRowOf, nil) },
		func() error { return v.orderLines(ctx) },
		func() error { return v.openOrders(ctx) },
		func() error { return v.lotLinks(ctx) },
	} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

// asStored is the lot with the count and place of its columns, which are what
// the screens add up.
func (r lotRow) asStored() core.Lot {
	var l core.Lot
	if r.Body != nil {
		l = r.Body.Lot
	}
	l.Qty, l.Place = r.Qty, core.Place{Kind: r.PlaceKind, Ref: r.PlaceRef}
	return l
}

// checkRows compares the rows of a table with those made of want. seen, if any,
// is told every stored row.
func checkRows[K ~string, V, R any](ctx context.Context, v *verification, table string, want map[K]V, rowOf func(V) R, seen func(R)) error {
	key := newRowType[R]().columns[0].name
	found, err := v.tx.Query(ctx, fmt.Sprintf("SELECT %s, to_jsonb(t) FROM %s t ORDER BY 1", key, table))
	if err != nil {
		return err
	}
	met := map[K]bool{}
	var id K
	var body []byte
	_, err = pgx.ForEachRow(found, []any{&id, &body}, func() error {
		v.report.Rows++
		met[id] = true
		var got R
		if err := json.Unmarshal(body, &got); err != nil {
			v.fault(FaultRow, table+" "+string(id), "it can't be read: %v", err)
			return nil
		}
		if seen != nil {
			seen(got)
		}
		if v.broken {
			return nil
		}
		made, there := want[id]
		if !there {
			v.fault(FaultRow, table+" "+string(id), "no event made it")
			return nil
		}
		sameRow(v, table+" "+string(id), got, rowOf(made))
		return nil
	})
	if err != nil || v.broken {
		return err
	}
	for _, id := range slices.Sorted(maps.Keys(want)) {
		if !met[id] {
			v.fault(FaultRow, table+" "+string(id), "events made it and there is no row")
		}
	}
	return nil
}

func sameRow[R any](v *verification, ref string, got, want R) {
	g, w := canonical(got), canonical(want)
	if g == w {
		return
	}
	at := 0
	for at < min(len(g), len(w)) && g[at] == w[at] {
		at++
	}
	v.fault(FaultRow, ref, "the row says …%s and the events come to …%s", around(g, at), around(w, at))
}

// canonical is a row as text that is equal for equal rows: JSON, in which an
// instant looks the same wherever it was read from. Rows always marshal: they
// were read from JSON or are about to be written as it.
func canonical[R any](row R) string {
	b, err := json.Marshal(row)
	if err != nil {
		return err.Error()
	}
	return string(b)
}

// around shows a text near where it differs.
func around(s string, at int) string {
	return strings.ToValidUTF8(s[max(0, at-40):min(len(s), at+40)], "")
}

// orderLines compares the lines' table with the orders.
func (v *verification) orderLines(ctx context.Context) error {
	if v.broken {
		return nil
	}
	found, err := v.tx.Query(ctx, "SELECT order_no, line, item, rev, qty FROM order_line")
	if err != nil {
		return err
	}
	rows, err := pgx.CollectRows(found, pgx.RowToStructByPos[orderLineRow])
	if err != nil {
		return err
	}
	stored := map[orderLineRow]bool{}
	for _, r := range rows {
		stored[r] = true
	}
	for _, no := range slices.Sorted(maps.Keys(v.state.Orders)) {
		for _, r := range orderLineRows(v.state.Orders[no]) {
			v.report.OrderLines++
			if !stored[r] {
				v.fault(FaultRow, fmt.Sprintf("order_line %s/%d", r.OrderNo, r.Line), "it is missing or says something else than its order")
			}
			delete(stored, r)
		}
	}
	for r := range stored {
		v.fault(FaultRow, fmt.Sprintf("order_line %s/%d", r.OrderNo, r.Line), "no order has this line")
	}
	return nil
}

// openOrders compares which orders count as open.
func (v *verification) openOrders(ctx context.Context) error {
	shipped := map[core.Owner]map[core.ItemID]int{}
	for _, l := range v.state.Lots {
		if n := lotShipped(l); n > 0 {
			if shipped[l.Owner] == nil {
				shipped[l.Owner] = map[core.ItemID]int{}
			}
			shipped[l.Owner][l.Item.Item] += n
		}
	}
	found, err := v.tx.Query(ctx, "SELECT no, open FROM orders ORDER BY no")
	if err != nil {
		return err
	}
	var no string
	var open bool
	_, err = pgx.ForEachRow(found, []any{&no, &open}, func() error {
		want := slices.ContainsFunc(v.state.Orders[no].Lines, func(l core.OrderLine) bool {
			due := map[core.ItemID]int{}
			for item, n := range core.Deliverables(v.book, l.Item, l.Qty) {
				due[item.Item] += n
			}
			for item, n := range due {
				if n > shipped[core.Owner{Order: no, Line: l.Line}][item] {
					return true
				}
			}
			return false
		})
		if !v.broken && open != want {
			v.fault(FaultRow, "orders "+no, "it counts as open=%v and is open=%v", open, want)
		}
		return nil
	})
	return err
}

// lotLinks compares what recalls follow.
func (v *verification) lotLinks(ctx context.Context) error {
	var want lotLinks
	for _, l := range v.state.Lots {
		want.add(core.Lot{}, l)
	}
	return firstError(v.links(ctx, "lot_parent", "parent", want.parents), v.links(ctx, "lot_heat", "heat", want.heats),
		v.links(ctx, "lot_sheet", "sheet", want.sheets), v.links(ctx, "lot_batch", "batch", want.batches))
}

func (v *verification) links(ctx context.Context, table, column string, want []lotLink) error {
	found, err := v.tx.Query(ctx, fmt.Sprintf("SELECT lot, %s FROM %s", column, table))
	if err != nil {
		return err
	}
	rows, err := pgx.CollectRows(found, pgx.RowToStructByPos[lotLink])
	if err != nil || v.broken {
		return err
	}
	byText := func(a, b lotLink) int { return cmp.Or(cmp.Compare(a.Lot, b.Lot), cmp.Compare(a.To, b.To)) }
	slices.SortFunc(rows, byText)
	slices.SortFunc(want, byText)
	if !slices.Equal(rows, slices.Compact(want)) {
		v.fault(FaultRow, table, "it holds %d rows, not the %d the events come to, or others", len(rows), len(want))
	}
	return nil
}
