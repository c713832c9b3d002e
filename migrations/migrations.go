// Package migrations holds the database schema as numbered SQL files and brings a database up to date.
//
// A migration is a pair of files NNNNNN_name.up.sql and NNNNNN_name.down.sql. Each runs once, in order, with the
// schema "tagalong" first on the search path, so its tables need no prefix, and in one transaction, so it holds
// nothing that can't be in one (such as CREATE INDEX CONCURRENTLY). A file that has been released is never changed;
// a later file puts it right.
package migrations

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"

	"github.com/golang-migrate/migrate/v4"
	"github.com/golang-migrate/migrate/v4/database"
	migratepgx "github.com/golang-migrate/migrate/v4/database/pgx/v5"
	"github.com/golang-migrate/migrate/v4/source"
	"github.com/golang-migrate/migrate/v4/source/iofs"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
)

//go:embed *.sql
var files embed.FS

// Files returns the SQL files.
func Files() fs.FS { return files }

// Schema is the schema the migrations make their tables in.
const Schema = "tagalong"

// appRole is the role the server works as.
const appRole = "tagalong_app"

// upLock is an arbitrary number that lets one server at a time bring a database up to date.
const upLock = 0x7461_6761_6c75_7000

// Up brings the database named by ownerURL up to date. The role it names must own the schema "tagalong", or may
// make it. A missing right is named in the error, and nothing is changed then. Two servers starting together
// wait for each other, and what was cut short by a kill or a failure is done again.
func Up(ctx context.Context, ownerURL string) error { return up(ctx, ownerURL, files) }

func up(ctx context.Context, ownerURL string, files fs.FS) error {
	config, err := pgx.ParseConfig(ownerURL)
	if err != nil {
		return fmt.Errorf("the database address isn't one: %w", err)
	}
	config.RuntimeParams["search_path"] = Schema
	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx)) // and with it the lock
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock($1)", int64(upLock)); err != nil {
		return fmt.Errorf("wait for another server to bring the database up to date: %w", err)
	}
	if err := ensureSchema(ctx, conn); err != nil {
		return err
	}
	m, source, err := newMigrate(config, files)
	if err != nil {
		return fmt.Errorf("prepare migrations: %w", err)
	}
	stop := context.AfterFunc(ctx, func() { m.GracefulStop <- true })
	defer stop()
	if err = undoMark(m, source); err == nil {
		err = m.Up()
	}
	if errors.Is(err, migrate.ErrNoChange) {
		err = nil
	}
	errSource, errDatabase := m.Close()
	if err == nil {
		err = ctx.Err() // stopped between two files
	}
	if err = errors.Join(err, errSource, errDatabase); err != nil {
		return fmt.Errorf("bring the database up to date: %w. What had been recorded is kept", err)
	}
	return nil
}

func newMigrate(config *pgx.ConnConfig, files fs.FS) (*migrate.Migrate, source.Driver, error) {
	source, err := iofs.New(files, ".")
	if err != nil {
		return nil, nil, err
	}
	db := stdlib.OpenDB(*config)
	driver, err := migratepgx.WithInstance(db, &migratepgx.Config{SchemaName: Schema})
	if err != nil {
		return nil, nil, errors.Join(err, source.Close(), db.Close())
	}
	m, err := migrate.NewWithInstance("embedded", source, "tagalong", wholeFiles{driver})
	if err != nil {
		return nil, nil, errors.Join(err, source.Close(), driver.Close())
	}
	return m, source, nil
}

// wholeFiles runs a file and takes the mark "being run" off its version in one transaction: PostgreSQL runs the
// statements of one simple query as one. So a version that bears the mark hasn't been applied, whatever was killed.
type wholeFiles struct{ database.Driver }

func (d wholeFiles) Run(migration io.Reader) error {
	const unmark = "\n;\nUPDATE " + Schema + ".schema_migrations SET dirty = false;\n"
	return d.Driver.Run(io.MultiReader(migration, strings.NewReader(unmark)))
}

// undoMark goes back to the version before one that was cut short. The caller holds the lock, so nobody is at it.
func undoMark(m *migrate.Migrate, source source.Driver) error {
	version, marked, err := m.Version()
	if errors.Is(err, migrate.ErrNilVersion) {
		return nil
	}
	if err != nil || !marked {
		return err
	}
	before, err := source.Prev(version)
	if errors.Is(err, fs.ErrNotExist) {
		return m.Force(database.NilVersion)
	}
	if err != nil {
		return err
	}
	return m.Force(int(before))
}

// MissingRightError says which right the role lacks on a database somebody else looks after.
type MissingRightError struct {
	Role, Database string
	Right          string // what it must be able to do
	Grant          string // the SQL that gives it the right
}

func (e *MissingRightError) Error() string {
	return fmt.Sprintf("the role %q must be able to %s in the database %q, and isn't. Nothing was changed. "+
		"Have its administrator run: %s", e.Role, e.Right, e.Database, e.Grant)
}

// ensureSchema makes the schema where it is missing, and checks that it is ours where it is not. It checks first
// what the files will need, so that none fails for a missing right.
func ensureSchema(ctx context.Context, conn *pgx.Conn) error {
	var role, database string
	var exists, owns, mayMake, appExists, mayMakeRoles bool
	err := conn.QueryRow(ctx, `
		SELECT current_user, current_database(),
			EXISTS (SELECT FROM pg_namespace WHERE nspname = $1),
			EXISTS (SELECT FROM pg_namespace WHERE nspname = $1 AND pg_has_role(nspowner, 'USAGE')),
			has_database_privilege(current_database(), 'CREATE'),
			EXISTS (SELECT FROM pg_roles WHERE rolname = $2),
			(SELECT rolsuper OR rolcreaterole FROM pg_roles WHERE rolname = current_user)`, Schema, appRole).
		Scan(&role, &database, &exists, &owns, &mayMake, &appExists, &mayMakeRoles)
	if err != nil {
		return fmt.Errorf("look at the database: %w", err)
	}
	quotedRole := pgx.Identifier{role}.Sanitize()
	switch {
	case exists && !owns:
		return &MissingRightError{role, database, "change the schema " + Schema,
			fmt.Sprintf("ALTER SCHEMA %s OWNER TO %s;", Schema, quotedRole)}
	case !exists && !mayMake:
		return &MissingRightError{role, database, "make the schema " + Schema,
			fmt.Sprintf("CREATE SCHEMA %s AUTHORIZATION %s;", Schema, quotedRole)}
	case !appExists && !mayMakeRoles:
		return &MissingRightError{role, database, "work as the role " + appRole + ", which is missing,",
			fmt.Sprintf("CREATE ROLE %s NOLOGIN; GRANT %s TO %s;", appRole, appRole, quotedRole)}
	case exists:
		return nil
	}
	if _, err = conn.Exec(ctx, "CREATE SCHEMA "+Schema); err != nil {
		return fmt.Errorf("make the schema %s: %w", Schema, err)
	}
	return nil
}
