package privatepg

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv("TAGALONG_TEST_OWNER_OF"); dir != "" {
		ownServer(dir)
	}
	code := m.Run()
	if readyBase != "" {
		_ = os.RemoveAll(readyBase) // what stays is in the temporary folder
	}
	os.Exit(code)
}

// newDir makes a temporary folder that the account PostgreSQL runs as can pass through, which t.TempDir isn't.
func newDir(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "privatepg-")
	if err == nil {
		err = os.Chmod(dir, 0o711)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	return filepath.Join(dir, "shop", "pg")
}

// lines collects a server's progress lines.
type lines struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// start is startNew, but a folder without a database gets a copy of one that was made before: making one takes a
// second, and few tests are about that.
func start(t *testing.T, dir string) (*Server, *lines) {
	t.Helper()
	if _, err := os.Stat(dir); os.IsNotExist(err) {
		made, err := ready()
		if err == nil {
			err = os.MkdirAll(filepath.Dir(dir), 0o711)
		}
		if err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command("cp", "-a", made, dir).CombinedOutput(); err != nil {
			t.Fatalf("copy a database: %v: %s", err, out)
		}
	}
	return startNew(t, dir)
}

// ready returns a folder with a database that no server runs on. It is made once; TestMain removes it.
var ready = sync.OnceValues(func() (string, error) {
	base, err := os.MkdirTemp("", "privatepg-ready-")
	if err != nil {
		return "", err
	}
	readyBase = base
	if err := os.Chmod(base, 0o711); err != nil {
		return "", err
	}
	dir := filepath.Join(base, "pg")
	s, err := Start(context.Background(), Options{Dir: dir})
	if err != nil {
		return "", err
	}
	return dir, s.Stop(context.Background())
})

var readyBase string

// startNew starts a server that writes to the disk as in earnest, and stops it after the test.
func startNew(t *testing.T, dir string) (*Server, *lines) {
	t.Helper()
	out := new(lines)
	s, err := Start(context.Background(), Options{Dir: dir, Out: out})
	if err != nil {
		t.Fatalf("start: %v", err)
	}
	t.Cleanup(func() { stop(t, s) })
	return s, out
}

func stop(t *testing.T, s *Server) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	if err := s.Stop(ctx); err != nil {
		t.Errorf("stop: %v", err)
	}
}

func query[T any](t *testing.T, address, sql string) T {
	t.Helper()
	var value T
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatalf("connect: %v", err)
	}
	defer conn.Close(context.Background())
	if err := conn.QueryRow(t.Context(), sql).Scan(&value); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
	return value
}

func execute(t *testing.T, address string, statements ...string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatalf("connect: %v", err)
	}
	defer conn.Close(context.Background())
	for _, sql := range statements {
		if _, err := conn.Exec(t.Context(), sql); err != nil {
			t.Fatalf("%s: %v", sql, err)
		}
	}
}

// eventually waits for something that another process brings about.
func eventually(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); !is(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("after 30 s still not: %s", what)
		}
	}
}

func alive(pid int) bool { return syscall.Kill(pid, 0) != syscall.ESRCH }
