// Package backup writes a shop into a folder and puts it back: the database as pg_dump writes it, the server's keys,
// and the checksums of both.
//
// A backup is one snapshot: it may be made while people work. Putting it back wants an empty database, and either all of
// it is there afterwards or nothing.
package backup

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/privatepg"
)

// The files of a backup.
const (
	Record = "record.dump" // of pg_dump, in its custom format
	Keys   = "server.key"
	Sums   = "SHA256SUMS" // as sha256sum(1) writes and checks it
)

// Source is what to back up.
type Source struct {
	URL    string // of the database, as the owner of its schema
	Keys   string // path of the server's keys
	Finder privatepg.Finder
}

// Write backs a shop up into the folder to, which must not be there yet; it appears once the backup is whole, and only
// its owner may read it.
func Write(ctx context.Context, s Source, to string) error {
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s is there already. Nothing was changed. Name a folder that isn't, such as one named after the day", to)
	}
	major, err := serverMajor(ctx, s.URL)
	if err != nil {
		return err
	}
	dump, err := s.Finder.Tool(ctx, "pg_dump", major)
	if err != nil {
		return err
	}
	part := to + ".part"
	if err := errors.Join(os.RemoveAll(part), os.MkdirAll(filepath.Dir(to), 0o755), os.Mkdir(part, 0o700)); err != nil {
		return fmt.Errorf("make the folder of the backup: %w. Nothing was backed up", err)
	}
	err = writeInto(ctx, s, dump, part)
	if err == nil {
		err = os.Rename(part, to)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("back up: %w. No backup was made; the shop is as it was", err), os.RemoveAll(part))
	}
	return syncFile(filepath.Dir(to))
}

func writeInto(ctx context.Context, s Source, dump, part string) error {
	record := filepath.Join(part, Record)
	if err := command(ctx, s.URL, dump, "--format=custom", "--schema="+privatepg.Schema, "--file="+record); err != nil {
		return err
	}
	keys, err := os.ReadFile(s.Keys)
	if err != nil {
		return fmt.Errorf("read the server's keys: %w", err)
	}
	if err := os.WriteFile(filepath.Join(part, Keys), keys, 0o600); err != nil {
		return err
	}
	var sums strings.Builder
	for _, name := range []string{Record, Keys} {
		sum, err := sumOf(filepath.Join(part, name))
		if err != nil {
			return err
		}
		fmt.Fprintf(&sums, "%s  %s\n", sum, name)
	}
	if err := os.WriteFile(filepath.Join(part, Sums), []byte(sums.String()), 0o600); err != nil {
		return err
	}
	if err := os.Chmod(record, 0o600); err != nil { // pg_dump's own mode is for others to read
		return err
	}
	// A backup that is only in memory is none after a power cut.
	for _, name := range []string{Record, Keys, Sums, "."} {
		if err := syncFile(filepath.Join(part, name)); err != nil {
			return err
		}
	}
	return nil
}

func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func sumOf(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	hash := sha256.New()
	if _, err := io.Copy(hash, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}

func serverMajor(ctx context.Context, url string) (int, error) {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return 0, fmt.Errorf("reach the database: %w. Nothing was changed", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	var number int
	if err := conn.QueryRow(ctx, "SELECT current_setting('server_version_num')::int").Scan(&number); err != nil {
		return 0, fmt.Errorf("ask the database for its version: %w. Nothing was changed", err)
	}
	return number / 10_000, nil
}

// command runs one of PostgreSQL's programs on a database. The password goes by the environment, which other accounts
// can't read, unlike a command line.
func command(ctx context.Context, url, program string, args ...string) error {
	config, err := pgx.ParseConfig(url)
	if err != nil {
		return fmt.Errorf("the database address isn't one: %w", err)
	}
	cmd := exec.CommandContext(ctx, program, append(args, "--no-password")...)
	cmd.Env = append(os.Environ(), "PGHOST="+config.Host, fmt.Sprintf("PGPORT=%d", config.Port), "PGUSER="+config.User,
		"PGPASSWORD="+config.Password, "PGDATABASE="+config.Database, "LC_ALL=C")
	if config.TLSConfig == nil {
		cmd.Env = append(cmd.Env, "PGSSLMODE=disable")
	}
	var said strings.Builder
	cmd.Stderr = &said
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("%s: %w: %s", filepath.Base(program), err, strings.TrimSpace(said.String()))
	}
	return nil
}
