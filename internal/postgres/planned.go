package postgres

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// Planned reads the catalogue, orders, nests and goods in one snapshot.
func (s *Store) Planned(ctx context.Context, which *app.PlannedNames) (app.Planned, error) {
	var out app.Planned
	err := pgx.BeginTxFunc(ctx, s.pool, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		book, err := readWholeBook(ctx, tx)
		if err != nil {
			return err
		}
		out, err = readPlanned(ctx, tx, book, which)
		return err
	})
	if err != nil {
		return app.Planned{}, fmt.Errorf("read what is planned: %w", err)
	}
	return out, nil
}

const (
	everyOrderSQL = "SELECT body FROM orders ORDER BY no"
	everyNestSQL  = "SELECT body FROM nest ORDER BY id"
	someOrdersSQL = "SELECT body FROM orders WHERE no = ANY($1) ORDER BY no"
	someNestsSQL  = "SELECT body FROM nest WHERE id = ANY($1) ORDER BY id"
	// Without a way in by kind the whole log is read; it is asked for by people
	// who want everything in files, and by nobody else.
	everyGoodsSQL = "SELECT " + recordedColumns + ` FROM event e
		WHERE e.kind = 'goods-received' AND NOT EXISTS (SELECT FROM event c WHERE c.corrects = e.id) ORDER BY e.seq`
	// A command that receives goods makes one event, numbered 1.
	someGoodsSQL = "SELECT " + recordedColumns + ` FROM event e
		WHERE e.id IN (SELECT c || '.1' FROM unnest($1::text[]) AS c) AND e.kind = 'goods-received' ORDER BY e.seq`
)

func readPlanned(ctx context.Context, tx pgx.Tx, book *core.Book, which *app.PlannedNames) (app.Planned, error) {
	out := app.Planned{Book: book}
	b := &pgx.Batch{}
	if which == nil {
		queueRead(b, &out.Orders, scanBody[core.Order], everyOrderSQL)
		queueRead(b, &out.Nests, scanBody[core.Nest], everyNestSQL)
		queueRead(b, &out.Goods, recorded, everyGoodsSQL)
	} else {
		queueRead(b, &out.Orders, scanBody[core.Order], someOrdersSQL, texts(which.Orders))
		queueRead(b, &out.Nests, scanBody[core.Nest], someNestsSQL, texts(which.Nests))
		queueRead(b, &out.Goods, recorded, someGoodsSQL, texts(which.Goods))
	}
	return out, tx.SendBatch(ctx, b).Close()
}

func queueRead[T any](b *pgx.Batch, into *[]T, scan pgx.RowToFunc[T], sql string, args ...any) {
	b.Queue(sql, args...).Query(func(found pgx.Rows) (err error) {
		*into, err = pgx.CollectRows(found, scan)
		return err
	})
}
