package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"path/filepath"

	"tagalong/internal/backup"
	"tagalong/internal/postgres"
	"tagalong/internal/privatepg"
)

// source is the shop as backups see it.
func source(c config) (backup.Source, error) {
	s := backup.Source{URL: c.DatabaseURL, Keys: filepath.Join(c.Data, keyFile), Finder: privatepg.SystemFinder()}
	if c.DatabaseURL != "" {
		return s, nil
	}
	var err error
	s.URL, err = privatepg.URL(c.Data, database, privatepg.OwnerRole)
	return s, err
}

// backUp writes the shop into a folder, while people work or not. It doesn't
// bring the database up to date: a backup is what one wants before that.
func backUp(ctx context.Context, e env, args []string) (err error) {
	var to string
	err = flags(e, "backup", args, func(set *flag.FlagSet) {
		set.StringVar(&to, "to", "", "the folder to write, which must not be there yet")
	})
	if err != nil {
		return err
	}
	if to == "" {
		return usage("--to is missing: the folder to write")
	}
	o := &opened{}
	defer func() { err = errors.Join(err, o.Close()) }()
	if e.config.DatabaseURL == "" {
		if _, err := o.hold(ctx, e.config, e.log, shared); err != nil {
			return err
		}
	}
	s, err := source(e.config)
	if err != nil {
		return err
	}
	if err := backup.Write(ctx, s, to); err != nil {
		return err
	}
	fmt.Fprintf(e.out, "The shop is backed up in %s. It holds the server's keys, too: keep it as safe as them, and away from this machine.\n", to)
	return nil
}

// restore puts a backup back where no shop is, and verifies it.
func restore(ctx context.Context, e env, args []string) error {
	var from string
	err := flags(e, "restore", args, func(set *flag.FlagSet) {
		set.StringVar(&from, "from", "", "the folder `tagalong backup` made")
	})
	if err != nil {
		return err
	}
	if from == "" {
		return usage("--from is missing: the folder of the backup")
	}
	if err := backup.Check(from); err != nil {
		return err
	}
	if err := restoreRecord(ctx, e, from); err != nil {
		return err
	}
	fmt.Fprintln(e.out, "The backup is back. Compared with itself:")
	return verify(ctx, e, nil)
}

func restoreRecord(ctx context.Context, e env, from string) (err error) {
	o := &opened{}
	defer func() { err = errors.Join(err, o.Close()) }()
	// Alone: a server that runs would serve with the keys it has.
	if _, err := o.reach(ctx, e.config, e.log, alone); err != nil {
		return err
	}
	s, err := source(e.config)
	if err != nil {
		return err
	}
	if err := backup.Restore(ctx, s, from); err != nil {
		return err
	}
	return postgres.Migrate(ctx, s.URL) // the backup may be of an older version
}
