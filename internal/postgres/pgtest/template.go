package pgtest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/privatepg"
	"tagalong/migrations"
)

// templateLock is an arbitrary number that lets one package at a time look for the template and make it.
const templateLock = 0x7465_6d70_6c61_7465

// ensureTemplate returns the name of a database that holds the present migrations, and makes it where it is missing.
// The name holds a digest of the files, so a server that outlives a change of the schema gets a new one.
func ensureTemplate(ctx context.Context, superURL string) (string, error) {
	digest, err := migrationsDigest(migrations.Files())
	if err != nil {
		return "", err
	}
	name := "template_" + digest

	if err := privatepg.EnsureRoles(ctx, superURL, "", testPasswords); err != nil {
		return "", err
	}
	conn, err := pgx.Connect(ctx, superURL)
	if err != nil {
		return "", err
	}
	defer conn.Close(context.WithoutCancel(ctx)) // and with it the lock
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock($1)", int64(templateLock)); err != nil {
		return "", err
	}
	var whole bool
	err = conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1 AND datistemplate)", name).Scan(&whole)
	if err != nil || whole {
		return name, err
	}
	// One that isn't marked as a template was cut short while it was made.
	for _, sql := range []string{"DROP DATABASE IF EXISTS %s WITH (FORCE)", "CREATE DATABASE %s OWNER " + privatepg.OwnerRole} {
		if _, err := conn.Exec(ctx, fmt.Sprintf(sql, name)); err != nil {
			return "", err
		}
	}
	if err := migrations.Up(ctx, addressFor(superURL, name, privatepg.OwnerRole, testPasswords.Owner)); err != nil {
		return "", err
	}
	// A database can only be copied while nobody is connected to it.
	_, err = conn.Exec(ctx, fmt.Sprintf("ALTER DATABASE %s WITH ALLOW_CONNECTIONS false IS_TEMPLATE true", name))
	return name, err
}

func migrationsDigest(files fs.FS) (string, error) {
	names, err := fs.Glob(files, "*.sql")
	if err != nil {
		return "", err
	}
	hash := sha256.New()
	for _, name := range names {
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(hash, "%s %d\n%s", name, len(text), text)
	}
	return hex.EncodeToString(hash.Sum(nil)[:8]), nil
}
