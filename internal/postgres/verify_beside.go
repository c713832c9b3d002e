package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
)

// beside are the rows that hang on a stretch of events, by event number.
type beside struct {
	moves    map[int64][]moveRow
	signed   map[int64][]signatureRow
	readings map[int64][]readingRow
	inputs   map[int64][]inputRow
}

func readBeside(ctx context.Context, tx pgx.Tx, after, upto int64) (*beside, error) {
	b := &beside{}
	batch := &pgx.Batch{}
	queueBeside(batch, "move", after, upto, &b.moves)
	queueBeside(batch, "signature", after, upto, &b.signed)
	queueBeside(batch, "reading", after, upto, &b.readings)
	queueBeside(batch, "step_input", after, upto, &b.inputs)
	return b, tx.SendBatch(ctx, batch).Close()
}

func queueBeside[R any](b *pgx.Batch, table string, after, upto int64, into *map[int64][]R) {
	*into = map[int64][]R{}
	sql := fmt.Sprintf("SELECT seq, to_jsonb(t) - 'seq' FROM %s t WHERE seq > $1 AND seq <= $2 ORDER BY seq, n", table)
	b.Queue(sql, after, upto).Query(func(found pgx.Rows) error {
		var seq int64
		var body []byte
		_, err := pgx.ForEachRow(found, []any{&seq, &body}, func() error {
			var r R
			err := json.Unmarshal(body, &r)
			(*into)[seq] = append((*into)[seq], r)
			return err
		})
		return err
	})
}

// compare checks what hangs on an event against what the event says, and takes
// it out, so that what is left hangs on nothing.
func (b *beside) compare(v *verification, logged loggedEvent, e core.Event) {
	compareBeside(v, e.ID, "moves", b.moves, logged.seq, moveRows(0, e))
	compareBeside(v, e.ID, "signatures", b.signed, logged.seq, signatureRows(0, e))
	compareBeside(v, e.ID, "readings", b.readings, logged.seq, readingRows(0, e))
	compareBeside(v, e.ID, "inputs", b.inputs, logged.seq, inputRows(0, e))
	if !slices.Equal(logged.pallets, palletsOf(e)) {
		v.fault(FaultRecord, string(e.ID), "it is filed under the pallets %v and is about %v", logged.pallets, palletsOf(e))
	}
	if !slices.Equal(logged.lots, lotsOf(e)) {
		v.fault(FaultRecord, string(e.ID), "it is filed under the lots %v and is about %v", logged.lots, lotsOf(e))
	}
}

func compareBeside[R any](v *verification, id core.EventID, what string, stored map[int64][]R, seq int64, want []R) {
	got := stored[seq]
	delete(stored, seq)
	if len(got) != len(want) {
		v.fault(FaultRecord, string(id), "it has %d %s and %d are stored", len(want), what, len(got))
		return
	}
	for i := range want {
		if g, w := canonical(got[i]), canonical(want[i]); g != w {
			v.fault(FaultRecord, string(id), "number %d of its %s is stored as %s and is %s", i+1, what, g, w)
		}
	}
}

// rest tells what hangs on no event.
func (b *beside) rest(v *verification) {
	restBeside(v, "move", b.moves)
	restBeside(v, "signature", b.signed)
	restBeside(v, "reading", b.readings)
	restBeside(v, "input", b.inputs)
}

func restBeside[R any](v *verification, what string, stored map[int64][]R) {
	for seq, rows := range stored {
		if len(rows) > 0 {
			v.fault(FaultRecord, fmt.Sprintf("number %d", seq), "%d rows of kind %s hang on no event", len(rows), what)
		}
	}
}

// The rows by which an event is found from its pallets, its lots and their orders,
// and a refusal from what it is about.
var indexChecks = []struct{ what, sql string }{
	{"it is missing from the history of pallet", `
		SELECT e.id, x FROM event e, unnest(e.pallets) AS x
		WHERE NOT EXISTS (SELECT FROM event_pallet p WHERE p.pallet = x AND p.seq = e.seq)`},
	{"it is missing from the history of lot", `
		SELECT e.id, x FROM event e, unnest(e.lots) AS x
		WHERE NOT EXISTS (SELECT FROM event_lot l WHERE l.lot = x AND l.seq = e.seq)`},
	{"it stands in the history of a pallet it isn't about,", `
		SELECT coalesce(e.id, 'number ' || p.seq), p.pallet FROM event_pallet p LEFT JOIN event e USING (seq)
		WHERE e.seq IS NULL OR p.pallet <> ALL (e.pallets)`},
	{"it stands in the history of a lot it isn't about,", `
		SELECT coalesce(e.id, 'number ' || l.seq), l.lot FROM event_lot l LEFT JOIN event e USING (seq)
		WHERE e.seq IS NULL OR l.lot <> ALL (e.lots)`},
	{"it is missing from the history of order", `
		SELECT DISTINCT e.id, l.owner_order FROM event e, unnest(e.lots) AS x JOIN lot l ON l.id = x AND l.owner_order <> ''
		WHERE NOT EXISTS (SELECT FROM event_order o WHERE o.order_no = l.owner_order AND o.seq = e.seq)`},
	{"it is missing from the refusals about", `
		SELECT 'refusal ' || r.n, named.kind || ' ' || named.name FROM refusal r, LATERAL (
			SELECT kind, r.body -> 'params' ->> kind FROM unnest(ARRAY['pallet', 'lot', 'order']) AS kind
			UNION
			SELECT 'lot', x FROM jsonb_array_elements_text(CASE jsonb_typeof(r.body -> 'lots') WHEN 'array' THEN r.body -> 'lots' ELSE '[]' END) AS x
		) AS named(kind, name)
		WHERE octet_length(named.name) BETWEEN 1 AND 200
			AND NOT EXISTS (SELECT FROM refusal_about a WHERE a.kind = named.kind AND a.name = named.name AND a.n = r.n)`},
	{"it stands, and is not on record, among the refusals about", `
		SELECT 'refusal ' || a.n, a.kind || ' ' || a.name FROM refusal_about a LEFT JOIN refusal r USING (n) WHERE r.n IS NULL`},
	{"it stands in the history of an order none of whose lots it is about,", `
		SELECT coalesce(e.id, 'number ' || o.seq), o.order_no FROM event_order o LEFT JOIN event e USING (seq)
		WHERE NOT EXISTS (SELECT FROM event_lot x JOIN lot l ON l.id = x.lot WHERE x.seq = o.seq AND l.owner_order = o.order_no)`},
}

func (v *verification) indexes(ctx context.Context) error {
	for _, c := range indexChecks {
		if err := v.faultRows(ctx, c.sql, c.what); err != nil {
			return err
		}
	}
	return nil
}

// commands checks that every event was answered and every answer has its events.
func (v *verification) commands(ctx context.Context) error {
	return firstError(
		v.faultRows(ctx, `
			SELECT e.id, e.command_id FROM event e LEFT JOIN command c ON c.id = e.command_id
			WHERE c.id IS NULL OR e.id <> ALL (c.events)`, "no answer names it, of command"),
		v.faultRows(ctx, `
			SELECT x, c.id FROM command c, unnest(c.events) AS x
			WHERE NOT EXISTS (SELECT FROM event e WHERE e.id = x)`, "it isn't in the log, and is the answer to command"))
}

// faultRows makes a fault of each row of a query: what it is about, and a detail.
func (v *verification) faultRows(ctx context.Context, sql, what string) error {
	found, err := v.tx.Query(ctx, sql)
	if err != nil {
		return err
	}
	var ref, detail string
	_, err = pgx.ForEachRow(found, []any{&ref, &detail}, func() error {
		v.fault(FaultRecord, ref, "%s %s", what, detail)
		return nil
	})
	return err
}
