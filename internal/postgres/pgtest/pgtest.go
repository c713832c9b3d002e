// Package pgtest gives every test a PostgreSQL database of its own, with Tagalong's schema in it.
//
// The databases are copies of a template that is migrated once. They live on one server: the one named by
// TAGALONG_TEST_SERVER (`make test` starts it for all packages), else a container where a container engine
// answers, else a private server. Where no server can be had the test fails; it is never skipped.
//
// A package that uses pgtest has
//
//	func TestMain(m *testing.M) { pgtest.Main(m) }
package pgtest

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/privatepg"
)

// DB is a test's own database.
type DB struct {
	Name     string
	AppURL   string // as the role the server works as
	OwnerURL string // as the role that owns the schema
	SuperURL string // as the server's superuser, to break things on purpose
}

var shared struct {
	once      sync.Once
	mainRuns  bool
	template  string
	server    *testServer
	err       error
	templates []string // names of the databases that Template made
}

// Main runs a package's tests and stops the server they used. It takes *testing.M, or what else runs them.
func Main(m interface{ Run() int }) {
	shared.mainRuns = true
	code := m.Run()
	if shared.server != nil {
		if err := errors.Join(dropTemplates(), shared.server.Stop()); err != nil {
			fmt.Fprintln(os.Stderr, "pgtest:", err)
			code = max(code, 1)
		}
	}
	os.Exit(code)
}

// URL returns the address of a new database for the application's role; it is dropped after the test.
func URL(t testing.TB) string {
	t.Helper()
	return New(t).AppURL
}

// New makes a migrated database; it is dropped after the test, with whatever is still connected to it.
func New(t testing.TB) *DB {
	t.Helper()
	server, template := use(t)
	return create(t, server, "TEMPLATE "+template)
}

// NewEmpty makes a database without the schema, owned by the owner's role, to test migrations and restores with.
func NewEmpty(t testing.TB) *DB {
	t.Helper()
	server, _ := use(t)
	return create(t, server, "TEMPLATE template0")
}

// NewDurable makes a migrated database on a private server of its own that waits for the disk as a shop's does, to
// measure what people wait for.
func NewDurable(t testing.TB) *DB {
	t.Helper()
	dir, err := os.MkdirTemp("", folderPrefix) // not the test's own, which PostgreSQL's account may not enter
	if err != nil {
		t.Fatal(err)
	}
	server, err := startSyncing(t.Context(), dir, os.Stderr, true)
	if err != nil {
		t.Fatalf("pgtest: start a server that waits for the disk: %v", err)
	}
	t.Cleanup(func() {
		if err := server.Stop(); err != nil {
			t.Errorf("pgtest: stop the server: %v", err)
		}
	})
	template, err := ensureTemplate(t.Context(), server.superURL)
	if err != nil {
		t.Fatalf("pgtest: make the schema: %v", err)
	}
	return makeKept(t, server, "TEMPLATE "+template)
}

func use(t testing.TB) (*testServer, string) {
	t.Helper()
	if !shared.mainRuns {
		t.Fatal("pgtest: the package needs func TestMain(m *testing.M) { pgtest.Main(m) }")
	}
	shared.once.Do(func() {
		ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
		defer cancel()
		if shared.server, shared.err = connect(ctx, os.Stderr); shared.err == nil {
			shared.template, shared.err = ensureTemplate(ctx, shared.server.superURL)
		}
	})
	if shared.err != nil {
		t.Fatalf("pgtest: no database to test with: %v", shared.err)
	}
	return shared.server, shared.template
}

// create makes a database that is dropped after the test.
func create(t testing.TB, server *testServer, template string) *DB {
	t.Helper()
	db := makeKept(t, server, template)
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		if err := execute(ctx, server.superURL, fmt.Sprintf("DROP DATABASE IF EXISTS %s WITH (FORCE)", db.Name)); err != nil {
			t.Errorf("pgtest: drop the database: %v", err)
		}
	})
	return db
}

func makeKept(t testing.TB, server *testServer, template string) *DB {
	t.Helper()
	name := "test_" + strings.ToLower(rand.Text()[:16])
	if err := execute(t.Context(), server.superURL,
		fmt.Sprintf("CREATE DATABASE %s OWNER %s %s", name, privatepg.OwnerRole, template)); err != nil {
		t.Fatalf("pgtest: make a database: %v", err)
	}
	return &DB{
		Name:     name,
		AppURL:   addressFor(server.superURL, name, privatepg.AppRole, testPasswords.App),
		OwnerURL: addressFor(server.superURL, name, privatepg.OwnerRole, testPasswords.Owner),
		SuperURL: withDatabase(server.superURL, name),
	}
}

func execute(ctx context.Context, address string, statements ...string) error {
	conn, err := pgx.Connect(ctx, address)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	for _, sql := range statements {
		if _, err := conn.Exec(ctx, sql); err != nil {
			return fmt.Errorf("%s: %w", sql, err)
		}
	}
	return nil
}

// testPasswords are the same on every test server, because packages tested side by side share its roles.
var testPasswords = privatepg.Passwords{Owner: "owner-of-a-test", App: "app-of-a-test"}

func addressFor(superURL, db, role, password string) string {
	u, err := url.Parse(superURL)
	if err != nil {
		panic("pgtest: the server's address was parsed before: " + err.Error())
	}
	u.Path = "/" + db
	u.User = url.UserPassword(role, password)
	return u.String()
}

func withDatabase(superURL, db string) string {
	u, err := url.Parse(superURL)
	if err != nil {
		panic("pgtest: the server's address was parsed before: " + err.Error())
	}
	u.Path = "/" + db
	return u.String()
}
