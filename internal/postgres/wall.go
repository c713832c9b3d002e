package postgres

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

const (
	wallLotsSQL = `
		WITH held AS (
			SELECT DISTINCT lot FROM held_lot
		)
		SELECT l.place_ref, CASE WHEN l.packed THEN 'ship' ELSE l.next_stage END AS stage,
			CASE WHEN l.next_stage = '' AND NOT l.packed THEN l.item || '@' || l.rev ELSE '' END AS ended,
			sum(l.minutes), min(l.arrived), bool_or(h.lot IS NOT NULL), coalesce(min(l.promised)::text, '')
		FROM lot l LEFT JOIN held h ON h.lot = l.id
		WHERE l.live AND l.place_kind = 'pallet' GROUP BY l.place_ref, stage, ended`
	wallHeldSQL = `
		SELECT * FROM (
			SELECT CASE h.scope WHEN 'lot' THEN coalesce(nullif(l.owner_order, ''), 'stock')
				WHEN 'pallet' THEN left(h.ref, 4) || ' ' || substr(h.ref, 5)
				ELSE replace(h.ref, '@', ' rev ') END AS about, h.body ->> 'reason' AS what, h.at
			FROM hold h LEFT JOIN lot l ON h.scope = 'lot' AND l.id = h.ref WHERE h.released IS NULL AND NOT h.body ? 'follows'
			UNION ALL
			SELECT coalesce(l.owner_order, ''), p.body ->> 'what', p.at
			FROM problem p LEFT JOIN lot l ON l.id = p.lot WHERE p.closed IS NULL
			AND NOT EXISTS (SELECT FROM hold h WHERE h.released IS NULL AND h.body ->> 'problem' = p.id)
		) AS held ORDER BY at LIMIT $1`
	wallLateSQL = `
		SELECT o.no, o.promised::text, ARRAY(
			SELECT DISTINCT CASE WHEN l.packed THEN 'ship' ELSE l.next_stage END
			FROM lot l WHERE l.owner_order = o.no AND l.owner_order <> '' AND l.live
		) FROM orders o WHERE o.open AND o.promised < $1::text::date ORDER BY o.promised, o.no LIMIT $2`
	// What was to be made again and is neither packed nor part of anything yet: its nest is not broken out, or lots of it are
	// under way.
	wallRemakesSQL = `
		WITH awaited AS (
			SELECT split_part(substr(n.id, 8), '#', 1) AS problem, 'cut' AS stage FROM nest n WHERE NOT n.separated AND n.id LIKE 'remake %'
			UNION ALL
			SELECT l.remake, l.next_stage FROM lot l WHERE l.live AND l.remake <> '' AND NOT l.packed
		)
		SELECT coalesce(nullif(l.owner_order, ''), 'stock'), l.item, l.rev, (p.body ->> 'qty')::integer, p.closed, array_agg(DISTINCT a.stage)
		FROM awaited a JOIN problem p ON p.id = a.problem JOIN lot l ON l.id = p.lot
		WHERE p.closed <= $1 GROUP BY p.id, l.id ORDER BY p.closed, p.id LIMIT $2`
	wallSeqSQL = `SELECT coalesce(max(seq), 0) FROM event`
)

// Bars of a group and lines of a list; a wall has room for no more.
const (
	maxAges  = 8
	maxLines = 20
)

// wallLot sums up the lots of one pallet that wait for one stage.
type wallLot struct {
	pallet   core.PalletCode
	stage    core.StageName
	ended    string // the item whose route has ended, unpacked: it waits for its set
	minutes  float64
	since    time.Time
	held     bool
	promised core.Date
}

func scanWallLot(row pgx.CollectableRow) (wallLot, error) {
	var l wallLot
	var since *time.Time
	err := row.Scan(&l.pallet, &l.stage, &l.ended, &l.minutes, &since, &l.held, &l.promised)
	l.since = timeOrZero(since)
	return l, err
}

// Wall is the shop at one glance, read in one snapshot and one round trip.
func (s *Store) Wall(ctx context.Context) (app.Wall, error) {
	book, err := s.Book(ctx)
	if err != nil {
		return app.Wall{}, err
	}
	now := s.now()
	today := core.DateOf(now.In(book.Zone))
	tally, err := s.tally(ctx, today.Time(book.Zone))
	if err != nil {
		return app.Wall{}, fmt.Errorf("count the day: %w", err)
	}
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return app.Wall{}, fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Release()
	tx := &transaction{conn: conn.Conn()}
	defer tx.end(ctx)

	w := app.Wall{AsOf: now}
	var lots []wallLot
	b := &pgx.Batch{}
	tx.begin(b, snapshotMode)
	b.Queue(wallLotsSQL).Query(func(found pgx.Rows) (err error) {
		lots, err = pgx.CollectRows(found, scanWallLot)
		return err
	})
	b.Queue(wallHeldSQL, maxLines).Query(func(found pgx.Rows) (err error) {
		w.Held, err = pgx.CollectRows(found, func(row pgx.CollectableRow) (l app.WallLine, err error) {
			err = row.Scan(&l.Order, &l.What, &l.Since)
			l.Since = l.Since.UTC()
			return l, err
		})
		return err
	})
	b.Queue(wallLateSQL, string(today), maxLines).Query(func(found pgx.Rows) (err error) {
		w.Late, err = pgx.CollectRows(found, func(row pgx.CollectableRow) (l app.WallLine, err error) {
			var stages []core.StageName
			err = row.Scan(&l.Order, &l.Date, &stages)
			l.What = lateBecause(book.Table, stages)
			return l, err
		})
		return err
	})
	b.Queue(wallRemakesSQL, now.Add(-app.OldRemake), maxLines).Query(func(found pgx.Rows) (err error) {
		w.Remakes, err = pgx.CollectRows(found, func(row pgx.CollectableRow) (l app.WallLine, err error) {
			var item core.ItemRev
			var qty int
			var stages []core.StageName
			err = row.Scan(&l.Order, &item.Item, &item.Rev, &qty, &l.Since, &stages)
			l.Since, l.What = l.Since.UTC(), app.Named(qty, book.Items[item].Name)+": "+strings.TrimPrefix(lateBecause(book.Table, stages), "waits for ")
			return l, err
		})
		return err
	})
	b.Queue(wallSeqSQL).QueryRow(func(row pgx.Row) error { return row.Scan(&w.Seq) })
	tally.queue(b, &w.Today)
	if err := tx.commit(ctx, b); err != nil {
		return app.Wall{}, fmt.Errorf("read the wall: %w", err)
	}
	w.Pallets, w.Groups = wallGroups(lots, book, today)
	return w, nil
}

// lateBecause says what the lots of a late order that are furthest behind wait
// for, in the order of the stage table.
func lateBecause(t core.StageTable, waiting []core.StageName) string {
	if len(waiting) == 0 {
		return "nothing of it is cut"
	}
	at := func(n core.StageName) int {
		if i := slices.Index(t.Order, n); i >= 0 {
			return i
		}
		return len(t.Order) // its route has ended: it waits for the rest of its set
	}
	first := slices.MinFunc(waiting, func(a, b core.StageName) int { return cmp.Compare(at(a), at(b)) })
	if first == "" {
		return "waits for the rest of its set"
	}
	st, ok := t.Stage(first)
	if !ok {
		st = core.Stage{Name: first, Title: string(first)}
	}
	return "waits for " + app.StageNoun(st)
}

// wallGroups puts waiting pallets into the groups of their stages, in the order
// of the stage table. A pallet that waits for two groups stands in both.
func wallGroups(lots []wallLot, book *core.Book, today core.Date) (pallets int, out []app.WallGroup) {
	all := map[core.PalletCode]bool{}
	waiting := map[string]map[core.PalletCode]app.WallAge{}
	minutes := map[string]float64{}
	joins := joiningStages(book)
	for _, l := range lots {
		all[l.pallet] = true
		if l.ended != "" {
			l.stage = joins[l.ended]
		}
		st, known := book.Table.Stage(l.stage)
		if !known {
			continue // its route has ended, and nothing is made of it
		}
		if waiting[st.Group] == nil {
			waiting[st.Group] = map[core.PalletCode]app.WallAge{}
		}
		minutes[st.Group] += l.minutes
		age, there := waiting[st.Group][l.pallet]
		age.Pallet, age.Held, age.Late = l.pallet, age.Held || l.held, age.Late || l.promised.Before(today)
		if !there || l.since.Before(age.Since) {
			age.Since = l.since
		}
		waiting[st.Group][l.pallet] = age
	}
	for _, name := range groupNames(book.Table) {
		out = append(out, wallGroup(name, minutes[name], waiting[name]))
	}
	return len(all), out
}

// joiningStages tells, by the key of a component, the stage that begins the
// assembly it goes into: where its route has ended it waits for that.
func joiningStages(b *core.Book) map[string]core.StageName {
	out := map[string]core.StageName{}
	for _, rev := range b.Items {
		steps := b.Routes[rev.Route].Steps
		if len(steps) == 0 {
			continue
		}
		for _, c := range rev.Bill {
			if was, there := out[c.Item.Key()]; !there || steps[0].Stage < was { // one of several, always the same
				out[c.Item.Key()] = steps[0].Stage
			}
		}
	}
	return out
}

// groupNames lists the groups in the order of the table.
func groupNames(t core.StageTable) []string {
	var out []string
	for _, n := range t.Order {
		if g := t.Stages[n].Group; g != "" && !slices.Contains(out, g) {
			out = append(out, g)
		}
	}
	return out
}

func wallGroup(name string, minutes float64, waiting map[core.PalletCode]app.WallAge) app.WallGroup {
	g := app.WallGroup{Name: name, Pallets: len(waiting), Minutes: minutes}
	for _, age := range waiting {
		g.Ages = append(g.Ages, age)
		if age.Held {
			g.Held++
		}
	}
	slices.SortFunc(g.Ages, func(a, b app.WallAge) int {
		return cmp.Or(a.Since.Compare(b.Since), strings.Compare(string(a.Pallet), string(b.Pallet)))
	})
	if len(g.Ages) > 0 {
		g.Oldest = g.Ages[0].Since
	}
	g.Ages = g.Ages[:min(len(g.Ages), maxAges)]
	return g
}
