// Package migrations holds the database schema as numbered SQL files and brings a database up to date.
//
// A migration is a pair of files NNNNNN_name.up.sql and NNNNNN_name.down.sql. Each runs once, in order, with the
// schema "tagalong" first on the search path, so its tables need no prefix. A file that has been released is
// never changed; a later file puts it right.
package migrations

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/golang-migrate/migrate/v4"
	migratepgx "github.com/golang-migrate/migrate/v4/database/pgx/v5"
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

// Up brings the database named by ownerURL up to date. The role it names must own the schema "tagalong", or may
// make it. A missing right is named in the error, and nothing is changed then. Two servers starting together
// wait for each other.
func Up(ctx context.Context, ownerURL string) error {
	config, err := pgx.ParseConfig(ownerURL)
	if err != nil {
		return fmt.Errorf("the database address isn't one: %w", err)
	}
	config.RuntimeParams["search_path"] = Schema
	if err := ensureSchema(ctx, config); err != nil {
		return err
	}
	source, err := iofs.New(files, ".")
	if err != nil {
		return fmt.Errorf("read migrations: %w", err)
	}
	db := stdlib.OpenDB(*config)
	driver, err := migratepgx.WithInstance(db, &migratepgx.Config{SchemaName: Schema})
	if err != nil {
		return errors.Join(fmt.Errorf("prepare migrations: %w", err), source.Close(), db.Close())
	}
	m, err := migrate.NewWithInstance("embedded", source, "tagalong", driver)
	if err != nil {
		return errors.Join(fmt.Errorf("prepare migrations: %w", err), source.Close(), driver.Close())
	}
	stop := context.AfterFunc(ctx, func() { m.GracefulStop <- true })
	defer stop()
	if err = m.Up(); errors.Is(err, migrate.ErrNoChange) {
		err = nil
	}
	errSource, errDatabase := m.Close()
	if err == nil {
		err = ctx.Err() // stopped between two files
	}
	if err = errors.Join(err, errSource, errDatabase); err != nil {
		return fmt.Errorf("bring the database up to date: %w", err)
	}
	return nil
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

// ensureSchema makes the schema where it is missing, and checks that it is ours where it is not.
func ensureSchema(ctx context.Context, config *pgx.ConnConfig) error {
	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	var role, database string
	var exists, owns, mayMake bool
	err = conn.QueryRow(ctx, `
		SELECT current_user, current_database(),
			EXISTS (SELECT FROM pg_namespace WHERE nspname = $1),
			EXISTS (SELECT FROM pg_namespace WHERE nspname = $1 AND pg_has_role(nspowner, 'USAGE')),
			has_database_privilege(current_database(), 'CREATE')`, Schema).
		Scan(&role, &database, &exists, &owns, &mayMake)
	if err != nil {
		return fmt.Errorf("look at the database: %w", err)
	}
	quotedRole := pgx.Identifier{role}.Sanitize()
	switch {
	case exists && owns:
		return nil
	case exists:
		return &MissingRightError{role, database, "change the schema " + Schema,
			fmt.Sprintf("ALTER SCHEMA %s OWNER TO %s;", Schema, quotedRole)}
	case !mayMake:
		return &MissingRightError{role, database, "make the schema " + Schema,
			fmt.Sprintf("CREATE SCHEMA %s AUTHORIZATION %s;", Schema, quotedRole)}
	}
	// Another server may be making it at this moment; IF NOT EXISTS alone doesn't wait for that.
	_, err = conn.Exec(ctx, "BEGIN; SELECT pg_advisory_xact_lock(7022364301936848228); CREATE SCHEMA IF NOT EXISTS "+Schema+"; COMMIT")
	if err != nil {
		return fmt.Errorf("make the schema %s: %w", Schema, err)
	}
	return nil
}
