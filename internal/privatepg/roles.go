package privatepg

import (
	"context"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
)

// The roles of a Tagalong database.
const (
	OwnerRole = "tagalong_owner" // owns the schema; used to migrate
	AppRole   = "tagalong_app"   // used to serve; may not change what is recorded
)

// Schema is the schema all of Tagalong's tables live in; both roles look there first.
const Schema = "tagalong"

// Passwords are the passwords of the two roles.
type Passwords struct{ Owner, App string }

// rolesLock is an arbitrary number that keeps two processes from making the same role at once.
const rolesLock = 0x7461_6761_6c6f_6e67

// EnsureRoles makes the two roles, or sets their passwords where they exist, and the database db owned by the
// owner unless it exists; with db "" it makes none. superURL must name a superuser and the database "postgres":
// roles belong to the whole server, while the lock taken here holds only within one database.
func EnsureRoles(ctx context.Context, superURL, db string, pw Passwords) error {
	conn, err := pgx.Connect(ctx, superURL)
	if err != nil {
		return fmt.Errorf("ensure roles: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock($1)", int64(rolesLock)); err != nil {
		return fmt.Errorf("ensure roles: %w", err)
	}
	for _, r := range []struct{ name, password string }{{OwnerRole, pw.Owner}, {AppRole, pw.App}} {
		if err := ensureRole(ctx, conn, r.name, r.password); err != nil {
			return fmt.Errorf("ensure role %s: %w", r.name, err)
		}
	}
	if db == "" {
		return nil
	}
	if err := ensureDatabase(ctx, conn, db); err != nil {
		return fmt.Errorf("ensure database %s: %w", db, err)
	}
	return nil
}

func ensureRole(ctx context.Context, conn *pgx.Conn, name, password string) error {
	var exists bool
	if err := conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM pg_roles WHERE rolname = $1)", name).Scan(&exists); err != nil {
		return err
	}
	verb := "CREATE"
	if exists {
		verb = "ALTER"
	}
	role := pgx.Identifier{name}.Sanitize()
	_, err := conn.Exec(ctx, fmt.Sprintf("%s ROLE %s LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE PASSWORD %s", verb, role, quoteLiteral(password)))
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, fmt.Sprintf("ALTER ROLE %s SET search_path = %s", role, Schema))
	return err
}

func ensureDatabase(ctx context.Context, conn *pgx.Conn, db string) error {
	var exists bool
	if err := conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)", db).Scan(&exists); err != nil {
		return err
	}
	name := pgx.Identifier{db}.Sanitize()
	if !exists {
		if _, err := conn.Exec(ctx, fmt.Sprintf("CREATE DATABASE %s OWNER %s", name, OwnerRole)); err != nil {
			return err
		}
	}
	for _, sql := range []string{"REVOKE ALL ON DATABASE %s FROM PUBLIC", "GRANT CONNECT ON DATABASE %s TO " + AppRole} {
		if _, err := conn.Exec(ctx, fmt.Sprintf(sql, name)); err != nil {
			return err
		}
	}
	return nil
}

// quoteLiteral quotes a string for SQL, for the statements that take no parameters.
func quoteLiteral(s string) string {
	return "'" + strings.ReplaceAll(s, "'", "''") + "'"
}
