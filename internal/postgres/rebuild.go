package postgres

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
	"tagalong/migrations"
)

const emptyStateSQL = `
	TRUNCATE pallet, lot, lot_parent, lot_heat, lot_sheet, lot_batch, build, consignment, hold, problem, abrasive,
		orders, order_line, nest, snag`

// Rebuild writes every row of the state anew from the events, in one
// transaction, and returns how many events it read. It works as the owner of
// the schema, since the server may not empty a table; commands wait meanwhile.
// An event this version can't read or apply stops it, and nothing is changed.
func Rebuild(ctx context.Context, ownerURL string) (events int, err error) {
	err = asOwner(ctx, ownerURL, func(tx pgx.Tx) error {
		events, err = rebuild(ctx, tx)
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("rebuild, nothing was changed: %w", err)
	}
	return events, nil
}

// renew rebuilds a state of an older form than this version makes.
func renew(ctx context.Context, ownerURL string) error {
	err := asOwner(ctx, ownerURL, func(tx pgx.Tx) error {
		var form int
		if err := tx.QueryRow(ctx, "SELECT form FROM state_form FOR UPDATE").Scan(&form); err != nil || form >= core.StateForm {
			return err
		}
		_, err := rebuild(ctx, tx)
		return err
	})
	if err != nil {
		return fmt.Errorf("make the state anew, since it is of an older version: %w. The record is as it was", err)
	}
	return nil
}

func asOwner(ctx context.Context, ownerURL string, do func(pgx.Tx) error) error {
	config, err := pgx.ParseConfig(ownerURL)
	if err != nil {
		return fmt.Errorf("the database address isn't one: %w", err)
	}
	config.RuntimeParams["search_path"] = migrations.Schema
	config.RuntimeParams["timezone"] = "UTC"
	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	return pgx.BeginFunc(ctx, conn, do)
}

func rebuild(ctx context.Context, tx pgx.Tx) (int, error) {
	if _, err := tx.Exec(ctx, lockExclusiveSQL, int32(everybodysLock)); err != nil {
		return 0, err
	}
	book, err := readWholeBook(ctx, tx)
	if err != nil {
		return 0, err
	}
	state, events, err := replay(ctx, tx)
	if err != nil {
		return events, err
	}
	if _, err := tx.Exec(ctx, emptyStateSQL); err != nil {
		return events, err
	}
	if err := writeState(ctx, tx, state, book); err != nil {
		return events, err
	}
	_, err = tx.Exec(ctx, "UPDATE state_form SET form = $1", core.StateForm)
	return events, err
}

// replay applies the whole log, in order, to a shop in which nothing happened.
func replay(ctx context.Context, tx pgx.Tx) (*core.State, int, error) {
	state, events := core.NewState(), 0
	for after := int64(math.MinInt64); ; {
		found, err := tx.Query(ctx, loggedSQL, after, stretch)
		if err != nil {
			return nil, events, err
		}
		logged, err := pgx.CollectRows(found, scanLogged)
		if err != nil {
			return nil, events, err
		}
		for _, l := range logged {
			e, err := core.ReadEvent(l.kind, l.v, l.payload)
			if err != nil {
				return nil, events, err
			}
			if err := core.Apply(state, e); err != nil {
				return nil, events, err
			}
			events, after = events+1, l.seq
		}
		if len(logged) < stretch {
			return state, events, nil
		}
	}
}

// writeState writes a whole state into empty tables.
func writeState(ctx context.Context, tx pgx.Tx, s *core.State, book *core.Book) error {
	live := livePallets(s.Lots)
	var links lotLinks
	for _, id := range slices.Sorted(maps.Keys(s.Lots)) {
		links.add(core.Lot{}, s.Lots[id])
	}
	var lines []orderLineRow
	for _, no := range slices.Sorted(maps.Keys(s.Orders)) {
		lines = append(lines, orderLineRows(s.Orders[no])...)
	}
	if err := firstError(
		writeAll(ctx, tx, lotTable.insert, rowsOf(s.Lots, func(l core.Lot) lotRow { return lotRowOf(l, book) })),
		writeAll(ctx, tx, insertParents, links.parents),
		writeAll(ctx, tx, insertHeats, links.heats),
		writeAll(ctx, tx, insertSheets, links.sheets),
		writeAll(ctx, tx, insertBatches, links.batches),
		writeAll(ctx, tx, palletTable.insert, rowsOf(s.Pallets, func(p core.PalletRow) palletRow { return palletRowOf(p, live[p.Code]) })),
		writeAll(ctx, tx, buildTable.insert, rowsOf(s.Builds, buildRowOf)),
		writeAll(ctx, tx, consignmentTable.insert, rowsOf(s.Consignments, consignmentRowOf)),
		writeAll(ctx, tx, holdTable.insert, rowsOf(s.Holds, holdRowOf)),
		writeAll(ctx, tx, problemTable.insert, rowsOf(s.Problems, problemRowOf)),
		writeAll(ctx, tx, abrasiveTable.insert, rowsOf(s.Abrasives, func(a core.Abrasive) abrasiveRow { return abrasiveRow{a.ID, a} })),
		writeAll(ctx, tx, orderTable.insert, rowsOf(s.Orders, orderRowOf)),
		writeAll(ctx, tx, insertOrderLines, lines),
		writeAll(ctx, tx, nestTable.insert, rowsOf(s.Nests, nestRowOf)),
		writeAll(ctx, tx, snagTable.insert, rowsOf(s.Snags, snagRowOf)),
	); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, closeOrdersSQL, slices.Sorted(maps.Keys(s.Orders)))
	return err
}

// rowsOf makes a row of each value, in order of the keys.
func rowsOf[K ~string, V, R any](values map[K]V, rowOf func(V) R) []R {
	var out []R
	for _, k := range slices.Sorted(maps.Keys(values)) {
		out = append(out, rowOf(values[k]))
	}
	return out
}

// writeAll sends rows a stretch at a time.
func writeAll[R any](ctx context.Context, tx pgx.Tx, s statement[R], rows []R) error {
	for part := range slices.Chunk(rows, stretch) {
		b := &pgx.Batch{}
		if err := s.queue(b, part); err != nil {
			return err
		}
		if err := tx.SendBatch(ctx, b).Close(); err != nil {
			return err
		}
	}
	return nil
}
