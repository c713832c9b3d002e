package migrations_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"testing/fstest"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/postgres/pgtest"
	"tagalong/internal/privatepg"
	"tagalong/migrations"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

func file(sql string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(sql)} }

func connect(t *testing.T, address string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(context.Background()) })
	return conn
}

func state(t *testing.T, conn *pgx.Conn) string {
	t.Helper()
	var version int
	var marked bool
	if err := conn.QueryRow(t.Context(), "SELECT version, dirty FROM tagalong.schema_migrations").Scan(&version, &marked); err != nil {
		t.Fatal(err)
	}
	return fmt.Sprint(version, marked)
}

func TestFileThatFailsLeavesNothingAndMayBeRunAgain(t *testing.T) {
	db := pgtest.NewEmpty(t)
	conn := connect(t, db.OwnerURL)
	files := fstest.MapFS{
		"000001_a.up.sql": file("CREATE TABLE a (n int)"),
		"000002_b.up.sql": file("CREATE TABLE b (n int); INSERT INTO b SELECT 1 / 0 -- planted"),
	}
	for range 2 { // the second time as the first
		if err := migrations.UpFrom(t.Context(), db.OwnerURL, files); err == nil {
			t.Fatal("a file that divides by zero went well")
		}
		var a, b bool
		if err := conn.QueryRow(t.Context(), "SELECT to_regclass('tagalong.a') IS NOT NULL, to_regclass('tagalong.b') IS NOT NULL").Scan(&a, &b); err != nil {
			t.Fatal(err)
		}
		if !a || b {
			t.Errorf("table a is there: %v, table b: %v; want true, false", a, b)
		}
	}
	files["000002_b.up.sql"] = file("CREATE TABLE b (n int) -- put right")
	if err := migrations.UpFrom(t.Context(), db.OwnerURL, files); err != nil {
		t.Errorf("put right: %v", err)
	}
	if got := state(t, conn); got != "2 false" {
		t.Errorf("version and mark: %s", got)
	}
}

func TestFileCutShortIsRunAgain(t *testing.T) {
	for _, first := range []bool{true, false} {
		db := pgtest.NewEmpty(t)
		conn := connect(t, db.OwnerURL)
		all := fstest.MapFS{"000001_a.up.sql": file("CREATE TABLE a (n int)"), "000002_b.up.sql": file("CREATE TABLE b (n int)")}
		done, marked := fstest.MapFS{"000001_a.up.sql": all["000001_a.up.sql"]}, 2
		if first {
			done["000001_a.up.sql"], marked = file("SELECT 1"), 1
		}
		if err := migrations.UpFrom(t.Context(), db.OwnerURL, done); err != nil {
			t.Fatal(err)
		}
		// What a kill leaves after the mark was set and before the file was run.
		if _, err := conn.Exec(t.Context(), "UPDATE tagalong.schema_migrations SET version = $1, dirty = true", marked); err != nil {
			t.Fatal(err)
		}
		if err := migrations.UpFrom(t.Context(), db.OwnerURL, all); err != nil {
			t.Errorf("version %d cut short: %v", marked, err)
		}
		if got := state(t, conn); got != "2 false" {
			t.Errorf("version and mark: %s", got)
		}
		if _, err := conn.Exec(t.Context(), "INSERT INTO tagalong.a SELECT 1 FROM tagalong.b"); err != nil {
			t.Error(err)
		}
	}
}

// TestOwnDatabaseWithoutTheRole is that of a user who brings a server of their own and has few rights on it.
func TestOwnDatabaseWithoutTheRole(t *testing.T) {
	dir, err := os.MkdirTemp("", "migrations-")
	if err == nil {
		err = os.Chmod(dir, 0o711) // the account PostgreSQL runs as passes through
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	s, err := privatepg.Start(context.Background(), privatepg.Options{Dir: filepath.Join(dir, "pg"), NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Stop(context.Background()); err != nil {
			t.Error(err)
		}
	})
	super := connect(t, s.SuperURL())
	run := func(sql string) {
		t.Helper()
		if _, err := super.Exec(t.Context(), sql); err != nil {
			t.Fatalf("%s: %v", sql, err)
		}
	}
	config, err := pgx.ParseConfig(s.URL("theirs", "shop keeper"))
	if err != nil {
		t.Fatal(err)
	}
	run(`CREATE ROLE "shop keeper" LOGIN PASSWORD '` + config.Password + `'`)
	run(`CREATE DATABASE theirs OWNER "shop keeper"`)
	address := s.URL("theirs", "shop keeper")
	var missing *migrations.MissingRightError
	if err := migrations.Up(t.Context(), address); !errors.As(err, &missing) || missing.Role != "shop keeper" {
		t.Fatalf("without the role: %v", err)
	}
	run(missing.Grant) // what the error says to run is what helps
	if err := migrations.Up(t.Context(), address); err != nil {
		t.Errorf("with the role: %v", err)
	}
	if _, err := connect(t, address).Exec(t.Context(), "SET ROLE tagalong_app"); err != nil {
		t.Errorf("work as the role: %v", err)
	}

	// One who may make roles needs nobody.
	run(`CREATE DATABASE second OWNER "shop keeper"`)
	if _, err := connect(t, address).Exec(t.Context(), "DROP SCHEMA tagalong CASCADE"); err != nil {
		t.Fatal(err)
	}
	run("DROP ROLE tagalong_app")
	run(`ALTER ROLE "shop keeper" CREATEROLE`)
	second := s.URL("second", "shop keeper")
	if err := migrations.Up(t.Context(), second); err != nil {
		t.Errorf("by one who may make roles: %v", err)
	}
	if _, err := connect(t, second).Exec(t.Context(), "SET ROLE tagalong_app"); err != nil {
		t.Errorf("work as the role made: %v", err)
	}
}

func TestFilesAreNumberedInPairs(t *testing.T) {
	names, err := fs.Glob(migrations.Files(), "*")
	if err != nil {
		t.Fatal(err)
	}
	if len(names) == 0 || len(names)%2 != 0 {
		t.Fatalf("%d files", len(names))
	}
	form := regexp.MustCompile(`^(\d{6}_[a-z0-9_]+)\.(up|down)\.sql$`)
	for i := 0; i < len(names); i += 2 { // sorted: down before up
		down, up := form.FindStringSubmatch(names[i]), form.FindStringSubmatch(names[i+1])
		if down == nil || up == nil || down[1] != up[1] || down[2] != "down" || up[2] != "up" || down[1][:6] != fmt.Sprintf("%06d", i/2+1) {
			t.Errorf("%s and %s aren't the pair number %d", names[i], names[i+1], i/2+1)
		}
	}
}
