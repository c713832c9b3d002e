package pgtest

import (
	"context"
	"errors"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// engine pretends to be a container engine at the place DOCKER_HOST names.
func engine(t *testing.T, handler http.HandlerFunc) {
	t.Helper()
	dir, err := os.MkdirTemp("", "engine-") // short, for the socket's sake
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	socket := filepath.Join(dir, "s")
	listener, err := net.Listen("unix", socket)
	if err != nil {
		t.Fatal(err)
	}
	server := &http.Server{Handler: handler}
	go server.Serve(listener)
	t.Cleanup(func() { server.Close() })
	t.Setenv("DOCKER_HOST", "unix://"+socket)
}

func TestEngineThatHangsIsPassedOverQuickly(t *testing.T) {
	engine(t, func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() })
	began := time.Now()
	if engineAnswers(t.Context()) {
		t.Error("an engine that says nothing answers")
	}
	if took := time.Since(began); took > 5*time.Second {
		t.Errorf("it took %v to see that", took)
	}
}

// childVariable marks the process that TestEngineThatStartsNothingLeadsToAPrivateServer starts.
const childVariable = "TAGALONG_TEST_OF_ENGINE"

// TestEngineThatStartsNothingLeadsToAPrivateServer runs itself again in a process of its own: testcontainers looks
// for the engine once a process, and on a machine with a real one that has happened already.
func TestEngineThatStartsNothingLeadsToAPrivateServer(t *testing.T) {
	if os.Getenv(childVariable) != "" {
		startAndUse(t)
		return
	}
	var pinged atomic.Bool
	engine(t, func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, "/_ping") {
			pinged.Store(true)
			w.Header().Set("Api-Version", "1.47")
			return
		}
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(http.StatusInternalServerError)
		w.Write([]byte(`{"message":"planted: nothing can be started here"}`))
	})
	child := exec.CommandContext(t.Context(), os.Args[0], "-test.v", "-test.run", "^"+t.Name()+"$")
	child.Env = append(os.Environ(), childVariable+"=yes")
	said, err := child.CombinedOutput()
	if err != nil || !strings.Contains(string(said), "--- PASS: "+t.Name()) {
		t.Fatalf("%v:\n%s", err, said)
	}
	if !pinged.Load() || !strings.Contains(string(said), "planted") || !strings.Contains(string(said), "using a private server") {
		t.Errorf("asked %v; it said %s", pinged.Load(), said)
	}
}

// startAndUse starts a server by whatever DOCKER_HOST names, and uses it.
func startAndUse(t *testing.T) {
	server, err := start(t.Context(), os.Stderr)
	if err != nil {
		t.Fatal(err)
	}
	if err := execute(t.Context(), server.superURL, "SELECT 1"); err != nil {
		t.Error(err)
	}
	if err := server.Stop(); err != nil {
		t.Error(err)
	}
}

func TestServeStopsTheServerAndPassesTheErrorOn(t *testing.T) {
	t.Setenv("DOCKER_HOST", "unix:///nowhere/at/all")
	planted := errors.New("planted")
	var address string
	err := Serve(t.Context(), os.Stderr, func(superURL string) error {
		address = superURL
		if err := execute(t.Context(), superURL, "SELECT 1"); err != nil {
			t.Error(err)
		}
		return planted
	})
	if !errors.Is(err, planted) {
		t.Errorf("got %v", err)
	}
	if err := execute(t.Context(), address, "SELECT 1"); err == nil {
		t.Error("the server still answers")
	}
}

func TestNamedServerIsUsed(t *testing.T) {
	t.Setenv(ServerVariable, "postgres://somewhere/postgres")
	server, err := connect(t.Context(), os.Stderr)
	if err != nil || server.superURL != "postgres://somewhere/postgres" {
		t.Fatalf("got %v, %v", server, err)
	}
	if err := server.Stop(); err != nil {
		t.Error(err)
	}
}

func TestSweepRemovesOnlyWhatNobodyUses(t *testing.T) {
	temp, err := os.MkdirTemp("", "sweep-")
	if err == nil {
		err = os.Chmod(temp, 0o711) // the account PostgreSQL runs as passes through
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(temp) })
	old := time.Now().Add(-time.Hour)
	folder := func(name string, age time.Time) string {
		dir := filepath.Join(temp, name)
		if err := os.MkdirAll(filepath.Join(dir, "pg"), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "pg", "lock"), nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(dir, age, age); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	abandoned := folder(folderPrefix+"abandoned", old)
	young := folder(folderPrefix+"young", time.Now())
	other := folder("something-else", old)
	used := folder(folderPrefix+"used", old)
	server, err := startIn(context.Background(), used, os.Stderr)
	if err != nil {
		t.Fatal(err)
	}
	defer server.Stop()
	if err := os.Chtimes(used, old, old); err != nil {
		t.Fatal(err)
	}
	sweepFolders(temp)
	for dir, want := range map[string]bool{abandoned: false, young: true, other: true, used: true} {
		if _, err := os.Stat(dir); (err == nil) != want {
			t.Errorf("%s is there: %v, want %v", filepath.Base(dir), err == nil, want)
		}
	}
}
