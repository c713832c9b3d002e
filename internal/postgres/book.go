package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // zones are the same on every machine

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// bookSQL reads the whole book in one snapshot.
const bookSQL = `
	SELECT 'version', to_jsonb(version), '' FROM book_version
	UNION ALL SELECT 'shop', body, '' FROM shop
	UNION ALL SELECT 'stage', body, '' FROM stage
	UNION ALL SELECT 'route', body, '' FROM route
	UNION ALL SELECT 'item', body, '' FROM item
	UNION ALL SELECT 'station', body, '' FROM station
	UNION ALL SELECT 'person', body, name FROM person
	UNION ALL SELECT 'instrument', body, '' FROM instrument
	UNION ALL SELECT 'batch', body, '' FROM batch`

// querier is a connection or a pool.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
}

// Book is the catalogue at its present version. It is cached, and read anew
// when the version has moved on; a command does that by itself.
func (s *Store) Book(ctx context.Context) (*core.Book, error) {
	// One connection for both: who waits for the one who reads holds one too.
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return nil, fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Release()
	var version int64
	if err := conn.QueryRow(ctx, "SELECT version FROM book_version").Scan(&version); err != nil {
		return nil, fmt.Errorf("read the book's version: %w", err)
	}
	if b := s.book.Load(); b != nil && b.Version >= version {
		return b, nil
	}
	return s.readBook(ctx, conn, version)
}

// readBook reads the book unless somebody has meanwhile read this version.
func (s *Store) readBook(ctx context.Context, q querier, version int64) (*core.Book, error) {
	s.bookLoad.Lock()
	defer s.bookLoad.Unlock()
	if b := s.book.Load(); b != nil && b.Version >= version {
		return b, nil
	}
	b, err := readWholeBook(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("read the book: %w", err)
	}
	s.book.Store(b)
	return b, nil
}

func readWholeBook(ctx context.Context, q querier) (*core.Book, error) {
	found, err := q.Query(ctx, bookSQL)
	if err != nil {
		return nil, err
	}
	b := newBook()
	var own []core.Stage
	var kind, name string
	var body []byte
	_, err = pgx.ForEachRow(found, []any{&kind, &body, &name}, func() error {
		if err := takeIntoBook(b, &own, kind, body, name); err != nil {
			return fmt.Errorf("a stored %s: %w", kind, err)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	overlay(&b.Table, own, b.Version)
	return b, nil
}

// newBook is the book of a shop that has laid nothing down yet.
func newBook() *core.Book {
	return &core.Book{Zone: time.UTC, Table: core.DefaultStages(), Routes: map[core.RouteRef]core.Route{},
		Items: map[core.ItemRev]core.Revision{}, Stations: map[core.StationID]core.Station{}, People: map[core.PersonID]core.Person{},
		Instruments: map[string]core.Instrument{}, Batches: map[string]core.Batch{}}
}

func takeIntoBook(b *core.Book, stages *[]core.Stage, kind string, body []byte, name string) error {
	switch kind {
	case "version":
		return json.Unmarshal(body, &b.Version)
	case "shop":
		var shop app.Shop
		if err := json.Unmarshal(body, &shop); err != nil {
			return err
		}
		zone, err := time.LoadLocation(shop.Zone)
		b.Shop, b.Zone = shop.Name, zone
		return err
	case "stage":
		var st core.Stage
		err := json.Unmarshal(body, &st)
		*stages = append(*stages, st)
		return err
	case "route":
		return take(body, b.Routes, func(r core.Route) core.RouteRef { return r.RouteRef })
	case "item":
		return take(body, b.Items, func(r core.Revision) core.ItemRev { return r.ItemRev })
	case "station":
		return take(body, b.Stations, func(s core.Station) core.StationID { return s.ID })
	case "instrument":
		return take(body, b.Instruments, func(i core.Instrument) string { return i.ID })
	case "batch":
		return take(body, b.Batches, func(x core.Batch) string { return x.Batch })
	}
	var p core.Person
	err := json.Unmarshal(body, &p)
	p.Name = name
	b.People[p.ID] = p
	return err
}

// overlay puts the shop's own stages over the defaults: a known name replaces
// the row, a new one stands at the end. The table's version is then the book's,
// above every version of the defaults.
func overlay(t *core.StageTable, own []core.Stage, version int64) {
	if len(own) == 0 {
		return
	}
	slices.SortFunc(own, func(a, b core.Stage) int { return strings.Compare(string(a.Name), string(b.Name)) })
	for _, st := range own {
		if _, known := t.Stages[st.Name]; !known {
			t.Order = append(t.Order, st.Name)
		}
		t.Stages[st.Name] = st
	}
	t.Version = t.Version*1_000_000 + int(version)
}

// Shop is the shop's own row; app.ErrNotFound before there is one.
func (s *Store) Shop(ctx context.Context) (app.Shop, error) {
	var shop app.Shop
	var body []byte
	err := s.pool.QueryRow(ctx, "SELECT body FROM shop").Scan(&body)
	if errors.Is(err, pgx.ErrNoRows) {
		return shop, app.ErrNotFound
	}
	if err != nil {
		return shop, fmt.Errorf("read the shop: %w", err)
	}
	return shop, json.Unmarshal(body, &shop)
}
