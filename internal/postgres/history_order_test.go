package postgres_test

import (
	"slices"
	"testing"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// toldSQL is what the history of an order is by its meaning: beginning with every
// lot the order ever owned, what each came from, until it was born of that, and
// what is inside; the events of all of them, and of the order's snags. $2 is the
// kind, or empty for all.
const toldSQL = `
	WITH RECURSIVE line(lot, upto) AS (
		SELECT id, 9223372036854775807 FROM tagalong.lot WHERE owner_order = $1
		UNION
		SELECT n.lot, least(line.upto, n.upto) FROM line, LATERAL (
			SELECT p.parent AS lot, (SELECT min(seq) FROM tagalong.event_lot WHERE lot = p.lot) AS upto
			FROM tagalong.lot_parent p WHERE p.lot = line.lot
			UNION ALL
			SELECT l.id, 9223372036854775807 FROM tagalong.lot l WHERE l.place_kind = 'inside' AND l.place_ref = line.lot AND l.qty > 0
		) n
	), told AS (
		SELECT x.seq FROM (SELECT lot, max(upto) AS upto FROM line GROUP BY lot) line
		JOIN tagalong.event_lot x ON x.lot = line.lot AND x.seq <= line.upto
		UNION
		SELECT e.seq FROM tagalong.snag g JOIN tagalong.event e ON e.id IN (g.body ->> 'reported', g.body -> 'putRight' ->> 'said', g.body ->> 'closedBy') WHERE g.order_no = $1
	)
	SELECT e.seq FROM told JOIN tagalong.event e USING (seq) WHERE $2 = '' OR e.kind = $2 ORDER BY e.seq`

// ordersTold holds the history of orders, whole and cut short, against what it is
// by its meaning: of those with the most lots, of which there may be thousands.
func (f *fixture) ordersTold(t testing.TB) {
	t.Helper()
	conn := connect(t, f.db.AppURL)
	orders, err := pgx.CollectRows(must(conn.Query(t.Context(), `
		SELECT o.no FROM tagalong.orders o LEFT JOIN tagalong.lot l ON l.owner_order = o.no
		GROUP BY o.no ORDER BY count(l.id) DESC, o.no LIMIT 6`))(t), pgx.RowTo[string])
	if err != nil {
		t.Fatal(err)
	}
	for _, no := range orders {
		for _, kind := range []core.EventKind{"", core.EvOwnerChanged, core.EvSeparated} {
			want := must(pgx.CollectRows(must(conn.Query(t.Context(), toldSQL, no, string(kind)))(t), pgx.RowTo[int64]))(t)
			for _, limit := range []int{1, 2, 5, 13, 34, len(want) - 1, len(want), len(want) + 1} {
				if limit < 1 {
					continue
				}
				var got []int64
				for _, e := range must(f.History(t.Context(), app.HistoryQuery{Order: no, Kind: kind, Limit: limit}))(t) {
					got = append(got, e.Seq)
				}
				if latest := want[max(0, len(want)-limit):]; !slices.Equal(got, latest) {
					t.Errorf("the latest %d %s of order %s are told as %v, and are %v", limit, kind, no, got, latest)
				}
			}
		}
	}
}

// A panel is made for stock, lent to an order with what is in it, worked, taken
// back and lent to another: each order is told of it as far as it was theirs, and
// of what it came from.
func TestHistoryOfAnOrderThatBorrowed(t *testing.T) {
	s := newFloor(t)
	s.panelParts()
	give := func(id core.LotID, to core.Owner) core.LotID {
		t.Helper()
		l := s.lot(id)
		e := s.must(core.ChangeOwner{Pallet: core.PalletCode(l.Place.Ref), Lot: id, Qty: l.Qty, To: to, Reason: "they leave first"}, "", "P02")
		for _, f := range e.Effects {
			if f.LotBorn != nil {
				return f.LotBorn.ID
			}
		}
		t.Fatalf("nothing was born of %s", id)
		return ""
	}
	borrower := core.Owner{Order: "O-4101", Line: 1}
	unit := s.weldPanel()
	inside := s.inUnit(unit).ID
	stock := give(unit, core.Owner{})
	lent := give(stock, borrower)
	s.step(lent)
	last := give(give(lent, core.Owner{}), panels)
	s.step(last)
	s.verified(t)
	told := map[string][]core.LotID{}
	for _, no := range []string{borrower.Order, panels.Order} {
		for _, e := range must(s.History(t.Context(), app.HistoryQuery{Order: no}))(t) {
			for _, l := range e.Lots {
				told[no] = append(told[no], l.Lot)
			}
			for _, f := range e.Effects {
				told[no] = append(told[no], f.Lot())
			}
		}
	}
	for no, want := range map[string][]core.LotID{borrower.Order: {inside, unit, stock, lent}, panels.Order: {inside, unit, stock, lent, last}} {
		for _, id := range want {
			if !slices.Contains(told[no], id) {
				t.Errorf("the history of order %s tells nothing of %s: %v", no, id, told[no])
			}
		}
	}
	if slices.Contains(told[borrower.Order], last) {
		t.Errorf("the history of order %s tells what became of %s after it was given back", borrower.Order, lent)
	}
}
