package privatepg

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Access is the use of a folder's server by a command that needs it for a while.
type Access struct {
	server *Server // nil when another process runs the server
	folder folder
	secret []byte
}

// joinWithin is how long Reach waits for another Tagalong's database to answer: long enough for it to put its data
// in order after a power cut.
const joinWithin = 2 * time.Minute

// Reach gives access to the server on the folder: to the one that another Tagalong runs there, else to one started
// for as long as the access is open. A server started here stops when ctx ends, too. Errors are those of Start;
// *LockedError only when the other's database doesn't answer in two minutes.
func Reach(ctx context.Context, o Options) (*Access, error) {
	return reach(ctx, o, joinWithin)
}

func reach(ctx context.Context, o Options, within time.Duration) (*Access, error) {
	giveUp := time.After(within)
	var locked *LockedError
	for {
		s, err := Start(ctx, o)
		if err == nil {
			return &Access{server: s, folder: s.folder, secret: s.secret}, nil
		}
		if locked != nil && ctx.Err() != nil { // ended in the middle of another try
			return nil, fmt.Errorf("%w; its database doesn't answer", locked)
		}
		if !errors.As(err, &locked) {
			return nil, err
		}
		if a, err := join(ctx, o.Dir); err == nil {
			return a, nil
		}
		// The other is just starting, or just ending.
		select {
		case <-ctx.Done():
			return nil, fmt.Errorf("%w; its database doesn't answer", locked)
		case <-giveUp:
			return nil, fmt.Errorf("%w; its database doesn't answer", locked)
		case <-time.After(100 * time.Millisecond):
		}
	}
}

// join gives access to a server that runs already.
func join(ctx context.Context, dir string) (*Access, error) {
	f, err := newFolder(dir)
	if err != nil {
		return nil, err
	}
	secret, err := f.readSecret()
	if err != nil {
		return nil, err
	}
	if err := ping(ctx, address(f, secret, "postgres", superuser)); err != nil {
		return nil, err
	}
	return &Access{folder: f, secret: secret}, nil
}

// URL returns the address of a database for a role, see Server.URL.
func (a *Access) URL(db, role string) string { return address(a.folder, a.secret, db, role) }

// EnsureRoles makes Tagalong's roles and the database db, see the function EnsureRoles.
func (a *Access) EnsureRoles(ctx context.Context, db string) error {
	return ensureRoles(ctx, a.folder, a.secret, db)
}

// Close ends the access, and stops the server if it was started for it.
func (a *Access) Close(ctx context.Context) error {
	if a.server == nil {
		return nil
	}
	return a.server.Stop(ctx)
}
