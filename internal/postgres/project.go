package postgres

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
)

// projection is what a command's events make of the rows it loaded.
type projection struct {
	before, after *core.State
	book          *core.Book

	lots         touched[core.LotID]
	altered      touched[core.LotID] // those of lots that more than moves touched
	pallets      touched[core.PalletCode]
	builds       touched[core.BuildCode]
	consignments touched[core.ConsignmentCode]
	holds        touched[core.HoldID]
	problems     touched[core.ProblemID]
	abrasives    touched[string]
	orders       touched[string]
	nests        touched[string]
	snags        touched[core.SnagID]

	moved touched[core.PalletCode] // parts moved from or to it
	live  map[core.PalletCode]bool // with parts on them in the end

	written []*lotBody // once queued
}

type touched[K ~string] map[K]bool

func (t *touched[K]) add(k K) {
	if *t == nil {
		*t = touched[K]{}
	}
	(*t)[k] = true
}

// project applies events to a copy of the state and notes which rows they touch.
// It refuses events that no decision of ours makes; nothing is recorded then.
func project(before *core.State, book *core.Book, events []core.Event) (*projection, error) {
	p := newProjection(before, book)
	if err := p.apply(events); err != nil {
		return nil, err
	}
	p.settle()
	return p, nil
}

// newProjection begins with no event applied. Settle it when all have been.
func newProjection(before *core.State, book *core.Book) *projection {
	return &projection{before: before, after: copyState(before), book: book}
}

func (p *projection) apply(events []core.Event) error {
	for _, e := range events {
		if err := checkDescent(e); err != nil {
			return err
		}
		if err := core.Apply(p.after, e); err != nil {
			return err
		}
		for _, f := range e.Effects {
			if err := p.touch(f); err != nil {
				return fmt.Errorf("event %s: %w", e.ID, err)
			}
		}
	}
	return nil
}

// settle notes the pallets that got their first part or lost their last one.
func (p *projection) settle() {
	was := livePallets(p.before.Lots)
	p.live = livePallets(p.after.Lots)
	for code := range p.moved {
		if was[code] != p.live[code] {
			p.pallets.add(code)
		}
	}
}

// livePallets are those with parts on them.
func livePallets(lots map[core.LotID]core.Lot) map[core.PalletCode]bool {
	out := map[core.PalletCode]bool{}
	for _, l := range lots {
		if l.Qty > 0 && l.Place.Kind == core.OnPallet {
			out[core.PalletCode(l.Place.Ref)] = true
		}
	}
	return out
}

func copyState(s *core.State) *core.State {
	return &core.State{
		Lots: maps.Clone(s.Lots), Pallets: maps.Clone(s.Pallets), Builds: maps.Clone(s.Builds),
		Consignments: maps.Clone(s.Consignments), Holds: maps.Clone(s.Holds), Problems: maps.Clone(s.Problems),
		Abrasives: maps.Clone(s.Abrasives), Orders: maps.Clone(s.Orders), Nests: maps.Clone(s.Nests), Snags: maps.Clone(s.Snags),
	}
}

func (p *projection) touch(f core.Effect) error {
	switch {
	case f.PalletPut != nil:
		p.pallets.add(f.PalletPut.Code)
	case f.BuildPut != nil:
		p.builds.add(f.BuildPut.Code)
	case f.ConsignmentPut != nil:
		p.consignments.add(f.ConsignmentPut.Code)
	case f.HoldPut != nil:
		p.holds.add(f.HoldPut.ID)
	case f.ProblemPut != nil:
		p.problems.add(f.ProblemPut.ID)
	case f.SnagPut != nil:
		p.snags.add(f.SnagPut.ID)
	case f.AbrasivePut != nil:
		p.abrasives.add(f.AbrasivePut.ID)
	case f.OrderPut != nil:
		p.orders.add(f.OrderPut.No)
	case f.NestPut != nil:
		p.nests.add(f.NestPut.ID)
	case f.Lot() != "":
		p.lots.add(f.Lot())
	default:
		return errors.New("it has an effect this version can't store")
	}
	if f.Moved == nil {
		if id := f.Lot(); id != "" {
			p.altered.add(id)
		}
		return nil
	}
	return firstError(p.touchPlace(f.Moved.From), p.touchPlace(f.Moved.To))
}

// touchPlace notes the pallet a move begins or ends at. Parts may only move
// between places that were loaded, and so locked, or made by the command.
func (p *projection) touchPlace(at core.Place) error {
	known := true
	switch at.Kind {
	case core.OnPallet:
		code := core.PalletCode(at.Ref)
		if _, known = p.after.Pallets[code]; known {
			p.moved.add(code)
		}
	case core.InBuild:
		_, known = p.after.Builds[core.BuildCode(at.Ref)]
	case core.InConsignment:
		_, known = p.after.Consignments[core.ConsignmentCode(at.Ref)]
	}
	if !known {
		return fmt.Errorf("parts move at %s, which the command neither named nor made", at)
	}
	return nil
}

// checkDescent: what becomes of lots in one event adds up for every item.
func checkDescent(e core.Event) error {
	sums := map[string]int{}
	for _, f := range e.Effects {
		m := f.Moved
		if m == nil {
			continue
		}
		if m.To.Kind == core.Descent {
			sums[m.Item.Key()] += m.Qty
		}
		if m.From.Kind == core.Descent {
			sums[m.Item.Key()] -= m.Qty
		}
	}
	for _, item := range slices.Sorted(maps.Keys(sums)) {
		if sums[item] != 0 {
			return fmt.Errorf("event %s makes %+d of %s out of nothing", e.ID, -sums[item], item)
		}
	}
	return nil
}

// lockMore adds to the scope the rows that would be changed and are not locked,
// and reports whether there are any. Decisions change what their command named
// or what that led to, so there hardly ever are.
func (p *projection) lockMore(sc *scope) bool {
	more := false
	for id := range p.lots {
		if was, there := p.before.Lots[id]; there && !sc.names[aLot][string(id)] && !sc.hasPlace(was.Place) {
			more = sc.add(aLot, string(id)) || more
		}
	}
	for _, grew := range []bool{
		lockTouched(sc, aPallet, p.pallets, p.before.Pallets), lockTouched(sc, aBuild, p.builds, p.before.Builds),
		lockTouched(sc, aConsignment, p.consignments, p.before.Consignments), lockTouched(sc, aHold, p.holds, p.before.Holds),
		lockTouched(sc, aProblem, p.problems, p.before.Problems), lockTouched(sc, anAbrasive, p.abrasives, p.before.Abrasives),
		lockTouched(sc, anOrder, p.orders, p.before.Orders), lockTouched(sc, aNest, p.nests, p.before.Nests),
		lockTouched(sc, aSnag, p.snags, p.before.Snags),
	} {
		more = more || grew
	}
	return more
}

func lockTouched[K ~string, V any](sc *scope, kind rowKind, keys touched[K], before map[K]V) bool {
	more := false
	for k := range keys {
		if _, there := before[k]; there {
			more = sc.add(kind, string(k)) || more
		}
	}
	return more
}

// queue writes the rows touched.
func (p *projection) queue(b *pgx.Batch) error {
	if err := p.queueLots(b); err != nil {
		return err
	}
	pallet := func(r core.PalletRow) palletRow { return palletRowOf(r, p.live[r.Code]) }
	abrasive := func(a core.Abrasive) abrasiveRow { return abrasiveRow{a.ID, a} }
	if err := firstError(
		write(b, palletTable, p.pallets, p.before.Pallets, p.after.Pallets, pallet),
		write(b, buildTable, p.builds, p.before.Builds, p.after.Builds, buildRowOf),
		write(b, consignmentTable, p.consignments, p.before.Consignments, p.after.Consignments, consignmentRowOf),
		write(b, holdTable, p.holds, p.before.Holds, p.after.Holds, holdRowOf),
		write(b, problemTable, p.problems, p.before.Problems, p.after.Problems, problemRowOf),
		write(b, abrasiveTable, p.abrasives, p.before.Abrasives, p.after.Abrasives, abrasive),
		write(b, orderTable, p.orders, p.before.Orders, p.after.Orders, orderRowOf),
		write(b, nestTable, p.nests, p.before.Nests, p.after.Nests, nestRowOf),
		write(b, snagTable, p.snags, p.before.Snags, p.after.Snags, snagRowOf),
	); err != nil {
		return err
	}
	return p.queueOrders(b)
}

// write queues the touched rows of one table, in order of their keys.
func write[K ~string, V, R any](b *pgx.Batch, t table[R], keys touched[K], before, after map[K]V, rowOf func(V) R) error {
	var fresh, changed []R
	for _, k := range slices.Sorted(maps.Keys(keys)) {
		if _, there := before[k]; there {
			changed = append(changed, rowOf(after[k]))
		} else {
			fresh = append(fresh, rowOf(after[k]))
		}
	}
	return t.queue(b, fresh, changed)
}
