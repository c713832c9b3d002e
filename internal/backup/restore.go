package backup

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/privatepg"
)

// Check finds a backup that is incomplete or damaged. Nothing is changed by it.
func Check(from string) error {
	f, err := os.Open(filepath.Join(from, Sums))
	if err != nil {
		return fmt.Errorf("%s is no backup of Tagalong: %w. Nothing was changed. Name the folder `tagalong backup` made", from, err)
	}
	defer f.Close()
	left := map[string]bool{Record: true, Keys: true}
	for lines := bufio.NewScanner(f); lines.Scan(); {
		want, name, _ := strings.Cut(lines.Text(), "  ")
		if !left[name] {
			continue
		}
		got, err := sumOf(filepath.Join(from, name))
		if err != nil || got != want {
			return fmt.Errorf("the backup %s is damaged in %s. Nothing was changed. Put an older backup back", from, name)
		}
		delete(left, name)
	}
	if len(left) > 0 {
		return fmt.Errorf("the backup %s is incomplete. Nothing was changed. Put another backup back", from)
	}
	return nil
}

// Restore puts a checked backup into a database that has Tagalong's schema and nothing in it, and its keys in the place
// of those there, which are kept beside them. The database must be left alone by everybody meanwhile.
func Restore(ctx context.Context, s Source, from string) error {
	major, err := serverMajor(ctx, s.URL)
	if err != nil {
		return err
	}
	restore, err := s.Finder.Tool(ctx, "pg_restore", major)
	if err != nil {
		return err
	}
	if err := dropEmpty(ctx, s.URL); err != nil {
		return err
	}
	// All in one transaction: a backup that can't be put back whole leaves nothing.
	err = command(ctx, s.URL, restore, "--single-transaction", "--exit-on-error", "--no-owner",
		"--dbname="+databaseOf(s.URL), filepath.Join(from, Record))
	if err != nil {
		return fmt.Errorf("put the backup back: %w. The database is empty as it was, and the backup is whole: put right what is said and start again", err)
	}
	if err := replaceKeys(filepath.Join(from, Keys), s.Keys); err != nil {
		return fmt.Errorf("the record is back, its keys are not: %w. Without them nobody's PIN can be checked. Copy %s to %s by hand, for its owner only",
			err, filepath.Join(from, Keys), s.Keys)
	}
	return nil
}

// dropEmpty takes the schema away where nothing is in it, and refuses where something is.
func dropEmpty(ctx context.Context, url string) error {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return fmt.Errorf("reach the database: %w. Nothing was changed", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	for _, table := range []string{"event", "command", "refusal", "shop", "person", "station", "item", "orders", "vault_log", "photo"} {
		var used bool
		name := pgx.Identifier{privatepg.Schema, table}.Sanitize()
		if err := conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM "+name+")").Scan(&used); err != nil {
			return fmt.Errorf("look into the database: %w. Nothing was changed", err)
		}
		if used {
			return errors.New("this database holds a shop already, which a restore would overwrite. Nothing was changed. " +
				"Name an empty folder with TAGALONG_DATA, or an empty database with TAGALONG_DATABASE_URL")
		}
	}
	if _, err := conn.Exec(ctx, "DROP SCHEMA "+privatepg.Schema+" CASCADE"); err != nil {
		return fmt.Errorf("make room in the empty database: %w. Nothing was changed", err)
	}
	return nil
}

func databaseOf(url string) string {
	config, err := pgx.ParseConfig(url)
	if err != nil {
		return "" // it has been connected to
	}
	return config.Database
}

// replaceKeys copies the keys, and keeps those that were there beside them.
func replaceKeys(from, to string) error {
	keys, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	if old, err := os.ReadFile(to); err == nil && string(old) == string(keys) {
		return nil
	}
	if err := os.Rename(to, to+".before-restore"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.WriteFile(to, keys, 0o600); err != nil {
		return err
	}
	return errors.Join(syncFile(to), syncFile(filepath.Dir(to)))
}
