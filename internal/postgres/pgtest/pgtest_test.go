package pgtest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"tagalong/internal/privatepg"
	"tagalong/migrations"
)

func TestMain(m *testing.M) { Main(m) }

func open(t *testing.T, address string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(context.Background()) })
	return conn
}

func TestDatabasesAreApartAndMigrated(t *testing.T) {
	a, b := New(t), New(t)
	if a.Name == b.Name {
		t.Fatalf("two tests share the database %s", a.Name)
	}
	owner := open(t, a.OwnerURL)
	if _, err := owner.Exec(t.Context(), "CREATE TABLE only_here (n int)"); err != nil {
		t.Fatal(err)
	}
	var inA, inB bool
	const there = "SELECT to_regclass('tagalong.only_here') IS NOT NULL"
	if err := owner.QueryRow(t.Context(), there).Scan(&inA); err != nil {
		t.Fatal(err)
	}
	if err := open(t, b.OwnerURL).QueryRow(t.Context(), there).Scan(&inB); err != nil {
		t.Fatal(err)
	}
	if !inA || inB {
		t.Errorf("the table is in the first database: %v, in the second: %v; want true, false", inA, inB)
	}
	var version int
	var dirty bool
	if err := owner.QueryRow(t.Context(), "SELECT version, dirty FROM tagalong.schema_migrations").Scan(&version, &dirty); err != nil {
		t.Fatal(err)
	}
	if version < 1 || dirty {
		t.Errorf("schema version %d, dirty %v", version, dirty)
	}
}

func TestApplicationRoleIsNotTheOwner(t *testing.T) {
	app := open(t, URL(t))
	var user, path string
	var super bool
	err := app.QueryRow(t.Context(), "SELECT current_user, current_setting('search_path'), rolsuper FROM pg_roles WHERE rolname = current_user").Scan(&user, &path, &super)
	if err != nil {
		t.Fatal(err)
	}
	if user != privatepg.AppRole || super || path != migrations.Schema {
		t.Errorf("role %q, superuser %v, search path %q", user, super, path)
	}
	_, err = app.Exec(t.Context(), "CREATE TABLE tagalong.mine (n int)")
	var pgErr *pgconn.PgError
	if !errors.As(err, &pgErr) || pgErr.Code != "42501" { // insufficient_privilege, PostgreSQL manual, appendix A
		t.Errorf("the application's role made a table in the schema: %v", err)
	}
}

func TestMigrationsMayRunTwiceAndSideBySide(t *testing.T) {
	db := NewEmpty(t)
	var wg sync.WaitGroup
	results := make([]error, 4)
	for i := range results {
		wg.Go(func() { results[i] = migrations.Up(t.Context(), db.OwnerURL) })
	}
	wg.Wait()
	for _, err := range append(results, migrations.Up(t.Context(), db.OwnerURL)) {
		if err != nil {
			t.Error(err)
		}
	}
}

func TestMigrationsNameTheMissingRight(t *testing.T) {
	db := NewEmpty(t)
	appURL := addressFor(db.SuperURL, db.Name, privatepg.AppRole, testPasswords.App)
	var missing *migrations.MissingRightError
	if err := migrations.Up(t.Context(), appURL); !errors.As(err, &missing) || missing.Role != privatepg.AppRole {
		t.Fatalf("no right to make the schema: %v", err)
	}
	// What the error says to run is what helps.
	if err := execute(t.Context(), db.SuperURL, missing.Grant); err != nil {
		t.Fatal(err)
	}
	if err := migrations.Up(t.Context(), appURL); err != nil {
		t.Error(err)
	}
	missing = nil
	err := migrations.Up(t.Context(), db.OwnerURL)
	if !errors.As(err, &missing) || missing.Role != privatepg.OwnerRole {
		t.Errorf("the schema belongs to another role: %v", err)
	}
}

func TestDatabaseIsDroppedAfterTheTest(t *testing.T) {
	var db *DB
	t.Run("inner", func(t *testing.T) {
		db = New(t)
		if _, err := pgx.Connect(context.Background(), db.AppURL); err != nil { // left open on purpose
			t.Fatal(err)
		}
	})
	conn, err := pgx.Connect(t.Context(), db.AppURL)
	var pgErr *pgconn.PgError
	if !errors.As(err, &pgErr) || pgErr.Code != "3D000" { // invalid_catalog_name, PostgreSQL manual, appendix A
		t.Errorf("connected to %v after the test: %v", conn, err)
	}
}

func TestTextSortsByCodePoint(t *testing.T) {
	conn := open(t, URL(t))
	var sorted, upper string
	err := conn.QueryRow(t.Context(), "SELECT string_agg(c, '' ORDER BY c), upper('äöł') FROM unnest(array['a','Z','ä','z','A']) c").Scan(&sorted, &upper)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := fmt.Sprint(sorted, upper), "AZazäÄÖŁ"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestCopiesHoldWhatTheTemplateHolds(t *testing.T) {
	filled := 0
	template := &Template{Fill: func(t testing.TB, db *DB) {
		filled++
		if err := execute(t.Context(), db.OwnerURL, "CREATE TABLE kept AS SELECT 42 AS n"); err != nil {
			t.Fatal(err)
		}
	}}
	var first *DB
	for range 2 {
		t.Run("copy", func(t *testing.T) {
			db := template.Copy(t)
			if first == nil {
				first = db
			} else if db.Name == first.Name {
				t.Error("two tests share a copy")
			}
			conn := open(t, db.OwnerURL)
			var rows, sum int
			if err := conn.QueryRow(t.Context(), "SELECT count(*), sum(n) FROM kept").Scan(&rows, &sum); err != nil || rows != 1 || sum != 42 {
				t.Errorf("%d rows of %d, %v", rows, sum, err)
			}
			if _, err := conn.Exec(t.Context(), "INSERT INTO kept VALUES (1)"); err != nil { // not seen by the next
				t.Error(err)
			}
		})
	}
	if filled != 1 {
		t.Errorf("the template was filled %d times", filled)
	}
}
