package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/postgres"
	"tagalong/internal/privatepg"
)

// database is the name of the private database.
const database = "tagalong"

// stopWithin is how long the database may take to stop by itself.
const stopWithin = 30 * time.Second

// opened is a shop ready for use. Close ends what was started for it.
type opened struct {
	App   *app.Service
	Store *postgres.Store
	greet func(address string) // said beside the address, once it answers
	stop  []func() error
}

// Close ends, in turn, whatever was opened.
func (o *opened) Close() error {
	var errs []error
	for i := len(o.stop) - 1; i >= 0; i-- {
		errs = append(errs, o.stop[i]())
	}
	return errors.Join(errs...)
}

// open reaches the database, brings it up to date and makes the service over
// it. The server starts the private database and is alone on its folder; other
// commands share it with the server that runs, or start it for themselves.
func open(ctx context.Context, e env, reach reacher, options postgres.Options) (*opened, error) {
	o := &opened{}
	url, err := o.reach(ctx, e.config, e.log, reach)
	if err != nil {
		return nil, errors.Join(err, o.Close())
	}
	if err := o.load(ctx, e.config, url, options); err != nil {
		return nil, errors.Join(err, o.Close())
	}
	return o, nil
}

// private is the private database as a command uses it.
type private interface {
	URL(db, role string) string
	EnsureRoles(ctx context.Context, db string) error
}

// reacher gets at the private database and says how to let go of it.
type reacher func(ctx context.Context, o privatepg.Options) (private, func(context.Context) error, error)

func alone(ctx context.Context, o privatepg.Options) (private, func(context.Context) error, error) {
	s, err := privatepg.Start(ctx, o)
	if err != nil {
		return nil, nil, err
	}
	return s, s.Stop, nil
}

func shared(ctx context.Context, o privatepg.Options) (private, func(context.Context) error, error) {
	a, err := privatepg.Reach(ctx, o)
	if err != nil {
		return nil, nil, err
	}
	return a, a.Close, nil
}

// reach returns the address of a database that is up to date.
func (o *opened) reach(ctx context.Context, c config, log io.Writer, reach reacher) (string, error) {
	if c.DatabaseURL != "" {
		return c.DatabaseURL, postgres.Migrate(ctx, c.DatabaseURL)
	}
	db, err := o.hold(ctx, c, log, reach)
	if err != nil {
		return "", err
	}
	if err := db.EnsureRoles(ctx, database); err != nil {
		return "", err
	}
	if err := postgres.Migrate(ctx, db.URL(database, privatepg.OwnerRole)); err != nil {
		return "", err
	}
	return db.URL(database, privatepg.AppRole), nil
}

// hold gets at the private database, up to date or not, until Close.
func (o *opened) hold(ctx context.Context, c config, log io.Writer, reach reacher) (private, error) {
	// The database must outlive ctx: what is under way when a stop is asked
	// for still ends in it. Close lets go of it.
	db, leave, err := reach(context.WithoutCancel(ctx), privatepg.Options{Dir: c.Data, Out: log})
	if err != nil {
		return nil, err
	}
	o.stop = append(o.stop, func() error {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopWithin)
		defer cancel()
		return leave(ctx)
	})
	return db, nil
}

func (o *opened) load(ctx context.Context, c config, url string, options postgres.Options) error {
	keys, err := loadKeys(c.Data)
	if err != nil {
		return err
	}
	if options.Log == nil {
		options.Log = slog.Default()
	}
	o.Store, err = postgres.Open(ctx, url, options)
	if err != nil {
		return fmt.Errorf("open the database: %w", err)
	}
	o.stop = append(o.stop, func() error { o.Store.Close(); return nil })
	o.App, err = app.New(o.Store, keys)
	return err
}
