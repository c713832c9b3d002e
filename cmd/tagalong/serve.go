package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"path/filepath"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/postgres"
	"tagalong/web/importing"
	"tagalong/web/screens"
	"tagalong/web/server"
)

// finishWithin is how long requests under way may take once a stop is asked for.
const finishWithin = 10 * time.Second

func serve(ctx context.Context, e env, args []string) error {
	if err := flags(e, "serve", args, func(*flag.FlagSet) {}); err != nil {
		return err
	}
	tls, err := readSecure(e.config, logTo(e))
	if err != nil {
		return err
	}
	shop, err := open(ctx, e, alone, postgres.Options{})
	if err != nil {
		return err
	}
	if err := setAddress(ctx, shop.App, e.config.Address); err != nil {
		return errors.Join(err, shop.Close())
	}
	return errors.Join(serveShop(ctx, e, shop, tls), shop.Close())
}

func logTo(e env) *slog.Logger { return slog.New(slog.NewTextHandler(e.log, nil)) }

// serveShop answers HTTP, over TLS unless that is nil, until ctx ends, then
// lets what is under way finish.
func serveShop(ctx context.Context, e env, shop *opened, tls *secure) error {
	log := logTo(e)
	shop.App.Uploads = filepath.Join(e.config.Data, "uploads")
	if err := importing.ClearUploads(shop.App.Uploads); err != nil { // what a server before left behind
		return err
	}
	site, err := server.New(server.Options{
		App: shop.App, Endpoints: screens.Endpoints(shop.App), Log: log, BehindTLS: e.config.BehindTLS, Authority: tls.offer(),
	})
	if err != nil {
		return err
	}
	// Streams never end by themselves: they end with this context.
	streams, endStreams := context.WithCancel(context.WithoutCancel(ctx))
	defer endStreams()
	web := &http.Server{
		Handler:           site.Handler(),
		BaseContext:       func(net.Listener) context.Context { return streams },
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelDebug),
	}
	web.RegisterOnShutdown(endStreams)
	listener, err := net.Listen("tcp", e.config.Listen)
	if err != nil {
		return fmt.Errorf("%w. Nothing is served. Choose another place with TAGALONG_LISTEN", err)
	}
	sweeps := time.NewTicker(sweepEvery)
	defer sweeps.Stop()
	go sweepPhotos(streams, shop.App, log, sweeps.C)
	ended := make(chan error, 1)
	go func() { ended <- listen(web, listener, tls) }()
	fmt.Fprintf(e.out, "Tagalong answers at %s\n", addressOf(listener.Addr(), e.config))
	if shop.greet != nil {
		shop.greet(addressOf(listener.Addr(), e.config))
	}
	select {
	case err := <-ended:
		return fmt.Errorf("the server has stopped: %w", err)
	case <-ctx.Done():
	}
	stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), finishWithin)
	defer cancel()
	if err := web.Shutdown(stopping); err != nil {
		return fmt.Errorf("some requests were cut off: %w", err)
	}
	return nil
}

// sweepEvery is how often photos are looked for that nothing names.
const sweepEvery = time.Hour

// sweepPhotos takes away the photos that no command named within a day, now and
// at every tick, until ctx ends. What goes wrong is tried again at the next.
func sweepPhotos(ctx context.Context, shop interface {
	SweepPhotos(ctx context.Context) (int, error)
}, log *slog.Logger, ticks <-chan time.Time) {
	for {
		switch n, err := shop.SweepPhotos(ctx); {
		case ctx.Err() != nil:
			return
		case err != nil:
			log.Error("photos that nothing names stay until the next sweep", "error", err)
		case n > 0:
			log.Info("swept photos that nothing had named for a day", "photos", n)
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
	}
}

func listen(web *http.Server, l net.Listener, tls *secure) error {
	if tls == nil {
		return web.Serve(l)
	}
	web.TLSConfig = tls.config()
	return web.ServeTLS(l, "", "")
}

func addressOf(a net.Addr, c config) string {
	if c.Certificate != "" {
		return "https://" + a.String()
	}
	return "http://" + a.String()
}

// setAddress keeps the base of printed addresses in the shop's row, where it
// was named and the row is there.
func setAddress(ctx context.Context, s *app.Service, address string) error {
	if address == "" {
		return nil
	}
	row, err := s.Shop(ctx)
	switch {
	case errors.Is(err, app.ErrNotFound), err == nil && row.Address == address:
		return nil
	case err != nil:
		return fmt.Errorf("read the shop: %w", err)
	}
	row.Address = address
	return s.SetShop(ctx, app.Machine(), row)
}

func migrate(ctx context.Context, e env, args []string) error {
	if err := flags(e, "migrate", args, func(*flag.FlagSet) {}); err != nil {
		return err
	}
	o := &opened{}
	_, err := o.reach(ctx, e.config, e.log, shared)
	if err = errors.Join(err, o.Close()); err != nil {
		return err
	}
	fmt.Fprintln(e.out, "The database is up to date.")
	return nil
}
