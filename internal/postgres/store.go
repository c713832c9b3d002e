package postgres

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/migrations"
)

// appRole is the role the server works as, whatever it logged in as.
const appRole = "tagalong_app"

// Options tune a store; the zero value is good.
type Options struct {
	// Clock is the one application clock, time.Now when nil. Every time the
	// store records is read from it; the demo runs a simulated one.
	Clock func() time.Time
	// Random makes new codes, crypto/rand when nil.
	Random io.Reader
	// MaxConns limits the connections of the pool, beside one that listens; 0: 16.
	MaxConns int
	// Log gets what goes wrong in the background, slog.Default() when nil.
	Log *slog.Logger
}

// Store is a shop's database.
type Store struct {
	pool   *pgxpool.Pool
	clock  func() time.Time
	random io.Reader
	log    *slog.Logger
	wakes  wakes

	book     atomic.Pointer[core.Book]
	bookLoad sync.Mutex // one loads, the others wait for it
	day      dayTally
	known    knownRows
	usual    atomic.Pointer[usualTimes]

	cancel     context.CancelFunc
	background sync.WaitGroup
}

var _ app.Store = (*Store)(nil)

// Migrate brings the schema up to date, and the state where it is of an older
// form. ownerURL names a role that owns the schema "tagalong" or may make it; see
// migrations.Up.
func Migrate(ctx context.Context, ownerURL string) error {
	if err := migrations.Up(ctx, ownerURL); err != nil {
		return err
	}
	return renew(ctx, ownerURL)
}

// Open connects to a migrated database. The login of url is tagalong_app
// itself, or a role that may take it on: a server whose only login owns the
// schema sets aside the owner's rights on every connection as it starts, so a
// running server can't undo what protects the record.
//
// It fails with a *migrations.MissingRightError, naming the right in one
// sentence, where the login may not work as tagalong_app.
func Open(ctx context.Context, url string, o Options) (*Store, error) {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, fmt.Errorf("the database address isn't one: %w", err)
	}
	if err := checkLogin(ctx, config.ConnConfig); err != nil {
		return nil, err
	}
	config.MaxConns = 16
	if o.MaxConns > 0 {
		config.MaxConns = int32(o.MaxConns)
	}
	parameters := config.ConnConfig.RuntimeParams
	parameters["role"] = appRole
	parameters["search_path"] = migrations.Schema
	parameters["timezone"] = "UTC"
	parameters["application_name"] = "tagalong"
	// Statements here are few and their plans don't depend on the values;
	// planning each anew would cost more than running it. A plan made while a
	// table is small stays when it has grown, so it may not rest on reading
	// the whole table.
	parameters["plan_cache_mode"] = "force_generic_plan"
	parameters["enable_seqscan"] = "off"

	parameters["jit"] = "off" // nothing here runs long enough to be worth compiling

	config.AfterConnect = prepareConnection
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, fmt.Errorf("reach the database: %w", err)
	}
	s := &Store{pool: pool, clock: o.Clock, random: o.Random, log: o.Log}
	if s.clock == nil {
		s.clock = time.Now
	}
	if s.random == nil {
		s.random = rand.Reader
	}
	if s.log == nil {
		s.log = slog.Default()
	}
	if _, err := s.Book(ctx); err != nil {
		pool.Close()
		return nil, fmt.Errorf("read the book: %w", err)
	}
	ctx, s.cancel = context.WithCancel(context.WithoutCancel(ctx))
	s.wakes.init()
	s.background.Go(func() { s.listen(ctx) })
	s.background.Go(func() { s.notifyOthers(ctx) })
	return s, nil
}

// Close ends the background work and every connection.
func (s *Store) Close() {
	s.cancel()
	s.background.Wait()
	s.pool.Close()
}

// now is the application's clock in the precision the database keeps.
func (s *Store) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// checkLogin finds out whether the login may work as the application's role.
func checkLogin(ctx context.Context, config *pgx.ConnConfig) error {
	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	var login, database string
	var exists, member bool
	err = conn.QueryRow(ctx, `
		SELECT current_user, current_database(), EXISTS (SELECT FROM pg_roles WHERE rolname = $1),
			coalesce((SELECT pg_has_role(oid, 'MEMBER') FROM pg_roles WHERE rolname = $1), false)`, appRole).
		Scan(&login, &database, &exists, &member)
	switch {
	case err != nil:
		return fmt.Errorf("look at the database: %w", err)
	case !exists:
		return &migrations.MissingRightError{Role: login, Database: database, Right: "work as " + appRole + " (which doesn't exist yet)",
			Grant: fmt.Sprintf("CREATE ROLE %s NOLOGIN; GRANT %s TO %s;", appRole, appRole, pgx.Identifier{login}.Sanitize())}
	case !member:
		return &migrations.MissingRightError{Role: login, Database: database, Right: "work as " + appRole,
			Grant: fmt.Sprintf("GRANT %s TO %s;", appRole, pgx.Identifier{login}.Sanitize())}
	}
	return nil
}

// notFound turns the driver's "no rows" into the application's.
func notFound(err error) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return app.ErrNotFound
	}
	return err
}
