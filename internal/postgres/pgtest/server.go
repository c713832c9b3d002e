package pgtest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"tagalong/internal/privatepg"
)

// ServerVariable names the environment variable with the address of a server to test on: a superuser's, with the
// database "postgres".
const ServerVariable = "TAGALONG_TEST_SERVER"

// maxConnections is enough for several packages tested side by side, each with a few pools.
const maxConnections = "300"

type testServer struct {
	superURL string
	stop     func() error
}

// Stop stops the server if it was started here.
func (s *testServer) Stop() error { return s.stop() }

// connect returns the server to test on, and starts one where none is named.
func connect(ctx context.Context, out io.Writer) (*testServer, error) {
	if address := os.Getenv(ServerVariable); address != "" {
		return &testServer{superURL: address, stop: func() error { return nil }}, nil
	}
	return start(ctx, out)
}

func start(ctx context.Context, out io.Writer) (*testServer, error) {
	if engineAnswers(ctx) {
		server, err := startContainer(ctx)
		if err == nil {
			return server, nil
		}
		fmt.Fprintf(out, "pgtest: a container engine answers, but PostgreSQL can't be started in it (%v); using a private server. "+
			"DEVELOPERS.md, \"Tests\", says what testcontainers may need to be told.\n", err)
	}
	return startPrivate(ctx, out)
}

// Serve starts a server as the tests would, gives its address to run, and stops it when run returns.
func Serve(ctx context.Context, out io.Writer, run func(superURL string) error) error {
	server, err := start(ctx, out)
	if err != nil {
		return err
	}
	return errors.Join(run(server.superURL), server.Stop())
}

const folderPrefix = "tagalong-test-"

func startPrivate(ctx context.Context, out io.Writer) (*testServer, error) {
	sweepFolders(os.TempDir())
	dir, err := os.MkdirTemp("", folderPrefix)
	if err != nil {
		return nil, err
	}
	return startIn(ctx, dir, out)
}

// startIn starts a server in the folder, which goes with it.
func startIn(ctx context.Context, dir string, out io.Writer) (*testServer, error) {
	return startSyncing(ctx, dir, out, false)
}

// startSyncing is startIn for a server that waits for the disk, or doesn't.
func startSyncing(ctx context.Context, dir string, out io.Writer, sync bool) (*testServer, error) {
	// The account PostgreSQL runs as must pass through when we are root.
	if err := os.Chmod(dir, 0o711); err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	// The server outlives the context of its start; Stop ends it.
	server, err := privatepg.Start(context.WithoutCancel(ctx), privatepg.Options{
		Dir:      filepath.Join(dir, "pg"),
		Out:      out,
		NoSync:   !sync,
		Settings: map[string]string{"max_connections": maxConnections, "max_wal_size": "256MB"},
	})
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	stop := func() error {
		ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
		defer cancel()
		return errors.Join(server.Stop(ctx), os.RemoveAll(dir))
	}
	return &testServer{superURL: server.SuperURL(), stop: stop}, nil
}

// sweepFolders removes the folders of test servers whose test run was killed: those nobody holds the lock of.
// Young ones stay, they may just be starting.
func sweepFolders(temp string) {
	folders, _ := filepath.Glob(filepath.Join(temp, folderPrefix+"*")) // the pattern is well formed
	for _, dir := range folders {
		info, err := os.Stat(dir)
		if err != nil || time.Since(info.ModTime()) < 10*time.Minute {
			continue
		}
		lock, err := os.OpenFile(filepath.Join(dir, "pg", "lock"), os.O_RDWR, 0)
		if err != nil {
			continue
		}
		if syscall.Flock(int(lock.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil {
			// Rubbish that can't be removed is no reason to fail the tests.
			_ = os.RemoveAll(dir)
		}
		lock.Close()
	}
}
