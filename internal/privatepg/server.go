// Package privatepg finds PostgreSQL, or installs it where that needs no question, and runs it privately: in a
// folder of its own, reached by a Unix socket only, as an unprivileged account, for as long as Tagalong runs.
//
// The server is stopped cleanly with its owner, is started again when it dies, and never runs twice on a folder.
package privatepg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// Options say how a private server runs.
type Options struct {
	Dir      string            // the folder it lives in; made if missing
	Out      io.Writer         // progress, a line at a time; nil for none
	NoSync   bool              // don't wait for the disk: for tests only, a power cut may destroy the data
	Settings map[string]string // further PostgreSQL settings; where it listens can't be changed
	Finder   *Finder           // where to look for PostgreSQL; nil for SystemFinder
}

// Server is a running private server.
type Server struct {
	options  Options
	out      io.Writer
	folder   folder
	account  account
	programs Programs
	secret   []byte
	lock     *os.File

	pid  atomic.Int64
	done chan struct{} // closed when the server has ended for good
	err  error         // why, set before done is closed

	mu       sync.Mutex
	process  *os.Process
	stopping bool
}

// Start runs a server on the folder until Stop is called or ctx ends; both stop it cleanly, so ctx must outlive
// whatever still uses the database. It returns once the server answers.
//
// Errors: *MissingError (no PostgreSQL), *LockedError (a Tagalong already runs on the folder), *UnreachableError
// (we are root, and the account PostgreSQL runs as can't enter the folder).
func Start(ctx context.Context, o Options) (*Server, error) {
	s := &Server{options: o, out: o.Out, done: make(chan struct{})}
	if s.out == nil {
		s.out = io.Discard
	}
	if err := s.prepare(ctx); err != nil {
		if s.lock != nil {
			s.lock.Close()
		}
		return nil, err
	}
	started := make(chan error, 1)
	go s.supervise(started)
	context.AfterFunc(ctx, s.beginStop)
	if err := <-started; err != nil {
		return nil, err
	}
	if err := ping(ctx, s.SuperURL()); err != nil {
		s.beginStop()
		<-s.done
		return nil, fmt.Errorf("PostgreSQL runs on %s but can't be used: %w", s.folder.root, err)
	}
	return s, nil
}

// prepare does all that comes before the server's process. It changes nothing on disk until it knows that
// PostgreSQL is there and can reach the folder.
func (s *Server) prepare(ctx context.Context) (err error) {
	if s.folder, err = newFolder(s.options.Dir); err != nil {
		return err
	}
	major, err := s.folder.major()
	if err != nil {
		return err
	}
	finder := SystemFinder()
	if s.options.Finder != nil {
		finder = *s.options.Finder
	}
	if s.programs, err = findOrInstall(ctx, finder, major, s.out); err != nil {
		return err
	}
	if s.account, err = chooseAccount(s.folder.data); err != nil {
		return err
	}
	if err := s.account.checkReach(ctx, s.folder.root, s.programs); err != nil {
		return err
	}
	if err := s.folder.make(s.account); err != nil {
		return err
	}
	if s.lock, err = s.folder.takeLock(); err != nil {
		return err
	}
	if s.secret, err = s.folder.readSecret(); err != nil {
		return err
	}
	if err := clearOrphans(ctx, s.folder, s.out); err != nil {
		return err
	}
	return initialise(ctx, s.folder, s.account, s.programs, password(s.secret, superuser), s.options.NoSync)
}

// Dir returns the folder the server lives in.
func (s *Server) Dir() string { return s.folder.root }

// Pid returns the process number of the server, 0 while there is none. It changes when the server is restarted.
func (s *Server) Pid() int { return int(s.pid.Load()) }

// Version returns the version of PostgreSQL.
func (s *Server) Version() Version { return s.programs.Version }

// ProgramsDir returns the folder of PostgreSQL's programs, pg_dump among them where the system has it.
func (s *Server) ProgramsDir() string { return s.programs.Dir }

// Done is closed when the server has ended for good; Err then says why, nil after a clean stop.
func (s *Server) Done() <-chan struct{} { return s.done }

// Err returns why the server ended; nil while it runs and after a clean stop.
func (s *Server) Err() error {
	select {
	case <-s.done:
		return s.err
	default:
		return nil
	}
}

// URL returns the address of a database for a role, as pgx and psql take it. It holds the role's password.
func (s *Server) URL(db, role string) string { return address(s.folder, s.secret, db, role) }

// SuperURL returns the address of the database "postgres" for the superuser.
func (s *Server) SuperURL() string { return s.URL("postgres", superuser) }

// EnsureRoles makes Tagalong's roles and the database db, see the function EnsureRoles.
func (s *Server) EnsureRoles(ctx context.Context, db string) error {
	return ensureRoles(ctx, s.folder, s.secret, db)
}

func ensureRoles(ctx context.Context, f folder, secret []byte, db string) error {
	return EnsureRoles(ctx, address(f, secret, "postgres", superuser), db,
		Passwords{Owner: password(secret, OwnerRole), App: password(secret, AppRole)})
}

// URL returns the address of a database of the private server that lives in dir, for commands that talk to a
// server another process runs. It doesn't look whether one runs.
func URL(dir, db, role string) (string, error) {
	f, err := newFolder(dir)
	if err != nil {
		return "", err
	}
	secret, err := os.ReadFile(f.secret)
	if err != nil {
		return "", fmt.Errorf("no private database that you may read in %s: %w. Start Tagalong there first, or name its folder with TAGALONG_DATA", f.root, err)
	}
	return address(f, secret, db, role), nil
}

func address(f folder, secret []byte, db, role string) string {
	u := url.URL{
		Scheme:   "postgres",
		User:     url.UserPassword(role, password(secret, role)),
		Path:     "/" + db,
		RawQuery: url.Values{"host": {f.socket}, "port": {"5432"}}.Encode(),
	}
	return u.String()
}

func ping(ctx context.Context, address string) error {
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, address)
	if err != nil {
		return err
	}
	return errors.Join(conn.Ping(ctx), conn.Close(ctx))
}

// logTail returns the end of what the server printed since the given offset.
func (s *Server) logTail(from int64) string {
	file, err := os.Open(s.folder.log)
	if err != nil {
		return err.Error()
	}
	defer file.Close()
	if info, err := file.Stat(); err == nil && info.Size()-from > 4096 {
		from = info.Size() - 4096
	}
	text, err := io.ReadAll(io.NewSectionReader(file, from, 4096))
	if err != nil {
		return err.Error()
	}
	return string(text)
}

// openLog opens the log for the server's output; a log grown large starts anew, the one before is kept.
func (s *Server) openLog() (*os.File, error) {
	const large = 10 << 20 // bytes
	if info, err := os.Stat(s.folder.log); err == nil && info.Size() > large {
		if err := os.Rename(s.folder.log, s.folder.log+".1"); err != nil {
			return nil, err
		}
	}
	log, err := os.OpenFile(s.folder.log, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return nil, err
	}
	// Root may run on the folder of a plain user, who must be able to write the log again later.
	if info, err := os.Stat(s.folder.root); err == nil && s.account.drop {
		if st, ok := info.Sys().(*syscall.Stat_t); ok {
			err = log.Chown(int(st.Uid), int(st.Gid))
		}
		if err != nil {
			return nil, errors.Join(err, log.Close())
		}
	}
	return log, nil
}
