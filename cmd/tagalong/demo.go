package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/postgres"
	"tagalong/internal/privatepg"
	"tagalong/internal/shopgen"
	"tagalong/migrations"
)

// demo opens the demo shop. It makes one in an empty database, keeps one that
// is there, and leaves a real shop alone.
func demo(ctx context.Context, e env, args []string) (err error) {
	if _, err := parse(e, script("demo"), args, 0, 0, nil); err != nil {
		return err
	}
	tls, err := readSecure(e.config, logTo(e))
	if err != nil {
		return err
	}
	shop := &opened{}
	defer func() { err = errors.Join(err, shop.Close()) }()
	url, err := shop.reach(ctx, e.config, e.log, alone)
	if err != nil {
		return err
	}
	if err := ensureDemo(ctx, e, url); err != nil {
		return err
	}
	if err := shop.load(ctx, e.config, url, postgres.Options{}); err != nil {
		return err
	}
	if err := setAddress(ctx, shop.App, e.config.Address); err != nil {
		return err
	}
	if err := shop.populate(ctx, e); err != nil {
		return err
	}
	shop.greet = func(address string) { greetDemo(e.out, address, e.config) }
	return serveShop(ctx, e, shop, tls)
}

// populate lets the shop's people go on with their work, until it is closed.
func (o *opened) populate(ctx context.Context, e env) error {
	visitors := shopgen.NewVisitors(o.App.Clock)
	o.App.Store = visitors.Store(o.App.Store)
	crew, err := shopgen.NewCrew(ctx, o.App, visitors, slog.New(slog.NewTextHandler(e.log, nil)))
	if err != nil {
		return fmt.Errorf("bring the shop's people in: %w", err)
	}
	working, stop := context.WithCancel(context.WithoutCancel(ctx))
	ticks, gone := time.NewTicker(shopgen.Pace), make(chan struct{})
	go func() {
		defer close(gone)
		crew.Run(working, ticks.C)
	}()
	o.stop = append(o.stop, func() error {
		ticks.Stop()
		stop()
		<-gone
		return nil
	})
	return nil
}

// ensureDemo makes the demo shop where the database is empty.
func ensureDemo(ctx context.Context, e env, url string) error {
	empty, isDemo, err := shopState(ctx, e.config, url)
	switch {
	case errors.Is(err, shopgen.ErrUnfinished):
		fmt.Fprintln(e.log, "The making of this demo shop was broken off halfway: it is made anew.")
		if err := wipeDemo(ctx, e.config, url); err != nil {
			return err
		}
	case err != nil:
		return err
	case isDemo:
		return nil
	case !empty:
		return errors.New("this database holds a real shop, which the demo leaves alone. Nothing was changed. " +
			"Name an empty folder with TAGALONG_DATA, or start the shop with `tagalong serve`")
	}
	return makeDemo(ctx, e, url)
}

func shopState(ctx context.Context, c config, url string) (empty, isDemo bool, err error) {
	o := &opened{}
	if err := o.load(ctx, c, url, postgres.Options{MaxConns: 2}); err != nil {
		return false, false, errors.Join(err, o.Close())
	}
	empty, isDemo, err = shopgen.State(ctx, o.App)
	return empty, isDemo, errors.Join(err, o.Close())
}

// makeDemo makes the demo shop on a simulated clock that ends now.
func makeDemo(ctx context.Context, e env, url string) (err error) {
	fmt.Fprintf(e.log, "Making the demo shop: %d weeks of an invented shop, by the commands people use …\n", shopgen.Weeks)
	clock, err := shopgen.NewClock(time.Now())
	if err != nil {
		return err
	}
	o := &opened{}
	defer func() { err = errors.Join(err, o.Close()) }()
	if e.config.DatabaseURL == "" {
		// Made by half it is made anew, so nothing has to wait for the disk; the
		// row that says it is whole is written last.
		url += "&synchronous_commit=off"
	}
	if err := o.load(ctx, e.config, url, postgres.Options{Clock: clock.Now, Random: shopgen.Random("codes"), MaxConns: 4}); err != nil {
		return err
	}
	made, err := shopgen.Demo(ctx, o.App, clock)
	if err != nil {
		if ctx.Err() != nil {
			return errors.New("stopped before the demo shop was made. The next start makes it anew")
		}
		return err
	}
	fmt.Fprintf(e.log, "Made in %.1f s: %d commands, %d pallets on the floor.\n", made.Took.Seconds(), made.Commands, made.Pallets)
	return nil
}

// wipeDemo takes away a demo shop made by half, and lays an empty schema.
func wipeDemo(ctx context.Context, c config, url string) error {
	owner := url
	if c.DatabaseURL == "" {
		var err error
		if owner, err = privatepg.URL(c.Data, database, privatepg.OwnerRole); err != nil {
			return err
		}
	}
	conn, err := pgx.Connect(ctx, owner)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	_, err = conn.Exec(ctx, "DROP SCHEMA "+migrations.Schema+" CASCADE")
	if err = errors.Join(err, conn.Close(context.WithoutCancel(ctx))); err != nil {
		return fmt.Errorf("take the half-made demo shop away: %w", err)
	}
	return postgres.Migrate(ctx, owner)
}

func greetDemo(w io.Writer, address string, c config) {
	fmt.Fprintf(w, "\n%s, a demo shop. %s\n", shopgen.Name, shopgen.Notice)
	for _, x := range [][2]string{{"start here", "/demo"}, {"the wall", "/wall"}, {"find", "/find"}, {"orders", "/orders"}} {
		fmt.Fprintf(w, "  %-12s%s%s\n", x[0], address, x[1])
	}
	where := "the database TAGALONG_DATABASE_URL names"
	if c.DatabaseURL == "" {
		where = c.Data
	}
	fmt.Fprintf(w, "Stop with Ctrl-C. What is recorded stays in %s.\n\n", where)
}
