package postgres

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"tagalong/internal/core"
)

// account is what the moves of one lot come to. It is kept from the move rows
// alone, without the core, so that each can be held against the other.
type account struct {
	at    core.Place
	qty   int
	made  int // come from sources and other lots, less gone to other lots
	lost  int // gone to scrap or missed, less found again
	below bool
}

// ledger is the account of every lot.
type ledger map[core.LotID]*account

// post adds one move.
func (g ledger) post(v *verification, m moveRow, event core.EventID) {
	a := g[m.Lot]
	if a == nil {
		a = &account{}
		g[m.Lot] = a
	}
	from, to := core.Place{Kind: m.FromKind, Ref: m.FromRef}, core.Place{Kind: m.ToKind, Ref: m.ToRef}
	if from.Kind.Holds() {
		if a.qty > 0 && a.at != from {
			v.fault(FaultCount, string(m.Lot), "event %s takes parts of it from %s, and they are at %s", event, from, a.at)
		}
		a.qty -= m.Qty
	} else {
		a.source(from.Kind, m.Qty)
	}
	if a.qty < 0 && !a.below {
		a.below = true // once is enough
		v.fault(FaultCount, string(m.Lot), "event %s takes it to %d parts", event, a.qty)
	}
	if to.Kind.Holds() {
		a.at, a.qty = to, a.qty+m.Qty
		return
	}
	a.source(to.Kind, -m.Qty)
	if a.qty == 0 {
		a.at = to
	}
}

// source books parts that come from, or with a minus go to, where nothing rests.
func (a *account) source(kind core.PlaceKind, qty int) {
	switch kind {
	case core.Scrapped, core.Unexplained:
		a.lost -= qty
	default:
		a.made += qty
	}
}

// counts holds every lot's row against its account.
func (v *verification) counts(context.Context) error {
	ids := slices.Collect(maps.Keys(v.ledger))
	for id := range v.stored {
		if v.ledger[id] == nil {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	for _, id := range ids {
		row, there := v.stored[id]
		a := cmp.Or(v.ledger[id], &account{at: row.Place})
		switch {
		case !there:
			v.fault(FaultCount, string(id), "it has moves and no row")
		case row.Qty != a.qty:
			v.fault(FaultCount, string(id), "its row counts %d parts and its moves come to %d", row.Qty, a.qty)
		case row.Place != a.at:
			v.fault(FaultCount, string(id), "its row is at %s and its last move ended at %s", row.Place, a.at)
		}
	}
	return nil
}
