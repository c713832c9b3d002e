package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// bookRow is a row of one of the book's tables.
type bookRow struct {
	Key  string          `json:"key"`
	Body json.RawMessage `json:"body"`
	Name string          `json:"name,omitempty"` // of a person
}

// bookTables are the book's tables in the order they are written.
var bookTables = []string{"stage", "route", "item", "station", "person", "instrument", "batch"}

// saveRowsSQL adds new rows and replaces those that differ, tells which, and
// keeps what changed. $1 is the rows, $2 the version. Rows alike stay untouched.
func saveRowsSQL(table string) string {
	name, set, differs := "", "", ""
	if table == "person" {
		name, set, differs = ", name", ", name = excluded.name", " OR t.name <> excluded.name"
	}
	return fmt.Sprintf(`
		WITH given AS (
			SELECT key, body, coalesce(name, '') AS name FROM jsonb_to_recordset($1::jsonb) AS x(key text, body jsonb, name text)
		), known AS (
			SELECT key FROM %[1]s WHERE key IN (SELECT key FROM given)
		), saved AS (
			INSERT INTO %[1]s AS t (key, version, body%[2]s) SELECT key, $2, body%[2]s FROM given
			ON CONFLICT (key) DO UPDATE SET version = excluded.version, body = excluded.body%[3]s
			WHERE t.body <> excluded.body%[4]s
			RETURNING key, body
		), kept AS (
			INSERT INTO book_change (version, kind, key, body) SELECT $2, '%[1]s', key, body FROM saved
		)
		SELECT count(*) FILTER (WHERE known.key IS NULL), count(known.key) FROM saved LEFT JOIN known USING (key)`,
		table, name, set, differs)
}

const saveShopSQL = `
	WITH known AS (
		SELECT one FROM shop
	), saved AS (
		INSERT INTO shop AS t (version, body) VALUES ($2, $1)
		ON CONFLICT (one) DO UPDATE SET version = excluded.version, body = excluded.body WHERE t.body <> excluded.body
		RETURNING body
	), kept AS (
		INSERT INTO book_change (version, kind, key, body) SELECT $2, 'shop', 'shop', body FROM saved
	)
	SELECT count(*) FILTER (WHERE NOT EXISTS (SELECT FROM known)), count(*) FILTER (WHERE EXISTS (SELECT FROM known)) FROM saved`

// SaveBook stores catalogue rows. Rows like those stored change nothing, and
// where none differs there is no new version and no event.
func (s *Store) SaveBook(ctx context.Context, by core.PersonID, source string, given app.BookRows) (added, changed int, err error) {
	rows, err := bookRows(given)
	if err != nil {
		return 0, 0, fmt.Errorf("save the book: %w", err)
	}
	err = retry(ctx, func() error {
		return pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) (err error) {
			added, changed, err = s.saveBook(ctx, tx, by, source, given, rows)
			return err
		})
	})
	if err != nil {
		return 0, 0, fmt.Errorf("save the book: %w", err)
	}
	if added+changed > 0 {
		s.wakes.committed()
	}
	return added, changed, nil
}

func (s *Store) saveBook(ctx context.Context, tx pgx.Tx, by core.PersonID, source string, given app.BookRows, rows map[string][]bookRow) (added, changed int, err error) {
	// Everybody else is kept out: lots are judged by one version or the other.
	if _, err := tx.Exec(ctx, lockExclusiveSQL, int32(everybodysLock)); err != nil {
		return 0, 0, err
	}
	var version int64
	if err := tx.QueryRow(ctx, "SELECT version + 1 FROM book_version").Scan(&version); err != nil {
		return 0, 0, err
	}
	count := func(sql string, body []byte) error {
		var a, c int
		if err := tx.QueryRow(ctx, sql, body, version).Scan(&a, &c); err != nil {
			return err
		}
		added, changed = added+a, changed+c
		return nil
	}
	if given.Shop != nil {
		body, err := json.Marshal(given.Shop)
		if err != nil {
			return 0, 0, err
		}
		if err := count(saveShopSQL, body); err != nil {
			return 0, 0, fmt.Errorf("the shop: %w", err)
		}
	}
	for _, table := range bookTables {
		if len(rows[table]) == 0 {
			continue
		}
		body, err := json.Marshal(rows[table])
		if err != nil {
			return 0, 0, err
		}
		if err := count(saveRowsSQL(table), body); err != nil {
			return 0, 0, fmt.Errorf("rows of %s: %w", table, err)
		}
	}
	if added+changed == 0 {
		return 0, 0, nil
	}
	return added, changed, s.stampBook(ctx, tx, by, source, version, rows)
}

// stampBook moves the version on and records that it did.
func (s *Store) stampBook(ctx context.Context, tx pgx.Tx, by core.PersonID, source string, version int64, rows map[string][]bookRow) error {
	if _, err := tx.Exec(ctx, "UPDATE book_version SET version = $1", version); err != nil {
		return err
	}
	now := s.now()
	id := core.CommandID(fmt.Sprintf("book-%d", version))
	e := core.Event{ID: core.EventID(id) + ".1", Kind: core.EvImported, V: 1, Happened: now, Note: source, Ref: string(id), Effects: []core.Effect{}}
	if by != "" {
		e.Signed = []core.Signature{{Person: by, Meaning: core.MeantApproved, At: now}}
	}
	body, err := json.Marshal(rows)
	if err != nil {
		return err
	}
	c := command{Command: core.Command{ID: id, Body: savedBook{}}, sha: sha256.Sum256(body), now: now}
	recorded := []app.Recorded{{Recorded: now, Command: id, Event: e}}
	b := &pgx.Batch{}
	if err := firstError(queueEvents(b, now, recorded, nil), queueCommand(b, c, app.Answer{Command: id, Events: recorded})); err != nil {
		return err
	}
	if err := tx.SendBatch(ctx, b).Close(); err != nil {
		return err
	}
	if len(rows["route"]) == 0 {
		return nil
	}
	return s.rejudgeLots(ctx, tx, version)
}

// savedBook is the kind under which a change of the book is answered.
type savedBook struct{}

func (savedBook) Kind() string      { return "save-book" }
func (savedBook) Names() core.Names { return core.Names{} }

// rejudgeLots writes the next steps of the live lots whose route has changed.
func (s *Store) rejudgeLots(ctx context.Context, tx pgx.Tx, version int64) error {
	book, err := readWholeBook(ctx, tx)
	if err != nil {
		return err
	}
	found, err := tx.Query(ctx, `
		SELECT body FROM lot l WHERE live AND EXISTS (
			SELECT FROM route r WHERE r.version = $1 AND r.key IN (
				(l.body -> 'route' ->> 'name') || ' v' || (l.body -> 'route' ->> 'version'),
				(l.body -> 'rework' -> 'route' ->> 'name') || ' v' || (l.body -> 'rework' -> 'route' ->> 'version')))
		ORDER BY id`, version)
	if err != nil {
		return err
	}
	lots, err := pgx.CollectRows(found, scanBody[core.Lot])
	if err != nil {
		return err
	}
	var changed []lotRow
	for _, l := range lots {
		changed = append(changed, lotRowOf(l, book))
	}
	b := &pgx.Batch{}
	if err := lotTable.queue(b, nil, changed); err != nil {
		return err
	}
	return tx.SendBatch(ctx, b).Close()
}

// bookRows turns what is given into rows of each table.
func bookRows(given app.BookRows) (map[string][]bookRow, error) {
	out := map[string][]bookRow{}
	people := make([]core.Person, len(given.People))
	names := map[string]string{}
	for i, p := range given.People {
		names[string(p.ID)] = p.Name
		p.Name = "" // the name stands in its own column
		people[i] = p
	}
	err := firstError(
		addBookRows(out, "stage", given.Stages, func(x core.Stage) string { return string(x.Name) }),
		addBookRows(out, "route", given.Routes, func(x core.Route) string { return x.RouteRef.String() }),
		addBookRows(out, "item", given.Items, func(x core.Revision) string { return x.Key() }),
		addBookRows(out, "station", given.Stations, func(x core.Station) string { return string(x.ID) }),
		addBookRows(out, "person", people, func(x core.Person) string { return string(x.ID) }),
		addBookRows(out, "instrument", given.Instruments, func(x core.Instrument) string { return x.ID }),
		addBookRows(out, "batch", given.Batches, func(x core.Batch) string { return x.Batch }))
	for i := range out["person"] {
		out["person"][i].Name = names[out["person"][i].Key]
	}
	return out, err
}

func addBookRows[T any](out map[string][]bookRow, table string, given []T, key func(T) string) error {
	at := map[string]int{}
	for _, x := range given {
		body, err := json.Marshal(x)
		if err != nil {
			return fmt.Errorf("%s %s: %w", table, key(x), err)
		}
		row := bookRow{Key: key(x), Body: body}
		if i, twice := at[row.Key]; twice {
			out[table][i] = row // the last of the same key counts
			continue
		}
		at[row.Key] = len(out[table])
		out[table] = append(out[table], row)
	}
	return nil
}

// scanBody reads a row's body as the core's type.
func scanBody[T any](row pgx.CollectableRow) (T, error) {
	var v T
	var body []byte
	if err := row.Scan(&body); err != nil {
		return v, err
	}
	return v, json.Unmarshal(body, &v)
}
